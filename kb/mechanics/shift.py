"""A belt that does not reach, or that is too long: how far a pulley must go, and how short a belt is that shows a gap.

A move is exact: the place where the whole path has the wanted length, not the first-order answer (which is the length
missing over the gradient along the move, and about right for a few millimetres).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from kb.mechanics.path import PathError, Pulley, follow
from kb.mechanics.path_faults import overlaps, route_faults
from kb.mechanics.roots import find_root
from kb.mechanics.slots import Slot, shifted
from kb.mechanics.tensioner import Drive

STEP_MM = 1.0
FARTHEST_MM = 300.0
"""No bracket is moved farther than this: beyond it the answer is another layout."""
ENOUGH_MM = 1e-9


class ShiftError(ValueError):
    """A move that cannot bring the wanted length, with how far it gets."""


@dataclass(frozen=True)
class Move:
    """One pulley moved, or an arm's pivot; ``move_mm`` below zero is against ``along_rad``."""

    pulley: str
    along_rad: float
    move_mm: float
    dx_mm: float
    dy_mm: float
    route_mm: float
    """The route's length after the move, with the arm where it was asked for."""
    in_slot: bool
    after: Drive


def steepest_rad(drive: Drive, place: int, arm_rad: float | None, shorter: bool) -> float:
    """Return the direction in which moving that pulley shortens, or lengthens, the route most."""
    along_x, along_y = drive.route_at(arm_rad).centre_gradients[place]
    if math.hypot(along_x, along_y) < 1e-9:
        raise ShiftError(
            f"Moving {drive.fixed[place].name} changes the length in no direction: the belt hardly bends there."
        )
    return math.atan2(-along_y, -along_x) if shorter else math.atan2(along_y, along_x)


def find_move(
    drive: Drive,
    place: int,
    wanted_mm: float,
    arm_rad: float | None = None,
    *,
    along_rad: float | None = None,
    slot: Slot | None = None,
) -> Move:
    """Find the smallest move of one pulley that makes the route ``wanted_mm`` long with the arm at ``arm_rad``.

    The wanted length is the belt's less the slack it is to have at the slack stop; or, for a belt too long, the belt's
    own with the arm at the far end of its window. The pulley moves in its ``slot``, else both ways along ``along_rad``,
    else along its steepest line. Raises :class:`ShiftError` with how far it gets.

    >>> pair = Drive((Pulley("crank", 0, 0, 50), Pulley("pump", 300, 0, 50)))
    >>> move = find_move(pair, 1, pair.length_at_mm() - 10.0)  # both spans shrink by what the pump comes nearer
    >>> round(move.move_mm, 6), round(move.dx_mm, 6)
    (5.0, -5.0)
    """
    missing = drive.length_at_mm(arm_rad) - wanted_mm
    ways: tuple[int, ...]
    if slot is not None:
        direction, ways, farthest = slot.direction_rad, (1,), slot.travel_mm or FARTHEST_MM
    elif along_rad is not None:
        direction, ways, farthest = along_rad, (1, -1), FARTHEST_MM
    else:
        direction, ways, farthest = steepest_rad(drive, place, arm_rad, missing > 0.0), (1,), FARTHEST_MM
    line = _Line(drive, place, wanted_mm, arm_rad, math.cos(direction), math.sin(direction))
    by = 0.0 if abs(missing) <= ENOUGH_MM else _first_crossing(line, missing, ways, farthest)
    dx, dy = by * line.along_x, by * line.along_y
    after = shifted(drive, place, dx, dy)
    return Move(
        drive.fixed[place].name,
        direction,
        by,
        dx,
        dy,
        after.length_at_mm(arm_rad),
        in_slot=slot is not None,
        after=after,
    )


@dataclass(frozen=True, slots=True)
class _Line:
    """One pulley's way along a line, and what the route's length then is over the wanted one."""

    drive: Drive
    place: int
    wanted_mm: float
    arm_rad: float | None
    along_x: float
    along_y: float

    def over_mm(self, by_mm: float) -> float:
        moved = shifted(self.drive, self.place, by_mm * self.along_x, by_mm * self.along_y)
        return moved.length_at_mm(self.arm_rad) - self.wanted_mm

    def fault(self, by_mm: float) -> PathError | None:
        moved = shifted(self.drive, self.place, by_mm * self.along_x, by_mm * self.along_y)
        pulleys = moved.pulleys_at(self.arm_rad)
        if together := overlaps(pulleys, self.place):
            return together[0]
        try:
            faults = route_faults(follow(pulleys, moved.grooved_sense), self.place)
        except PathError as error:
            return error
        return faults[0] if faults else None


