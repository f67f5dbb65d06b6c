"""Filling an evacuated cooling system: how much the vacuum draws in, and what must stand ready.

The air that is left is squeezed into one corner as coolant comes in, at the temperature it had (Boyle), until its pressure
and the column of coolant balance the air outside: V_left = V p_residual / (p_air - head).
"""

from __future__ import annotations

from dataclasses import dataclass

GRAVITY_M_S2 = 9.80665
DENSITY_KG_M3 = 1095.0
"""Of the coolant column: 60 per cent ethylene glycol at 0 degC (CoolProp AEG), the heaviest that is filled."""


class VacuumFillError(ValueError):
    """A fill that cannot be: no room, or not enough vacuum to lift the coolant."""


@dataclass(frozen=True, slots=True)
class Fill:
    """What a vacuum fill does, litres; ``share`` is how much of the empty space fills itself."""

    share: float
    drawn_l: float
    stand_ready_l: float
    top_up_l: float
    head_kpa: float


def head_kpa(height_m: float, density_kg_m3: float = DENSITY_KG_M3) -> float:
    """Pressure of a column of coolant, kPa: density times gravity times height.

    >>> round(head_kpa(1.0), 2)
    10.74
    """
    return density_kg_m3 * GRAVITY_M_S2 * height_m / 1000


def drawn_share(residual_kpa: float, air_kpa: float, column_kpa: float) -> float:
    """Share of the empty space that fills: 1 - residual / (air - head), pressures in kPa absolute.

    Raises :class:`VacuumFillError` where the vacuum does not lift the coolant that high.

    >>> round(drawn_share(16.665, 101.325, 0.0), 4)
    0.8355
    """
    lifting_kpa = air_kpa - column_kpa
    if lifting_kpa <= residual_kpa:
        raise VacuumFillError(
            f"the vacuum lifts {air_kpa - residual_kpa:.1f} kPa, and the column of coolant needs {column_kpa:.1f} kPa"
        )
    return 1 - residual_kpa / lifting_kpa


def vacuum_fill(
    empty_l: float, residual_kpa: float, air_kpa: float, column_kpa: float, hose_l: float, left_in_vessel_l: float
) -> Fill:
    """Return what is drawn, what must stand ready in one vessel, and what is topped up.

    ``empty_l``: the space to fill. ``hose_l``: what the filling hose holds. ``left_in_vessel_l``: what stays below
    the pick-up, so that it never draws air. Raises :class:`VacuumFillError`.
    """
    if not empty_l > 0:
        raise VacuumFillError(f"there is no room for coolant in {empty_l:g} L")
    if hose_l < 0 or left_in_vessel_l < 0:
        raise VacuumFillError("a hose and a vessel cannot hold less than nothing")
    share = drawn_share(residual_kpa, air_kpa, column_kpa)
    drawn_l = empty_l * share
    return Fill(share, drawn_l, drawn_l + hose_l + left_in_vessel_l, empty_l - drawn_l, column_kpa)
