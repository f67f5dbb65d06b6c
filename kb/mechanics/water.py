"""Where water boils: its saturation line from freezing to the critical point.

Formula: the saturation equation of IAPWS Industrial Formulation 1997, region 4 (equations 30 and 31; the ten
coefficients from memory, held by test against CoolProp's water to 0.02 %).
"""

from __future__ import annotations

import math

_N = (
    1167.0521452767, -724213.16703206, -17.073846940092, 12020.824702470, -3232555.0322333, 14.915108613530,
    -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798,
)  # fmt: skip
_ZERO_K = 273.15
LOWEST_C, HIGHEST_C = 0.0, 370.0
LOWEST_KPA, HIGHEST_KPA = 0.6113, 21000.0


class WaterError(ValueError):
    """A temperature or pressure at which there is no boiling water."""


def boiling_pressure_kpa(temperature_c: float) -> float:
    """Pressure at which water boils at a temperature, kPa absolute. Raises :class:`WaterError` outside 0 to 370 degC.

    >>> round(boiling_pressure_kpa(100.0), 2)
    101.42
    """
    if not LOWEST_C <= temperature_c <= HIGHEST_C:
        raise WaterError(f"water at {temperature_c:g} degC: between {LOWEST_C:g} and {HIGHEST_C:g} degC is told")
    kelvin = temperature_c + _ZERO_K
    theta = kelvin + _N[8] / (kelvin - _N[9])
    a = theta * theta + _N[0] * theta + _N[1]
    b = _N[2] * theta * theta + _N[3] * theta + _N[4]
    c = _N[5] * theta * theta + _N[6] * theta + _N[7]
    return float((2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4 * 1000)


def boiling_temperature_c(pressure_kpa: float) -> float:
    """Temperature at which water boils at an absolute pressure in kPa, degC: the inverse, in closed form.

    Raises :class:`WaterError` outside 0.6113 to 21000 kPa; below the first, water is ice or vapour.

    >>> round(boiling_temperature_c(2.339), 2)
    20.0
    """
    if not LOWEST_KPA <= pressure_kpa <= HIGHEST_KPA:
        raise WaterError(f"water at {pressure_kpa:g} kPa: between {LOWEST_KPA:g} and {HIGHEST_KPA:g} kPa is told")
    beta = (pressure_kpa / 1000) ** 0.25
    e = beta * beta + _N[2] * beta + _N[5]
    f = _N[0] * beta * beta + _N[3] * beta + _N[6]
    g = _N[1] * beta * beta + _N[4] * beta + _N[7]
    d = 2 * g / (-f - math.sqrt(f * f - 4 * e * g))
    kelvin: float = (_N[9] + d - math.sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2
    return kelvin - _ZERO_K
