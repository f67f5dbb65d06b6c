"""Bolt circles from what a caliper can reach, and whether two patterns go on each other.

Formula: the chord between two of n evenly spaced holes, k places apart, is D sin(k 180/n) (Machinery's Handbook, length of
chords for spacing off the circumference).
"""

from __future__ import annotations

import math
from dataclasses import dataclass


class BoltCircleError(ValueError):
    """Holes that cannot be."""


@dataclass(frozen=True, slots=True)
class HoleSet:
    """Evenly spaced holes: how many, the diameter of their circle and, where known, of each hole, mm."""

    count: int
    circle_mm: float
    hole_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Match:
    """Whether one set goes on another: ``used`` bolts line up, each off by ``radial_mm`` when both are centred.

    ``turned_deg``: the finest step by which the part can be turned and go on again.
    """

    fits: bool
    used: int
    radial_mm: float
    turned_deg: float
    why: str


def chord_mm(count: int, circle_mm: float, places: int = 1) -> float:
    """Centre to centre of two holes ``places`` apart.

    >>> round(chord_mm(5, 4.5), 6)
    2.645034
    """
    _check(count, circle_mm, "a bolt circle")
    if not 1 <= places <= count - 1:
        raise BoltCircleError(f"of {count} holes none is {places} places from another")
    return circle_mm * math.sin(math.pi * places / count)


def circle_from_adjacent_mm(count: int, adjacent_mm: float) -> float:
    """Bolt circle from the centres of two holes beside each other. Raises :class:`BoltCircleError`.

    >>> round(circle_from_adjacent_mm(6, 4.375), 6)
    8.75
    """
    _check(count, adjacent_mm, "the spacing of holes")
    return adjacent_mm / math.sin(math.pi / count)


def circle_from_across_mm(count: int, across_mm: float) -> float:
    """Bolt circle from a hole to the one farthest across: straight opposite of an even number, one of the two of an odd one.

    >>> round(circle_from_across_mm(5, 120.0), 4)
    126.1755
    """
    _check(count, across_mm, "the distance across")
    return across_mm / math.sin(math.pi * (count // 2) / count)


def doubt_factor(count: int, places: int) -> float:
    """By how much a caliper's doubt grows on the way from a chord to the circle.

    >>> round(doubt_factor(8, 1), 2), doubt_factor(8, 4)
    (2.61, 1.0)
    """
    return 1 / math.sin(math.pi * places / count)


def match(carrier: HoleSet, part: HoleSet, within_mm: float) -> Match:
    """Whether ``part`` goes on ``carrier`` (a hub) with all its holes, or every second or third one of the hub's.

    A part whose count divides the hub's uses each of its own holes; one whose count is a multiple leaves some empty. Both
    centred, every bolt is off by half the difference of the circles; ``within_mm`` is what is allowed for that.
    Raises :class:`BoltCircleError`.
    """
    _check(carrier.count, carrier.circle_mm, "the first bolt circle")
    _check(part.count, part.circle_mm, "the second bolt circle")
    used = math.gcd(carrier.count, part.count)
    radial = abs(carrier.circle_mm - part.circle_mm) / 2
    turned = 360 / math.lcm(carrier.count, part.count)
    if used != min(carrier.count, part.count):
        lined = "only one hole lines up at a time" if used == 1 else f"only {used} holes line up at a time"
        return Match(False, used, radial, turned, f"{part.count} holes on {carrier.count}: {lined}")
    if radial > within_mm:
        why = f"the circles differ: each hole is {radial:.2f} mm off, {within_mm:.2f} mm is allowed"
        return Match(False, used, radial, turned, why)
    if used < part.count:
        why = f"{used} of the part's {part.count} holes are used"
    elif used < carrier.count:
        why = f"all {used} holes are used, on {used} of the hub's {carrier.count}"
    else:
        why = f"all {used} holes line up"
    return Match(True, used, radial, turned, why)


def allowed_offset_mm(hole_mm: float, bolt_mm: float) -> float:
    """How far a bolt may stand off its hole's centre before it binds: half the clearance.

    >>> allowed_offset_mm(11.0, 10.0)
    0.5
    """
    if not hole_mm > bolt_mm > 0:
        raise BoltCircleError(f"a bolt of {bolt_mm:g} mm does not go through a hole of {hole_mm:g} mm")
    return (hole_mm - bolt_mm) / 2


@dataclass(frozen=True, slots=True)
class Stack:
    """What bolts or studs clamp, mm: ``grip_mm`` between hub and nut or head, ``overhang_mm`` by how far the part stands
    farther out, ``beyond_mm`` what is left of a stud beyond its nut, or ``engaged_mm`` of a bolt in the hub's thread."""

    grip_mm: float
    overhang_mm: float
    beyond_mm: float | None
    engaged_mm: float | None


def stack(
    flange_mm: float, adapter_mm: float = 0.0, washer_mm: float = 0.0, nut_mm: float = 0.0,
    stud_mm: float | None = None, bolt_mm: float | None = None,
) -> Stack:  # fmt: skip
    """Add up what is clamped: a part's flange on an adapter, under a washer.

    ``stud_mm`` is how far a stud stands out of the hub, ``bolt_mm`` a bolt's length under its head. Raises
    :class:`BoltCircleError` for a flange of nothing or any thickness below nothing.

    >>> stack(8.0, 25.0, 2.0, 8.0, stud_mm=46.0)
    Stack(grip_mm=33.0, overhang_mm=25.0, beyond_mm=3.0, engaged_mm=None)
    >>> stack(8.0, 25.0, 2.0, bolt_mm=50.0).engaged_mm
    15.0
    """
    if not flange_mm > 0 or min(adapter_mm, washer_mm, nut_mm) < 0:
        raise BoltCircleError(
            "a flange must have some thickness, and an adapter, washer or nut cannot have less than none"
        )
    grip = flange_mm + adapter_mm
    beyond = None if stud_mm is None else stud_mm - grip - washer_mm - nut_mm
    engaged = None if bolt_mm is None else bolt_mm - grip - washer_mm
    return Stack(grip, adapter_mm, beyond, engaged)


def _check(count: int, length_mm: float, what: str) -> None:
    if count < 2:
        raise BoltCircleError(f"{count} holes make no circle: two or more do")
    if not (math.isfinite(length_mm) and length_mm > 0):
        raise BoltCircleError(f"{what} must be more than nothing, not {length_mm:g} mm")
