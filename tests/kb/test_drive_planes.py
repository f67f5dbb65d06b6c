"""Planes off a drive sheet: stacks added up by hand, straightedges by plane geometry, and what is left open, said."""

from __future__ import annotations

import math

import pytest

from kb.errors import DriveError
from kb.sheets.drive import read_drive
from kb.sheets.drive_planes import PlaneReading, read_planes

SHEET = """
name = "Planes"
ribs = 8
[[pulley]]
name = "crank"
outside_diameter = 180
face = "grooved"
at = [0, 0]
driver = true
CRANK
[[pulley]]
name = "pump"
outside_diameter = 120
face = "grooved"
at = [300, 0]
PUMP
[[pulley]]
name = "fan"
outside_diameter = 150
face = "grooved"
at = [0, 400]
FAN
[doubt]
plane = "0.3 mm"
"""
EDGE = """[pulley.straightedge]
along = 0
first_at = -80
first_gap = 2
second_at = 80
second_gap = 1
"""


def planes(crank: str = "", pump: str = "", fan: str = "", top: str = "") -> tuple[dict[str, PlaneReading], str]:
    text = top + SHEET.replace("CRANK", crank).replace("PUMP", pump).replace("FAN", fan)
    found, notes = read_planes(read_drive(text, name="planes.toml"))
    return found, " | ".join(notes)


def test_nothing_read_is_nothing_known() -> None:
    assert planes() == ({}, "")


def test_a_stack_is_told_against_the_drivers() -> None:
    # by hand: crank 40 + 12 = 52; pump 30 + 12.7 + 8.2 = 50.9; doubts of five readings of 0.3 mm added in squares
    stack = "hub_face = 30\nspacer = '1/2 in'\npulley_offset = 8.2"
    found, notes = planes("hub_face = 40\npulley_offset = 12", stack)
    assert found["crank"].z_mm == 0
    assert found["pump"].z_mm == pytest.approx(-1.1)
    assert found["pump"].doubt_mm == pytest.approx(0.3 * math.sqrt(5))
    assert ("fan" in found, notes) == (False, "")


def test_a_belt_plane_from_the_datum_moves_them_all() -> None:
    found, _ = planes("hub_face = 40\npulley_offset = 12", "hub_face = 50\npulley_offset = 3", top="belt_plane = 51\n")
    assert (found["crank"].z_mm, found["pump"].z_mm) == pytest.approx((1, 2))
    assert found["pump"].doubt_mm == pytest.approx(0.3 * math.sqrt(2))


def test_a_stack_without_a_belt_plane_is_left_out_and_said() -> None:
    found, notes = planes(pump="hub_face = 30\npulley_offset = 8.2")
    assert "pump" not in found
    assert "add belt_plane, or hub_face and pulley_offset to crank" in notes


def test_a_given_plane_counts_from_the_drivers_groove_which_is_said() -> None:
    found, notes = planes(fan="plane = '-1.5 mm'\ntilt = 0.4")
    assert found["crank"] == PlaneReading("crank", 0.0, 0.0, "driver")
    assert found["fan"] == PlaneReading("fan", -1.5, 0.3, "given", tilt_deg=0.4)
    assert "taken at the first groove of crank" in notes
    assert "which way it tilts was not read" in notes


def test_a_tilt_towards_a_direction_is_a_slope() -> None:
    fan = planes(fan="plane = 0\ntilt = 0.5\ntilt_towards = 90")[0]["fan"]
    assert (fan.slope_x, fan.slope_y) == pytest.approx((0.0, math.tan(math.radians(0.5))))
    assert fan.lean_deg == pytest.approx(0.5)


def test_a_straightedge_gives_offset_and_lean() -> None:
    # by hand: the middle gap is 1.5 mm, so the pump stands 1.5 mm back, and comes forward 1 mm in 160 to the right
    found, notes = planes(pump=EDGE)
    pump = found["pump"]
    assert (pump.z_mm, pump.slope_x, pump.slope_y) == pytest.approx((-1.5, 1 / 160, 0.0))
    assert pump.doubt_mm == pytest.approx(0.3 * math.sqrt(0.5))  # the mean of two readings
    assert "rim to first groove: taken as the same on pump and crank" in notes


