"""The pages of lines, and the order sheet printed to PDF through a real Chromium: one page, nothing cut off."""

from __future__ import annotations

import asyncio
import re
import shutil
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from kb.sheets.line import read_line
from queries.drawings.line import clock_face, end_drawing, route_views
from queries.explorer.server import build_datasette
from queries.lines import ask_line
from queries.order_html import order_page

ROOT = Path(__file__).parent.parent.parent
DEMO = sorted((ROOT / "demo_db" / "lines").glob("*.toml"))
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DISCHARGE = "/lines/" + quote("Tender 4, compressor to condenser", safe="")
HOSTILE = "<script>alert(1)</script>&\"'"

CROWDED = (ROOT / "demo_db" / "lines" / "tender-4-discharge.toml").read_text(encoding="utf-8") + "".join(
    f'[[point]]\nat = {at}\nname = "another corner {at}"\n'
    for at in ([10, 30, 12], [28, 30, 12], [28, 30, 30], [28, 48, 30])
) + "".join(
    f'[[keep_clear]]\nname = "thing to stay away from {number}"\nat = [-20, 0, {number}]\nby = "2 in"\n'
    for number in range(3)
)  # fmt: skip


def ask(shelf: Path, *paths: str) -> list[Any]:
    async def asked() -> list[Any]:
        datasette = build_datasette(shelf)
        await datasette.invoke_startup()
        return [await datasette.client.get(path) for path in paths]

    return asyncio.run(asked())


def test_the_pages_answer_with_our_headers(demo_shelf) -> None:
    pages = ["/lines", DISCHARGE, f"{DISCHARGE}/order"]
    for path, response in zip(pages, ask(demo_shelf, *pages), strict=True):
        assert response.status_code == 200, path
        assert "unsafe" not in response.headers["content-security-policy"]
        assert len(response.content) < 60_000
        assert " style=" not in response.text  # the policy would drop it
        assert not re.search(r"(?:href|src)=[\"']?(?:https?:)?//", response.text), path
    listed, one, order = ask(demo_shelf, *pages)
    assert "Flusher 1, tank to flush pump" in listed.text
    assert "32 1/2 in (826 mm)" in listed.text
    assert f'href="{DISCHARGE}"' in listed.text
    assert f'href="{DISCHARGE}/order"' in one.text
    assert one.text.count("<svg") == 7  # four views, two ends, the clock face
    assert order.text.count("<svg") == 7
    assert "certified people" in order.text


def test_every_link_leads_somewhere(demo_shelf) -> None:
    pages = ["/lines", *[f"/lines/{quote(read_line(path).name, safe='')}" for path in DEMO], f"{DISCHARGE}/order"]
    links = {
        link.replace("&amp;", "&")
        for response in ask(demo_shelf, *pages)
        for link in re.findall(r'(?:href|src)="(/[^"]*)"', response.text)
    }
    assert any(link.startswith("/hoses?inside=") for link in links)
    for link, response in zip(sorted(links), ask(demo_shelf, *sorted(links)), strict=True):
        assert response.status_code < 400, link


@pytest.mark.parametrize("path", ["/lines/none", "/lines/none/order", f"{DISCHARGE}/more", f"{DISCHARGE}/order/more"])
def test_what_is_not_there(demo_shelf, path) -> None:
    assert ask(demo_shelf, path)[0].status_code == 404


def test_a_line_that_cannot_be_ordered_says_why(tmp_path, run) -> None:
    shelf, sheet = tmp_path / "shelf.db", tmp_path / "line.toml"
    sheet.write_text(DEMO[-1].read_text(encoding="utf-8").replace('"3 in"', '"9 in"', 1), encoding="utf-8")
    assert run("load", str(sheet), shelf=shelf).exit_code == 0
    one, order = ask(shelf, DISCHARGE, f"{DISCHARGE}/order")
    assert one.status_code == 200
    assert "Not to be ordered yet" in one.text
    assert f"{DISCHARGE}/order" not in one.text
    assert order.status_code == 409
    assert "too short for its bend" in order.text


