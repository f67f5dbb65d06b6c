"""Rises after valving off, against readings made from a leak's and from evaporation's own laws."""

from __future__ import annotations

import math

import pytest

from kb.mechanics.evacuation import EvacuationError, judge_rise

WATER_KPA = 2.339


@pytest.mark.parametrize("rate", [0.1, 0.5, 2.0])
def test_a_choked_leak_rises_evenly(rate) -> None:
    found = judge_rise([0.5 + rate * step for step in range(5)], WATER_KPA, 0.05)
    assert (found.meaning, found.levels_off) == ("leak", False)


@pytest.mark.parametrize("speed", [0.8, 1.5, 3.0])
def test_moisture_levels_off_at_waters_pressure(speed) -> None:
    readings = [WATER_KPA - (WATER_KPA - 0.3) * math.exp(-speed * step) for step in range(6)]
    assert judge_rise(readings, WATER_KPA, 0.05).meaning == "moisture"


def test_levelling_off_above_waters_pressure_is_something_else() -> None:
    readings = [6.0 - 5.5 * math.exp(-1.5 * step) for step in range(6)]
    assert judge_rise(readings, WATER_KPA, 0.05).meaning == "gas from the oil or a slow leak"


def test_what_the_gauge_cannot_show_holds() -> None:
    assert judge_rise([1.0, 1.02, 1.01], WATER_KPA, 0.1).meaning == "holds"


def test_the_first_and_the_last_step_and_the_whole_rise() -> None:
    found = judge_rise([0.5, 1.5, 1.75, 2.0, 2.25, 2.375], WATER_KPA, 0.125)
    assert (found.first_step_kpa, found.last_step_kpa, found.rise_kpa) == (1.0, 0.125, 1.875)
    assert (found.levels_off, found.meaning) == (True, "moisture")


@pytest.mark.parametrize(
    ("readings", "meaning"),
    [
        ([0.0, 0.0, 0.0], "holds"),  # a perfect vacuum is one
        ([1.0, 1.25, 1.125], "moisture"),  # as much as the gauge shows is a rise
        ([1.0, 0.9, 0.875], "holds"),  # as much deeper as the gauge shows is no more than its own last figure
        ([0.25, 1.25, 1.65], "moisture"),  # four tenths of the first step still levels off ...
        ([0.25, 1.25, 1.66], "leak"),  # ... more does not
        ([1.0, 1.0625, 1.125], "leak"),  # as fast as it began
        ([1.0, 1.125, 1.1875], "moisture"),  # half of what the gauge shows is nothing
        ([1.0, 2.25, 2.375, 2.5], "moisture"),  # water's 2.375 and what the gauge shows
        ([1.0, 2.375, 2.51], "gas from the oil or a slow leak"),
    ],
)
def test_where_one_meaning_ends_and_the_next_begins(readings, meaning) -> None:
    assert judge_rise(readings, 2.375, 0.125).meaning == meaning


@pytest.mark.parametrize("readings", [[1.0, 2.0], [1.0, -0.1, 2.0], [1.0, 0.9, 0.8]])
def test_readings_that_tell_nothing(readings) -> None:
    with pytest.raises(EvacuationError):
        judge_rise(readings, WATER_KPA, 0.1)
