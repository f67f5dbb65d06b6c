"""Moulded hoses: a shape of legs, bends and twists, where a wanted shape lies inside another, and where to cut.

A hose is followed along its middle: a leg from its end to the first bend's corner, legs from corner to corner, a leg from the
last corner to the other end. A bend is how far the hose turns, 0 for straight on. The twist between two bends is the
torsion angle of the leg between them: looking along the hose, how far the second bend is turned clockwise from the first; 0
where both turn the same way, a U, 180 where they turn opposite ways, a Z. It is the same from either end, and changes its
sign in a mirror: that tells a hose from its mirror image.

            leg 2      corner
    corner .---------------.     bends 90 and 90, twist 0
           |               |
     leg 1 |               | leg 3

With a bend rounded to a centre-line radius R the middle is shorter than its legs by R (2 tan(b / 2) - b), b in radians: the
two tangents less the arc. Lengths are millimetres; angles are degrees, since sheets and gauges give them so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

SHARPEST_DEG = 170.0
"""A bend beyond this has its corner too far out to be measured to: a return bend is listed as two bends."""

RADIUS_PER_BORE = 1.5
"""Centre-line radius of a moulded bend over the bore, where its length does not tell it: common practice, no source."""

Point = tuple[float, float, float]


class ShapeError(ValueError):
    """Legs, bends and twists that make no hose."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A hose's shape; ``legs_mm`` one more than ``bends_deg``, ``twists_deg`` one fewer; what is not known is ``None``.

    At least one of legs and bends is known. Raises :class:`ShapeError` where their numbers disagree or a bend cannot be.
    """

    legs_mm: tuple[float, ...] | None
    bends_deg: tuple[float, ...] | None
    twists_deg: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        if self.legs_mm is None and self.bends_deg is None:
            raise ShapeError("neither legs nor bends are known")
        if self.legs_mm is not None and len(self.legs_mm) != self.bend_count + 1:
            raise ShapeError(
                f"{self.bend_count} bends part a hose into {self.bend_count + 1} legs, not {len(self.legs_mm)}"
            )
        if self.twists_deg is not None and len(self.twists_deg) != max(self.bend_count - 1, 0):
            raise ShapeError(
                f"{self.bend_count} bends have {max(self.bend_count - 1, 0)} twists between them, not {len(self.twists_deg)}"
            )
        for bend in self.bends_deg or ():
            if not 0 < bend <= SHARPEST_DEG:
                raise ShapeError(
                    f"a bend turns by more than 0 and up to {SHARPEST_DEG:g} degrees, not {bend:g}: a return bend is two"
                )
        if any(leg <= 0 for leg in self.legs_mm or ()):
            raise ShapeError("a leg is longer than nothing")

    @property
    def bend_count(self) -> int:
        """How many bends it has."""
        return len(self.bends_deg) if self.bends_deg is not None else len(self.legs_mm or ()) - 1

    def turned(self) -> Shape:
        """Return the same hose from its other end: twists keep their sign."""
        legs, bends, twists = self.legs_mm, self.bends_deg, self.twists_deg
        return Shape(legs and legs[::-1], bends and bends[::-1], twists and twists[::-1])

    def mirrored(self) -> Shape:
        """Return its mirror image.

        >>> Shape((100, 100, 100), (90, 90), (90,)).mirrored().twists_deg
        (-90,)
        """
        return replace(self, twists_deg=self.twists_deg and tuple(-twist for twist in self.twists_deg))


def without_straight_bends(legs: Sequence[float], bends: Sequence[float], twists: Sequence[float] | None) -> Shape:
    """Return the shape of a sheet's lists: a bend of 0 is none, its legs are one, the twists beside it add up.

    Empty ``legs`` are not known; a hose without bends of unknown legs is no shape: ``ShapeError``.

    >>> without_straight_bends([400], [0], None)
    Shape(legs_mm=(400,), bends_deg=(), twists_deg=None)
    """
    known = list(legs)
    kept_bends, kept_twists = list(bends), None if twists is None else list(twists)
    for place in reversed(range(len(kept_bends))):
        if kept_bends[place] != 0:
            continue
        if kept_twists:
            beside = kept_twists[max(place - 1, 0) : place + 1]
            kept_twists[max(place - 1, 0) : place + 1] = [sum(beside)] if len(beside) > 1 else []
        if len(known) == len(kept_bends) + 1:
            known[place : place + 2] = [sum(known[place : place + 2])]
        del kept_bends[place]
    return Shape(tuple(known) or None, tuple(kept_bends), None if kept_twists is None else tuple(kept_twists))


def corner_saving(bend_deg: float) -> float:
    """Return what a bend saves of its legs, per mm of centre-line radius: 2 tan(b / 2) - b.

    >>> round(corner_saving(90), 4)
    0.4292
    """
    bend = math.radians(bend_deg)
    return 2 * math.tan(bend / 2) - bend


def tangent_mm(bend_deg: float, radius_mm: float) -> float:
    """Return how much of a leg a bend takes, from corner to where its arc begins: R tan(b / 2)."""
    return radius_mm * math.tan(math.radians(bend_deg) / 2)


def developed_length_mm(shape: Shape, radius_mm: float) -> float:
    """Return the length along the middle of a shape whose legs and bends are known, bends rounded to one radius."""
    assert shape.legs_mm is not None
    assert shape.bends_deg is not None
    return sum(shape.legs_mm) - radius_mm * sum(map(corner_saving, shape.bends_deg))


def bend_radius_mm(shape: Shape, length_mm: float | None) -> float | None:
    """Return the one centre-line radius that makes the legs so long along the middle; ``None`` where none does.

    None does where the length is the legs' own sum or more, or where the arcs would not fit into the legs.

    >>> round(bend_radius_mm(Shape((100.0, 180.0), (90.0,)), 265.0), 1)
    34.9
    """
    if shape.legs_mm is None or not shape.bends_deg or length_mm is None:
        return None
    radius = (sum(shape.legs_mm) - length_mm) / sum(map(corner_saving, shape.bends_deg))
    if radius <= 0:
        return None
    takes = [0.0, *(tangent_mm(bend, radius) for bend in shape.bends_deg), 0.0]
    fits = all(leg >= takes[place] + takes[place + 1] - 1e-9 for place, leg in enumerate(shape.legs_mm))
    return radius if fits else None


def corners(shape: Shape) -> tuple[Point, ...]:
    """Return the ends and corners in space: the first end at the origin, the first leg along x, the first bend toward y.

    Legs and bends are known; unknown twists count as 0.

    >>> [tuple(round(each) for each in point) for point in corners(Shape((1, 1, 1), (90, 90), (90,)))]
    [(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, 1)]
    """
    assert shape.legs_mm is not None
    assert shape.bends_deg is not None
    along, aside = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
    points = [(0.0, 0.0, 0.0)]
    for place, leg in enumerate(shape.legs_mm):
        points.append(_sum(points[-1], along, leg))
        if place < len(shape.bends_deg):
            if place > 0 and shape.twists_deg is not None:
                aside = _rotated(aside, along, math.radians(shape.twists_deg[place - 1]))
            bend = math.radians(shape.bends_deg[place])
            along, aside = (
                _blend(along, math.cos(bend), aside, math.sin(bend)),
                # Seen from beyond the bend, the way back to the side the hose came from.
                _blend(aside, math.cos(bend), along, -math.sin(bend)),
            )
    return tuple(points)


def _sum(point: Point, along: Point, by: float) -> Point:
    return (point[0] + by * along[0], point[1] + by * along[1], point[2] + by * along[2])


def _blend(one: Point, much: float, other: Point, more: float) -> Point:
    return _sum((much * one[0], much * one[1], much * one[2]), other, more)


def _rotated(vector: Point, axis: Point, angle_rad: float) -> Point:
    """Rotate a vector square to a unit axis, clockwise as seen along the axis (a right-handed turn)."""
    across = (
        axis[1] * vector[2] - axis[2] * vector[1],
        axis[2] * vector[0] - axis[0] * vector[2],
        axis[0] * vector[1] - axis[1] * vector[0],
    )
    return _blend(vector, math.cos(angle_rad), across, math.sin(angle_rad))


def angle_apart_deg(one: float, other: float) -> float:
    """Return how far two directions are apart, 0 to 180.

    >>> angle_apart_deg(170, -175)
    15
    """
    off = abs(one - other) % 360
    return min(off, 360 - off)


def far_end_off_mm(shape: Shape, wanted: Shape) -> float:
    """Return how far one shape's far end is from the other's, their near ends and first bends laid on each other."""
    return math.dist(corners(shape)[-1], corners(wanted)[-1])
