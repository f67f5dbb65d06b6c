"""Air and gauges; the standard atmosphere's tables are held in tests/published."""

from __future__ import annotations

import pytest

from kb.mechanics.air import KPA_PER_INHG, AirError, air_pressure_kpa, residual_kpa


@pytest.mark.parametrize("metres", [-501, 6001, float("nan")])
def test_an_altitude_where_nobody_works(metres) -> None:
    with pytest.raises(AirError, match="outside"):
        air_pressure_kpa(metres)


def test_25_inches_are_there_at_sea_level_and_not_at_5000_feet() -> None:
    reading = 25 * KPA_PER_INHG
    assert residual_kpa(reading, air_pressure_kpa(0)) == pytest.approx(101.325 - 84.66, abs=0.01)
    with pytest.raises(AirError, match="more than the air there is"):
        residual_kpa(reading, air_pressure_kpa(1524))


@pytest.mark.parametrize("reading", [0.0, -3.0, float("nan")])
def test_no_vacuum(reading) -> None:
    with pytest.raises(AirError, match="is none"):
        residual_kpa(reading, 101.325)


def test_the_ends_of_where_machines_work_are_inside() -> None:
    for metres in (-500.0, 6000.0):
        assert air_pressure_kpa(metres) > 0


def test_a_little_vacuum_is_one_and_all_of_the_air_is_too_much() -> None:
    assert residual_kpa(0.5, 101.325) == pytest.approx(100.825)
    with pytest.raises(AirError, match="more than the air there is"):
        residual_kpa(84.0, 84.0)


def test_the_refusal_tells_both_in_inches_too() -> None:
    # 101.325 kPa is 29.92 inHg, the standard atmosphere by definition; 105 kPa is 105 / 3.38639 = 31.0 inHg
    with pytest.raises(AirError, match=r"31\.0 inHg \(105\.0 kPa\).* 29\.9 inHg \(101\.3 kPa\)"):
        residual_kpa(105.0, 101.325)
