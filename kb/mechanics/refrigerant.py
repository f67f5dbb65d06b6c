"""Refrigerant: saturation from a table both ways, what a line holds, and what a longer suction line costs.

Between the rows of a table the logarithm of the pressure runs straight over one over the absolute temperature (Clausius and
Clapeyron), the logarithm of the vapour's density likewise, and the liquid's density straight over the temperature: over
steps of 5 degF that is within 0.02 % of the equation of state for pressure, and 0.1 % for density.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

_ZERO_K = 273.15
VAPOUR_VISCOSITY_PA_S = 11e-6
"""Of either fluid's vapour between -20 and 20 degC, within 12 % (CoolProp); a pressure drop feels a quarter of that."""
LIQUID_HEAT_KJ_KG_K = 1.4
"""Specific heat of either fluid's liquid between 0 and 50 degC, within 8 % (CoolProp)."""


class RefrigerantError(ValueError):
    """A state outside the table, or a line that cannot be."""


@dataclass(frozen=True, slots=True)
class State:
    """A saturated state: degC, kPa absolute, and the densities of its liquid and vapour in kg/m3."""

    temperature_c: float
    pressure_kpa: float
    density_liquid_kg_m3: float
    density_vapour_kg_m3: float


def state_at_temperature(temperature_c: float, table: Sequence[State]) -> State:
    """Saturation at a temperature, degC, from a table in rising order.

    Raises :class:`RefrigerantError` outside the table.
    """
    if not table[0].temperature_c <= temperature_c <= table[-1].temperature_c:
        raise RefrigerantError(
            f"{temperature_c:.1f} degC is outside the table, {table[0].temperature_c:.1f} to "
            f"{table[-1].temperature_c:.1f} degC"
        )
    right = max(1, bisect_left([one.temperature_c for one in table], temperature_c))
    low, high = table[right - 1], table[right]
    return _between(low, high, _share(temperature_c, low.temperature_c, high.temperature_c))


def state_at_pressure(pressure_kpa: float, table: Sequence[State]) -> State:
    """Saturation at an absolute pressure, kPa: the exact inverse of :func:`state_at_temperature`.

    Raises :class:`RefrigerantError` outside the table.
    """
    if not table[0].pressure_kpa <= pressure_kpa <= table[-1].pressure_kpa:
        raise RefrigerantError(
            f"{pressure_kpa:.1f} kPa absolute is outside the table, {table[0].pressure_kpa:.1f} to "
            f"{table[-1].pressure_kpa:.1f} kPa"
        )
    right = max(1, bisect_left([one.pressure_kpa for one in table], pressure_kpa))
    low, high = table[right - 1], table[right]
    return _between(
        low, high, math.log(pressure_kpa / low.pressure_kpa) / math.log(high.pressure_kpa / low.pressure_kpa)
    )


def _share(at_c: float, low_c: float, high_c: float) -> float:
    """How far along one over the absolute temperature a temperature lies."""
    return (1 / (low_c + _ZERO_K) - 1 / (at_c + _ZERO_K)) / (1 / (low_c + _ZERO_K) - 1 / (high_c + _ZERO_K))


def _between(low: State, high: State, share: float) -> State:
    first, last = 1 / (low.temperature_c + _ZERO_K), 1 / (high.temperature_c + _ZERO_K)
    temperature_c = 1 / (first + (last - first) * share) - _ZERO_K
    along = (temperature_c - low.temperature_c) / (high.temperature_c - low.temperature_c)
    return State(
        temperature_c,
        low.pressure_kpa * (high.pressure_kpa / low.pressure_kpa) ** share,
        low.density_liquid_kg_m3 + (high.density_liquid_kg_m3 - low.density_liquid_kg_m3) * along,
        low.density_vapour_kg_m3 * (high.density_vapour_kg_m3 / low.density_vapour_kg_m3) ** share,
    )


def line_volume_ml(inside_mm: float, length_mm: float) -> float:
    """Inside volume of a line, mL. Raises :class:`RefrigerantError` for a bore of nothing or a length below nothing.

    >>> round(line_volume_ml(10.0, 1000.0), 2)
    78.54
    """
    if not inside_mm > 0 or length_mm < 0:
        raise RefrigerantError(f"a line of {inside_mm:g} mm bore and {length_mm:g} mm length holds nothing")
    return math.pi / 4 * inside_mm**2 * length_mm / 1000


def charge_g(volume_ml: float, density_kg_m3: float) -> float:
    """Mass of what a volume holds, g; below nothing where a line has become smaller."""
    return volume_ml * density_kg_m3 / 1000


