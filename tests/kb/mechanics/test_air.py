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
