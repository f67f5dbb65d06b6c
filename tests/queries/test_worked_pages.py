"""The pages of fluids, bolt circles and the fan: they answer as the commands do, refuse in words, and draw whole pictures."""

from __future__ import annotations

import asyncio
import json
import re
import xml.etree.ElementTree as ElementTree
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from kb.mechanics.bolt_circle import HoleSet
from kb.mechanics.vacuum_fill import vacuum_fill
from queries.drawings.coolant import coolant_drawing
from queries.drawings.holes import holes_drawing, match_drawing
from queries.drawings.vacuum_fill import vacuum_fill_drawing
from queries.explorer.server import build_datasette
from queries.explorer.worked_forms import TOPICS, values_of

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
HOSTILE = "<script>alert(1)</script>"


def ask(shelf: Path, *paths: str) -> list[Any]:
    async def asked() -> list[Any]:
        datasette = build_datasette(shelf)
        await datasette.invoke_startup()
        return [await datasette.client.get(path) for path in paths]

    return asyncio.run(asked())


def example(path: str) -> str:
    return f"/{path}?{urlencode(TOPICS[path].example)}"


def plain(response: Any) -> str:
    return " ".join(unescape(re.sub("<[^>]+>", " ", response.text)).split())


def test_every_page_answers_under_our_policy(demo_shelf) -> None:
    pages = ["/fluids", *(f"/{path}" for path in TOPICS), *map(example, TOPICS)]
    for path, response in zip(pages, ask(demo_shelf, *pages), strict=True):
        assert response.status_code == 200, path
        assert "unsafe" not in response.headers["content-security-policy"]
        assert len(response.content) < 30_000
        assert " style=" not in response.text
        assert ("Answer" in response.text) == ("?" in path)


def test_every_link_leads_somewhere(demo_shelf) -> None:
    pages = ["/", "/fluids", *(f"/{path}" for path in TOPICS)]
    links = {
        unescape(link) for one in ask(demo_shelf, *pages) for link in re.findall(r'(?:href|src)="(/[^"]*)"', one.text)
    }
    assert {"/holes", "/fan", "/fluids/oil"} <= links
    for link, response in zip(sorted(links), ask(demo_shelf, *sorted(links)), strict=True):
        assert response.status_code < 400, link


@pytest.mark.parametrize("path", TOPICS)
def test_a_page_says_what_the_command_says(path, demo_shelf, run) -> None:
    topic = TOPICS[path]
    command, asked = path.split("/"), dict(topic.example)
    arguments = [asked.pop(name) for name in ("name", "hub", "part") if name in asked]
    options = [
        piece
        for name, text in asked.items()
        for part in (text.split(";") if name == "taken-off" else [text])
        for piece in (f"--{name}", part.strip())
    ]
    done = run(*command, *arguments, *options)
    assert done.exit_code == 0, done.output
    page = plain(ask(demo_shelf, example(path))[0])
    assert done.stdout.splitlines()[0] in page
    answer = json.loads(run(*command, *arguments, *options, "--json").stdout)
    assert answer["cautions"]
    for caution in answer["cautions"]:
        assert f"Caution: {caution}" in page


@pytest.mark.parametrize("path", TOPICS)
def test_json_keys_are_documented(path, run) -> None:
    asked = dict(TOPICS[path].example)
    arguments = [asked.pop(name) for name in ("name", "hub", "part") if name in asked]
    options = [piece for name, text in asked.items() for piece in (f"--{name}", text.split(";")[0])]
    answer = json.loads(run(*path.split("/"), *arguments, *options, "--json").stdout)
    row = re.search(rf"^\| `{path.replace('/', ' ')}`[^|]* \| (.+) \|$", README, re.MULTILINE)
    assert row is not None
    assert set(answer) <= set(re.findall(r"`(\w+)`", row[1]))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("/fluids/coolant?now=30", "The system holds: not filled in"),
        ("/fluids/coolant?system=40&now=30&want=70", "Ask for 60 % or less"),
        ("/fluids/coolant?system=40&glycol=red", "is no choice"),
        ("/fluids/vacuum-fill?system=40&reading=25+inHg&altitude=5%2C000+ft", "less than 24.9 inHg"),
        ("/fluids/refrigerant?temperature=300+F", "outside the table"),
        ("/fluids/refrigerant?pressure=-300+psi", "should be between"),
        ("/fluids/evacuation?rise=1+micron", "three times or more"),
        ("/holes?count=6", "a spacing is needed"),
        ("/holes/match?hub=NONE&part=6+x+100", "no pulley"),
        ("/fan?fan=760&ring=700", "does not turn"),
    ],
)
def test_what_is_refused(asked, said, demo_shelf) -> None:
    (response,) = ask(demo_shelf, asked)
    assert response.status_code == 400
    assert said in plain(response)


