"""A belt's lengths: effective, outside, pitch, inside, and a string laid in its place; what each way of measuring is worth.

The belt is followed along its effective line. For the ribbed PK profile that line lies at the groove's effective diameter
(ISO 9981); groove geometry is in :mod:`kb.mechanics.grooves`. Lengths are millimetres, wraps radians.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

PITCH_LINE_OVER_EFFECTIVE_MM = 2.0
"""b_e of PK, nominal: pitch length = effective length + 2 pi b_e (ISO 9981:2020 clause 5.4, from a public extract)."""

BELT_OVER_RIM_MM = 2.5
"""Effective line to a PK belt's back, where nobody has calipered it: common practice, no source."""

BELT_OVER_RIM_DOUBT_MM = 0.5
"""One standard deviation of :data:`BELT_OVER_RIM_MM` from belt to belt: common practice, no source."""

TAPE_DOUBT_MM = 2.5
"""One standard deviation of a tape laid once round a belt's back: common practice, no source."""

STRING_DOUBT_MM = 5.0
"""One standard deviation of a string or wire laid round the pulleys and marked: common practice, no source."""

FLAT_WRAP_MAX_RAD = 2 * math.pi
"""The most wrap that a drive's flat pulleys have in all, where nobody knows: common practice, no source."""

MOST_RIBS = 40
"""More ribs than this is no belt but a slip of the pen."""

_DESIGNATION = re.compile(r"\s*([0-9]{1,2})[\s.\-–]*(PH|PJ|PK|PL|PM)[\s.\-–]*([0-9]{3,5})\s*", re.IGNORECASE)
_V_DESIGNATION = re.compile(r"\s*(AV)[\s.\-–]*(10|13)[\s.\-–]*[x×][\s.\-–]*([0-9]{3,5})\s*(La)?\s*", re.IGNORECASE)


class BeltLengthError(ValueError):
    """A length, thickness or rib count that no belt can have, or a way of measuring that nobody knows."""


@dataclass(frozen=True, slots=True)
class WayOfMeasuring:
    """One way to measure a belt, its default doubt as effective length (one sd), and where that figure comes from."""

    name: str
    doubt_mm: float
    says: str
    source: str = "common practice, no source"


@dataclass(frozen=True, slots=True)
class LengthTolerance:
    """One step of a standard's length tolerance: plus or minus ``tolerance_mm`` for lengths over and up to."""

    over_mm: float
    up_to_mm: float
    tolerance_mm: float
    checked: bool
    source: str


