"""How close a route passes to a point or a straight piece of something."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from kb.mechanics.space import Vector, cross, dot, length, minus, plus, times


def point_to_piece_mm(point: Vector, start: Vector, end: Vector) -> float:
    """Return the distance from a point to a straight piece; a piece without length is a point."""
    along = minus(end, start)
    size = dot(along, along)
    share = min(max(dot(minus(point, start), along) / size, 0.0), 1.0) if size else 0.0
    return length(minus(point, plus(start, times(along, share))))


def piece_to_piece_mm(a: Vector, b: Vector, c: Vector, d: Vector) -> float:
    """Return the distance between the straight pieces a-b and c-d.

    Either one of the four ends is nearest, or the common perpendicular of the two lines meets both pieces.

    >>> piece_to_piece_mm((0, 0, 0), (10, 0, 0), (5, -5, 3), (5, 5, 3))
    3.0
    """
    nearest = min(
        point_to_piece_mm(a, c, d), point_to_piece_mm(b, c, d), point_to_piece_mm(c, a, b), point_to_piece_mm(d, a, b)
    )
    first, second, between = minus(b, a), minus(d, c), minus(c, a)
    normal = cross(first, second)
    square = dot(normal, normal)
    if square <= 1e-18 * dot(first, first) * dot(second, second):
        return nearest
    on_first = dot(cross(between, second), normal) / square
    on_second = dot(cross(between, first), normal) / square
    if 0 <= on_first <= 1 and 0 <= on_second <= 1:
        return min(nearest, abs(dot(between, normal)) / math.sqrt(square))
    return nearest


def chain_to_piece_mm(chain: Sequence[Vector], start: Vector, end: Vector) -> float:
    """Return the distance between a chain of points, such as a followed route, and a straight piece."""
    return min(piece_to_piece_mm(a, b, start, end) for a, b in pairwise(chain))
