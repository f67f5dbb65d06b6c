"""A hose's or line's route in space: corners rounded to one radius, its length, and the clock angle between its ends.

A route is the corners of its centre line in mm, the first and last the reference points of its ends. Each corner is
replaced by an arc of ``radius_mm`` (to the centre line) that touches both legs ``radius tan(turn / 2)`` from the corner,
so that the centre line is the legs less ``2 radius tan(turn / 2) - radius turn`` at each corner (plane geometry).

The clock angle is that of a hose that lies without twist: a direction square to the hose is carried along it by parallel
transport, which on an arc is the turn about the arc's own axis (R. L. Bishop, "There is more than one way to frame a
curve", American Mathematical Monthly 82, 1975).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from kb.mechanics.space import (
    Vector,
    across,
    angle_between_rad,
    carried,
    cross,
    dot,
    length,
    minus,
    plus,
    times,
    turned,
    unit,
)

STRAIGHT_RAD = 1e-6
"""A corner that turns less is a point on a straight leg."""
FLATTEST_MM = 0.01
"""How far a chord may stand off its arc where a route is followed in small steps."""


class RouteError(ValueError):
    """A route that cannot be followed."""


@dataclass(frozen=True, slots=True)
class Bend:
    """One corner of a route: which point it is (0 the near end), how far it turns, and whether the hose can.

    ``tangent_mm`` is how much of each of its legs the arc takes; ``largest_radius_mm`` the largest centre-line radius
    for which this bend and its neighbours, all of that radius, have the legs they need.
    """

    point: int
    at: Vector
    turn_rad: float
    radius_mm: float
    tangent_mm: float
    largest_radius_mm: float
    possible: bool
    twist_rad: float | None
    """From the plane of the bend before to this one's, clockwise to one who looks along the route, 0 to 2 pi."""


@dataclass(frozen=True, slots=True)
class Leg:
    """From one corner to the next: its length, and how much of it is left straight between the arcs and fittings."""

    start: int
    length_mm: float
    straight_mm: float


@dataclass(frozen=True, slots=True)
class Route:
    """A rounded route; ``possible`` is false where a leg is too short for what it must hold."""

    points: tuple[Vector, ...]
    radius_mm: float
    legs: tuple[Leg, ...]
    bends: tuple[Bend, ...]

    @property
    def possible(self) -> bool:
        """Whether every bend has the legs it needs."""
        return all(leg.straight_mm >= -1e-9 for leg in self.legs)

    @property
    def length_mm(self) -> float:
        """The developed length: along the centre line, from reference point to reference point."""
        saved = math.fsum(2 * bend.tangent_mm - bend.radius_mm * bend.turn_rad for bend in self.bends)
        return math.fsum(leg.length_mm for leg in self.legs) - saved


def directions(points: Sequence[Vector]) -> list[Vector]:
    """Return the unit direction of each leg; :class:`RouteError` for fewer than two points, or two in one place."""
    if len(points) < 2:
        raise RouteError(f"a route has two points or more, and here {'is one' if points else 'are none'}")
    found = []
    for place, (start, end) in enumerate(pairwise(points), 1):
        try:
            found.append(unit(minus(end, start)))
        except ValueError:
            raise RouteError(f"points {place} and {place + 1} of the route are in one place") from None
    return found


