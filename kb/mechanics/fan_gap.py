"""A round fan in a round ring: the gap all round when it sits off centre, and the shift that evens it.

Seen from the front, x right and y up, in mm; directions in degrees anticlockwise from x: 0 is right, 90 is up. The gap at a
direction is from a blade's tip pointing there straight to the nearest of the ring: R - |offset + r u|.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

DIRECTIONS: Mapping[str, float] = {"top": 90.0, "right": 0.0, "bottom": 270.0, "left": 180.0}
EVEN_WITHIN_MM = 0.05
"""Offsets below which there is no direction of the smallest gap worth telling."""


class FanGapError(ValueError):
    """A fan and a ring that cannot be."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """Gaps in mm at the four sides, the smallest and the largest, where the smallest is (``None`` where all are even)."""

    top: float
    right: float
    bottom: float
    left: float
    smallest: float
    largest: float
    at_deg: float | None
    ring_shift: tuple[float, float]


def gaps(ring_mm: float, fan_mm: float, offset: tuple[float, float] = (0.0, 0.0)) -> Gaps:
    """Gaps of a fan of diameter ``fan_mm`` in a ring of diameter ``ring_mm``; ``offset`` is the fan's centre from the ring's.

    A gap below nothing is how far a blade would cut into the ring. The shift that evens it moves the ring's centre onto
    the fan's. Raises :class:`FanGapError` for a fan that is no smaller than its ring.

    >>> found = gaps(800.0, 760.0, (0.0, 5.0))
    >>> found.top, found.bottom, found.smallest, found.at_deg, found.ring_shift
    (15.0, 25.0, 15.0, 90.0, (0.0, 5.0))
    """
    if not (fan_mm > 0 and math.isfinite(ring_mm)):
        raise FanGapError(f"a fan of {fan_mm:g} mm in a ring of {ring_mm:g} mm")
    if ring_mm <= fan_mm:
        raise FanGapError(f"a fan of {fan_mm:g} mm does not turn in a ring of {ring_mm:g} mm")
    x, y = offset
    off = math.hypot(x, y)
    even = (ring_mm - fan_mm) / 2
    top, right, bottom, left = (_gap_at(ring_mm / 2, fan_mm / 2, x, y, one) for one in DIRECTIONS.values())
    at = None if off < EVEN_WITHIN_MM else math.degrees(math.atan2(y, x)) % 360
    return Gaps(top, right, bottom, left, even - off, even + off, at, (x, y))


def _gap_at(ring_radius: float, fan_radius: float, x: float, y: float, direction_deg: float) -> float:
    direction = math.radians(direction_deg)
    return ring_radius - math.hypot(x + fan_radius * math.cos(direction), y + fan_radius * math.sin(direction))


@dataclass(frozen=True, slots=True)
class Placed:
    """A ring and an offset from four gaps; ``disagree_mm`` is how far across and up-and-down rings differ."""

    ring_mm: float
    offset: tuple[float, float]
    disagree_mm: float


def from_gaps(fan_mm: float, top: float, right: float, bottom: float, left: float) -> Placed:
    """Ring and offset from the gaps read at the four sides, from a tip to the nearest of the ring.

    From R - g = |offset + r u| at opposite sides: (R - g1)^2 - (R - g2)^2 = 4 r e along that axis, and their sum gives
    R^2 - R (g1 + g2) + ..., solved for R by fixed point; each axis gives an R, which are averaged. Two rings that differ
    mean a ring out of round or a reading that is wrong. Raises :class:`FanGapError`.

    >>> placed = from_gaps(760.0, 15.0, 19.967, 25.0, 19.967)
    >>> round(placed.ring_mm, 2), [round(one, 2) for one in placed.offset], round(placed.disagree_mm, 2)
    (800.0, [0.0, 5.0], 0.0)
    """
    if not fan_mm > 0 or min(top, right, bottom, left) < 0:
        raise FanGapError("a fan's diameter must be more than nothing, and a gap nothing or more")
    radius = fan_mm / 2
    x, y = 0.0, 0.0
    for _ in range(50):
        across = radius + (left + right) / 2 + _bow(radius, x, y)
        upright = radius + (top + bottom) / 2 + _bow(radius, y, x)
        ring = (across + upright) / 2
        x = (left - right) * (2 * ring - left - right) / (4 * radius)
        y = (bottom - top) * (2 * ring - top - bottom) / (4 * radius)
    return Placed(2 * ring, (x, y), 2 * abs(across - upright))


def _bow(radius: float, along: float, beside: float) -> float:
    """By how much the mean of two opposite tips' distances from the ring's centre exceeds the fan's radius."""
    return (math.hypot(radius + along, beside) + math.hypot(radius - along, beside)) / 2 - radius


def tip_speed_m_s(fan_mm: float, speed_rpm: float) -> float:
    """Speed of the blades' tips: pi D n.

    >>> round(tip_speed_m_s(812.8, 2200.0), 2)
    93.63
    """
    return math.pi * fan_mm / 1000 * speed_rpm / 60