def test_rims_before_the_groove_are_taken_off_and_chains_are_followed() -> None:
    pump = "rim_to_groove = 6\n" + EDGE
    fan = "rim_to_groove = 5\n" + EDGE.replace("along = 0", 'along = 90\nagainst = "Pump"')
    found, _ = planes("rim_to_groove = 4", pump, fan)
    assert found["pump"].z_mm == pytest.approx(-1.5 + 4 - 6)
    assert found["fan"].z_mm == pytest.approx(-3.5 - 1.5 + 6 - 5)
    assert (found["fan"].slope_x, found["fan"].slope_y) == pytest.approx((1 / 160, 1 / 160))


def test_a_straightedge_counts_more_than_a_stack_and_what_disagrees_is_said() -> None:
    base = "hub_face = 40\npulley_offset = 12"
    far, notes = planes(base, "hub_face = 50\npulley_offset = 5\n" + EDGE)
    assert (far["pump"].how, far["pump"].z_mm) == ("straightedge", -1.5)
    assert "pump: the straightedge puts it 4.5 mm behind what its stack adds up to" in notes
    assert "adds up to" not in planes(base, "hub_face = 46\npulley_offset = 5\n" + EDGE)[1]


def test_straightedges_in_a_ring_or_on_one_known_rim_are_refused() -> None:
    with pytest.raises(DriveError, match=r"planes\.toml: the straightedges of .* lie against each other"):
        planes(
            pump=EDGE.replace("along", 'against = "fan"\nalong'), fan=EDGE.replace("along", 'against = "pump"\nalong')
        )
    with pytest.raises(DriveError, match="'crank': rim_to_groove is given for one of pump and crank only"):
        planes(pump="rim_to_groove = 6\n" + EDGE)


@pytest.mark.parametrize(
    ("pump", "said"),
    [
        ("plane = 1\nhub_face = 2\npulley_offset = 3", "plane and hub_face are given"),
        ("plane = 1\n" + EDGE, "plane and straightedge are given"),
        ("spacer = 2", "'pump', spacer: hub_face, on which it is stacked, is not given"),
        ("hub_face = 2", "hub_face is given without pulley_offset"),
        ("tilt = 0.2\n" + EDGE, "'pump', tilt: the straightedge's two gaps tell the tilt already"),
        ("plane = 1\ntilt_towards = 90", "how far it tilts is not given"),
        (EDGE.replace("along = 0\n", ""), "[pulley.straightedge]: its along is not given"),
        (EDGE.replace("second_at = 80", "second_at = -80"), "both gaps were read at the same place"),
        (EDGE + 'against = "pump"', "a straightedge lies across another pulley"),
        (EDGE + 'against = "pmp"', "no pulley is called 'pmp'. Is 'pump' meant?"),
        (EDGE + "gap = 3", "the key 'gap' is not known"),
        ('must_turn = "left"', "must_turn"),
    ],
)
def test_refusals_say_where_and_what(pump, said) -> None:
    with pytest.raises(DriveError) as caught:
        planes(pump=pump)
    assert str(caught.value).startswith("planes.toml, pulley 'pump'")
    assert said in str(caught.value)


def test_a_straightedge_on_the_driver_must_name_its_pulley() -> None:
    with pytest.raises(DriveError, match=r"'crank', .*: a straightedge lies across another pulley"):
        planes(EDGE)


def test_what_a_sheet_may_say_of_its_belt() -> None:
    top = (
        'belt_length = "73 in"\nbelt_width = 28.5\nbelt_mass_kg_per_m = 0.15\ntension_n = 550\nfriction = 0.35\n'
        "groove_angle = 40\ndesign_ratio = 4\ndesign_ratio_flat = 2\nmisalignment_limit = 0.5\n"
    )
    belt = read_drive(top + SHEET.replace("CRANK", "must_turn = 'cw'").replace("PUMP", "").replace("FAN", "")).belt
    assert belt.belt_length_mm == pytest.approx(73 * 25.4)
    assert (belt.belt_width_mm, belt.belt_mass_kg_per_m, belt.tension_n, belt.friction) == (28.5, 0.15, 550, 0.35)
    assert (belt.groove_angle_deg, belt.design_ratio, belt.design_ratio_flat) == (40, 4, 2)
    assert (belt.misalignment_limit_deg, belt.belt_plane_mm) == (0.5, None)
    for bad in ("friction = 0", "design_ratio = 1", "belt_mass_kg_per_m = -1", "tension_n = 'tight'"):
        with pytest.raises(DriveError, match=bad.split(" ", maxsplit=1)[0]):
            read_drive(f"{bad}\n{SHEET.replace('CRANK', '').replace('PUMP', '').replace('FAN', '')}")
