"""Coolant, refrigerant, water and air against CoolProp, the handbook's spot values, the public manuals' rows and ISO 2533.

The refrigerant and coolant tables were made with CoolProp: what is checked here is how they are read between their rows.
"""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest
from CoolProp.CoolProp import PropsSI

from kb.mechanics.air import KPA_PER_INHG, SEA_LEVEL_KPA, air_pressure_kpa
from kb.mechanics.coolant import freeze_point_c, percent_for_freeze_point
from kb.mechanics.refrigerant import (
    LIQUID_HEAT_KJ_KG_K,
    VAPOUR_VISCOSITY_PA_S,
    flow_for_cooling_g_s,
    latent_heat_kj_kg,
    state_at_pressure,
    state_at_temperature,
    superheated_density_kg_m3,
)
from kb.mechanics.vacuum_fill import DENSITY_KG_M3, head_kpa
from kb.mechanics.water import boiling_pressure_kpa, boiling_temperature_c
from kb.reference.coolants import GLYCOLS, freeze_table
from kb.reference.limits import limit
from kb.reference.refrigerants import names, saturation

ZERO_K = 273.15
FLUID = {"R-134a": "R134a", "R-1234yf": "R1234yf"}


def rows(name: str) -> list[dict[str, str]]:
    text = (files("kb.reference") / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def test_there_are_two_refrigerants() -> None:
    assert names() == tuple(FLUID)


@pytest.mark.parametrize("name", FLUID)
def test_saturation_between_the_rows(name) -> None:
    table = saturation(name)
    low, high = table[0].temperature_c, table[-1].temperature_c
    for step in range(401):
        celsius = low + (high - low) * step / 400
        found = state_at_temperature(celsius, table)
        kelvin = celsius + ZERO_K
        assert found.pressure_kpa == pytest.approx(PropsSI("P", "T", kelvin, "Q", 0, FLUID[name]) / 1000, rel=0.003)
        liquid, vapour = (PropsSI("D", "T", kelvin, "Q", quality, FLUID[name]) for quality in (0, 1))
        assert found.density_liquid_kg_m3 == pytest.approx(liquid, rel=0.005)
        assert found.density_vapour_kg_m3 == pytest.approx(vapour, rel=0.005)
        assert state_at_pressure(found.pressure_kpa, table).temperature_c == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize("name", FLUID)
def test_handbook_spot_values(name) -> None:
    """ASHRAE Handbook Fundamentals, from memory as the table says: they agree within a third of a per cent."""
    spots = [
        row for row in rows("refrigerant_pt") if row["refrigerant"] == name and row["row_type"].startswith("handbook")
    ]
    table = saturation(name)
    within = [row for row in spots if float(row["temp_C"]) >= table[0].temperature_c]
    assert len(within) >= 3  # the table starts above the boiling point of R-1234yf
    for row in within:
        found = state_at_temperature(float(row["temp_C"]), table)
        assert found.pressure_kpa == pytest.approx(float(row["p_sat_kPa_abs"]), rel=0.0035)


@pytest.mark.parametrize("name", FLUID)
def test_latent_heat_liquid_heat_viscosity_and_superheat(name) -> None:
    fluid, table = FLUID[name], saturation(name)
    for celsius in (-10.0, 2.0, 20.0, 45.0):
        kelvin = celsius + ZERO_K
        state = state_at_temperature(celsius, table)
        latent = (PropsSI("H", "T", kelvin, "Q", 1, fluid) - PropsSI("H", "T", kelvin, "Q", 0, fluid)) / 1000
        assert latent_heat_kj_kg(state, table) == pytest.approx(latent, rel=0.01)
        heat = (PropsSI("H", "T", 50 + ZERO_K, "Q", 0, fluid) - PropsSI("H", "T", ZERO_K, "Q", 0, fluid)) / 50_000
        assert pytest.approx(heat, rel=0.08) == LIQUID_HEAT_KJ_KG_K
    for celsius in (-20.0, 0.0, 20.0):
        kelvin = celsius + ZERO_K
        assert pytest.approx(PropsSI("V", "T", kelvin, "Q", 1, fluid), rel=0.13) == VAPOUR_VISCOSITY_PA_S
    for celsius, superheat in ((2.0, 6.0), (50.0, 30.0), (50.0, 40.0)):
        state = state_at_temperature(celsius, table)
        true = PropsSI("D", "P", state.pressure_kpa * 1000, "T", celsius + superheat + ZERO_K, fluid)
        found = superheated_density_kg_m3(state, superheat)
        assert true <= found <= 1.16 * true


@pytest.mark.parametrize("name", FLUID)
def test_flow_for_cooling(name) -> None:
    """7 kW, boiling at 2 degC, fed with liquid at 45 degC: enthalpies straight from CoolProp."""
    fluid, table = FLUID[name], saturation(name)
    effect = (PropsSI("H", "T", 2 + ZERO_K, "Q", 1, fluid) - PropsSI("H", "T", 45 + ZERO_K, "Q", 0, fluid)) / 1000
    found = flow_for_cooling_g_s(7.0, state_at_temperature(2.0, table), 45.0, table)
    assert found == pytest.approx(7000 / effect, rel=0.05)


def test_water_boils_as_coolprop_says() -> None:
    for celsius in (0.02, 10.0, 20.0, 37.8, 60.0, 100.0, 121.0, 180.0):
        true = PropsSI("P", "T", celsius + ZERO_K, "Q", 0, "Water") / 1000
        assert boiling_pressure_kpa(celsius) == pytest.approx(true, rel=0.0003)
        assert boiling_temperature_c(true) == pytest.approx(celsius, abs=0.01)


@pytest.mark.parametrize("fahrenheit", [50, 60, 70, 81, 90, 100])
def test_vacuum_that_boils_water(fahrenheit) -> None:
    """Rows of practice_limits.csv, four of which the public manual TM 5-3805-292-23 prints within 0.05 inHg."""
    row = limit("evacuation", f"vacuum that boils water at {fahrenheit} F")
    assert row.checked
    found = (SEA_LEVEL_KPA - boiling_pressure_kpa((fahrenheit - 32) / 1.8)) / KPA_PER_INHG
    assert found == pytest.approx(row.low, abs=0.01)


@pytest.mark.parametrize(
    ("metres", "kpa"), [(0, 101.325), (1000, 89.876), (1500, 84.559), (2000, 79.501), (3000, 70.121), (5000, 54.048)]
)
def test_standard_atmosphere(metres, kpa) -> None:
    """The tables of ISO 2533:1975 by geopotential altitude, from memory."""
    assert air_pressure_kpa(metres) == pytest.approx(kpa, rel=0.0015)


@pytest.mark.parametrize(("glycol", "by_volume"), [("ethylene", "AEG"), ("propylene", "APG")])
def test_freeze_points_between_the_rows(glycol, by_volume) -> None:
    table = freeze_table(glycol)
    for percent in (12.0, 27.5, 38.0, 47.0, 52.5, 59.0):
        true = PropsSI("T_FREEZE", "T", 300.0, "P", 101325.0, f"INCOMP::{by_volume}[{percent / 100}]") - ZERO_K
        found = freeze_point_c(percent, table.percents, table.freeze_c)
        assert found == pytest.approx(true, abs=0.35)
        assert percent_for_freeze_point(found, table.percents, table.freeze_c) == pytest.approx(percent, abs=1e-9)


@pytest.mark.parametrize("glycol", GLYCOLS)
def test_freeze_points_against_the_second_model(glycol) -> None:
    """CoolProp's MEG and MPG (Melinder 2010), by mass: the models differ by up to 2.5 K."""
    model = {"ethylene": "MEG", "propylene": "MPG"}[glycol]
    table = freeze_table(glycol)
    checked = 0
    for row in rows("coolant_freeze"):
        if row["glycol"] != f"{glycol} glycol" or not row["row_type"].startswith("second model"):
            continue
        mass = float(row["mass_percent"]) / 100
        second = PropsSI("T_FREEZE", "T", 300.0, "P", 101325.0, f"INCOMP::{model}[{mass}]") - ZERO_K
        assert freeze_point_c(float(row["vol_percent"]), table.percents, table.freeze_c) == pytest.approx(
            second, abs=2.5
        )
        checked += 1
    assert checked >= 6


def test_the_column_of_coolant_weighs_what_sixty_per_cent_does() -> None:
    assert PropsSI("D", "T", ZERO_K, "P", 101325.0, "INCOMP::AEG[0.6]") == pytest.approx(DENSITY_KG_M3, rel=0.005)
    assert head_kpa(1.0) == pytest.approx(DENSITY_KG_M3 * 9.80665 / 1000)