WAYS: dict[str, WayOfMeasuring] = {
    "effective": WayOfMeasuring("effective", 2.0, "the length that the maker prints"),
    "outside": WayOfMeasuring(
        "outside",
        round(math.hypot(TAPE_DOUBT_MM, 2 * math.pi * BELT_OVER_RIM_DOUBT_MM), 1),
        "a tape round the belt's back",
    ),
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
    """Return the effective length of a belt whose back measures ``outside_mm`` round.

    For a V-belt ``belt_over_rim_mm`` is its ride-out, how far its back stands over the groove's effective width; it
    has no default worth having and is calipered.
    """
    return outside_mm - 2 * math.pi * belt_over_rim_mm


def pitch_from_effective(effective_mm: float, effective_to_pitch_mm: float = PITCH_LINE_OVER_EFFECTIVE_MM) -> float:
    """Return the pitch length, L_p = L_e + 2 pi b_e (ISO 9981); b_e is that of PK unless another is given.

    >>> round(pitch_from_effective(1854.0), 2)
    1866.57
    """
    return effective_mm + 2 * math.pi * effective_to_pitch_mm


def effective_from_pitch(pitch_mm: float, effective_to_pitch_mm: float = PITCH_LINE_OVER_EFFECTIVE_MM) -> float:
    """Return the effective length of a belt whose cord line is ``pitch_mm`` long."""
    return pitch_mm - 2 * math.pi * effective_to_pitch_mm


def outside_from_inside(inside_mm: float, thickness_mm: float) -> float:
    """Return the outside length of a belt of that thickness: L_a = L_i + 2 pi h. Old V-belt sizes were inside lengths.

    >>> round(outside_from_inside(1000.0, 8.0), 1)
    1050.3
    """
    return inside_mm + 2 * math.pi * thickness_mm


def effective_from_string(
    string_mm: float, thickness_mm: float, flat_wrap_rad: float = 0.0, belt_over_rim_mm: float = BELT_OVER_RIM_MM
) -> float:
    """Return the effective length for a string of that thickness laid round a drive that turns once in all.

    A string's middle lies t/2 over a grooved pulley's effective line and t/2 over a flat pulley's face, where the belt's
    effective line lies ``belt_over_rim_mm`` over it: L_e = L_string + F (belt_over_rim - t/2) - G t/2. Flat pulleys turn
    the belt the other way, so that the grooved wraps G sum to 2 pi more than the flat wraps F.

    >>> round(effective_from_string(1860.0, 2.0), 2), round(effective_from_string(1860.0, 2.0, flat_wrap_rad=3.0), 2)
    (1853.72, 1855.22)
    """
    grooved_wrap_rad = 2 * math.pi + flat_wrap_rad
    return string_mm + flat_wrap_rad * (belt_over_rim_mm - thickness_mm / 2) - grooved_wrap_rad * thickness_mm / 2


def effective_length(
    measured_mm: float,
    measured: str,
    string_thickness_mm: float | None = None,
    *,
    flat_wrap_rad: float | None = None,
    belt_over_rim_mm: float = BELT_OVER_RIM_MM,
) -> float:
    """Return the effective length for a length measured in one of the :data:`WAYS`.

    ``flat_wrap_rad``, what a string had of wrap on flat pulleys in all, counts as none where it is not known;
    :func:`doubt_mm` then carries it. Raises :class:`BeltLengthError` for another way, a string without its thickness, or
    a length or thickness that cannot be.
    """
    if not (math.isfinite(measured_mm) and measured_mm > 0):
        raise BeltLengthError(f"a belt's length is more than nothing, not {measured_mm:g} mm")
    if measured == "effective":
        return measured_mm
    if measured == "outside":
        return effective_from_outside(measured_mm, belt_over_rim_mm)
    if measured == "pitch":
        return effective_from_pitch(measured_mm)
    if measured == "string":
        thickness = _thickness(string_thickness_mm)
        return effective_from_string(measured_mm, thickness, flat_wrap_rad or 0.0, belt_over_rim_mm)
    raise BeltLengthError(f"no way of measuring is called {measured!r}; known: {', '.join(WAYS)}")


def doubt_mm(
    measured: str,
    string_thickness_mm: float | None = None,
    *,
    flat_wrap_rad: float | None = None,
    belt_over_rim_mm: float = BELT_OVER_RIM_MM,
    belt_over_rim_doubt_mm: float = BELT_OVER_RIM_DOUBT_MM,
) -> float:
    """Return one standard deviation of the effective length that :func:`effective_length` gives.

    A tape's own doubt and that of the belt's height over its rim are independent. For a string of which the flat wraps are
    not known, L_e may lie anywhere up to F (belt_over_rim - t) away, F anything up to :data:`FLAT_WRAP_MAX_RAD`: the root
    mean square of that is added. Raises :class:`BeltLengthError` for a way that is not known or a thickness that cannot be.

    >>> round(doubt_mm("string", 1.0), 1), round(doubt_mm("string", 1.0, flat_wrap_rad=2.0), 1)
    (7.6, 5.1)
    """
    if measured not in WAYS:
        raise BeltLengthError(f"no way of measuring is called {measured!r}; known: {', '.join(WAYS)}")
    if measured == "outside":
        return math.hypot(TAPE_DOUBT_MM, 2 * math.pi * belt_over_rim_doubt_mm)
    if measured != "string":
        return WAYS[measured].doubt_mm
    thickness = _thickness(string_thickness_mm)
    if flat_wrap_rad is not None:
        return math.hypot(STRING_DOUBT_MM, flat_wrap_rad * belt_over_rim_doubt_mm)
    away = math.hypot(belt_over_rim_mm - thickness, belt_over_rim_doubt_mm)
    return math.hypot(STRING_DOUBT_MM, FLAT_WRAP_MAX_RAD * away / math.sqrt(3))


def _thickness(string_thickness_mm: float | None) -> float:
    if string_thickness_mm is None:
        raise BeltLengthError("a string's thickness is needed")
    if not 0.0 < string_thickness_mm <= 20.0:
        raise BeltLengthError(f"a string or wire is up to 20 mm thick, not {string_thickness_mm:g} mm")
    return string_thickness_mm


def tolerance_for(effective_mm: float, steps: Sequence[LengthTolerance]) -> LengthTolerance | None:
    """Return the step of a length tolerance that holds for a length, ``None`` where the steps do not reach it.

    >>> steps = [LengthTolerance(0, 1000, 5, False, "ISO 9981"), LengthTolerance(1000, 1200, 6, False, "ISO 9981")]
    >>> tolerance_for(1000.0, steps).tolerance_mm, tolerance_for(1854.0, steps)
    (5, None)
    """
    return next((step for step in steps if step.over_mm < effective_mm <= step.up_to_mm), None)


def window_mm(measured: str, tolerance_mm: float = 0.0, doubt: float | None = None) -> float:
    """Return how far off a belt may be and still be the one measured: two standard deviations.

    The belt's own tolerance, plus or minus ``tolerance_mm``, counts as two of its own and is added as independent; with
    none given only the measuring counts. ``doubt`` takes the place of that way's default.

    >>> window_mm("effective"), round(window_mm("effective", 9.0), 1)
    (4.0, 9.8)
    """
    if measured not in WAYS:
        raise BeltLengthError(f"no way of measuring is called {measured!r}; known: {', '.join(WAYS)}")
    own = WAYS[measured].doubt_mm if doubt is None else doubt
    return 2.0 * math.hypot(own, tolerance_mm / 2)


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
    if match is None or not 1 <= int(match[1]) <= MOST_RIBS:
        return None
    return int(match[1]), match[2].upper(), float(match[3])


def format_designation(ribs: int, profile: str, effective_length_mm: float) -> str:
    """Write a designation as ISO 9981 does, without spaces, the effective length to the nearest millimetre.

    Raises :class:`BeltLengthError` for ribs, a profile or a length that no designation can hold.

    >>> format_designation(8, "PK", 1854.0)
    '8PK1854'
    """
    text = f"{ribs}{profile.upper()}{effective_length_mm:.0f}"
    if parse_designation(text) is None:
        raise BeltLengthError(f"{ribs} ribs, {profile!r}, {effective_length_mm:g} mm make no designation")
    return text


def parse_v_designation(text: str) -> tuple[str, float, str] | None:
    """Read an ISO 2790 designation of a V-belt: profile, length in mm, and the way that length is meant.

    A length marked La is an outside length (form of the designation from memory). ``None`` if the text is none.

    >>> parse_v_designation("AV10 x 1000"), parse_v_designation("av13x1250 La")
    (('AV10', 1000.0, 'effective'), ('AV13', 1250.0, 'outside'))
    """
    match = _V_DESIGNATION.fullmatch(text)
    if match is None:
        return None
    return f"AV{match[2]}", float(match[3]), "outside" if match[4] else "effective"
