"""Vectors in space: x to the right, y up, z forward, lengths in mm."""

from __future__ import annotations

import math

Vector = tuple[float, float, float]


def plus(a: Vector, b: Vector) -> Vector:
    """Return a + b."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def minus(a: Vector, b: Vector) -> Vector:
    """Return a - b."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def times(a: Vector, factor: float) -> Vector:
    """Return a, so many times as long."""
    return (a[0] * factor, a[1] * factor, a[2] * factor)


def dot(a: Vector, b: Vector) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Return the vector product.

    >>> cross((1, 0, 0), (0, 1, 0))
    (0, 0, 1)
    """
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def length(a: Vector) -> float:
    """Return how long it is."""
    return math.hypot(*a)


def unit(a: Vector) -> Vector:
    """Return the direction; ``ValueError`` for no length at all."""
    size = length(a)
    if not size > 0:
        raise ValueError("a vector without length has no direction")
    return times(a, 1 / size)


def angle_between_rad(a: Vector, b: Vector) -> float:
    """Return the angle between two directions, 0 to pi; accurate near both ends, unlike an arc cosine."""
    return math.atan2(length(cross(a, b)), dot(a, b))


def across(a: Vector, axis: Vector) -> Vector:
    """Return the part of a that is square to the axis, a unit vector."""
    return minus(a, times(axis, dot(a, axis)))


def turned(a: Vector, axis: Vector, angle_rad: float) -> Vector:
    """Return a turned about a unit axis, right-handed: clockwise to one who looks along the axis (Rodrigues).

    >>> [round(x, 9) for x in turned((0, 1, 0), (0, 0, 1), math.pi / 2)]
    [-1.0, 0.0, 0.0]
    """
    cosine, sine = math.cos(angle_rad), math.sin(angle_rad)
    along = times(axis, dot(axis, a) * (1 - cosine))
    return plus(plus(times(a, cosine), times(cross(axis, a), sine)), along)


def carried(a: Vector, before: Vector, after: Vector) -> Vector:
    """Return a, carried round a bend from one unit direction to another without twist.

    It is the turn about the bend's own axis; directions that are exactly opposite have none: ``ValueError``.

    >>> carried((0, 1, 0), (1, 0, 0), (0, 1, 0))
    (-1.0, 0.0, 0.0)
    """
    cosine = dot(before, after)
    if cosine <= -1 + 1e-12:
        raise ValueError("a route that doubles back has no plane to turn in")
    axis = cross(before, after)
    along = times(axis, dot(axis, a) / (1 + cosine))
    return plus(plus(times(a, cosine), cross(axis, a)), along)
