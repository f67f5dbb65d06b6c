"""The belt's path round its pulleys: tangent lines between circles that turn one way or the other.

The pulleys stand in belt order, seen from the front, x to the right and y up. The belt is followed along its effective
line, in the order of the list. A pulley's *sense* is +1 where it turns anticlockwise as the belt runs so, -1 where
clockwise; grooved pulleys turn one way, flat ones, on which the belt's back runs, the other.

      leaving span at angle phi, unit vector u; N is u turned a quarter turn clockwise
      point of contact = centre + sense radius N
      span i -> j:  phi = delta + asin((rho_i - rho_j) / D),   length = sqrt(D^2 - (rho_i - rho_j)^2)
      with rho = sense radius, and D, delta the distance and direction from centre i to centre j

For two pulleys these are the open-belt and crossed-belt formulas of Machinery's Handbook (belt drives).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

TURN = 2.0 * math.pi
MISSED_RAD = math.radians(15.0)
"""A wrap within this much below a whole turn is a belt that passes its pulley by, not one that nearly circles it."""


class PathError(ValueError):
    """A belt path that cannot be; ``pulleys`` names those it is about."""

    def __init__(self, what: str, pulleys: tuple[str, ...] = ()) -> None:
        super().__init__(what)
        self.pulleys = pulleys


class OverlapError(PathError):
    """Two pulleys, or a pulley and the belt on another, take up the same room."""


class OrderError(PathError):
    """No belt can follow the pulleys in this order, on these faces."""


class BlockedError(PathError):
    """A span runs through a pulley that is not at its ends."""


@dataclass(frozen=True, slots=True)
class Pulley:
    """A circle that the belt's effective line runs on; ``flat`` where the belt's back does. Millimetres."""

    name: str
    x_mm: float
    y_mm: float
    radius_mm: float
    flat: bool = False
    body_radius_mm: float | None = None
    """How far the pulley itself reaches; ``None`` for as far as the line on it."""

    @property
    def reach_mm(self) -> float:
        """How far the pulley itself reaches from its centre."""
        return self.radius_mm if self.body_radius_mm is None else self.body_radius_mm

    def at(self, x_mm: float, y_mm: float) -> Pulley:
        """Return the same pulley with its centre elsewhere."""
        return Pulley(self.name, x_mm, y_mm, self.radius_mm, self.flat, self.body_radius_mm)


@dataclass(frozen=True, slots=True)
class Span:
    """A straight run of belt, from the pulley where it leaves to the one where it arrives; points in mm."""

    leaves: tuple[float, float]
    arrives: tuple[float, float]
    length_mm: float
    direction_rad: float

    @property
    def unit(self) -> tuple[float, float]:
        """The direction of travel as a unit vector."""
        return math.cos(self.direction_rad), math.sin(self.direction_rad)


@dataclass(frozen=True)
class Route:
    """A path: ``spans[i]`` leads from pulley i to the next; ``wraps_rad`` below zero say that the belt passes it by."""

    pulleys: tuple[Pulley, ...]
    grooved_sense: int
    """+1 where the grooved pulleys turn anticlockwise when the belt runs in the order of the list, else -1."""
    spans: tuple[Span, ...]
    wraps_rad: tuple[float, ...]

    @cached_property
    def length_mm(self) -> float:
        """The length of the belt's effective line."""
        return sum(span.length_mm for span in self.spans) + sum(
            one.radius_mm * wrap for one, wrap in zip(self.pulleys, self.wraps_rad, strict=True)
        )

    @property
    def senses(self) -> tuple[int, ...]:
        """The sense of each pulley: +1 anticlockwise, -1 clockwise, the belt running in the order of the list."""
        return tuple(-self.grooved_sense if one.flat else self.grooved_sense for one in self.pulleys)

    @property
    def turns(self) -> int:
        """How often the belt turns round on its way, anticlockwise counted up: +1 or -1 for a path that can be."""
        return round(sum(sense * wrap for sense, wrap in zip(self.senses, self.wraps_rad, strict=True)) / TURN)

    @property
    def centre_gradients(self) -> tuple[tuple[float, float], ...]:
        """What moving each centre by 1 mm along x and y adds to the length.

        That is the direction of the arriving span less that of the leaving one: a stretched string pulls its pulley
        with the sum of its two ends (virtual work).
        """
        units = [span.unit for span in self.spans]
        return tuple(
            (units[place - 1][0] - units[place][0], units[place - 1][1] - units[place][1])
            for place in range(len(units))
        )

    @property
    def radius_gradients(self) -> tuple[float, ...]:
        """What adding 1 mm to each radius adds to the length: its wrap (the spans' ends move along the spans)."""
        return self.wraps_rad


