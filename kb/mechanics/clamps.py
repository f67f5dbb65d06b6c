"""Which clamps close on a diameter, and where in their travel they then stand; lengths in millimetres.

A clamp's band is given as the smallest and the largest diameter it closes on. Its travel is 0 wide open and 1 closed as far
as it goes: near 0 it hardly goes on and has little thread in the housing, near 1 nothing is left to tighten when the hose
has set.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

LAST_OF_TRAVEL = 0.1
"""The share of a clamp's travel at each end that is better not used: common practice, no source."""


class ClampError(ValueError):
    """A diameter or band that cannot be."""


@dataclass(frozen=True, slots=True)
class ClampBand:
    """One clamp size and what it closes on."""

    size: str
    smallest_mm: float
    largest_mm: float
    checked: bool = True
    source: str = ""


@dataclass(frozen=True, slots=True)
class ClampFit:
    """A clamp on a diameter: its travel (0 open, 1 closed), how far outside its band (0 inside), and a fit of 0 to 100."""

    band: ClampBand
    travel: float
    outside_mm: float
    fit: float

    @property
    def near_an_end(self) -> bool:
        """Whether it holds, but in the last of its travel at either end."""
        return self.outside_mm == 0 and not LAST_OF_TRAVEL <= self.travel <= 1 - LAST_OF_TRAVEL


def clamp_fit(band: ClampBand, around_mm: float) -> ClampFit:
    """Return how a clamp stands on a diameter: 100 in the middle of its travel, less towards its ends, 0 outside.

    In the last of its travel the fit is at most half of what it is elsewhere. Raises :class:`ClampError` for a diameter or
    band that cannot be.

    >>> one = clamp_fit(ClampBand("32", 39.6, 63.5), 51.55)
    >>> round(one.travel, 2), round(one.fit)
    (0.5, 100)
    """
    if not (math.isfinite(around_mm) and around_mm > 0):
        raise ClampError(f"a diameter is more than nothing, not {around_mm:g} mm")
    if not 0 <= band.smallest_mm < band.largest_mm:
        raise ClampError(f"size {band.size}: no clamp closes on {band.smallest_mm:g} to {band.largest_mm:g} mm")
    travel = (band.largest_mm - around_mm) / (band.largest_mm - band.smallest_mm)
    outside = max(band.smallest_mm - around_mm, around_mm - band.largest_mm, 0.0)
    from_middle = abs(2 * travel - 1)
    fit = 0.0 if outside > 0 else 100.0 - 50.0 * from_middle
    if outside == 0 and from_middle > 1 - 2 * LAST_OF_TRAVEL:
        fit /= 2
    return ClampFit(band, travel, outside, fit)
