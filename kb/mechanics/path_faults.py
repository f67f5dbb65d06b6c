"""What is wrong with a belt path, in words: pulleys that overlap, orders no belt can follow, spans through a pulley."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kb.mechanics.path import BlockedError, OrderError, OverlapError, PathError, Pulley, Route, Span

TOUCHING_MM = 1e-6
"""Pulleys and belts that only touch are not yet in each other's way."""
TANGENT_RAD = 1e-9


def overlaps(pulleys: Sequence[Pulley], about: int | None = None) -> list[PathError]:
    """Return an error for every two pulleys that take up the same room, the worst first.

    ``about`` keeps to the pairs with the pulley of that place.
    """
    found: list[tuple[float, PathError]] = []
    for place, one in enumerate(pulleys):
        for later, other in enumerate(pulleys[place + 1 :], place + 1):
            if about is not None and about not in (place, later):
                continue
            apart = math.hypot(other.x_mm - one.x_mm, other.y_mm - one.y_mm)
            over = one.reach_mm + other.reach_mm - apart
            if over > TOUCHING_MM:
                said = f"{one.name} and {other.name} overlap by {over:.1f} mm: their centres are {apart:.1f} mm apart."
                found.append((-over, OverlapError(said, (one.name, other.name))))
    return [error for _, error in sorted(found, key=lambda pair: pair[0])]


def route_faults(route: Route, about: int | None = None) -> list[PathError]:
    """Return what keeps a belt from lying along a route; empty where nothing does.

    A path that meets every pulley, runs through none and does not cross itself turns once (the turning number of a
    simple closed curve), so nothing else need be asked. ``about`` keeps to what the pulley of that place has to do
    with: its own contact and its neighbours', its two spans, and itself in the way of the others.
    """
    count = len(route.pulleys)
    near = set(range(count)) if about is None else {(about - 1) % count, about, (about + 1) % count}
    own_spans = set(range(count)) if about is None else {(about - 1) % count, about}
    return [
        *_missed(route, near),
        *_blocked(route, about, own_spans),
        *_crossed(route, own_spans),
        *([] if about is not None or abs(route.turns) == 1 else [_turned(route)]),
    ]


def _missed(route: Route, near: set[int]) -> list[PathError]:
    names = [one.name for one in route.pulleys]
    found: list[PathError] = []
    for place in sorted(near):
        wrap = route.wraps_rad[place]
        if wrap < -TANGENT_RAD:
            before, after = names[place - 1], names[(place + 1) % len(names)]
            said = (
                f"The belt from {before} to {after} passes {names[place]} without touching it, by "
                f"{-math.degrees(wrap):.1f} degrees: check the order and which side of the belt runs there."
            )
            found.append(OrderError(said, (before, names[place], after)))
    return found


def _blocked(route: Route, about: int | None, own_spans: set[int]) -> list[PathError]:
    found: list[PathError] = []
    count = len(route.pulleys)
    for place, span in enumerate(route.spans):
        ends = (place, (place + 1) % count)
        for other, pulley in enumerate(route.pulleys):
            if other in ends or (about is not None and place not in own_spans and other != about):
                continue
            into = pulley.reach_mm - point_to_span_mm((pulley.x_mm, pulley.y_mm), span)
            if into > TOUCHING_MM:
                one, two = (route.pulleys[end].name for end in ends)
                said = f"The belt from {one} to {two} would run through {pulley.name} ({into:.1f} mm deep)."
                found.append(BlockedError(said, (one, two, pulley.name)))
    return found


def _crossed(route: Route, own_spans: set[int]) -> list[PathError]:
    found: list[PathError] = []
    count = len(route.pulleys)
    for place in range(count):
        for later in range(place + 1, count):
            if not (place in own_spans or later in own_spans):
                continue
            if spans_cross(route.spans[place], route.spans[later]):
                ends = [route.pulleys[at % count].name for at in (place, place + 1, later, later + 1)]
                said = (
                    f"The belt from {ends[0]} to {ends[1]} would cross the belt from {ends[2]} to {ends[3]}: "
                    "check the order and which side of the belt runs on each."
                )
                found.append(OrderError(said, tuple(dict.fromkeys(ends))))
    return found


def _turned(route: Route) -> PathError:
    most = max(range(len(route.pulleys)), key=lambda place: route.wraps_rad[place])
    before, after = route.pulleys[most - 1].name, route.pulleys[(most + 1) % len(route.pulleys)].name
    name = route.pulleys[most].name
    wrap_deg = math.degrees(route.wraps_rad[most])
    return OrderError(
        f"Between {before} and {after} the belt would have to wind {wrap_deg:.0f} degrees round {name}, and "
        f"{abs(route.turns)} times round in all instead of once: check the order.",
        (before, name, after),
    )


def point_to_span_mm(point: tuple[float, float], span: Span) -> float:
    """Return the distance from a point to a straight run of belt."""
    along_x, along_y = span.unit
    dx, dy = point[0] - span.leaves[0], point[1] - span.leaves[1]
    along = min(max(dx * along_x + dy * along_y, 0.0), span.length_mm)
    return math.hypot(dx - along * along_x, dy - along * along_y)


def spans_cross(one: Span, other: Span) -> bool:
    """Tell whether two straight runs of belt cross; touching at an end is not crossing."""

    def side(span: Span, point: tuple[float, float]) -> float:
        along_x, along_y = span.unit
        return along_x * (point[1] - span.leaves[1]) - along_y * (point[0] - span.leaves[0])

    return all(
        side(first, second.leaves) * side(first, second.arrives) < 0.0
        and min(abs(side(first, second.leaves)), abs(side(first, second.arrives))) > TOUCHING_MM
        for first, second in ((one, other), (other, one))
    )


def span_to_span_mm(one: Span, other: Span) -> float:
    """Return the distance between two straight runs of belt, 0 where they cross."""
    if spans_cross(one, other):
        return 0.0
    return min(
        point_to_span_mm(one.leaves, other),
        point_to_span_mm(one.arrives, other),
        point_to_span_mm(other.leaves, one),
        point_to_span_mm(other.arrives, one),
    )
