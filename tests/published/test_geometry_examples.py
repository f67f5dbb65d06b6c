"""Belt paths against the published and independently reckoned examples, each by its row's id and source.

The rows, with source, formula and the independent method that checked each, stand in
``kb/reference/geometry_examples.csv``; only rows whose status begins ``checked:`` are used.
"""

from __future__ import annotations

import math
import re

import pytest

from kb.mechanics.path import Pulley, find_route, follow
from kb.mechanics.tensioner import Arm, Drive, arm_angle_rad, find_window
from kb.reference.tables import is_checked, table

ROWS = {row["id"]: row for row in table("geometry_examples")}


def expected(number: str) -> list[float]:
    row = ROWS[number]
    assert is_checked(row)
    return [float(part) for part in row["expected"].split(";")]


def printed(number: str, place: int = 0) -> float:
    """Half a unit of the last digit that the row prints."""
    digits = ROWS[number]["expected"].split(";")[place].strip()
    return 0.5 * 10.0 ** -len(digits.partition(".")[2]) * 1.01


def inputs(number: str) -> dict[str, float]:
    return {name: float(value) for name, value in re.findall(r"(\w+) = ?([\d.]+)", spaced(ROWS[number]["inputs"]))}


def spaced(text: str) -> str:
    return text.replace("=", " = ").replace("  ", " ")


def pair(number: str, flat: bool = False) -> list[Pulley]:
    given = inputs(number)
    return [
        Pulley("large", 0.0, 0.0, given["D"] / 2), Pulley("small", given["C"], 0.0, given["d"] / 2, flat)
    ]  # fmt: skip


def pulleys_of(text: str) -> list[Pulley]:
    """Read ``(0,0) r=90 rib; …`` of a row's inputs."""
    found = re.findall(r"\((-?\d+),(-?\d+)\) r=([\d.]+) (rib|back)", text)
    return [
        Pulley(f"{at}", float(x), float(y), float(r), side == "back") for at, (x, y, r, side) in enumerate(found)
    ]  # fmt: skip


def listed_in_note(number: str, what: str) -> list[float]:
    part = re.search(rf"{what}: ([\d., ]+)", ROWS[number]["note"])
    assert part is not None
    return [float(one) for one in part[1].strip(" ,").split(",")]


@pytest.mark.parametrize("number", ["G01", "G04", "G07"])
def test_open_belts(number: str) -> None:
    # Machinery's Handbook, belt drives; checked by shapely's convex hull
    assert follow(pair(number), +1).length_mm == pytest.approx(expected(number)[0], abs=printed(number))


def test_an_open_belt_of_one_to_three() -> None:
    # Khurmi and Gupta, compressor example; checked by shapely's convex hull. The row prints d = 0.3333 m for a third.
    assert "d = 0.3333 m" in ROWS["G30"]["inputs"]
    route = follow([Pulley("large", 0.0, 0.0, 0.5), Pulley("small", 1.75, 0.0, 1.0 / 6.0)], +1)
    assert route.length_mm == pytest.approx(expected("G30")[0], abs=printed("G30"))


@pytest.mark.parametrize("number", ["G03", "G06", "G09"])
def test_arcs_of_contact(number: str) -> None:
    # Machinery's Handbook, belt drives; checked by the support function's root
    route = follow(pair(number), +1)
    assert math.degrees(route.wraps_rad[1]) == pytest.approx(expected(number)[0], abs=printed(number))
    assert math.degrees(sum(route.wraps_rad)) == pytest.approx(360.0)


def test_a_crossed_belt() -> None:
    # Khurmi and Gupta, flat belt example; checked by tangent points from scipy's fsolve
    route = follow(pair("G10", flat=True), +1)
    assert route.length_mm == pytest.approx(expected("G10")[0], abs=printed("G10"))
    wraps = [math.degrees(wrap) for wrap in route.wraps_rad]
    assert wraps == pytest.approx(expected("G11"), abs=printed("G11"))


