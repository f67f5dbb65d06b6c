"""Water's saturation line: a round trip; CoolProp holds it in tests/published."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.water import WaterError, boiling_pressure_kpa, boiling_temperature_c


@given(st.floats(0.1, 369.0))
def test_there_and_back(celsius) -> None:
    assert boiling_temperature_c(boiling_pressure_kpa(celsius)) == pytest.approx(celsius, abs=1e-5)


def test_outside() -> None:
    for celsius in (-1.0, 380.0):
        with pytest.raises(WaterError):
            boiling_pressure_kpa(celsius)
    for kpa in (0.1, 22000.0):
        with pytest.raises(WaterError):
            boiling_temperature_c(kpa)


# The computer-program verification values of IAPWS R7-97, tables 35 and 36: nine digits. Typed from memory, but six
# numbers that agree to nine digits with a formula typed apart from them cannot all be slips.
@pytest.mark.parametrize(("kelvin", "mpa"), [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)])
def test_the_formulations_own_pressures(kelvin, mpa) -> None:
    assert boiling_pressure_kpa(kelvin - 273.15) == pytest.approx(mpa * 1000, rel=2e-9)


@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 0.372755919e3), (1.0, 0.453035632e3), (10.0, 0.584149488e3)])
def test_the_formulations_own_temperatures(mpa, kelvin) -> None:
    assert boiling_temperature_c(mpa * 1000) == pytest.approx(kelvin - 273.15, abs=1e-6)


def test_the_ends_are_inside_and_nothing_beyond_them() -> None:
    # triple point, 0.611657 kPa at 0.01 degC (IAPWS); 370 degC lies below the critical point's 373.946
    assert boiling_pressure_kpa(0.0) < 0.611657 < boiling_pressure_kpa(0.02)
    assert boiling_temperature_c(0.6113) == pytest.approx(0.0, abs=0.01)
    assert 369.0 < boiling_temperature_c(21000.0) < 370.0 < 373.946
    assert boiling_pressure_kpa(370.0) > 21000.0
    for celsius in (-0.01, 370.5):
        with pytest.raises(WaterError):
            boiling_pressure_kpa(celsius)
    for kpa in (0.61, 21000.5):
        with pytest.raises(WaterError):
            boiling_temperature_c(kpa)
