"""What a line holds and loses, by hand; saturation is held against CoolProp in tests/published."""

from __future__ import annotations

import math

import pytest

from kb.mechanics.refrigerant import (
    RefrigerantError,
    State,
    charge_g,
    flow_for_cooling_g_s,
    friction_drop,
    latent_heat_kj_kg,
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


# Three rows on one straight line of ln p over 1/T (Clausius and Clapeyron) and of ln rho, by hand: 300, 320 and 360 K.
LINE = [
    State(kelvin - 273.15, 1000 * math.exp(6 - 1800 / kelvin), 1200 - kelvin, 40 * math.exp(6 - 1800 / kelvin))
    for kelvin in (300.0, 320.0, 360.0)
]


@pytest.mark.parametrize("kelvin", [300.0, 304.0, 320.0, 341.0, 360.0])
def test_between_rows_of_one_law_it_is_that_law(kelvin) -> None:
    pressure = 1000 * math.exp(6 - 1800 / kelvin)
    for found in (state_at_temperature(kelvin - 273.15, LINE), state_at_pressure(pressure, LINE)):
        assert found.temperature_c == pytest.approx(kelvin - 273.15, abs=1e-9)
        assert found.pressure_kpa == pytest.approx(pressure)
        assert found.density_liquid_kg_m3 == pytest.approx(1200 - kelvin)
        assert found.density_vapour_kg_m3 == pytest.approx(40 * math.exp(6 - 1800 / kelvin))


def test_outside_the_table_its_ends_are_told() -> None:
    for celsius in (26.8, 86.9):
        with pytest.raises(RefrigerantError, match=r"the table, 26\.9 to 86\.9 degC"):
            state_at_temperature(celsius, LINE)
    for pressure in (999.0, 2719.0):
        with pytest.raises(RefrigerantError, match=r"the table, 1000\.0 to 2718\.3 kPa"):
            state_at_pressure(pressure, LINE)


@pytest.mark.parametrize("row", LINE)
def test_latent_heat_is_clausius_and_clapeyrons_at_the_ends_too(row) -> None:
    # of that law dp/dT = p 1800 / T^2, exactly; a slope over one kelvin on one side is out by half a per cent or so
    kelvin = row.temperature_c + 273.15
    slope = row.pressure_kpa * 1800 / kelvin**2
    exact = kelvin * (1 / row.density_vapour_kg_m3 - 1 / row.density_liquid_kg_m3) * slope
    assert latent_heat_kj_kg(row, LINE) == pytest.approx(exact, rel=0.008)


def test_vapour_thins_as_an_ideal_gas() -> None:
    at_300_k = State(26.85, 700.0, 1200.0, 30.0)
    assert superheated_density_kg_m3(at_300_k, 100.0) == pytest.approx(22.5)  # 30 x 300 / 400
    assert superheated_density_kg_m3(at_300_k, 0.0) == 30.0
    assert superheated_density_kg_m3(at_300_k, 0.5) < 30.0


def test_little_cooling_takes_little_and_the_flow_goes_with_it() -> None:
    boiling = LINE[0]
    effect = latent_heat_kj_kg(boiling, LINE) - 1.4 * 10.0
    assert flow_for_cooling_g_s(0.5, boiling, boiling.temperature_c + 10.0, LINE) == pytest.approx(500 / effect)
    # liquid so warm that all of it, or all but a half of a kilojoule, goes up in cooling itself
    warmest = boiling.temperature_c + latent_heat_kj_kg(boiling, LINE) / 1.4
    assert flow_for_cooling_g_s(1.0, boiling, warmest - 0.5 / 1.4, LINE) == pytest.approx(2000, rel=1e-6)
    with pytest.raises(RefrigerantError):
        flow_for_cooling_g_s(1.0, boiling, warmest + 1e-9, LINE)


def test_thin_short_lines_and_thin_vapour_can_be() -> None:
    assert line_volume_ml(0.5, 0.0) == 0.0
    assert line_volume_ml(0.5, 0.5) == pytest.approx(math.pi / 16 * 0.5 / 1000)
    found = friction_drop(1e-6, 0.5, 0.5, 0.5)
    assert found.drop_kpa == pytest.approx(128 * 11e-6 * 5e-4 * (1e-9 / 0.5) / (math.pi * 5e-4**4) / 1000)  # Poiseuille


def test_the_flow_turns_rough_at_2300() -> None:
    # Reynolds' number is 4 m / (pi d mu): of 10 mm and a viscosity of 1/2300 (1/2300.5) it is just 2300 (2300.5) where the
    # mass flow is pi d / 4 kg/s
    flow = 1000 * math.pi * 0.01 / 4
    for reynolds, factor in ((2299.5, 64 / 2299.5), (2300.5, (1.8 * math.log10(2300.5 / 6.9)) ** -2)):
        found = friction_drop(flow, 10.0, 10.0, 15.0, 1 / reynolds)
        assert found.reynolds == pytest.approx(reynolds)
        assert found.drop_kpa == pytest.approx(factor * 15.0 * found.speed_m_s**2 / 2 / 1000)


def test_colder_than_it_boils_is_said_as_it_is() -> None:
    with pytest.raises(RefrigerantError, match="not 3 K colder"):
        superheated_density_kg_m3(LINE[0], -3.0)


def test_refusals() -> None:
    state = state_at_temperature(2.0, TABLE)
    for wrong in (
        lambda: state_at_temperature(150.0, TABLE),
        lambda: state_at_pressure(10.0, TABLE),
        lambda: line_volume_ml(0.0, 100.0),
        lambda: line_volume_ml(8.0, -1.0),
        lambda: line_volume_ml(8.0, -0.5),
        lambda: friction_drop(0.0, 8.0, 100.0, 15.0),
        lambda: friction_drop(1.0, 0.0, 100.0, 15.0),
        lambda: friction_drop(1.0, 8.0, 0.0, 15.0),
        lambda: friction_drop(1.0, 8.0, 100.0, 0.0),
        lambda: superheated_density_kg_m3(state, -1.0),
        lambda: flow_for_cooling_g_s(0.0, state, 45.0, TABLE),
        lambda: saturation_shift_k(state.pressure_kpa, state, TABLE),
    ):
        with pytest.raises(RefrigerantError):
            wrong()
