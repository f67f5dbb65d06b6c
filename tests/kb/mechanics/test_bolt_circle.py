"""Bolt circles against hole coordinates, and matches against trying every hole; the handbook's rows from the table."""

from __future__ import annotations

import cmath
import csv
import math
import re
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.bolt_circle import (
    BoltCircleError,
    HoleSet,
    allowed_offset_mm,
    chord_mm,
    circle_from_across_mm,
    circle_from_adjacent_mm,
    match,
    stack,
)

TEXT = (files("kb.reference") / "geometry_examples.csv").read_text(encoding="utf-8")
ROWS = [row for row in csv.reader(TEXT.splitlines()) if row[1].startswith("bolt circle")]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_the_handbooks_rows(row) -> None:
    """Machinery's Handbook, length of chords for spacing off the circumference; checked by coordinates there."""
    assert "checked:" in row[-1]
    if match_ := re.match(r"n = (\d+); bolt circle ([\d.]+)", row[2]):
        count, circle = int(match_[1]), float(match_[2])
        assert chord_mm(count, circle) == pytest.approx(float(row[4]), abs=1e-4)
        assert circle_from_adjacent_mm(count, float(row[4])) == pytest.approx(circle, rel=1e-6)
    else:
        across = float(re.search(r"= ([\d.]+) mm", row[2])[1])
        assert circle_from_across_mm(5, across) == pytest.approx(float(row[4]), abs=1e-4)


def test_there_are_six_rows() -> None:
    assert len(ROWS) == 6


@given(st.integers(2, 40), st.floats(10, 800))
def test_spacings_against_coordinates(count, circle) -> None:
    holes = [cmath.rect(circle / 2, 2 * math.pi * index / count) for index in range(count)]
    adjacent = abs(holes[1] - holes[0])
    across = max(abs(one - holes[0]) for one in holes)
    assert chord_mm(count, circle) == pytest.approx(adjacent)
    for places in range(1, count):
        assert chord_mm(count, circle, places) == pytest.approx(abs(holes[places] - holes[0]))
    assert circle_from_adjacent_mm(count, adjacent) == pytest.approx(circle)
    assert circle_from_across_mm(count, across) == pytest.approx(circle)


@given(st.integers(2, 24), st.integers(2, 24), st.floats(60, 200), st.floats(-3, 3))
def test_matches_against_trying_the_holes(count, other, circle, off) -> None:
    found = match(HoleSet(count, circle), HoleSet(other, circle + off), 0.5)
    hub = [cmath.rect(circle / 2, 2 * math.pi * index / count) for index in range(count)]
    part = [cmath.rect((circle + off) / 2, 2 * math.pi * index / other) for index in range(other)]
    near = sum(min(abs(hole - stud) for stud in hub) <= abs(off) / 2 + 1e-9 for hole in part)
    assert found.used == near
    assert found.fits == (near == min(count, other) and abs(off) / 2 <= 0.5)
    assert found.radial_mm == pytest.approx(abs(off) / 2)
    # turned by hand: the smallest turn after which as many of the part's holes stand on studs as before
    ways = {round((360 * a / count - 360 * b / other) % 360, 6) for a in range(count) for b in range(other)}
    assert found.turned_deg == pytest.approx(min(way for way in ways if way), abs=1e-5)


@pytest.mark.parametrize(
    ("hub", "part", "within", "why"),
    [
        (6, 6, 0.0, "all 6 holes line up"),
        (6, 3, 0.0, "all 3 holes are used, on 3 of the hub's 6"),
        (3, 6, 0.0, "3 of the part's 6 holes are used"),
        (5, 4, 0.0, "4 holes on 5: only one hole lines up at a time"),
        (6, 4, 0.0, "4 holes on 6: only 2 holes line up at a time"),
    ],
)
def test_how_many_line_up_is_said(hub, part, within, why) -> None:
    assert match(HoleSet(hub, 100.0), HoleSet(part, 100.0), within).why == why


def test_as_far_off_as_is_allowed_still_goes_on() -> None:
    assert match(HoleSet(6, 100.0), HoleSet(6, 101.0), 0.5).fits
    assert not match(HoleSet(6, 100.0), HoleSet(6, 101.0), 0.49).fits


def test_clearance_and_stack() -> None:
    assert allowed_offset_mm(13.5, 12.0) == 0.75
    found = stack(6.0, 50.0, 1.5, stud_mm=None, bolt_mm=75.0)
    assert (found.grip_mm, found.overhang_mm, found.engaged_mm) == (56.0, 50.0, 17.5)
    bare = stack(0.5, stud_mm=20.0, bolt_mm=20.0)  # nothing but a thin flange: all of the rest is left
    assert (bare.grip_mm, bare.overhang_mm, bare.beyond_mm, bare.engaged_mm) == (0.5, 0.0, 19.5, 19.5)
    assert allowed_offset_mm(1.0, 0.8) == pytest.approx(0.1)
    assert circle_from_adjacent_mm(2, 0.5) == pytest.approx(0.5)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: circle_from_adjacent_mm(1, 50.0),
        lambda: circle_from_across_mm(4, -1.0),
        lambda: chord_mm(6, 100.0, 6),
        lambda: chord_mm(6, 100.0, 0),
        lambda: chord_mm(6, 0.0),
        lambda: chord_mm(1, 100.0),
        lambda: match(HoleSet(6, -100.0), HoleSet(6, 100.0), 500.0),
        lambda: match(HoleSet(6, 100.0), HoleSet(6, -100.0), 500.0),
        lambda: allowed_offset_mm(10.0, 10.0),
        lambda: allowed_offset_mm(10.0, 0.0),
        lambda: stack(0.0),
        lambda: stack(8.0, -1.0),
    ],
)
def test_refusals(wrong) -> None:
    with pytest.raises(BoltCircleError):
        wrong()