def follow(pulleys: Sequence[Pulley], grooved_sense: int) -> Route:
    """Follow the belt round the pulleys in their order, whether or not a belt could lie so.

    ``grooved_sense`` is +1 for grooved pulleys that turn anticlockwise in that order, -1 for clockwise. Raises
    :class:`OverlapError` where two neighbours leave no room for a tangent.

    >>> two = [Pulley("crank", 0, 0, 95), Pulley("pump", 310, 0, 32.5)]
    >>> round(follow(two, +1).length_mm, 3)  # Machinery's Handbook, open belt
    1033.197
    """
    spans = tuple(_span(one, pulleys[(place + 1) % len(pulleys)], grooved_sense) for place, one in enumerate(pulleys))
    wraps = tuple(
        _wrap(_sense(one, grooved_sense) * (spans[place].direction_rad - spans[place - 1].direction_rad))
        for place, one in enumerate(pulleys)
    )
    return Route(tuple(pulleys), grooved_sense, spans, wraps)


def _sense(pulley: Pulley, grooved_sense: int) -> int:
    return -grooved_sense if pulley.flat else grooved_sense


def _wrap(turned_rad: float) -> float:
    return (turned_rad + MISSED_RAD) % TURN - MISSED_RAD


def _span(one: Pulley, other: Pulley, grooved_sense: int) -> Span:
    rho_one = _sense(one, grooved_sense) * one.radius_mm
    rho_other = _sense(other, grooved_sense) * other.radius_mm
    dx, dy = other.x_mm - one.x_mm, other.y_mm - one.y_mm
    difference = rho_one - rho_other
    squared = dx * dx + dy * dy - difference * difference
    if squared <= 0.0:
        short = abs(difference) - math.hypot(dx, dy)
        raise OverlapError(
            f"{one.name} and {other.name} leave no room for the belt between them ({short:.1f} mm short).",
            (one.name, other.name),
        )
    length = math.sqrt(squared)
    direction = math.atan2(dy, dx) + math.atan2(difference, length)
    cosine, sine = math.cos(direction), math.sin(direction)
    return Span(
        (one.x_mm + rho_one * sine, one.y_mm - rho_one * cosine),
        (other.x_mm + rho_other * sine, other.y_mm - rho_other * cosine),
        length,
        direction,
    )


def path_length_mm(pulleys: Sequence[Pulley], grooved_sense: int) -> float:
    """Return the length of :func:`follow`'s path and nothing else, for those who ask it often."""
    total = 0.0
    one = pulleys[-1]
    rho_one = _sense(one, grooved_sense) * one.radius_mm
    arriving = first = None
    for other in pulleys:
        rho = -grooved_sense * other.radius_mm if other.flat else grooved_sense * other.radius_mm
        dx, dy, difference = other.x_mm - one.x_mm, other.y_mm - one.y_mm, rho_one - rho
        squared = dx * dx + dy * dy - difference * difference
        if squared <= 0.0:
            _span(one, other, grooved_sense)  # raises, in words
        length = math.sqrt(squared)
        direction = math.atan2(dy, dx) + math.atan2(difference, length)
        if arriving is None:
            first = direction
        else:
            total += one.radius_mm * _wrap((direction - arriving) * (1 if rho_one > 0 else -1))
        total += length
        arriving, one, rho_one = direction, other, rho
    assert first is not None
    assert arriving is not None
    return total + one.radius_mm * _wrap((first - arriving) * (1 if rho_one > 0 else -1))


def find_route(pulleys: Sequence[Pulley]) -> Route:
    """Follow the belt in the direction in which it can lie; refuse, in words, what no belt can follow.

    Of the two directions that the order could mean, the one whose path turns once without crossing itself; if both do,
    the shorter. The list may stand either way round, and begin anywhere. Raises :class:`OverlapError`,
    :class:`OrderError` or :class:`BlockedError`, about the direction with the fewest faults.

    >>> three = [Pulley("crank", 0, 0, 90), Pulley("pump", 320, 120, 32.5), Pulley("alternator", 60, 330, 70)]
    >>> route = find_route(three)
    >>> round(route.length_mm, 2), [round(math.degrees(wrap), 2) for wrap in route.wraps_rad]
    (1422.07, [133.97, 104.39, 121.65])
    """
    from kb.mechanics.path_faults import overlaps, route_faults  # it needs the classes above

    _check(pulleys)
    if together := overlaps(pulleys):
        raise together[0]
    candidates: list[tuple[int, float, Route | None, PathError | None]] = []
    for grooved_sense in (+1, -1):
        try:
            route = follow(pulleys, grooved_sense)
        except OverlapError as error:
            candidates.append((1_000, 0.0, None, error))
            continue
        faults = route_faults(route)
        candidates.append((len(faults), route.length_mm, route, faults[0] if faults else None))
    count, _, best, fault = min(candidates, key=lambda one: one[:2])
    if fault is not None:
        raise fault
    assert count == 0
    assert best is not None
    return best


def _check(pulleys: Sequence[Pulley]) -> None:
    if len(pulleys) < 2:
        raise PathError(f"A belt runs round two pulleys or more, not {len(pulleys)}.")
    for one in pulleys:
        if not all(map(math.isfinite, (one.x_mm, one.y_mm, one.radius_mm))):
            raise PathError(f"{one.name} has no place or no size.", (one.name,))
        if one.radius_mm <= 0.0:
            raise PathError(f"{one.name} has a radius of {one.radius_mm:g} mm.", (one.name,))
