"""A ribbed belt's lengths: effective, outside, pitch, and a string laid in its place; what each way of measuring is worth.

The PK profile's effective line lies at the checking diameter; see ISO 9981. Lengths in millimetres.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

PITCH_LINE_OVER_EFFECTIVE_MM = 2.0
"""b_e of PK, nominal: pitch length = effective length + 2 pi b_e (ISO 9981, from a public extract)."""

BELT_OVER_RIM_MM = 2.5
"""Effective line to a PK belt's back, where nobody has calipered it: common practice, no source."""

_DESIGNATION = re.compile(r"\s*([0-9]{1,2})[\s.\-–]*(PH|PJ|PK|PL|PM)[\s.\-–]*([0-9]{3,5})\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class WayOfMeasuring:
    """One way to measure a belt, its default doubt (one standard deviation), and where that figure comes from."""

    name: str
    doubt_mm: float
    says: str
    source: str = "common practice, no source"


WAYS: dict[str, WayOfMeasuring] = {
    "effective": WayOfMeasuring("effective", 2.0, "the length that the maker prints"),
    "outside": WayOfMeasuring("outside", 4.0, "a tape round the belt's back"),
    "pitch": WayOfMeasuring("pitch", 3.0, "the length of the cord line"),
    "string": WayOfMeasuring("string", 6.0, "a string or wire laid round the pulleys"),
}


def outside_from_effective(effective_mm: float, belt_over_rim_mm: float = BELT_OVER_RIM_MM) -> float:
    """Return the outside length: effective length + 2 pi times the belt's height over its effective line.

    >>> round(outside_from_effective(1854.0), 1)
    1869.7
    """
    return effective_mm + 2 * math.pi * belt_over_rim_mm


def effective_from_outside(outside_mm: float, belt_over_rim_mm: float = BELT_OVER_RIM_MM) -> float:
    """Return the effective length of a belt whose back measures ``outside_mm`` round."""
    return outside_mm - 2 * math.pi * belt_over_rim_mm


def pitch_from_effective(effective_mm: float) -> float:
    """Return the pitch length, L_p = L_e + 2 pi b_e (ISO 9981).

    >>> round(pitch_from_effective(1854.0), 2)
    1866.57
    """
    return effective_mm + 2 * math.pi * PITCH_LINE_OVER_EFFECTIVE_MM


def effective_from_pitch(pitch_mm: float) -> float:
    """Return the effective length of a belt whose cord line is ``pitch_mm`` long."""
    return pitch_mm - 2 * math.pi * PITCH_LINE_OVER_EFFECTIVE_MM


def effective_from_string(string_mm: float, thickness_mm: float) -> float:
    """Return the effective length for a string of that thickness laid round grooved pulleys that turn once in all.

    With every wrap on grooved pulleys the string's own middle lies half its thickness over the effective line, round one
    whole turn: L_e = L_string - 2 pi t / 2. Flat pulleys pull the other way and are not known here: the doubt covers them.
    """
    return string_mm - math.pi * thickness_mm


def effective_length(measured_mm: float, measured: str, string_thickness_mm: float | None = None) -> float:
    """Return the effective length for a length measured in one of the :data:`WAYS`.

    Raises ``ValueError`` for another way, or for a string without its thickness.
    """
    if measured == "effective":
        return measured_mm
    if measured == "outside":
        return effective_from_outside(measured_mm)
    if measured == "pitch":
        return effective_from_pitch(measured_mm)
    if measured == "string":
        if string_thickness_mm is None:
            raise ValueError("a string's thickness is needed")
        return effective_from_string(measured_mm, string_thickness_mm)
    raise ValueError(f"no way of measuring is called {measured!r}")


def window_mm(measured: str) -> float:
    """Return how far off a belt may be and still be the one measured: two doubts of that way of measuring."""
    return 2.0 * WAYS[measured].doubt_mm


def fit(difference_mm: float, doubt_mm: float) -> float:
    """Return 100 for no difference, falling as a normal distribution of that doubt does.

    >>> round(fit(2.0, 2.0), 1)
    60.7
    """
    return 100.0 * math.exp(-0.5 * (difference_mm / doubt_mm) ** 2)


def parse_designation(text: str) -> tuple[int, str, float] | None:
    """Read an ISO 9981 or ISO 9982 designation: ribs, profile, effective length in mm; ``None`` if it is none.

    >>> parse_designation("8 PK 1854")
    (8, 'PK', 1854.0)
    """
    match = _DESIGNATION.fullmatch(text)
    if match is None or not 1 <= int(match[1]) <= 40:
        return None
    return int(match[1]), match[2].upper(), float(match[3])
