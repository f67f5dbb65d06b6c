"""What to move when the belt does not reach: moves against scipy's root finder, gaps against whole paths."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from kb.mechanics.path import Pulley, find_route, follow
from kb.mechanics.shift import (
    ShiftError,
    find_move,
    shortfall_from_gap_mm,
    shortfall_seen_mm,
    sixteenths_up_mm,
    steepest_rad,
    ways_out,
    with_radius,
)
from kb.mechanics.shift_effects import effects
from kb.mechanics.slots import Slot, shifted, slot_reach
from kb.mechanics.tensioner import Arm, Drive, find_window

Drives = Callable[..., Drive]


def length_after(drive: Drive, place: int, by_mm: float, along_rad: float, arm_rad: float | None) -> float:
    one = drive.fixed[place]
    moved = one.at(one.x_mm + by_mm * math.cos(along_rad), one.y_mm + by_mm * math.sin(along_rad))
    pulleys = list(
        Drive((*drive.fixed[:place], moved, *drive.fixed[place + 1 :]), drive.arm, drive.arm_index).pulleys_at(arm_rad)
    )
    return follow(pulleys, drive.grooved_sense).length_mm


@pytest.mark.parametrize("place", range(1, 7))
@pytest.mark.parametrize("missing", [-6.0, 4.0])
def test_a_move_is_where_scipy_finds_the_length(place: int, missing: float, seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    arm_rad = drive.arm.slack_rad
    wanted = drive.length_at_mm(arm_rad) + missing
    if (place, missing) == (5, -6.0):  # with 6.5 degrees of wrap the tensioner runs out of belt to let go of
        with pytest.raises(ShiftError, match=r"at most 0\.\d mm shorter; 6\.0 mm are wanted.*passes tensioner without"):
            find_move(drive, place, wanted, arm_rad)
        return
    move = find_move(drive, place, wanted, arm_rad)
    expected = brentq(
        lambda by: length_after(drive, place, by, move.along_rad, arm_rad) - wanted, 0.0, move.move_mm + 0.5, xtol=1e-12
    )
    assert move.move_mm == pytest.approx(expected, abs=1e-4)
    assert move.route_mm == pytest.approx(wanted, abs=1e-6)
    assert (move.dx_mm, move.dy_mm) == pytest.approx(
        (move.move_mm * math.cos(move.along_rad), move.move_mm * math.sin(move.along_rad))
    )
    assert move.after.length_at_mm(arm_rad) == move.route_mm


def test_the_steepest_line_is_the_shortest_way(seven_pulleys: Drives) -> None:
    # For a small change no other direction may need less: the steepest line beats six others.
    drive = seven_pulleys()
    arm_rad = drive.arm.slack_rad
    wanted = drive.length_at_mm(arm_rad) - 0.5
    best = find_move(drive, 3, wanted, arm_rad).move_mm
    for turned in np.radians([-60, -30, -10, 10, 30, 60]):
        along = steepest_rad(drive, 3, arm_rad, True) + turned
        assert best < find_move(drive, 3, wanted, arm_rad, along_rad=along).move_mm


def test_along_a_line_both_ways_are_tried(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    arm_rad = drive.arm.slack_rad
    wanted = drive.length_at_mm(arm_rad) - 3.0
    there = steepest_rad(drive, 3, arm_rad, True)
    forwards = find_move(drive, 3, wanted, arm_rad, along_rad=there)
    backwards = find_move(drive, 3, wanted, arm_rad, along_rad=there + math.pi)
    assert forwards.move_mm == pytest.approx(-backwards.move_mm)
    assert (forwards.dx_mm, forwards.dy_mm) == pytest.approx((backwards.dx_mm, backwards.dy_mm))


def test_a_slot_goes_one_way_and_ends(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    arm_rad = drive.arm.slack_rad
    wanted = drive.length_at_mm(arm_rad) - 5.0
    inwards = steepest_rad(drive, 3, arm_rad, True)
    move = find_move(drive, 3, wanted, arm_rad, slot=Slot(inwards, 20.0))
    assert move.in_slot
    assert 0.0 < move.move_mm <= 20.0
    with pytest.raises(ShiftError, match=r"at most \d\.\d mm shorter; 5\.0 mm are wanted"):
        find_move(drive, 3, wanted, arm_rad, slot=Slot(inwards, move.move_mm * 0.9))
    with pytest.raises(ShiftError, match=r"at most 0\.0 mm shorter"):
        find_move(drive, 3, wanted, arm_rad, slot=Slot(inwards + math.pi, 20.0))


def test_a_slot_that_just_reaches_is_enough() -> None:
    pair = Drive((Pulley("crank", 0, 0, 50), Pulley("pump", 300, 0, 50)))
    move = find_move(pair, 1, pair.length_at_mm() - 10.0, slot=Slot(math.pi, 5.0))  # both spans shrink by 5 mm
    assert move.move_mm == pytest.approx(5.0)


def test_a_move_ends_where_pulleys_meet() -> None:
    pair = Drive((Pulley("crank", 0, 0, 50), Pulley("pump", 120, 0, 50)))
    with pytest.raises(ShiftError, match=r"at most 40\.0 mm shorter; 41\.0 mm are wanted.*overlap"):
        find_move(pair, 1, pair.length_at_mm() - 41.0)
    assert find_move(pair, 1, pair.length_at_mm() - 39.99).move_mm == pytest.approx(19.995)


def aslant(apart_mm: float, *, turned_rad: float = 0.7, **second: float) -> Drive:
    """Two equal pulleys on a line that is neither level nor upright, neither of them at the origin."""
    x, y = 40.0 + apart_mm * math.cos(turned_rad), -25.0 + apart_mm * math.sin(turned_rad)
    return Drive((Pulley("crank", 40.0, -25.0, 50.0), Pulley("pump", x, y, 50.0, **second)))


def test_the_last_part_of_a_millimetre_before_pulleys_meet_is_used() -> None:
    pair = aslant(120.5)  # 20.5 mm between their edges, so both spans together can lose 41
    whole = pair.length_at_mm()
    assert find_move(pair, 1, whole - 40.9).move_mm == pytest.approx(20.45)
    with pytest.raises(
        ShiftError, match=r"at most 41\.0 mm shorter; 41\.1 mm are wanted\. Then: crank and pump overlap"
    ):
        find_move(pair, 1, whole - 41.1)
    backwards = find_move(pair, 1, whole - 40.9, along_rad=0.7)
    assert backwards.move_mm == pytest.approx(-20.45)
    assert (backwards.dx_mm, backwards.dy_mm) == pytest.approx((-20.45 * math.cos(0.7), -20.45 * math.sin(0.7)))


def test_where_one_way_is_stopped_the_other_goes_on() -> None:
    pair = aslant(120.5)
    for along, move in ((0.7, 50.0), (0.7 + math.pi, -50.0)):
        assert find_move(pair, 1, pair.length_at_mm() + 100.0, along_rad=along).move_mm == pytest.approx(move)


@pytest.mark.parametrize("along", [None, 0.7, 0.7 + math.pi])
def test_nothing_is_moved_farther_than_three_hundred_millimetres(along: float | None) -> None:
    pair = aslant(400.0)
    assert abs(find_move(pair, 1, pair.length_at_mm() + 600.0, along_rad=along).move_mm) == pytest.approx(300.0)
    with pytest.raises(ShiftError, match=r"600\.0 mm longer; 601\.0 mm are wanted\. It was followed for 300 mm\."):
        find_move(pair, 1, pair.length_at_mm() + 601.0, along_rad=along)


def test_half_a_millimetre_that_cannot_be_had_is_said_to_be_shorter() -> None:
    pair = aslant(400.0)
    with pytest.raises(ShiftError, match=r"at most 0\.0 mm shorter; 0\.5 mm are wanted\. It was followed for 20 mm"):
        find_move(pair, 1, pair.length_at_mm() - 0.5, slot=Slot(0.7, 20.0))
    with pytest.raises(ShiftError, match=r"at most 0\.0 mm longer; 0\.5 mm are wanted"):
        find_move(pair, 1, pair.length_at_mm() + 0.5, slot=Slot(0.7 + math.pi, 20.0))


def test_a_move_ends_where_the_belt_between_has_no_room() -> None:
    # the belt's back runs on the idler: its line stands 2.5 mm over both bodies, so the lines meet before the bodies do
    fixed = (
        Pulley("crank", 0, 0, 92.5, body_radius_mm=90.0),
        Pulley("pump", 600, 0, 92.5, body_radius_mm=90.0),
        Pulley("idler", 300, 130, 62.5, flat=True, body_radius_mm=60.0),
    )
    with pytest.raises(ShiftError, match=r"Then: .*leave no room for the belt between them"):
        find_move(Drive(fixed), 2, 0.0, along_rad=math.pi)


def test_another_radius_keeps_the_edge_as_far_from_the_line() -> None:
    bare, edged = Pulley("a", 1, 2, 60.0), Pulley("a", 1, 2, 60.0, body_radius_mm=57.5)
    assert with_radius(bare, 65.0) == Pulley("a", 1, 2, 65.0)
    assert with_radius(edged, 65.0) == Pulley("a", 1, 2, 65.0, body_radius_mm=62.5)


def test_a_gap_is_worth_the_same_whichever_way_the_drive_is_turned() -> None:
    assert (shortfall_from_gap_mm(0.0, 2.0), shortfall_from_gap_mm(0.5, math.pi)) == (0.0, 1.0)
    for to_a_point in (False, True):
        level = shortfall_seen_mm(aslant(400.0, turned_rad=0.0), 1, 3.0, to_a_point=to_a_point)
        for turned in (0.7, 2.0, -2.5):
            found = shortfall_seen_mm(aslant(400.0, turned_rad=turned), 1, 3.0, to_a_point=to_a_point)
            assert found == pytest.approx(level)


def test_a_whole_number_of_sixteenths_is_not_made_up() -> None:
    for count in range(-40, 41):
        assert sixteenths_up_mm(count * 25.4 / 16) == pytest.approx(count * 25.4 / 16, abs=1e-9)


def test_nothing_missing_is_no_move(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    move = find_move(drive, 4, drive.length_at_mm(drive.arm.slack_rad), drive.arm.slack_rad)
    assert (move.move_mm, move.dx_mm, move.dy_mm) == (0.0, 0.0, 0.0)


def test_a_belt_too_long_is_taken_up_at_the_far_end(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    window = find_window(drive)
    belt = window.work_high_mm + 4.0
    move = find_move(drive, 3, belt, window.work_high_rad)
    after = find_window(move.after)
    assert after.work_high_mm == pytest.approx(belt, abs=1e-6)


def test_ways_out_stand_in_order(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    arm_rad = drive.arm.slack_rad
    wanted = drive.length_at_mm(arm_rad) - 3.0
    slot = Slot(steepest_rad(drive, 4, arm_rad, True), 15.0)
    moves = ways_out(drive, wanted, arm_rad, {4: slot}, keep=[0])
    assert moves[0].pulley == "fan"
    assert moves[0].in_slot
    assert "crank" not in {move.pulley for move in moves}
    others = [abs(move.move_mm) for move in moves[1:]]
    assert others == sorted(others)
    assert len(others) >= 3


def test_pulleys_in_slots_reach_from_slackest_to_tightest() -> None:
    pair = Drive((Pulley("crank", 0, 0, 50), Pulley("pump", 300, 0, 50)))
    reach = slot_reach(pair, {1: Slot(0.0, 12.0)})
    assert reach is not None
    assert [one.length_at_mm() - pair.length_at_mm() for one in reach] == pytest.approx([0.0, 24.0])
    assert shifted(pair, 1, 12.0, 0.0).fixed[1].x_mm == 312.0


@pytest.mark.parametrize("wrap_deg", [40.0, 90.0, 150.0])
def test_a_gap_on_the_true_radius_is_two_g_sine_of_half_the_wrap(wrap_deg: float) -> None:
    # A belt from far off on both sides: the whole path then is the first-order answer to within its second order.
    far, half = 1e6, math.radians(wrap_deg / 2)
    ends = [Pulley(f"end {sign}", -far * math.sin(half), sign * far * math.cos(half), 50.0) for sign in (-1.0, 1.0)]
    drive = Drive((ends[0], Pulley("last", 0.0, 0.0, 50.0), ends[1]))
    wrap = find_route(drive.fixed).wraps_rad[1]
    assert math.degrees(wrap) == pytest.approx(wrap_deg, abs=0.02)
    first_order = shortfall_from_gap_mm(3.0, wrap)
    assert first_order == pytest.approx(2 * 3.0 * math.sin(wrap / 2))
    assert shortfall_seen_mm(drive, 1, 3.0, to_a_point=False) == pytest.approx(first_order, abs=1e-3)


def test_a_belt_pulled_to_a_point_is_shorter_than_one_on_its_radius() -> None:
    # A point at the pulley's own edge (no gap) already cuts the arc off: two tangents from there to the spans' far ends.
    pair = Drive((Pulley("crank", 0.0, 0.0, 60.0), Pulley("last", 400.0, 0.0, 60.0)))
    at_edge = shortfall_seen_mm(pair, 1, 0.0, to_a_point=True)
    reach = math.sqrt(460.0**2 - 60.0**2)  # from the point to the crank's tangent
    beyond = 2 * (math.pi - math.acos(60.0 / 460.0)) * 60.0  # and round the crank
    expected = pair.length_at_mm() - (2 * reach + beyond)
    assert at_edge == pytest.approx(expected, abs=1e-6)
    assert shortfall_seen_mm(pair, 1, 4.0, to_a_point=True) > at_edge
    assert shortfall_seen_mm(pair, 1, 4.0, to_a_point=False) == pytest.approx(8.0)
    for function in (
        lambda: shortfall_from_gap_mm(-1.0, 1.0),
        lambda: shortfall_seen_mm(pair, 1, -1.0, to_a_point=False),
    ):
        with pytest.raises(ValueError, match="no gap"):
            function()


@given(st.floats(-500.0, 500.0))
def test_sixteenths_go_up(mm: float) -> None:
    up = sixteenths_up_mm(mm)
    assert abs(up) >= abs(mm) - 1e-6
    assert abs(up) < abs(mm) + 25.4 / 16 + 1e-6
    assert up * 16 / 25.4 == pytest.approx(round(up * 16 / 25.4), abs=1e-9)
    assert up * mm >= 0.0


def test_a_pulley_that_hardly_bends_the_belt_has_no_steepest_line() -> None:
    straight = Drive((Pulley("a", 0, 0, 90), Pulley("b", 600, 0, 90), Pulley("c", 300, 60, 30)))
    with pytest.raises(ShiftError, match="hardly bends"):
        steepest_rad(straight, 2, None, True)


def test_what_a_move_does_to_the_rest(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    arm_rad = drive.arm.slack_rad
    move = find_move(drive, 3, drive.length_at_mm(arm_rad) - 4.0, arm_rad)
    found = effects(drive, move.after, 3, arm_rad)
    assert found.refused == ()
    # the spans and arcs together lose the 4 mm that were asked for; only the moved pulley's own spans change length
    arcs = sum(one.by * pulley.radius_mm for one, pulley in zip(found.wraps, drive.fixed, strict=True))
    assert arcs + sum(one.by for one in found.spans) == pytest.approx(-4.0, abs=1e-9)
    assert {one.name for one in found.spans if abs(one.by) > 1e-9} == {"idler to alternator", "alternator to fan"}
    # straight in from its place, the alternator comes nearer to what lies that way, by at most what it moved
    assert [one.name for one in found.rooms] == [one.name for one in drive.fixed if one.name != "alternator"]
    assert all(abs(one.by) <= abs(move.move_mm) + 1e-9 for one in found.rooms)
    for room in found.rooms:
        was, now = ((one.fixed if room.name != "tensioner" else one.pulleys_at(arm_rad)) for one in (drive, move.after))
        for told, pulleys in ((room.before, was), (room.after, now)):
            one, other = pulleys[3], next(one for one in pulleys if one.name == room.name)
            apart = math.dist((one.x_mm, one.y_mm), (other.x_mm, other.y_mm))
            assert told == pytest.approx(apart - one.reach_mm - other.reach_mm)
    assert found.window_before is not None
    assert found.window_after is not None
    assert found.window_after.slack_stop_mm == pytest.approx(found.window_before.slack_stop_mm - 4.0)


def test_a_move_that_leaves_the_arm_no_use_is_said(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    useless = Drive(drive.fixed, Arm(drive.arm.free_rad, drive.arm.slack_rad, drive.arm.length_mm), drive.arm_index)
    found = effects(drive, useless, 3, drive.arm.slack_rad)
    assert found.window_before is not None
    assert found.window_after is None
    assert any("slack_stop and free_stop the wrong way round" in said for said in found.refused)
    without = Drive(drive.fixed[:5])
    assert effects(without, without, 3).window_before is None


def test_a_move_that_spoils_the_drive_is_said(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    crank, alternator = drive.fixed[0], drive.fixed[3]
    spoilt = shifted(drive, 3, crank.x_mm + 60.0 - alternator.x_mm, crank.y_mm + 60.0 - alternator.y_mm)
    found = effects(drive, spoilt, 3, drive.arm.slack_rad)
    assert any("crank and alternator overlap" in said for said in found.refused)
