"""From what was taped to a route's points: straight runs and bends laid end to end, and points put in their order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations

from kb.mechanics.route import RouteError
from kb.mechanics.space import Vector, across, cross, length, minus, plus, times, turned, unit

MOST_IN_BETWEEN = 7
"""Points between the ends whose order is tried out: 5,040 ways."""


@dataclass(frozen=True, slots=True)
class Run:
    """A straight run, corner to corner, and how it leaves the one before.

    Either ``toward`` is the run's own direction, or it bends off the last run by ``bend_rad``: to the side of
    ``turning``, or ``twist_rad`` clockwise (looking along the last run) from the side to which the last bend went.
    """

    length_mm: float
    toward: Vector | None = None
    bend_rad: float | None = None
    turning: Vector | None = None
    twist_rad: float | None = None


def laid(runs: Sequence[Run], start: Vector = (0.0, 0.0, 0.0)) -> list[Vector]:
    """Lay runs end to end and return the corners, the first at ``start``.

    Raises :class:`~kb.mechanics.route.RouteError` where a run's direction cannot be told.

    >>> laid([Run(100, toward=(1, 0, 0)), Run(50, bend_rad=math.pi / 2, turning=(0, 1, 0))])[-1]
    (100.0, 50.0, 0.0)
    """
    points = [start]
    heading: Vector | None = None
    side: Vector | None = None  # to which the last bend went, square to the run it left
    for number, run in enumerate(runs, 1):
        last = heading
        heading = _heading(run, last, side, number)
        if last is not None and length(turn := across(heading, last)) > 1e-9:
            # Past the bend the same side is what the bend's own axis makes of it; straight on, it stays.
            side = unit(cross(unit(cross(last, turn)), heading))
        points.append(tuple(round(value, 9) for value in plus(points[-1], times(heading, run.length_mm))))  # type: ignore[arg-type] # three in, three out
    return points


def _heading(run: Run, last: Vector | None, side: Vector | None, number: int) -> Vector:
    if run.toward is not None:
        return unit(run.toward)
    if last is None:
        raise RouteError(f"run {number} is the first: say where it goes")
    if run.bend_rad is None:
        raise RouteError(f"run {number} says neither where it goes nor how it bends off the run before")
    if run.turning is not None:
        aside = across(run.turning, last)
        if length(aside) < 1e-9 * length(run.turning):
            raise RouteError(f"run {number} bends to a side that is along the run before: no such bend can be")
    elif run.twist_rad is not None and side is not None:
        aside = turned(side, last, run.twist_rad)
    else:
        raise RouteError(f"run {number} has no bend before it to count a twist from: say to which side it turns")
    return plus(times(last, math.cos(run.bend_rad)), times(unit(aside), math.sin(run.bend_rad)))


def in_order(points: Sequence[Vector], near: int, far: int) -> tuple[list[int], float]:
    """Put points that were taped in any order into the shortest chain from the near end's to the far end's.

    Returns the order as places in ``points``, and how many mm longer the next best chain is (infinite where there is
    none): a small lead means that the order should be given. Raises :class:`~kb.mechanics.route.RouteError` for more
    than nine points.

    >>> in_order([(0, 0, 0), (200, 100, 0), (100, 0, 0), (200, 0, 0)], 0, 1)[0]
    [0, 2, 3, 1]
    """
    between = [place for place in range(len(points)) if place not in (near, far)]
    if len(between) > MOST_IN_BETWEEN:
        raise RouteError(f"{len(points)} points have too many orders to try out: {MOST_IN_BETWEEN + 2} at most")
    apart = [[length(minus(a, b)) for b in points] for a in points]
    ways = sorted(
        (math.fsum(apart[a][b] for a, b in pairwise((near, *way, far))), way) for way in permutations(between)
    )
    lead = ways[1][0] - ways[0][0] if len(ways) > 1 else math.inf
    return [near, *ways[0][1], far], lead
