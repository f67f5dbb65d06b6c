"""Pulleys that move in slots: how slack and how tight a drive can be made with them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import product

from kb.mechanics.path import PathError, find_route
from kb.mechanics.tensioner import Drive

STEPS = 4
"""A slot's ends and three places between are tried: its middle can be the slackest where the path bends round it."""


@dataclass(frozen=True, slots=True)
class Slot:
    """The direction in which a pulley can be moved from where it stands, and how far; ``None`` where nobody said."""

    direction_rad: float
    travel_mm: float | None = None

    def moved(self, by_mm: float) -> tuple[float, float]:
        """Return how far along x and y a move along the slot goes."""
        return by_mm * math.cos(self.direction_rad), by_mm * math.sin(self.direction_rad)


def shifted(drive: Drive, place: int, dx_mm: float, dy_mm: float) -> Drive:
    """Return the drive with one centre, or the arm's pivot, moved."""
    one = drive.fixed[place]
    return drive.with_pulley(place, one.at(one.x_mm + dx_mm, one.y_mm + dy_mm))


def slot_reach(drive: Drive, slots: Mapping[int, Slot]) -> tuple[Drive, Drive] | None:
    """Return a drive without an arm at its slackest and at its tightest, its pulleys moved in their slots.

    ``slots`` are by the pulley's place; those without a travel do not count, and ``None`` means that none is left. Places
    that no belt can follow are passed over. Raises :class:`~kb.mechanics.path.PathError` where none can follow the drive as
    it stands.
    """
    travels = [(place, slot, slot.travel_mm) for place, slot in slots.items() if slot.travel_mm]
    if not travels:
        return None
    reached: list[tuple[float, Drive]] = []
    for shares in product([step / STEPS for step in range(STEPS + 1)], repeat=len(travels)):
        moved = drive
        for share, (place, slot, travel_mm) in zip(shares, travels, strict=True):
            moved = shifted(moved, place, *slot.moved(share * travel_mm))
        with suppress(PathError):
            reached.append((find_route(moved.fixed).length_mm, moved))
    return min(reached, key=lambda pair: pair[0])[1], max(reached, key=lambda pair: pair[0])[1]
