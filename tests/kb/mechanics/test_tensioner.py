"""The tensioner's arm: its rest against scipy's root finder and the rubber band, its pull against the work it does."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from kb.mechanics.arm_table import arm_table
from kb.mechanics.path import PathError, Pulley
from kb.mechanics.roots import find_root
from kb.mechanics.tensioner import (
    Arm,
    ArmError,
    Drive,
    Window,
    after_wear,
    arm_angle_rad,
    find_window,
    rest,
    tension_band_n,
)

Drives = Callable[..., Drive]
FIXED = (
    Pulley("crank", 0.0, 0.0, 95.0),
    Pulley("pump", 310.0, -10.0, 60.0),
    Pulley("idler", 300.0, 200.0, 38.0, flat=True),
    Pulley("alternator", 330.0, 330.0, 30.0),
    Pulley("fan", 40.0, 310.0, 75.0),
)
"""The tensioner of geometry examples G22 and G24: its route is longest near 167.7 degrees, not at a stop."""


def swinging(slack_deg: float, free_deg: float, **more: float) -> Drive:
    return Drive(FIXED, Arm(math.radians(slack_deg), math.radians(free_deg), 80.0, **more), 2)


def scipys_angle(drive: Drive, window: Window, belt_mm: float) -> float:
    return float(brentq(lambda at: drive.length_at_mm(at) - belt_mm, window.low_rad, window.high_rad, xtol=1e-14))


@pytest.mark.parametrize("share", [0.0, 0.01, 0.2, 0.5, 0.8, 0.99, 1.0])
def test_the_arm_rests_where_scipy_finds_the_length(share: float, seven_pulleys: Drives) -> None:
    for drive in (seven_pulleys(), swinging(205, 172)):
        window = find_window(drive)
        belt = window.low_mm + share * (window.high_mm - window.low_mm)
        found = arm_angle_rad(drive, window, belt)
        if share in (0.0, 1.0):  # rounding may put the end's own length just outside
            assert found is None or found == pytest.approx(window.low_rad if share == 0.0 else window.high_rad)
            continue
        assert found == pytest.approx(scipys_angle(drive, window, belt), abs=1e-9)


def test_a_rubber_band_round_the_resting_arm_is_as_long_as_the_belt(
    seven_pulleys: Drives, rubber_band: Callable
) -> None:
    drive = seven_pulleys()
    window = find_window(drive)
    for belt in np.linspace(window.low_mm + 1.0, window.high_mm - 1.0, 5):
        angle = arm_angle_rad(drive, window, belt)
        route = drive.route_at(angle)
        assert rubber_band(route.pulleys, route.senses).length_mm == pytest.approx(belt, abs=1e-6)


def test_a_belt_out_of_reach_has_no_rest(seven_pulleys: Drives) -> None:
    drive = seven_pulleys(torque_nm=40.0)
    window = find_window(drive)
    for belt in (window.low_mm - 0.01, window.high_mm + 0.01):
        found = rest(drive, window, belt)
        assert (found.arm_rad, found.travel_used, found.tension_low_n) == (None, None, None)
        assert found.slack_at_stop_mm == pytest.approx(belt - window.slack_stop_mm)


def test_take_up_is_a_finite_difference(seven_pulleys: Drives) -> None:
    for drive in (seven_pulleys(), swinging(205, 150)):
        for angle in np.linspace(drive.arm.slack_rad, drive.arm.free_rad, 7):
            slope = (drive.length_at_mm(angle + 1e-5) - drive.length_at_mm(angle - 1e-5)) / 2e-5
            assert drive.take_up_mm_per_rad(angle) == pytest.approx(slope, abs=1e-4)


def test_the_usable_range_ends_where_the_route_is_longest() -> None:
    drive = swinging(205, 140)
    window = find_window(drive)
    longest = minimize_scalar(
        lambda angle: -drive.length_at_mm(angle), bounds=(math.radians(150), math.radians(185)), method="bounded",
        options={"xatol": 1e-9},
    )  # fmt: skip
    assert window.high_rad == pytest.approx(longest.x, abs=1e-6)
    assert window.high_mm == pytest.approx(-longest.fun, abs=1e-9)
    assert window.low_rad == drive.arm.slack_rad
    (note,) = window.notes
    assert note.startswith("The free stop lies 27.7 degrees outside the arm's usable range.")
    assert "takes up no belt" in note


def test_an_arm_that_turns_the_other_way_ends_at_the_same_place() -> None:
    # Wound the other way, the same arm has its free stop at 205 degrees: its route grows from the turning point of
    # 140 to 167.7 degrees only while the spring turns it, and shrinks from there.
    window = find_window(swinging(140, 205))
    assert math.degrees(window.high_rad) == pytest.approx(167.7, abs=0.05)
    assert math.degrees(window.low_rad) == pytest.approx(140.0)
    # Begun beyond the turning point, there is no range at all: the stops are the wrong way round.
    with pytest.raises(ArmError, match="slack_stop and free_stop the wrong way round"):
        find_window(swinging(172, 205))


def test_a_range_in_which_no_belt_can_lie_is_refused() -> None:
    near = (*FIXED[:2], FIXED[2].at(330.0, 330.0), *FIXED[3:])
    with pytest.raises((ArmError, PathError), match="overlap"):
        find_window(Drive(near, Arm(0.0, 0.4, 20.0), 2))
    with pytest.raises(ArmError, match="no tensioner"):
        find_window(Drive(FIXED))
    with pytest.raises(ArmError, match="no travel"):
        Arm(1.0, 1.0, 80.0)
    with pytest.raises(ArmError, match="0 mm long"):
        Arm(1.0, 1.5, 0.0)


def test_a_stop_where_the_belt_leaves_the_idler_is_said(seven_pulleys: Drives) -> None:
    window = find_window(seven_pulleys(slack_rad=math.radians(200.0)))
    (note,) = window.notes
    assert note.startswith("The slack stop lies")
    assert "passes tensioner without touching it" in note


def test_angles_compare_modulo_a_turn(seven_pulleys: Drives) -> None:
    plain = seven_pulleys()
    turned = seven_pulleys(slack_rad=math.radians(222.0 - 360.0), free_rad=math.radians(265.0 + 720.0))
    one, other = find_window(plain), find_window(turned)
    assert other.low_mm == pytest.approx(one.low_mm)
    assert other.high_mm == pytest.approx(one.high_mm)
    assert turned.arm.travel_rad == pytest.approx(plain.arm.travel_rad)


def test_working_marks_narrow_the_window_in_either_order(seven_pulleys: Drives) -> None:
    marks = {"work_from_rad": math.radians(230.0), "work_to_rad": math.radians(255.0)}
    one = find_window(seven_pulleys(**marks))
    other = find_window(seven_pulleys(work_from_rad=marks["work_to_rad"], work_to_rad=marks["work_from_rad"]))
    assert one == other
    drive = seven_pulleys()
    assert one.work_low_mm == pytest.approx(drive.length_at_mm(math.radians(230.0)))
    assert one.work_high_mm == pytest.approx(drive.length_at_mm(math.radians(255.0)))
    assert one.middle_mm == pytest.approx(drive.length_at_mm(math.radians(242.5)))
    assert one.low_mm == find_window(drive).low_mm


def test_the_springs_work_is_the_belts_work(seven_pulleys: Drives) -> None:
    # Virtual work over a finite swing: the integral of torque over angle equals that of tension over length.
    drive = seven_pulleys(torque_nm=45.0, torque_at_rad=math.radians(240.0), rate_nm_per_rad=34.0, damping=0.2)
    angles = np.linspace(math.radians(232.0), math.radians(258.0), 2001)
    torque = 45.0 + 34.0 * (math.radians(240.0) - angles)  # less wound, less torque, toward the free stop at 265
    lengths_m = np.array([drive.length_at_mm(one) for one in angles]) / 1000.0
    bands = np.array([tension_band_n(drive, one) for one in angles])
    middle = bands.mean(axis=1)
    assert np.trapezoid(middle, lengths_m) == pytest.approx(np.trapezoid(torque, angles), rel=1e-5)
    assert bands[:, 0] == pytest.approx(middle * 0.8)
    assert bands[:, 1] == pytest.approx(middle * 1.2)


def test_without_a_spring_no_tension_is_made_up(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    window = find_window(drive)
    found = rest(drive, window, window.middle_mm)
    assert (found.tension_low_n, found.tension_high_n) == (None, None)
    assert found.travel_used == pytest.approx(0.5)


def test_a_worn_belt_lets_the_arm_out(seven_pulleys: Drives) -> None:
    drive = seven_pulleys(torque_nm=45.0, torque_at_rad=math.radians(240.0), rate_nm_per_rad=34.0)
    window = find_window(drive)
    new, worn = rest(drive, window, window.middle_mm), after_wear(drive, window, window.middle_mm, 0.2)
    assert worn.belt_length_mm == pytest.approx(window.middle_mm * 1.002)
    assert worn.travel_used > new.travel_used
    assert drive.length_at_mm(worn.arm_rad) == pytest.approx(worn.belt_length_mm, abs=1e-9)


def test_mirrored_drives_behave_alike(seven_pulleys: Drives) -> None:
    drive = seven_pulleys(torque_nm=45.0)
    mirrored = Drive(
        tuple(one.at(-one.x_mm, one.y_mm) for one in drive.fixed),
        replace(drive.arm, slack_rad=math.pi - drive.arm.slack_rad, free_rad=math.pi - drive.arm.free_rad),
        drive.arm_index,
    )
    one, other = find_window(drive), find_window(mirrored)
    assert other.work_high_mm == pytest.approx(one.work_high_mm)
    there, back = rest(drive, one, one.middle_mm), rest(mirrored, other, one.middle_mm)
    assert back.travel_used == pytest.approx(there.travel_used)
    assert back.tension_high_n == pytest.approx(there.tension_high_n)


@pytest.mark.parametrize("turning_point", [False, True])
def test_the_table_of_angles_is_good_to_a_millionth(turning_point: bool, seven_pulleys: Drives) -> None:
    # With the turning point inside its travel the arm's angle over length is infinitely steep at one end.
    drive = swinging(205, 140) if turning_point else seven_pulleys()
    window = find_window(drive)
    random = np.random.default_rng(3)
    belts = np.concatenate([
        random.uniform(window.low_mm, window.high_mm, 400),
        window.high_mm - np.geomspace(1e-9, 1.0, 60), window.low_mm + np.geomspace(1e-9, 1.0, 60),
        [window.low_mm - 1e-6, window.high_mm + 1e-6],
    ])  # fmt: skip
    angles = arm_table(drive, window).angles_rad(belts)
    assert np.isnan(angles[-2:]).all()
    for belt, angle in zip(belts[:-2], angles[:-2], strict=True):
        assert angle == pytest.approx(scipys_angle(drive, window, belt), abs=1e-6)


def test_the_ends_of_the_table_are_in_it_and_little_of_it_is_solved_one_by_one(seven_pulleys: Drives) -> None:
    for drive, most in ((seven_pulleys(), 0), (swinging(205, 140), 100)):
        window = find_window(drive)
        table = arm_table(drive, window)
        ends = table.angles_rad(np.array([window.low_mm, window.high_mm]))
        assert ends == pytest.approx([window.low_rad, window.high_rad], abs=1e-6)
        assert table.node_rad[[0, -1]] == pytest.approx([window.low_rad, window.high_rad])
        assert drive.length_at_mm(table.node_rad[1]) - window.low_mm == pytest.approx(
            (window.high_mm - window.low_mm) / (len(table.node_rad) - 1), rel=1e-3
        )
        # angle over length steepens only towards a turning point: there, at the far end, and nowhere else
        rough = np.flatnonzero(table.rough)
        assert len(rough) <= most
        assert bool(len(rough)) is bool(most)
        if most:
            assert list(rough) == list(range(rough[0], len(table.rough)))


def test_roots_are_found_to_the_last_digits() -> None:
    expected = brentq(lambda x: math.cos(x) - x, 0.0, 1.0, xtol=1e-15)
    assert find_root(lambda x: math.cos(x) - x, 0.0, 1.0) == pytest.approx(expected, abs=1e-14)
    assert find_root(lambda x: math.cos(x) - x, 1.0, 0.0, lambda x: -math.sin(x) - 1) == pytest.approx(
        expected, abs=1e-14
    )
    # A slope that is no help at all (flat at the root) falls back on halving.
    assert find_root(lambda x: (x - 0.3) ** 3, 0.0, 1.0, lambda x: 3 * (x - 0.3) ** 2) == pytest.approx(0.3, abs=1e-6)
    with pytest.raises(ValueError, match="change sign"):
        find_root(lambda x: x + 1.0, 0.0, 1.0)
