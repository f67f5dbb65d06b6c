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


@pytest.mark.parametrize("readings", [[1.0, 2.0], [1.0, -0.1, 2.0]])
def test_readings_that_tell_nothing(readings) -> None:
    with pytest.raises(EvacuationError):
        judge_rise(readings, WATER_KPA, 0.1)
