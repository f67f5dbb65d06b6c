"""The drive sheet: the design page's form read key by key, and every refusal read as a person reads it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.errors import DriveError
from kb.sheets.drive import read_drive

SHEET = """
name = "Tender 4, fan plane"
profile = "PK"
ribs = 8
unit = "in"
rotation = "clockwise"
idle_rpm = 700
governed_rpm = 2100
belt_over_rim = "2.5 mm"
belt_thickness = "4.6 mm"

[[pulley]]
name = "crank"
outside_diameter = 7.25
face = "grooved"
grooves = 8
at = [0, 0]
driver = true

[[pulley]]
name = "fan"
effective_diameter = "8 in"
face = "grooved"
plane = "1 mm"
tilt = 0.3
slot = 270
slot_travel = "3/4 in"
load_kw = 18

[[pulley]]
name = "tensioner"
outside_diameter = 3
face = "flat"
flange = "2 mm"
[pulley.arm]
pivot = [6.5, 4.75]
length = 3.5
slack_stop = 71.7
free_stop = 105.7
work_from = 80
work_to = 98
torque_nm = 45
torque_at = 90
rate_nm_per_deg = 0.6
damping = 0.2

[[distance]]
between = ["crank", "fan"]
is = "14 3/8 in"

[[distance]]
between = ["Tensioner pivot", "fan"]
is = 9