def test_hostile_text_stays_text(tmp_path, run) -> None:
    shelf, sheet = tmp_path / "shelf.db", tmp_path / "line.toml"
    quoted = HOSTILE.replace('"', '\\"')
    text = DEMO[-1].read_text(encoding="utf-8")
    for name in (
        "Tender 4, compressor to condenser",
        "Water tender 4",
        "compressor",
        "condenser",
        "charge-air pipe",
        "3/4-16",
    ):
        text = text.replace(f'"{name}"', f'"{name}{quoted}"')
    sheet.write_text(text, encoding="utf-8")
    assert run("load", str(sheet), shelf=shelf).exit_code == 0
    link = "/lines/" + quote(f"Tender 4, compressor to condenser{HOSTILE}", safe="")
    for response in ask(shelf, "/lines", link, f"{link}/order"):
        assert response.status_code == 200
        assert "<script>" not in response.text
    assert "<script>" not in order_page(ask_line(read_line(text)))


@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_drawings_are_whole_and_within_their_frames(path) -> None:
    answer = ask_line(read_line(path))
    face = clock_face(answer)
    assert (face is None) == (answer.clock_deg is None)
    drawn = [svg for _, svg in route_views(answer)] + [end_drawing(end, "A") for end in answer.sheet.ends]
    for svg in [*drawn, *([face] if face else [])]:
        root = ElementTree.fromstring(svg)
        wide, tall = (float(number) for number in root.attrib["viewBox"].split()[2:])
        assert root.attrib["aria-label"]
        for each in root.iter("{http://www.w3.org/2000/svg}text"):
            assert 0 <= float(each.attrib["x"]) <= wide
            assert 0 <= float(each.attrib["y"]) <= tall


@pytest.mark.parametrize(
    ("clock_deg", "faces"), [(90, "[0, 0, 1]"), (180, "[1, 0, 0]"), (270, "[0, 0, -1]"), (0, "[-1, 0, 0]")]
)
def test_the_clock_hand_points_where_the_number_says(clock_deg, faces) -> None:
    # A straight hose upward, the near elbow to the left: looking up, clockwise goes left, forward, right, back.
    text = (
        'name = "x"\n[[end]]\nname = "a"\nangle = 90\nfaces = "left"\n[[end]]\nname = "b"\nangle = 90\n'
        f'faces = {faces}\n[[run]]\ntoward = "up"\nlength = 500\n'
    )
    answer = ask_line(read_line(text))
    assert answer.clock_deg == pytest.approx(clock_deg)
    face = clock_face(answer)
    assert face is not None
    hands = re.findall(
        r'<polyline points="110.0,104.0 ([\d.]+),([\d.]+)" fill="none" stroke="#000" stroke-width="3.0"', face
    )
    right, down = float(hands[1][0]) - 110, float(hands[1][1]) - 104
    expected = {0: (0, -1), 90: (1, 0), 180: (0, 1), 270: (-1, 0)}[clock_deg]
    assert (right, down) == pytest.approx([38 * one for one in expected], abs=0.1)


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine: apt-get install chromium")
def test_printed_it_is_one_page_with_nothing_cut_off(tmp_path) -> None:
    from playwright.sync_api import sync_playwright

    sheets = {path.stem: path.read_text(encoding="utf-8") for path in DEMO} | {"crowded": CROWDED}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page()
        for name, text in sheets.items():
            (tmp_path / "order.html").write_text(order_page(ask_line(read_line(text))), encoding="utf-8")
            page.goto((tmp_path / "order.html").as_uri())
            for size, wide_px in (("Letter", (8.5 - 20 / 25.4) * 96), ("A4", 190 / 25.4 * 96)):
                pdf = page.pdf(format=size)
                assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1, (name, size)
                page.emulate_media(media="print")
                page.set_viewport_size({"width": int(wide_px), "height": 900})
                assert page.evaluate("document.documentElement.scrollWidth") <= int(wide_px), (name, size)
                assert page.evaluate(
                    "[...document.querySelectorAll('.order *')].every(one => one.scrollWidth <= one.clientWidth + 1 "
                    "|| getComputedStyle(one).display === 'inline' || one.closest('svg'))"
                ), (name, size)
                assert not page.is_visible(".screen")
                page.emulate_media(media="null")
                assert page.is_visible("button")
        browser.close()