def rounded(points: Sequence[Vector], radius_mm: float, near_rigid_mm: float = 0.0, far_rigid_mm: float = 0.0) -> Route:
    """Round the corners of a route to a centre-line radius.

    ``near_rigid_mm`` and ``far_rigid_mm`` are what the end fittings take of the first and last leg and cannot bend.
    Raises :class:`RouteError` for a route with one point, points in one place, or a leg that doubles back on the last.

    >>> route = rounded([(0, 0, 0), (185, 0, 0), (185, 205, 0)], 125)
    >>> round(route.length_mm, 4)  # 60 and 80 straight, a quarter turn of 125 between
    336.3495
    """
    along = directions(points)
    turns = [angle_between_rad(before, after) for before, after in pairwise(along)]
    for place, turn in enumerate(turns, 2):
        if turn > math.pi - STRAIGHT_RAD:
            raise RouteError(
                f"at point {place} the route turns back on itself, 180 degrees in one corner: a U is two corners of 90 "
                "degrees with a leg between"
            )
    tangents = [0.0, *(math.tan(turn / 2) if turn > STRAIGHT_RAD else 0.0 for turn in turns), 0.0]
    rigid = [0.0] * len(along)
    rigid[0] += near_rigid_mm
    rigid[-1] += far_rigid_mm
    lengths = [length(minus(end, start)) for start, end in pairwise(points)]
    legs = tuple(
        Leg(place, size, size - rigid[place] - radius_mm * (tangents[place] + tangents[place + 1]))
        for place, size in enumerate(lengths)
    )
    largest = [
        (size - rigid[place]) / (tangents[place] + tangents[place + 1])
        if tangents[place] + tangents[place + 1]
        else math.inf
        for place, size in enumerate(lengths)
    ]
    bends: list[Bend] = []
    last_axis: Vector | None = None
    for place, turn in enumerate(turns, 1):
        if turn <= STRAIGHT_RAD:
            continue
        axis = unit(cross(along[place - 1], along[place]))
        bends.append(
            Bend(
                place, points[place], turn, radius_mm, radius_mm * tangents[place],
                max(min(largest[place - 1], largest[place]), 0.0),
                min(legs[place - 1].straight_mm, legs[place].straight_mm) >= -1e-9,
                None if last_axis is None else signed_angle_rad(last_axis, axis, along[place - 1]),
            )
        )  # fmt: skip
        last_axis = axis
    return Route(tuple(points), radius_mm, legs, tuple(bends))


def signed_angle_rad(start: Vector, end: Vector, axis: Vector) -> float:
    """Return how far ``end`` is turned from ``start``, clockwise to one who looks along the unit axis, 0 to 2 pi.

    Only the parts square to the axis count. Raises :class:`RouteError` where one of them has none.

    >>> round(math.degrees(signed_angle_rad((1, 0, 0), (0, -1, 0), (0, 0, -1))), 6)
    90.0
    """
    first, second = across(start, axis), across(end, axis)
    if min(length(first), length(second)) < 1e-9 * max(1.0, length(start), length(end)):
        raise RouteError("a direction along the hose has no clock angle")
    angle = math.atan2(dot(axis, cross(first, second)), dot(first, second)) % math.tau
    return 0.0 if math.tau - angle < 1e-9 else angle


def carried_along(direction: Vector, points: Sequence[Vector]) -> Vector:
    """Carry a direction at the near end along the route without twist; return it at the far end."""
    along = directions(points)
    for before, after in pairwise(along):
        direction = carried(direction, before, after)
    return direction


def clock_angle_rad(points: Sequence[Vector], near_faces: Vector, far_faces: Vector) -> float:
    """Return the clock angle of an untwisted hose: from the near elbow to the far one, clockwise, looking near to far.

    ``near_faces`` and ``far_faces`` are where the elbows' seats point. The same number is read from the other end.
    Raises :class:`RouteError` where an elbow points along its hose.

    >>> straight = [(0, 0, 0), (0, 0, 500)]  # forward, along z; x is to the right of one who looks back along it
    >>> round(math.degrees(clock_angle_rad(straight, (0, 1, 0), (-1, 0, 0))), 6)
    90.0
    """
    along = directions(points)
    start = across(near_faces, along[0])
    return signed_angle_rad(carried_along(start, points), far_faces, along[-1])


def followed(route: Route, flattest_mm: float = FLATTEST_MM) -> list[Vector]:
    """Return the rounded centre line as a chain of points, each chord at most ``flattest_mm`` off its arc.

    Where a bend is not possible, its corner is left sharp.
    """
    along = directions(route.points)
    chain = [route.points[0]]
    for bend in route.bends:
        before, after = along[bend.point - 1], along[bend.point]
        if not bend.possible:
            chain.append(bend.at)
            continue
        start = minus(bend.at, times(before, bend.tangent_mm))
        axis = unit(cross(before, after))
        to_start = times(cross(before, axis), bend.radius_mm)
        centre = minus(start, to_start)
        step = 2 * math.acos(max(1 - flattest_mm / bend.radius_mm, 0.0)) if bend.radius_mm > 0 else math.pi
        steps = max(math.ceil(bend.turn_rad / step), 1)
        chain += [plus(centre, turned(to_start, axis, bend.turn_rad * n / steps)) for n in range(steps + 1)]
    chain.append(route.points[-1])
    return chain
