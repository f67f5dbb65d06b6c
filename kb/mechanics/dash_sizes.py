"""Dash sizes: a number of sixteenths of an inch, of what depends on the hose or fitting.

Of a fitting or tube it is the tube's outside diameter. Of general hose (SAE J517) it is the inside diameter. Of hose sized by
its tube, refrigerant hose among it, it is the outside diameter of the tube that the hose replaces: the bore is smaller and
stands in a table.
"""

from __future__ import annotations

import math

SIXTEENTH_MM = 25.4 / 16


class DashError(ValueError):
    """A text that is no dash size, or a size that cannot be."""


def dash_number(text: str) -> int:
    """Return the number of a dash size written ``-8``, ``8`` or ``#8``; raises :class:`DashError` for another text.

    >>> dash_number("-10"), dash_number(" #6 "), dash_number("12")
    (10, 6, 12)
    """
    bare = text.strip().lstrip("#").lstrip("-–−").strip()
    if not (bare.isascii() and bare.isdigit() and 1 <= int(bare) <= 64):
        raise DashError(f"{text!r} is no dash size: -2 to -64, such as -8 for eight sixteenths of an inch")
    return int(bare)


def dash_mm(dash: int) -> float:
    """Return that many sixteenths of an inch: a tube's outside diameter, or the inside diameter of general hose.

    >>> dash_mm(8)
    12.7
    """
    if not 1 <= dash <= 64:
        raise DashError(f"no dash size is -{dash}")
    return dash * SIXTEENTH_MM


def nearest_dash(diameter_mm: float) -> tuple[int, float]:
    """Return the dash size nearest to a diameter, and how much larger the diameter is than it.

    >>> nearest_dash(12.5)[0], round(nearest_dash(12.5)[1], 2)
    (8, -0.2)
    """
    if not (math.isfinite(diameter_mm) and SIXTEENTH_MM / 2 < diameter_mm < 64.5 * SIXTEENTH_MM):
        raise DashError(f"no dash size is near {diameter_mm:g} mm: they run from 1.6 to 101.6 mm")
    dash = min(64, max(1, round(diameter_mm / SIXTEENTH_MM)))
    return dash, diameter_mm - dash_mm(dash)
