"""The drawing of a drive: well-formed, to scale, whole inside its frame, and no sheet can put markup into it."""

from __future__ import annotations

import math
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from kb.sheets.drive import read_drive
from queries.drive_picture import ask_picture, read_move
from queries.drives import known_drive

SVG = "{http://www.w3.org/2000/svg}"
DRIVES = sorted((Path(__file__).parents[2] / "demo_db" / "drives").glob("*.toml"))


def numbers(text: str) -> list[float]:
    return [float(one) for one in re.findall(r"-?\d+(?:\.\d+)?", text)]


@pytest.mark.parametrize("drive", DRIVES, ids=lambda path: path.stem)
def test_everything_drawn_lies_inside_the_frame(drive) -> None:
    known = known_drive(read_drive(drive))
    root = ElementTree.fromstring(ask_picture(known))
    left, top, width, height = numbers(root.attrib["viewBox"])
    for one in root.iter(f"{SVG}circle"):
        x, y, r = (float(one.attrib[name]) for name in ("cx", "cy", "r"))
        assert left <= x - r <= x + r <= left + width
        assert top <= y - r <= y + r <= top + height
    for one in root.iter(f"{SVG}text"):
        assert left <= float(one.attrib["x"]) <= left + width
        assert top <= float(one.attrib["y"]) <= top + height
    said = "".join(root.itertext())
    assert all(one.name in said for one in known.sheet.pulleys)


@pytest.mark.parametrize("drive", DRIVES, ids=lambda path: path.stem)
def test_the_belts_outline_is_as_long_as_the_route(drive) -> None:
    # The outline's arcs and lines, measured as drawn: the back lies a known offset outside of the effective line, and
    # that adds 2 pi times the offset whatever the route (the total turning of a closed curve is one turn).
    known = known_drive(read_drive(drive))
    root = ElementTree.fromstring(ask_picture(known))
    back = next(
        one for one in root.iter(f"{SVG}path") if "A" in one.attrib["d"] and "stroke-dasharray" not in one.attrib
    )
    offset = float(back.attrib["stroke-width"]) / 2
    route = known.drive.route_at(known.shown_rad)
    assert drawn_length(back.attrib["d"]) == pytest.approx(route.length_mm + 2 * math.pi * offset, rel=4e-4)


def drawn_length(path: str) -> float:
    here, begin, total = (0.0, 0.0), (0.0, 0.0), 0.0
    for letter, rest in re.findall(r"([MLAZ])([^MLAZ]*)", path):
        values = numbers(rest)
        if letter == "M":
            here = begin = (values[0], values[1])
        elif letter == "L":
            total += math.dist(here, (values[0], values[1]))
            here = (values[0], values[1])
        elif letter == "A":
            radius, large, end = values[0], values[3], (values[5], values[6])
            half = math.asin(min(math.dist(here, end) / (2 * radius), 1.0))
            total += radius * (2 * math.pi - 2 * half if large else 2 * half)
            here = end
        else:
            total += math.dist(here, begin)
    return total


def test_a_name_never_becomes_markup() -> None:
    text = DRIVES[0].read_text(encoding="utf-8").replace('"crank"', '"<script>&\\"x"')
    drawn = ask_picture(known_drive(read_drive(text, name="odd")))
    assert "<script" not in drawn
    assert ElementTree.fromstring(drawn) is not None


def test_a_moved_pulley_leaves_a_ghost() -> None:
    known = known_drive(read_drive(next(one for one in DRIVES if one.stem == "water_tender_4")))
    place = known.place_of("fan")
    before = known.drive.fixed[place]
    root = ElementTree.fromstring(ask_picture(known, None, ("fan", (0.0, -10.0))))
    heights = [float(one.attrib["cy"]) for one in root.iter(f"{SVG}circle") if float(one.attrib["cx"]) == before.x_mm]
    assert -before.y_mm == pytest.approx(min(heights), abs=0.01)
    assert any(one == pytest.approx(-before.y_mm + 10.0, abs=0.01) for one in heights)


def test_a_move_is_read_right_and_up() -> None:
    assert read_move("1/2 in, -10 mm") == (12.7, -10.0)
