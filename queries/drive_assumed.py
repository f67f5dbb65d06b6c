"""The numbers that a drive is judged by: the sheet's own, else those of the reference tables, with their status."""

from __future__ import annotations

from kb.mechanics.grip import Assumption, Limits
from kb.reference.tables import table
from kb.sheets.drive import RIBBED_PROFILES
from kb.sheets.drive_fields import DriveSheet

GIVEN = "given in the sheet"
MISALIGNMENT = "angular misalignment between adjacent pulleys"
ENTRY_ANGLE = "belt entry angle, V-ribbed, noise-free target"
GROOVE_ANGLES = (
    "groove angle", "groove angle of pulley", "groove angle (all diameters)", "groove angle (larger diameters)",
)  # fmt: skip
"""Of a section whose angle grows with the diameter the widest is taken: it holds least."""
NO_SOURCE = "common practice, no source"


def family(sheet: DriveSheet) -> str:
    """Return ``V-ribbed`` or ``V-belt``."""
    return "V-ribbed" if sheet.profile in RIBBED_PROFILES else "V-belt"


def given(sheet: DriveSheet, name: str, value: float, unit: str) -> Assumption:
    """Return a value that the sheet gives."""
    return Assumption(name, value, unit, sheet.source, GIVEN)


def was_given(one: Assumption) -> bool:
    """Whether a number stands in the sheet, and was not assumed."""
    return one.status == GIVEN


def belt_mass(sheet: DriveSheet) -> Assumption | None:
    """Return the mass of the whole belt, kg/m; ``None`` where neither the sheet nor the table of its profile has one."""
    name = "belt mass"
    if sheet.belt.belt_mass_kg_per_m is not None:
        return given(sheet, name, sheet.belt.belt_mass_kg_per_m, "kg/m")
    for quantity, count in (("mass per rib", sheet.ribs), ("mass per belt", 1)):
        row = _grip_row(quantity, sheet.profile)
        if row is not None and count is not None:
            return Assumption(name, round(float(row["value"]) * count, 6), "kg/m", row["source"], row["status"])
    return None


def grip_limits(sheet: DriveSheet) -> Limits:
    """Return the friction, the groove's angle and the design ratios that a grip is judged against."""
    belt = sheet.belt
    return Limits(
        friction=_or_table(sheet, "friction", belt.friction, "friction of belt on pulley", "all"),
        groove_angle_deg=_groove_angle(sheet),
        design_ratio_grooved=_or_table(
            sheet, "design ratio", belt.design_ratio, "design tight/slack ratio at 180 degrees", family(sheet)
        ),
        design_ratio_flat=_or_table(
            sheet, "design ratio, flat", belt.design_ratio_flat, "design tight/slack ratio at 180 degrees", "flat"
        ),
    )


def _or_table(sheet: DriveSheet, name: str, value: float | None, quantity: str, applies_to: str) -> Assumption:
    if value is not None:
        return given(sheet, name, value, "-")
    row = _grip_row(quantity, applies_to)
    assert row is not None
    return Assumption(name, float(row["value"]), row["unit"], row["source"], row["status"])


def _groove_angle(sheet: DriveSheet) -> Assumption:
    name = "groove angle"
    if sheet.belt.groove_angle_deg is not None:
        return given(sheet, name, sheet.belt.groove_angle_deg, "deg")
    row = profile_row(sheet, *GROOVE_ANGLES)
    if row is not None:
        return Assumption(name, float(row["value"]), "deg", row["source"], row["status"])
    return Assumption(name, 36.0, "deg", NO_SOURCE, "from memory")


def profile_row(sheet: DriveSheet, *quantities: str) -> dict[str, str] | None:
    """Return the profile's row for the first of these quantities that its table has; ``13A`` is ``SAE 0.500 (13A)``."""
    rows = [row for row in table("belt_profiles") if sheet.profile in (row["profile"], _bracketed(row["profile"]))]
    return next((row for quantity in quantities for row in rows if row["quantity"] == quantity), None)


def _bracketed(profile: str) -> str:
    return profile.rpartition("(")[2].rstrip(")")


def misalignment_limit(sheet: DriveSheet) -> Assumption:
    """Return the angle that a span may be out of a pulley's plane, degrees."""
    name = "misalignment limit"
    if sheet.belt.misalignment_limit_deg is not None:
        return given(sheet, name, sheet.belt.misalignment_limit_deg, "deg")
    return practice(MISALIGNMENT, name)


def practice(parameter: str, name: str = "", *, upper: bool = True) -> Assumption:
    """Return the upper or lower value of a row of the table of practice limits; ``KeyError`` where there is none.

    >>> practice(MISALIGNMENT).value
    0.5
    """
    for row in table("practice_limits"):
        if row["parameter"] == parameter:
            value = float(row["value_high" if upper else "value_low"])
            return Assumption(name or parameter, value, row["unit"], row["source"], row["status"])
    raise KeyError(parameter)


def _grip_row(quantity: str, applies_to: str) -> dict[str, str] | None:
    return next(
        (
            row
            for row in table("belt_grip")
            if applies_to in (row["applies_to"], _bracketed(row["applies_to"])) and row["quantity"] == quantity
        ),
        None,
    )
