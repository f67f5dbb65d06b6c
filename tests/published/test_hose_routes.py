"""Hose routes and their tolerances against what is published."""

from __future__ import annotations

import math

import pytest

from kb.mechanics.route import rounded
from kb.reference.tables import is_checked, table
from kb.sheets.line import read_line
from queries.lines import ask_line

STRAIGHT = 'name = "x"\n[[end]]\nname = "a"\n[[end]]\nname = "b"\n[[run]]\ntoward = "up"\nlength = {length}\n'


def _example(number: str) -> dict[str, str]:
    return next(row for row in table("geometry_examples") if number in row.values())


def test_two_straights_and_one_bend() -> None:
    # geometry_examples.csv G49: straights 60 and 80 mm, centre radius 125 mm, 90 degrees: 336.3495 mm (shapely agrees).
    row = _example("G49")
    assert is_checked(row)
    assert "336.3495" in row.values()
    assert rounded(((0, 0, 0), (185, 0, 0), (185, 0, 205)), 125).length_mm == pytest.approx(336.3495, abs=1e-4)


def test_a_u_bend_is_two_right_angles() -> None:
    # geometry_examples.csv G50 (SAE J343): hose 20.6 mm outside, 114 mm inside the bend, half a turn and 25.4 mm at each
    # end: 441.3 mm. A half turn is two corners of 90 degrees, 2 R apart.
    radius = 114 + 20.6 / 2
    corners = ((0, 0, 0), (25.4 + radius, 0, 0), (25.4 + radius, 2 * radius, 0), (0, 2 * radius, 0))
    assert "441.3" in _example("G50").values()
    assert rounded(corners, radius).length_mm == pytest.approx(441.3, abs=0.05)


def test_an_s_bend() -> None:
    # geometry_examples.csv G52: offset 60, lead 200, R = 181.6667: 211.7919 mm. Each arc turns 2 atan(60/200); its corner
    # lies R tan(turn / 2) in from the end.
    radius, turn = 181.6667, 2 * math.atan(60 / 200)
    tangent = radius * math.tan(turn / 2)
    route = rounded(((0, 0, 0), (tangent, 0, 0), (200 - tangent, 60, 0), (200, 60, 0)), radius)
    assert "181.6667; 211.7919" in _example("G52").values()
    assert [bend.turn_rad for bend in route.bends] == pytest.approx([turn, turn], abs=1e-6)
    assert route.length_mm == pytest.approx(211.7919, abs=2e-3)


@pytest.mark.parametrize(
    ("inches", "within_inches"),
    [(10, 0.125), (12, 0.125), (18, 0.188), (30, 0.25), (40, 0.375), (60, 0.5), (100, 1.0)],
)
def test_length_tolerances(inches, within_inches) -> None:
    # RMA IP-2 (2003) table 4-8, tolerances of hose cut to length, in inches; its millimetres are rounded.
    answer = ask_line(read_line(STRAIGHT.format(length=f'"{inches} in"')))
    assert answer.length_tolerance_mm == pytest.approx(within_inches * 25.4, abs=0.15)


@pytest.mark.parametrize(("inches", "within_deg"), [(20, 3), (24, 3), (25, 5)])
def test_clock_tolerances(inches, within_deg) -> None:
    # MIL-DTL-83796/5 figure 3, after SAE J517: 3 degrees up to 2 ft, 5 degrees over.
    elbows = STRAIGHT.replace('name = "a"', 'name = "a"\nangle = 90\nfaces = "right"').replace(
        'name = "b"', 'name = "b"\nangle = 90\nfaces = "forward"'
    )
    answer = ask_line(read_line(elbows.format(length=f'"{inches} in"')))
    assert answer.clock_tolerance_deg == within_deg
    # Counted anticlockwise there, clockwise here; looking up with right at 12 o'clock, back is at 3 and forward at 9.
    assert (answer.clock_deg, answer.clock_anticlockwise_deg) == pytest.approx((270, 90))


def test_every_row_of_the_table_is_checked() -> None:
    assert all(is_checked(row) for row in table("hose_making"))