def test_the_published_table_of_arcs() -> None:
    # RMA/MPTA classical V-belt practice: (D - d) / C from 0 to 1.5, arcs to a degree
    ratios = [float(part) for part in ROWS["G13"]["inputs"].split(";")]
    for ratio, arc in zip(ratios, expected("G13"), strict=True):
        route = follow([Pulley("large", 0.0, 0.0, 100.0), Pulley("small", 200.0, 0.0, 100.0 - ratio * 100.0)], +1)
        if ratio < 1.0:  # beyond, a small pulley of no size: the arc depends on the difference only
            assert math.degrees(route.wraps_rad[1]) == pytest.approx(arc, abs=0.51)


def test_the_measuring_fixture() -> None:
    # ISO 9981: L_e = U_e + 2 E, two equal pulleys of effective circumference 300 mm at 600 mm
    radius = 300.0 / (2 * math.pi)
    route = find_route([Pulley("fixed", 0.0, 0.0, radius), Pulley("sliding", 600.0, 0.0, radius)])
    assert route.length_mm == pytest.approx(expected("G14")[0], abs=1e-9)


@pytest.mark.parametrize("number", ["G18", "G19", "G20", "G21"])
def test_three_five_and_six_pulleys(number: str) -> None:
    # Constructed examples; checked by an elastic chain, and G19 by shapely's convex hull
    base = "G18" if number == "G19" else number
    route = find_route(pulleys_of(ROWS[base]["inputs"]))
    assert route.length_mm == pytest.approx(expected(number)[0], abs=printed(number))
    assert [math.degrees(wrap) for wrap in route.wraps_rad] == pytest.approx(
        listed_in_note(base, "wraps deg"), abs=0.0051
    )
    assert [span.length_mm for span in route.spans] == pytest.approx(listed_in_note(base, "spans mm"), abs=0.0051)


def test_the_belts_back_off_its_effective_line() -> None:
    # G23: the idler of G20 with the cord 1.2 mm over its surface and b_e = 2 mm: the effective line 3.2 mm over it
    pulleys = pulleys_of(ROWS["G20"]["inputs"])
    raised = [
        Pulley(one.name, one.x_mm, one.y_mm, one.radius_mm + (3.2 if one.flat else 0.0), one.flat) for one in pulleys
    ]
    cord = [
        Pulley(one.name, one.x_mm, one.y_mm, one.radius_mm + (1.2 if one.flat else 2.0), one.flat) for one in pulleys
    ]
    assert find_route(raised).length_mm == pytest.approx(expected("G23")[0], abs=printed("G23"))
    assert find_route(cord).length_mm - 2 * math.pi * 2.0 == pytest.approx(expected("G23")[1], abs=printed("G23"))


TENSIONER = (
    Pulley("crank", 0.0, 0.0, 95.0),
    Pulley("pump", 310.0, -10.0, 60.0),
    Pulley("idler", 300.0, 200.0, 38.0, flat=True),
    Pulley("alternator", 330.0, 330.0, 30.0),
    Pulley("fan", 40.0, 310.0, 75.0),
)
"""G22's layout; on the arm's pulley stands the pivot."""


def test_the_route_per_degree_of_arm() -> None:
    # G22: derived by virtual work; checked by a central finite difference. More angle, less route: wound back at 205.
    drive = Drive(TENSIONER, Arm(math.radians(205.0), math.radians(170.0), 80.0), 2)
    per_degree = drive.take_up_mm_per_rad(math.pi) * math.radians(1.0)
    assert per_degree == pytest.approx(expected("G22")[0], abs=printed("G22"))
    assert drive.length_at_mm(math.pi) == pytest.approx(1847.599, abs=0.00051)  # the row's note


def test_the_arm_angle_for_a_belt() -> None:
    # G24: scipy's brentq; checked by an elastic chain at that angle
    drive = Drive(TENSIONER, Arm(math.radians(205.0), math.radians(140.0), 80.0), 2)
    window = find_window(drive)
    angle = arm_angle_rad(drive, window, expected("G24")[1])
    assert angle is not None
    assert math.degrees(angle) == pytest.approx(expected("G24")[0], abs=printed("G24"))
    assert math.degrees(window.high_rad) == pytest.approx(167.7, abs=0.051)  # the row's note: the maximum
