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