def _first_crossing(line: _Line, missing_mm: float, ways: Sequence[int], farthest_mm: float) -> float:
    """Walk outwards, all ways in step, until the wanted length lies between two places; then find it."""
    best, stopped = abs(missing_mm), dict[int, str]()
    here = 0.0
    while here < farthest_mm and len(stopped) < len(ways):
        before, here = here, min(here + STEP_MM, farthest_mm)
        for way in ways:
            if way in stopped:
                continue
            if (fault := line.fault(way * here)) is not None:
                stopped[way] = str(fault)
                # The last millimetre before the pulley is stopped may still hold the answer.
                here_way = _last_free(line, way * before, way * here)
            else:
                here_way = way * here
            over = line.over_mm(here_way)
            if over == 0.0 or (over > 0.0) != (missing_mm > 0.0):
                return find_root(line.over_mm, way * before, here_way)
            best = min(best, abs(over))
    raise ShiftError(_not_enough(line, missing_mm, best, stopped, here))


def _last_free(line: _Line, free_mm: float, stopped_mm: float) -> float:
    for _ in range(40):
        middle = (free_mm + stopped_mm) / 2
        free_mm, stopped_mm = (free_mm, middle) if line.fault(middle) else (middle, stopped_mm)
    return free_mm


def _not_enough(line: _Line, missing_mm: float, best_mm: float, stopped: dict[int, str], walked_mm: float) -> str:
    gained = abs(missing_mm) - best_mm
    name, way = line.drive.fixed[line.place].name, "shorter" if missing_mm > 0 else "longer"
    why = (
        f" Then: {' '.join(dict.fromkeys(stopped.values()))}"
        if stopped
        else f" It was followed for {walked_mm:.0f} mm."
    )
    return f"Moving {name} that way makes the route at most {gained:.1f} mm {way}; {abs(missing_mm):.1f} mm are wanted.{why}"


def ways_out(
    drive: Drive, wanted_mm: float, arm_rad: float | None, slots: dict[int, Slot], keep: Sequence[int]
) -> list[Move]:
    """Return every single move that brings the wanted length, least trouble first: in slots, then by how far it goes.

    Pulleys without a slot go along their steepest line, and need a bracket changed; ``keep`` are places that stay, such as
    the driver's. Moves that cannot be are left out.
    """
    found = []
    for place in range(len(drive.fixed)):
        if place in keep:
            continue
        for slot in (slots.get(place), None):
            with suppress(ShiftError, PathError):
                found.append(find_move(drive, place, wanted_mm, arm_rad, slot=slot))
                break
    return sorted(found, key=lambda move: (not move.in_slot, abs(move.move_mm)))


def with_radius(pulley: Pulley, radius_mm: float) -> Pulley:
    """Return the pulley with another effective radius, its own edge as far from the belt's line as before."""
    body = None if pulley.body_radius_mm is None else pulley.body_radius_mm + radius_mm - pulley.radius_mm
    return replace(pulley, radius_mm=radius_mm, body_radius_mm=body)


def shortfall_from_gap_mm(gap_mm: float, wrap_rad: float) -> float:
    """Return how much too short a belt is that lies on its own true radius with a gap to its pulley: 2 g sin(wrap / 2).

    First order: moving a pulley along the middle of its wrap changes both spans by the cosine of the same angle.

    >>> round(shortfall_from_gap_mm(5.0, math.pi), 3)
    10.0
    """
    if gap_mm < 0.0:
        raise ValueError(f"A gap of {gap_mm:g} mm is no gap.")
    return 2.0 * gap_mm * math.sin(min(wrap_rad, math.pi) / 2.0)


def shortfall_seen_mm(
    drive: Drive, place: int, gap_mm: float, arm_rad: float | None = None, *, to_a_point: bool
) -> float:
    """Return how much too short a belt is that is held up to its pulley and leaves a gap, by the whole path.

    The gap is measured along the middle of the wrap. ``to_a_point``: the belt was pulled to a point there; otherwise it lay
    on its own true radius, which :func:`shortfall_from_gap_mm` gives to first order.
    """
    if gap_mm < 0.0:
        raise ValueError(f"A gap of {gap_mm:g} mm is no gap.")
    pulleys = list(drive.pulleys_at(arm_rad))
    one = pulleys[place]
    away = steepest_rad(drive, place, arm_rad, shorter=False)
    by = one.radius_mm - gap_mm if to_a_point else -gap_mm
    held = one.at(one.x_mm + by * math.cos(away), one.y_mm + by * math.sin(away))
    pulleys[place] = replace(held, radius_mm=1e-9, body_radius_mm=None) if to_a_point else held
    return drive.length_at_mm(arm_rad) - follow(pulleys, drive.grooved_sense).length_mm


def sixteenths_up_mm(mm: float) -> float:
    """Return a move made up to the next sixteenth of an inch, away from zero.

    >>> round(sixteenths_up_mm(5.0), 4)  # 1/4 in is 6.35 mm, 3/16 in only 4.7625
    6.35
    """
    return math.copysign(math.ceil(abs(mm) * 16 / 25.4 - 1e-9) * 25.4 / 16, mm)