def test_a_pulley_of_the_shelf(filled) -> None:
    filled.part("pulley", "FAN-1", bolt_circle_mm=120.65, hole_count=6)
    filled.connection.commit()
    query = urlencode({"hub": "6 x 120.65 mm", "part": "FAN-1"})
    assert "It goes on: all 6 holes line up" in plain(ask(filled.path, f"/holes/match?{query}")[0])


@pytest.mark.parametrize("path", TOPICS)
def test_hostile_text_stays_text(path, demo_shelf) -> None:
    for field in TOPICS[path].form:
        (response,) = ask(demo_shelf, f"/{path}?{urlencode({**TOPICS[path].example, field.name: HOSTILE})}")
        assert response.status_code in (200, 400)
        assert HOSTILE not in response.text


def test_every_field_is_read() -> None:
    """Each field's own example is understood, and a needed one that is empty is named."""
    for topic in TOPICS.values():
        texts = {field.name: field.example for field in topic.form}
        values = values_of(topic, texts)
        assert all(values[field.name] is not None for field in topic.form if field.example)
        assert set(topic.needed) <= set(texts)
        assert set(topic.example) <= set(texts)


def within(svg: str) -> None:
    """Every text of a drawing lies in its frame, letters taken as 0.6 of their height wide."""
    root = ElementTree.fromstring(svg)
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    for one in root.iter("{http://www.w3.org/2000/svg}text"):
        x, y, size = (float(one.attrib[name]) for name in ("x", "y", "font-size"))
        long = 0.6 * size * len(one.text or "")
        start = {"middle": x - long / 2, "end": x - long, "start": x}[one.attrib["text-anchor"]]
        assert left <= start, one.text
        assert start + long <= left + width, one.text
        assert top <= y - size, one.text
        assert y <= top + height, one.text


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6, 8, 10, 24])
def test_bolt_circles_are_drawn_in_their_frame(count) -> None:
    within(holes_drawing(HoleSet(count, 335.0, 26.0)))
    svg = match_drawing(HoleSet(count, 120.0), HoleSet(5, 160.0, 11.0), False)
    within(svg)
    assert svg.count("<circle") == 2 + count + 5


@pytest.mark.parametrize(
    "asked", [(40, 16, 101, 0, 0.3, 2), (4, 50, 101, 10, 0.01, 0), (400, 20, 84, 0, 12, 60), (9, 90, 101, 0, 3, 20)]
)
def test_a_fill_is_drawn_in_its_frame(asked) -> None:
    fill = vacuum_fill(*map(float, asked))
    svg = vacuum_fill_drawing(fill, float(asked[4]), float(asked[5]))
    within(svg)
    heights = [float(one) for one in re.findall(r'<rect [^>]*height="([\d.]+)"', svg)]
    assert heights[0] / sum(heights[:2]) == pytest.approx(fill.share, abs=0.01)


@pytest.mark.parametrize("count", [1, 2, 12, 13, 61])
def test_bars_of_coolant_are_as_long_as_their_share(count) -> None:
    steps = [(f"swap {number}", 100.0 * number / count) for number in range(1, count + 1)]
    svg = coolant_drawing(steps, 60.0)
    within(svg)
    bars = re.findall(r'<rect [^>]* width="([\d.]+)"', svg)
    assert len(bars) <= 24
    assert float(bars[-1]) == pytest.approx(float(bars[0]))  # the last is all glycol: as long as the whole
    assert f">{steps[-1][0]}<" in svg


def test_fans_are_drawn_in_their_frame(demo_shelf) -> None:
    for offset in ("0, 0", "0, 5", "-18, 9", "30, 0", "0, -14"):
        (response,) = ask(demo_shelf, f"/fan?{urlencode({'fan': '760', 'ring': '800', 'offset': offset})}")
        found = re.search(r"<svg.*?</svg>", response.text, re.DOTALL)
        assert found is not None
        within(found[0])
