"""What a move does to the rest of the drive: wraps, spans, the room to its neighbours, the belts that fit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kb.mechanics.path import PathError, Pulley
from kb.mechanics.path_faults import overlaps, route_faults
from kb.mechanics.tensioner import ArmError, Drive, Window, find_window


@dataclass(frozen=True, slots=True)
class Change:
    """Something before and after: radians for a wrap, else mm."""

    name: str
    before: float
    after: float

    @property
    def by(self) -> float:
        """After less before."""
        return self.after - self.before


@dataclass(frozen=True)
class Effects:
    """What a move changes, the arm standing where it was asked for. ``refused`` says why a drive cannot be so.

    ``wraps`` are by pulley, ``spans`` by "from to to", ``rooms`` from the moved pulley's edge to every other's.
    ``window_before`` and ``window_after`` are the belts' windows, ``None`` without an arm or where it is of no use.
    """

    wraps: tuple[Change, ...]
    spans: tuple[Change, ...]
    rooms: tuple[Change, ...]
    window_before: Window | None
    window_after: Window | None
    refused: tuple[str, ...]


def effects(before: Drive, after: Drive, place: int, arm_rad: float | None = None) -> Effects:
    """Compare a drive before and after the pulley of that place was moved.

    >>> from kb.mechanics.shift import find_move
    >>> pair = Drive((Pulley("crank", 0, 0, 50), Pulley("pump", 300, 0, 50)))
    >>> found = effects(pair, find_move(pair, 1, pair.length_at_mm() - 10.0).after, 1)
    >>> [(one.name, round(one.by, 6)) for one in found.spans], [round(one.after, 6) for one in found.rooms]
    ([('crank to pump', -5.0), ('pump to crank', -5.0)], [195.0])
    """
    old, new = before.route_at(arm_rad), after.route_at(arm_rad)
    names = [one.name for one in old.pulleys]
    following = [*names[1:], names[0]]
    window_before, _ = _window(before)
    window_after, refused = _window(after)
    faults = [str(fault) for fault in (*overlaps(new.pulleys, place), *route_faults(new, place))]
    return Effects(
        wraps=tuple(map(Change, names, old.wraps_rad, new.wraps_rad)),
        spans=tuple(
            Change(f"{one} to {other}", was.length_mm, now.length_mm)
            for one, other, was, now in zip(names, following, old.spans, new.spans, strict=True)
        ),
        rooms=tuple(
            Change(other.name, _room_mm(old.pulleys[place], old.pulleys[at]), _room_mm(new.pulleys[place], other))
            for at, other in enumerate(new.pulleys)
            if at != place
        ),
        window_before=window_before,
        window_after=window_after,
        refused=tuple(dict.fromkeys([*faults, *refused])),
    )


def _room_mm(one: Pulley, other: Pulley) -> float:
    return math.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) - one.reach_mm - other.reach_mm


def _window(drive: Drive) -> tuple[Window | None, list[str]]:
    if drive.arm is None:
        return None, []
    try:
        return find_window(drive), []
    except (ArmError, PathError) as error:
        return None, [str(error)]
