"""What to look at twice in a belt path that can be: near misses, small wraps, pulleys too small for their belt."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from kb.mechanics.path import Route
from kb.mechanics.path_faults import point_to_span_mm, span_to_span_mm


@dataclass(frozen=True, slots=True)
class WrapLimit:
    """The wrap that what a pulley drives asks for, and how that is known."""

    least_rad: float
    applies_to: str
    source: str


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to look at: ``kind`` is span near pulley, spans near, pulleys near, small wrap or small pulley.

    ``value`` and ``limit`` are mm, or radians for a wrap.
    """

    kind: str
    pulleys: tuple[str, ...]
    value: float
    limit: float
    source: str = ""

    def words(self, length: Callable[[float], str] = "{:.1f} mm".format) -> str:
        """Say it; ``length`` turns millimetres into what people are to see."""
        names, source = self.pulleys, f" ({self.source})" if self.source else ""
        if self.kind == "small wrap":
            wrap_deg, least_deg = math.degrees(self.value), math.degrees(self.limit)
            return f"{names[0]}: wrap {wrap_deg:.0f} degrees, less than {least_deg:.0f}{source}."
        if self.kind == "small pulley":
            return f"{names[0]}: effective diameter {length(self.value)}, less than {length(self.limit)}{source}."
        where = {
            "span near pulley": "The belt from {} to {} passes {} at {}",
            "spans near": "The belt from {} to {} passes the belt from {} to {} at {}",
            "pulleys near": "Between {} and {}, where the belt runs, there are {}",
        }[self.kind].format(*names, length(self.value))
        return f"{where}; the belt is {length(self.limit)} thick."


def path_cautions(
    route: Route,
    *,
    belt_thickness_mm: float | None = None,
    wrap_limits: Mapping[str, WrapLimit] | None = None,
    least_effective_diameter_mm: float | None = None,
    diameter_source: str = "",
) -> list[Caution]:
    """Return what to look at twice in a route, in the order of the belt.

    ``belt_thickness_mm`` is the room the belt takes; ``wrap_limits`` holds, by pulley name, the wrap that what it
    drives asks for; ``least_effective_diameter_mm`` is the smallest grooved pulley of the belt's profile. What is left
    out is not asked.
    """
    found: list[Caution] = []
    if belt_thickness_mm is not None:
        found += _near_pulleys(route, belt_thickness_mm)
        found += _near_spans(route, belt_thickness_mm)
        found += _near_neighbours(route, belt_thickness_mm)
    for one, wrap in zip(route.pulleys, route.wraps_rad, strict=True):
        limit = (wrap_limits or {}).get(one.name)
        if limit is not None and wrap < limit.least_rad:
            said = "; ".join(part for part in (limit.applies_to, limit.source) if part)
            found.append(Caution("small wrap", (one.name,), wrap, limit.least_rad, said))
        least = least_effective_diameter_mm
        if least is not None and not one.flat and 2 * one.radius_mm < least:
            found.append(Caution("small pulley", (one.name,), 2 * one.radius_mm, least, diameter_source))
    return found


def _near_pulleys(route: Route, thickness_mm: float) -> list[Caution]:
    count = len(route.pulleys)
    found = []
    for place, span in enumerate(route.spans):
        ends = (place, (place + 1) % count)
        for other, pulley in enumerate(route.pulleys):
            if other in ends:
                continue
            gap = max(point_to_span_mm((pulley.x_mm, pulley.y_mm), span) - pulley.reach_mm, 0.0)
            if gap < thickness_mm:
                names = (route.pulleys[ends[0]].name, route.pulleys[ends[1]].name, pulley.name)
                found.append(Caution("span near pulley", names, gap, thickness_mm))
    return found


def _near_spans(route: Route, thickness_mm: float) -> list[Caution]:
    """Find spans that run close by; two that meet at a pulley only where they run together beyond it."""
    count = len(route.pulleys)
    found = []
    for place in range(count):
        for later in range(place + 1, count):
            shared = [at for at in (later, place) if at in (place + 1, (later + 1) % count)]
            if any(route.wraps_rad[at] <= math.pi for at in shared):
                continue
            gap = span_to_span_mm(route.spans[place], route.spans[later])
            if gap < thickness_mm:
                names = tuple(route.pulleys[at % count].name for at in (place, place + 1, later, later + 1))
                found.append(Caution("spans near", names, gap, thickness_mm))
    return found


def _near_neighbours(route: Route, thickness_mm: float) -> list[Caution]:
    """Find pulleys with less room between them than the belt that lies on one of them, there, is thick."""
    found = []
    for place, one in enumerate(route.pulleys):
        for later, other in enumerate(route.pulleys[place + 1 :], place + 1):
            towards = math.atan2(other.y_mm - one.y_mm, other.x_mm - one.x_mm)
            apart = math.hypot(other.x_mm - one.x_mm, other.y_mm - one.y_mm)
            gap = max(apart - one.reach_mm - other.reach_mm, 0.0)
            there = _on_arc(route, place, towards) or _on_arc(route, later, towards + math.pi)
            if gap < thickness_mm and there:
                found.append(Caution("pulleys near", (one.name, other.name), gap, thickness_mm))
    return found


def _on_arc(route: Route, place: int, direction_rad: float) -> bool:
    sense = route.senses[place]
    begins = route.spans[place - 1].direction_rad - sense * math.pi / 2
    return sense * (direction_rad - begins) % (2 * math.pi) <= route.wraps_rad[place]
