"""A drive sheet in numbers: effective radii, pitch diameters and doubts, against ISO 9981's geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kb.errors import DriveError
from kb.reference.tables import table
from kb.sheets.drive import read_drive
from kb.sheets.drive_numbers import path_pulleys, wrap_limits

SHEET = """
name = "Pump plane"
profile = "PK"
ribs = 6
belt_over_rim = "2.4 mm"
belt_thickness = "4.6 mm"
[[pulley]]
name = "crank"
outside_diameter = 184
face = "grooved"
at = [0, 0]
driver = true
[[pulley]]
name = "alternator"
effective_diameter = 62
face = "grooved"
at = [300, 20]
slot = 90
slot_travel = 15
[[pulley]]
name = "compressor"
over_balls = 120.99
face = "grooved"
at = [260, 320]
[[pulley]]
name = "roller"
outside_diameter = 76
face = "flat"
flange = 2
[pulley.arm]
pivot = [60, 330]
length = 80
slack_stop = 200
free_stop = 240
torque_nm = 40
torque_at = 220
rate_nm_per_deg = 0.5
damping = 0.15
"""


def test_effective_radii_by_how_they_were_measured() -> None:
    numbers = path_pulleys(read_drive(SHEET))
    crank, alternator, compressor, roller = numbers.drive.fixed
    assert 2 * crank.radius_mm == pytest.approx(184.35)  # OD + 0.35 mm
    assert crank.reach_mm == pytest.approx(92.0)
    assert alternator.radius_mm == pytest.approx(31.0)
    assert 2 * compressor.radius_mm == pytest.approx(120.0)  # K - 0.99 mm (ISO 9981)
    assert roller.radius_mm == pytest.approx(38.0 + 2.4)
    assert roller.reach_mm == pytest.approx(38.0 + 2.0)
    assert [one.flat for one in numbers.drive.fixed] == [False, False, False, True]
    # 0.3 mm of diameter; across the tips 0.2 mm more, on its own: half of sqrt(0.09 + 0.04)
    assert numbers.doubts.radius_mm == pytest.approx((math.sqrt(0.13) / 2, 0.15, 0.15, 0.15))
    assert numbers.doubts.angle_rad == pytest.approx(math.radians(2.0))


def test_speed_ratios_go_by_pitch_diameters() -> None:
    # ISO 9981 clause 5.4: d_p = d_e + 2 b_e with b_e = 2 mm; on a flat face d + 2 x 1.0 mm (from memory)
    numbers = path_pulleys(read_drive(SHEET))
    assert numbers.pitch_diameters_mm == pytest.approx((188.35, 66.0, 124.0, 78.0))
    assert numbers.speed_ratios == pytest.approx((1.0, 188.35 / 66.0, 188.35 / 124.0, 188.35 / 78.0))
    assert numbers.turns_with_driver == (True, True, True, False)
    assert any("from memory" in note for note in numbers.notes)


def test_belt_width_is_ribs_times_pitch() -> None:
    numbers = path_pulleys(read_drive(SHEET))
    assert numbers.belt_width_mm == pytest.approx(6 * 3.56)  # ISO 9981: groove pitch 3.56 mm
    assert numbers.rim_climb_mm == pytest.approx(2.2)
    assert numbers.least_effective_diameter_mm == 45.0  # ISO 9981:2020, 5.2


def test_the_arm_the_slots_and_the_flanges() -> None:
    numbers = path_pulleys(read_drive(SHEET))
    arm = numbers.drive.arm
    assert arm is not None
    assert numbers.drive.arm_index == 3
    assert math.degrees(arm.travel_rad) == pytest.approx(40.0)
    # 0.5 N m for each degree wound back from 220: at 210 it is 45 N m
    assert arm.spring_torque_nm(math.radians(210.0)) == pytest.approx(45.0)
    assert arm.damping == 0.15
    assert set(numbers.slots) == {1}
    assert numbers.slots[1].moved(10.0) == pytest.approx((0.0, 10.0))
    assert numbers.flanges_mm == {"roller": 2.0}


def test_a_layouts_centres_and_covariance_are_taken() -> None:
    sheet = read_drive(SHEET)
    covariance = np.diag(np.arange(1.0, 9.0))
    numbers = path_pulleys(sheet, np.array([(1.0, 2.0), (301.0, 20.0), (260.0, 321.0), (61.0, 330.0)]), covariance)
    assert (numbers.drive.fixed[0].x_mm, numbers.drive.fixed[0].y_mm) == (1.0, 2.0)
    assert (numbers.doubts.centre_covariance_mm2 == covariance).all()
    given = path_pulleys(sheet).doubts.centre_covariance_mm2
    assert (given == np.eye(8)).all()  # 1 mm each, the sheet's default
    with pytest.raises(DriveError, match="2 centres were given for 4 pulleys"):
        path_pulleys(sheet, [(0.0, 0.0), (1.0, 1.0)])


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("ribs = 6", 'ribs = 6\nunit = "px"', "pixels of a photo"),
        ("at = [260, 320]", "", "where compressor sits is taped"),
        ("over_balls = 120.99", "over_balls = 0.5", "leaves no pulley"),
        ('profile = "PK"', 'profile = "AX"', "over_balls: how far balls stand"),
    ],
)
def test_what_cannot_be_put_in_numbers_is_refused(old: str, new: str, words: str) -> None:
    text = SHEET.replace(old, new)
    if "px" in new:
        for bare in ("184", "62", "120.99", "76", "15", "80", "2\n"):
            text = text.replace(f" = {bare}", f' = "{bare.strip()} mm"' + ("\n" if bare.endswith("\n") else ""), 1)
    if not new:
        text += '[[distance]]\nbetween = ["crank", "compressor"]\nis = 412\n'
    with pytest.raises(DriveError, match=words):
        path_pulleys(read_drive(text))


def test_a_profile_from_memory_is_said() -> None:
    notes = path_pulleys(read_drive(SHEET.replace('"PK"', '"PJ"').replace("184", "100"))).notes
    assert any("PJ nominal effective line differential" in note and "from memory" in note for note in notes)
    assert any("outside diameter is taken as the effective diameter" in note for note in notes)


def test_wraps_asked_for_come_from_the_table_with_their_source() -> None:
    limits = wrap_limits(read_drive(SHEET))
    rows = {row["parameter"]: row for row in table("practice_limits") if row["topic"] == "belt wrap"}
    assert limits["alternator"].least_rad == pytest.approx(
        math.radians(float(rows["alternator pulley wrap, V-ribbed"]["value_low"]))
    )
    assert limits["roller"].applies_to == "usual for: tensioner"
    assert "from memory" in limits["crank"].source
    named = SHEET.replace('name = "compressor"', 'name = "lower"\ndrives = "A/C compressor"')
    assert wrap_limits(read_drive(named))["lower"].applies_to == "usual for: a/c"
