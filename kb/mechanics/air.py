"""The air outside: its pressure at an altitude, and what a gauge that stands at nothing there leaves over.

Formula: the troposphere of the International Standard Atmosphere (ISO 2533:1975, the U.S. Standard Atmosphere of 1976),
p = p0 (1 - 0.0065 h / 288.15)^5.25588. The day's weather moves it by about 3 kPa either way.
"""

from __future__ import annotations

import math

SEA_LEVEL_KPA = 101.325
KPA_PER_INHG = 3.386389
"""The conventional inch of mercury (NIST Special Publication 811)."""

LOWEST_M, HIGHEST_M = -500.0, 6000.0
_LAPSE_PER_M = 0.0065 / 288.15
_EXPONENT = 5.25588


class AirError(ValueError):
    """An altitude outside of where machines work, or a gauge reading beyond the air there is."""


def air_pressure_kpa(altitude_m: float) -> float:
    """Pressure of the air at an altitude in metres, kPa absolute.

    Raises :class:`AirError` below -500 m and above 6000 m.

    >>> round(air_pressure_kpa(1524.0), 2)  # 5,000 ft
    84.31
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise AirError(f"an altitude of {altitude_m:g} m is outside {LOWEST_M:g} to {HIGHEST_M:g} m")
    return float(SEA_LEVEL_KPA * (1 - _LAPSE_PER_M * altitude_m) ** _EXPONENT)


def residual_kpa(vacuum_kpa: float, air_kpa: float) -> float:
    """What is left inside, kPa absolute, when a gauge shows ``vacuum_kpa`` below the air outside (kPa absolute).

    Raises :class:`AirError` for a reading of nothing or less, and for one at or beyond all the air there is.

    >>> round(residual_kpa(25 * KPA_PER_INHG, SEA_LEVEL_KPA), 2)
    16.67
    """
    if not (math.isfinite(vacuum_kpa) and vacuum_kpa > 0):
        raise AirError(f"a vacuum of {vacuum_kpa:g} kPa is none")
    if vacuum_kpa >= air_kpa:
        raise AirError(
            f"a vacuum of {vacuum_kpa / KPA_PER_INHG:.1f} inHg ({vacuum_kpa:.1f} kPa) is more than the air there is, "
            f"{air_kpa / KPA_PER_INHG:.1f} inHg ({air_kpa:.1f} kPa)"
        )
    return air_kpa - vacuum_kpa