@dataclass(frozen=True, slots=True)
class Drop:
    """Friction in a line: the pressure lost, kPa, the speed of the vapour, m/s, and its Reynolds number."""

    drop_kpa: float
    speed_m_s: float
    reynolds: float


def friction_drop(
    flow_g_s: float,
    inside_mm: float,
    length_mm: float,
    density_kg_m3: float,
    viscosity_pa_s: float = VAPOUR_VISCOSITY_PA_S,
) -> Drop:
    """Pressure lost to friction in a smooth line, without its bends and fittings.

    Formula: Darcy and Weisbach, dp = f L/d rho v^2/2, with Haaland's friction factor for a smooth pipe, 1/sqrt(f) = 1.8
    lg(Re/6.9), and 64/Re below a Reynolds number of 2300 (textbook). Raises :class:`RefrigerantError`.

    >>> round(friction_drop(40.0, 15.0, 2000.0, 15.0).drop_kpa, 2)
    3.25
    """
    if not (flow_g_s > 0 and inside_mm > 0 and length_mm > 0 and density_kg_m3 > 0):
        raise RefrigerantError("a flow, a bore, a length and a density must each be more than nothing")
    bore_m = inside_mm / 1000
    speed_m_s = flow_g_s / 1000 / density_kg_m3 / (math.pi / 4 * bore_m**2)
    reynolds = density_kg_m3 * speed_m_s * bore_m / viscosity_pa_s
    factor = 64 / reynolds if reynolds < 2300 else (1.8 * math.log10(reynolds / 6.9)) ** -2
    return Drop(factor * length_mm / inside_mm * density_kg_m3 * speed_m_s**2 / 2 / 1000, speed_m_s, reynolds)


def saturation_shift_k(drop_kpa: float, at: State, table: Sequence[State]) -> float:
    """By how many kelvin the saturation temperature falls when a pressure falls: what a drop costs the evaporator.

    Raises :class:`RefrigerantError` where the pressure would fall out of the table.
    """
    return at.temperature_c - state_at_pressure(at.pressure_kpa - drop_kpa, table).temperature_c


def superheated_density_kg_m3(at: State, superheat_k: float) -> float:
    """Density of vapour warmer than its saturation temperature at the same pressure, kg/m3.

    Formula: rho = rho_sat T_sat / T, as an ideal gas would; up to 40 K of superheat it is at most 16 per cent too high
    (CoolProp), in lines that hold a few grams. Raises :class:`RefrigerantError` for a superheat below nothing.
    """
    if not superheat_k >= 0:
        raise RefrigerantError(f"vapour is not {-superheat_k:g} K colder than it boils at")
    kelvin = at.temperature_c + _ZERO_K
    return at.density_vapour_kg_m3 * kelvin / (kelvin + superheat_k)


def latent_heat_kj_kg(at: State, table: Sequence[State]) -> float:
    """Heat that boils a kilogram away at a state, kJ/kg.

    Formula: Clausius and Clapeyron, h = T (1/rho_v - 1/rho_l) dp/dT, the slope over one kelvin either way (one-sided at
    the table's ends). Raises :class:`RefrigerantError` outside the table.
    """
    low = max(at.temperature_c - 1, table[0].temperature_c)
    high = min(at.temperature_c + 1, table[-1].temperature_c)
    slope = (state_at_temperature(high, table).pressure_kpa - state_at_temperature(low, table).pressure_kpa) / (
        high - low
    )
    return (at.temperature_c + _ZERO_K) * (1 / at.density_vapour_kg_m3 - 1 / at.density_liquid_kg_m3) * slope


def flow_for_cooling_g_s(cooling_kw: float, boiling: State, liquid_c: float, table: Sequence[State]) -> float:
    """Refrigerant that must run for so much cooling, g/s, fed with liquid at ``liquid_c``, degC.

    Formula: Q = m (h_fg - c (t_liquid - t_boiling)), c = 1.4 kJ/(kg K) for either fluid's liquid (held by test against
    CoolProp). Raises :class:`RefrigerantError` for cooling of nothing or less.

    """
    effect = latent_heat_kj_kg(boiling, table) - LIQUID_HEAT_KJ_KG_K * (liquid_c - boiling.temperature_c)
    if not cooling_kw > 0 or effect <= 0:
        raise RefrigerantError(f"{cooling_kw:g} kW of cooling from liquid at {liquid_c:g} degC")
    return cooling_kw / effect * 1000
