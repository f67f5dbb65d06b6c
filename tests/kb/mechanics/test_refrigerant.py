"""What a line holds and loses, by hand; saturation is held against CoolProp in tests/published."""

from __future__ import annotations

import math

import pytest

from kb.mechanics.refrigerant import (
    RefrigerantError,
    charge_g,
    flow_for_cooling_g_s,
    friction_drop,
    line_volume_ml,
    saturation_shift_k,
    state_at_pressure,
    state_at_temperature,
    superheated_density_kg_m3,
)
from kb.reference.refrigerants import saturation

TABLE = saturation("R-134a")


def test_a_metre_of_eight_millimetre_liquid_line() -> None:
    """By hand: 0.8 cm across is 0.50265 cm2, a metre 50.265 mL; at 1.2 kg/L 60.3 g."""
    assert charge_g(line_volume_ml(8.0, 1000.0), 1200.0) == pytest.approx(60.32, abs=0.01)


def test_slow_flow_is_poiseuilles() -> None:
    """Hagen and Poiseuille: dp = 128 mu L Q / (pi d^4)."""
    flow, bore, density, viscosity = 0.05, 10.0, 15.0, 11e-6
    found = friction_drop(flow, bore, 1000.0, density, viscosity)
    assert found.reynolds < 2300
    true = 128 * viscosity * 1.0 * (flow / 1000 / density) / (math.pi * 0.01**4) / 1000
    assert found.drop_kpa == pytest.approx(true)


@pytest.mark.parametrize(("reynolds", "factor"), [(1e4, 0.0309), (1e5, 0.0180), (1e6, 0.0116)])
def test_fast_flow_is_moodys_smooth_pipe(reynolds, factor) -> None:
    """The smooth line of Moody's chart (Colebrook), from memory; within 2 %."""
    bore, density, viscosity = 0.015, 15.0, 11e-6
    speed = reynolds * viscosity / density / bore
    flow = speed * density * math.pi / 4 * bore**2 * 1000
    found = friction_drop(flow, 15.0, 15.0, density, viscosity)
    assert found.drop_kpa * 1000 == pytest.approx(factor * density * speed**2 / 2, rel=0.02)


def test_a_drop_costs_what_the_table_says() -> None:
    state = state_at_temperature(2.0, TABLE)
    lower = state_at_temperature(1.0, TABLE)
    assert saturation_shift_k(state.pressure_kpa - lower.pressure_kpa, state, TABLE) == pytest.approx(1.0, abs=1e-6)


def test_refusals() -> None:
    state = state_at_temperature(2.0, TABLE)
    for wrong in (
        lambda: state_at_temperature(150.0, TABLE),
        lambda: state_at_pressure(10.0, TABLE),
        lambda: line_volume_ml(0.0, 100.0),
        lambda: line_volume_ml(8.0, -1.0),
        lambda: friction_drop(0.0, 8.0, 100.0, 15.0),
        lambda: superheated_density_kg_m3(state, -1.0),
        lambda: flow_for_cooling_g_s(0.0, state, 45.0, TABLE),
        lambda: saturation_shift_k(state.pressure_kpa, state, TABLE),
    ):
        with pytest.raises(RefrigerantError):
            wrong()
