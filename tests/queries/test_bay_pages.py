"""What makes the pages usable in the bay: guides to measuring, exports, units, other meanings, the poster."""

from __future__ import annotations

import asyncio
import csv
import io
import json
import re
from html import unescape
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from queries.drawings.belt_strip import belt_strip
from queries.drawings.measuring import DRAWN, measuring_svg
from queries.explorer.forms import FORMS
from queries.explorer.server import build_datasette
from queries.measuring import BY_NAME, GUIDES

SVG = "{http://www.w3.org/2000/svg}"


def ask(shelf: Path, *paths: str, cookies: dict[str, str] | None = None) -> list[Any]:
    async def asked() -> list[Any]:
        datasette = build_datasette(shelf)
        await datasette.invoke_startup()
        headers = {"host": "localhost:8017"}
        if cookies:
            headers["cookie"] = "; ".join(f"{name}={value}" for name, value in cookies.items())
        return [await datasette.client.get(path, headers=headers, follow_redirects=False) for path in paths]

    return asyncio.run(asked())


def test_every_guide_is_drawn_and_reachable_from_its_field(demo_shelf) -> None:
    assert set(DRAWN) == set(BY_NAME)
    wanted = {ask.guide for form in FORMS.values() for ask in form if ask.guide}
    assert wanted <= set(BY_NAME)
    assert len(wanted) >= 6
    (page,) = ask(demo_shelf, "/belts")
    assert 'href="/measure/outside-length"' in page.text
    for guide, answer in zip(GUIDES, ask(demo_shelf, *(f"/measure/{one.name}" for one in GUIDES)), strict=True):
        assert answer.status_code == 200
        text = unescape(answer.text)
        assert all(step in text for step in guide.steps)
        assert guide.caution in text
        assert "<svg" in text
    (none,) = ask(demo_shelf, "/measure/nothing")
    assert none.status_code == 404


@pytest.mark.parametrize("name", DRAWN)
def test_a_drawings_texts_and_lines_stay_in_the_frame(name) -> None:
    root = ElementTree.fromstring(measuring_svg(name, "title"))
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    for one in root.iter(f"{SVG}text"):
        half = 0.3 * float(one.attrib["font-size"]) * len(one.text or "")  # six tenths of its size a letter, at most
        x, y = float(one.attrib["x"]), float(one.attrib["y"])
        assert left <= x - half, (one.text, x - half)
        assert x + half <= left + width, (one.text, x + half)
        assert top < y <= top + height, one.text
    for one in root.iter(f"{SVG}circle"):
        assert float(one.attrib["cy"]) + float(one.attrib["r"]) <= top + height


def test_an_answer_as_data_is_the_commands_own_form(demo_shelf, run) -> None:
    json_page, csv_page, page = ask(
        demo_shelf, "/belts?length=73+1/8+in&ribs=8&as=json", "/belts?length=73+1/8+in&ribs=8&as=csv",
        "/belts?length=73+1/8+in&ribs=8",
    )  # fmt: skip
    command = run("belts", "--length", "73 1/8 in", "--ribs", "8", "--limit", "20", "--json", shelf=demo_shelf)
    assert json.loads(json_page.text) == json.loads(command.stdout)
    rows = list(csv.DictReader(io.StringIO(csv_page.text.lstrip("\ufeff"))))
    assert [row["part_no"] for row in rows] == [row["part_no"] for row in json.loads(command.stdout)]
    links = re.findall(r'href="(/belts\?[^"]*as=\w+)"', unescape(page.text))
    assert [answer.status_code for answer in ask(demo_shelf, *links)] == [200, 200]
    for answer in (json_page, csv_page):
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["content-type"].split(";")[0] in ("application/json", "text/csv")


def test_what_was_understood_can_be_changed_with_one_tap(demo_shelf) -> None:
    (page,) = ask(demo_shelf, "/find?q=8+rib+73+1/8+in")
    text = unescape(page.text)
    assert "73 1/8 in (1857.4 mm), as effective length" in text
    link = re.search(r'href="(/belts\?[^"]*measured=outside[^"]*)"', text)
    assert link is not None
    (outside,) = ask(demo_shelf, link[1])
    assert "as outside length" in outside.text
    assert "8 ribs" in outside.text


def test_the_unit_that_comes_first_is_remembered(demo_shelf) -> None:
    (first,) = ask(demo_shelf, "/units?first=mm&back=/belts?ribs=8")
    assert first.status_code == 303
    assert first.headers["location"] == "/belts?ribs=8"
    cookie = first.headers["set-cookie"]
    assert "first-unit=mm" in cookie
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    inches, millimetres = ask(demo_shelf, "/belts?length=1854&ribs=8"), ask(
        demo_shelf, "/belts?length=1854&ribs=8", cookies={"first-unit": "mm"}
    )  # fmt: skip
    assert "73 in (1854 mm)" in inches[0].text
    assert "1854 mm (73 in)" in millimetres[0].text
    assert "73 in (1854 mm)" not in millimetres[0].text
    assert ask(demo_shelf, "/units?first=furlong")[0].status_code == 400


@pytest.mark.parametrize(
    "back",
    [
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/%5Celsewhere.example",
        "javascript:1",
        "/a%0d%0aset-cookie:x",
    ],
)
def test_the_way_back_never_leads_elsewhere(back, demo_shelf) -> None:
    (answer,) = ask(demo_shelf, f"/units?first=mm&back={back}")
    assert answer.status_code == 303
    assert re.fullmatch(r"/(?![/\\]).*", answer.headers["location"])
    assert "elsewhere" not in answer.headers["location"]
    assert answer.headers["set-cookie"].startswith("first-unit=mm")


def test_the_poster_has_the_address_it_was_asked_at(demo_shelf) -> None:
    (page,) = ask(demo_shelf, "/poster")
    assert "http://localhost:8017/" in page.text
    assert "on this machine only" in page.text
    assert page.text.count("<svg") == 1


def test_the_only_script_is_our_own_file(demo_shelf) -> None:
    for page in ask(demo_shelf, "/", "/find?q=belt", "/belts?ribs=8"):
        assert re.findall(r"<script[^>]*>", page.text) == [
            '<script src="/-/static-plugins/queries.explorer/shelf.js" defer>'
        ]
        assert not re.search(r"\son\w+=", page.text)
        assert " style=" not in page.text
    (script,) = ask(demo_shelf, "/-/static-plugins/queries.explorer/shelf.js")
    assert script.status_code == 200


def test_the_strip_marks_each_belt_at_its_length() -> None:
    root = ElementTree.fromstring(belt_strip(1000.0, 10.0, [("A", 990.0), ("B", 1010.0), ("C", 1005.0)]))
    drawn = next(one.attrib["d"] for one in root.iter(f"{SVG}path") if one.attrib["d"].endswith("z"))
    tips = [float(x) for x in re.findall(r"M([\d.]+) ", drawn)]
    middle = (tips[0] + tips[1]) / 2  # A and B lie evenly to both sides of what was asked
    assert tips[2] - middle == pytest.approx((tips[1] - tips[0]) / 4, abs=0.02)
