"""Which thread a caliper and a pitch gauge have seen: how likely each one is.

Worn crests make a male thread read up to 0.12 mm small and a female one up to 0.12 mm large (common practice, no source).
A 1:16 taper reads by where the caliper sat: 0.31 mm for every 5 mm along it (ISO 7-1, ASME B1.20.1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

WEAR_MM = 0.12
CALIPER_DOUBT_MM = 0.08
TAPER_READS_MM = 0.75
"""How far along a 1:16 taper's diameter a caliper may sit: 12 mm of thread times 1/16."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was measured: diameter and pitch in mm, the seat's angle in degrees, ``taper`` ``None`` where not known."""

    diameter_mm: float
    inside: bool = False
    pitch_mm: float | None = None
    seat_deg: float | None = None
    taper: bool | None = None
    doubt_mm: float = CALIPER_DOUBT_MM


def diameter_likelihood(nominal_mm: float, seen: Seen, taper: bool) -> float:
    """Return the likelihood of a reading, relative to the best possible one.

    The reading is normal about a diameter that is anywhere in the band that wear, and on a taper the place of the caliper,
    allow.

    >>> round(diameter_likelihood(22.225, Seen(22.17), False), 2)
    1.0
    """
    band = WEAR_MM + (TAPER_READS_MM if taper else 0.0)
    low, high = (nominal_mm, nominal_mm + band) if seen.inside else (nominal_mm - band, nominal_mm)
    if taper and seen.inside:
        low, high = nominal_mm - TAPER_READS_MM, nominal_mm + band

    def area(a: float, b: float, x: float) -> float:
        scale = seen.doubt_mm * math.sqrt(2)
        return 0.5 * (math.erf((b - x) / scale) - math.erf((a - x) / scale))

    return area(low, high, seen.diameter_mm) / area(low, high, (low + high) / 2)


def pitch_likelihood(pitch_mm: float, seen_mm: float | None) -> float:
    """Return how likely a pitch gauge's leaf was taken for this pitch: never quite nothing, since neighbours look alike.

    >>> pitch_likelihood(25.4 / 14, 25.4 / 14)
    1.0
    """
    if seen_mm is None:
        return 1.0
    off = abs(pitch_mm - seen_mm) / pitch_mm
    if off < 0.008:
        return 1.0
    return 0.08 if off < 0.035 else 0.01 if off < 0.08 else 1e-5


def seat_likelihood(half_deg: float | None, included_deg: float | None, seen_deg: float | None) -> float:
    """Return how likely a seat gauge read so; people say 37 (the half angle) as well as 74 (the whole cone)."""
    if seen_deg is None:
        return 1.0
    if half_deg is None or included_deg is None:
        return 0.15
    off = min(abs(half_deg - seen_deg), abs(included_deg - seen_deg))
    return math.exp(-0.5 * (off / 2.0) ** 2) + 0.01


def taper_likelihood(is_taper: bool, seen: bool | None) -> float:
    """Return how likely a look along a straightedge said so: short threads hide a taper one time in thirty."""
    return 1.0 if seen is None or is_taper == seen else 0.03
