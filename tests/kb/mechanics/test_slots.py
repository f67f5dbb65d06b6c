"""Pulleys in slots, against the length of two equal pulleys: twice their distance and once round."""

from __future__ import annotations

import cmath
import math

import pytest

from kb.mechanics.path import PathError, Pulley
from kb.mechanics.slots import Slot, shifted, slot_reach
from kb.mechanics.tensioner import Drive

PAIR = (Pulley("crank", 0.0, 0.0, 50.0), Pulley("pump", 300.0, 0.0, 50.0))


def round_two(x_mm: float, y_mm: float) -> float:
    return 2 * math.hypot(x_mm, y_mm) + 2 * math.pi * 50.0


@pytest.mark.parametrize("direction", [0.0, 0.7, 2.0, -2.5])
def test_a_move_is_a_vector_of_that_length_and_direction(direction) -> None:
    along = cmath.rect(12.0, direction)
    assert Slot(direction).moved(12.0) == pytest.approx((along.real, along.imag))
    moved = shifted(Drive(PAIR), 1, along.real, along.imag).fixed[1]
    assert (moved.x_mm, moved.y_mm) == pytest.approx((300.0 + along.real, along.imag))


def test_the_slackest_can_be_in_the_middle_of_a_slot() -> None:
    # a slot square to the line of centres, begun 40 mm above it: halfway, the centres are nearest
    drive = Drive((PAIR[0], Pulley("pump", 300.0, 40.0, 50.0)))
    slackest, tightest = slot_reach(drive, {1: Slot(-math.pi / 2, 80.0)})
    assert slackest.length_at_mm() == pytest.approx(round_two(300.0, 0.0))
    assert tightest.length_at_mm() == pytest.approx(round_two(300.0, 40.0))


def test_two_slots_are_tried_together_and_one_without_travel_does_not_count() -> None:
    slots = {0: Slot(math.pi, 10.0), 1: Slot(0.0, 0.5)}
    slackest, tightest = slot_reach(Drive(PAIR), slots)
    assert slackest.length_at_mm() == pytest.approx(round_two(300.0, 0.0))
    assert tightest.length_at_mm() == pytest.approx(round_two(310.5, 0.0))
    assert slot_reach(Drive(PAIR), {0: Slot(0.0), 1: Slot(0.0, 0.0)}) is None


def test_places_that_no_belt_can_follow_are_passed_over() -> None:
    # 240 mm inwards: the last quarter of the way the pump lies over the crank, so three quarters is the slackest
    slackest, tightest = slot_reach(Drive(PAIR), {1: Slot(math.pi, 240.0)})
    assert slackest.length_at_mm() == pytest.approx(round_two(120.0, 0.0))
    assert tightest.length_at_mm() == pytest.approx(round_two(300.0, 0.0))


def test_a_drive_that_cannot_be_at_all_says_so_in_words() -> None:
    with pytest.raises(PathError, match="pump"):
        slot_reach(Drive((PAIR[0], Pulley("pump", 40.0, 0.0, 50.0))), {1: Slot(0.0, 20.0)})