[doubt]
centre = "2 mm"
angle = 1.5
"""
TAPE_LINE = f"line {SHEET[: SHEET.index('14 3/8')].count(chr(10)) + 1}"

TWO = """
name = "Two"
ribs = 6
[[pulley]]
name = "crank"
outside_diameter = 180
face = "grooved"
at = [0, 0]
driver = true
[[pulley]]
name = "pump"
outside_diameter = 120
face = "grooved"
at = [300, 0]
"""


def refusal(text: str) -> str:
    with pytest.raises(DriveError) as caught:
        read_drive(text, name="tender.toml")
    assert str(caught.value).startswith("tender.toml")
    return str(caught.value)


def test_every_key_is_read_in_its_unit() -> None:
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
    sheet = read_drive(SHEET)
    crank, fan, tensioner = sheet.pulleys
    assert (sheet.name, sheet.profile, sheet.ribs, sheet.unit) == ("Tender 4, fan plane", "PK", 8, "in")
    assert (sheet.rotation, sheet.idle_rpm, sheet.governed_rpm) == ("clockwise", 700, 2100)
    assert sheet.rim_climb_mm == pytest.approx(4.6 - 2.5)
    assert crank.outside_diameter_mm == pytest.approx(7.25 * 25.4)
    assert (crank.grooves, crank.driver, crank.x, crank.y) == (8, True, 0.0, 0.0)
    assert fan.effective_diameter_mm == pytest.approx(8 * 25.4)
    assert fan.slot_travel_mm == pytest.approx(0.75 * 25.4)
    assert (fan.plane_mm, fan.tilt_deg, fan.slot_deg, fan.load_kw, fan.x) == (1.0, 0.3, 270, 18, None)
    arm = tensioner.arm
    assert arm is not None
    assert (arm.pivot_x, arm.pivot_y, arm.length_mm) == pytest.approx((6.5 * 25.4, 4.75 * 25.4, 3.5 * 25.4))
    assert (arm.slack_stop_deg, arm.free_stop_deg, arm.work_from_deg, arm.work_to_deg) == (71.7, 105.7, 80, 98)
    assert (arm.torque_nm, arm.torque_at_deg, arm.rate_nm_per_deg, arm.damping) == (45, 90, 0.6, 0.2)
    assert sheet.distances[0].distance_mm == pytest.approx(14.375 * 25.4)
    assert (sheet.distances[1].first, sheet.distances[1].second) == ("tensioner pivot", "fan")
    assert (sheet.doubt.centre_mm, sheet.doubt.angle_deg, sheet.doubt.belt_mm) == (2.0, 1.5, 4.5)
    assert sheet.driver_index == 0
    assert sheet.arm_index == 2
    assert [name for name, _, _ in sheet.points] == ["crank", "fan", "tensioner pivot"]
    assert sheet.text == SHEET
    assert sheet.assumed == ()


def test_what_a_sheet_leaves_open_is_filled_in_and_said() -> None:
    sheet = read_drive(TWO)
    assert sheet.profile == "PK"
    assert [one.split(":")[0] for one in sheet.assumed] == ["profile", "belt_over_rim", "belt_thickness"]
    assert (sheet.belt_over_rim_mm, sheet.belt_thickness_mm) == (2.5, 4.6)


def test_a_file_is_named_after_itself(tmp_path: Path) -> None:
    path = tmp_path / "pump plane.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TWO.replace('name = "Two"\n', "", 1).encode())
    sheet = read_drive(path)
    assert sheet.name == "pump plane"
    assert sheet.source == "pump plane.toml"
    assert read_drive(str(path)).name == "pump plane"


def test_files_that_cannot_be_read_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DriveError, match="no such file"):
        read_drive(tmp_path / "none.toml")
    with pytest.raises(DriveError, match="cannot be read"):
        read_drive(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b'name = "\xfc"')
    with pytest.raises(DriveError, match="UTF-8"):
        read_drive(tmp_path / "latin.toml")
    (tmp_path / "large.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(DriveError, match="too large"):
        read_drive(tmp_path / "large.toml")


def test_a_photo_keeps_pixels_as_positions_and_asks_for_units_elsewhere() -> None:
    photo = TWO.replace("ribs = 6", 'ribs = 6\nunit = "px"').replace("[300, 0]", "[812.5, -40]")
    said = refusal(photo)
    assert "'crank', outside_diameter" in said
    assert "pixels" in said
    photo = photo.replace("= 180", '= "180 mm"\nseen_diameter = 412').replace("= 120", "= '4 3/4\"'")
    sheet = read_drive(photo)
    assert (sheet.unit, sheet.pulleys[1].x, sheet.pulleys[1].y) == ("px", 812.5, -40)
    assert sheet.pulleys[0].seen_diameter_px == 412
    assert sheet.pulleys[1].outside_diameter_mm == pytest.approx(4.75 * 25.4)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('face = "flat"', 'face = "round"', ["pulley 'tensioner', face", "'round'", '"grooved" or "flat"']),
        ("flange =", "flang =", ["pulley 'tensioner'", "'flang' is not known", "'flange' meant"]),
        ("idle_rpm", "idel_rpm", ["'idel_rpm' is not known", "'idle_rpm' meant"]),
        ("torque_at = 90\n", "", ["[pulley.arm]", "torque_at"]),
        ("free_stop = 105.7\n", "", ["[pulley.arm]", "free_stop is not given"]),
        ("free_stop = 105.7", "free_stop = 71.7", ["[pulley.arm]", "slack_stop 71.7 to free_stop 71.7"]),
        ("work_to = 98\n", "", ["[pulley.arm]", "only one of work_from and work_to"]),
        ("work_to = 98", "work_to = 120", ["work_to", "120 degrees lies outside the stops"]),
        ("driver = true", "", ["no pulley drives the others", "driver = true"]),
        ("driver = true", 'driver = "yes"', ["driver", "true or false"]),
        ("load_kw = 18", "load_kw = 18\ndriver = true", ["crank and fan are all marked as the driver"]),
        ('name = "fan"', 'name = "Crank"', ["pulley 'Crank'", "two pulleys have that name"]),
        ('"crank", "fan"]', '"crank", "fann"]', ["'crank' and 'fann'", "no pulley is called 'fann'", "'fan' meant"]),
        ('"crank", "fan"]', '"fan", "fan"]', ["two different pulleys"]),
        ('"crank", "fan"]', '"crank"]', ["distance 1", "between which two pulleys"]),
        ('["Tensioner pivot"', '["tensioner"', ["swings on its arm", "'tensioner pivot'"]),
        ('is = "14 3/8 in"\n', "", ["'crank' and 'fan'", "length is not given"]),
        ('is = "14 3/8 in"', 'is = "14 3/0 in"', ["'crank' and 'fan', is", "14 3/0 in"]),
        ("outside_diameter = 7.25", "outside_diameter = -7.25", ["pulley 'crank', outside_diameter", "-7.25"]),
        ("outside_diameter = 7.25", "outside_diameter = nan", ["pulley 'crank', outside_diameter", "nan"]),
        ("outside_diameter = 7.25", "outside_diameter = 1979-05-27", ["pulley 'crank'", "a number is expected"]),
        ("outside_diameter = 7.25", "", ["pulley 'crank'", "no diameter is given"]),
        ("outside_diameter = 7.25", "outside_diameter = 7\nover_balls = 8", ["outside_diameter and over_balls are"]),
        ("outside_diameter = 3", "effective_diameter = 3", ["a flat face has an outside_diameter only"]),
        ("at = [0, 0]", "at = [0]", ["pulley 'crank', at", "[0]", "two numbers"]),
        ("at = [0, 0]", 'at = [0, "up"]', ["pulley 'crank', at, y", "'up'"]),
        ("at = [0, 0]", "at = 0", ["pulley 'crank', at", "two numbers"]),
        ("slot = 270\n", "", ["slot_travel", "slot = 270"]),
        ("flange = ", "slot = 3\nflange = ", ["runs in a slot and swings"]),
        ("ribs = 8", "ribs = 8.5", ["ribs", "8.5"]),
        ("ribs = 8", "", ["how many ribs"]),
        ("idle_rpm = 700", "idle_rpm = 7000", ["idle speed 7000 rpm is above"]),
        ('unit = "in"', 'unit = "hands"', ["unit", "'hands'", '"mm"']),
        ('rotation = "clockwise"', 'rotation = "left"', ["rotation", '"clockwise" or "anticlockwise"']),
        ('belt_over_rim = "2.5 mm"', 'belt_over_rim = "5 mm"', ["belt_over_rim", "more than the belt is thick"]),
        ("[doubt]", "[doubt]\nbelts = 3", ["[doubt]", "'belt' meant"]),
        ("[doubt]", "[[doubt]]", ["[doubt]", "a table of keys"]),
        ("[[pulley]]", "[[pulleys]]", ["'pulleys' is not known", "'pulley' meant"]),
        ('name = "fan"\n', "", ["pulley 2", "its name is not given"]),
        ('is = "14 3/8 in"', "is = 14 3/8 in", ["not understood as TOML", TAPE_LINE]),
    ],
)  # fmt: skip
def test_a_refusal_says_where_what_and_what_is_expected(old: str, new: str, expected: list[str]) -> None:
    assert old in SHEET
    said = refusal(SHEET.replace(old, new))
    for part in expected:
        assert part in said


def test_refusals_of_whole_sheets() -> None:
    assert "round two or more" in refusal('name = "x"\nribs = 6\n')
    assert "begins with" not in refusal('name = "x"\npulley = 3\n')
    assert "no name" in refusal(TWO.replace('name = "Two"', "", 1))
    flat = TWO.replace('face = "grooved"\nat = [300, 0]', 'face = "flat"\nat = [300, 0]')
    assert "belt_over_rim is not given" in refusal('profile = "AX"\n' + flat)
    assert "where pump sits is not given" in refusal(TWO.replace("at = [300, 0]", ""))
    arm = "\n[pulley.arm]\nlength = 90\nslack_stop = 10\nfree_stop = 50\n"
    assert "'pump pivot'" in refusal(TWO.replace("at = [300, 0]", "") + arm)
    assert "both swing" in refusal(
        SHEET.replace("load_kw = 18", 'load_kw = 18\n[[pulley]]\nname="b"\noutside_diameter=3\nface="flat"' + arm)
        .replace("length = 90", "length = 9\npivot = [1, 2]")
    )  # fmt: skip


def test_the_arm_may_swing_across_the_turn() -> None:
    sheet = read_drive(
        SHEET.replace("slack_stop = 71.7", "slack_stop = 350")
        .replace("free_stop = 105.7", "free_stop = 20")
        .replace("work_from = 80", "work_from = 355")
        .replace("work_to = 98", "work_to = 10")
    )
    assert sheet.pulleys[2].arm is not None
    assert math.remainder(sheet.pulleys[2].arm.free_stop_deg - sheet.pulleys[2].arm.slack_stop_deg, 360) == 30


@given(st.integers(0, len(SHEET) - 1), st.text(max_size=3))
def test_damaged_sheets_are_read_or_refused_never_anything_else(at: int, instead: str) -> None:
    damaged = SHEET[:at] + instead + SHEET[at + 1 :]
    try:
        read_drive(damaged)
    except DriveError as error:
        said = str(error)
    else:
        return
    assert said.startswith("drive sheet")
