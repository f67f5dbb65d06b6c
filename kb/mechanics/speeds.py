"""How fast and which way everything turns: one drive, and two side by side.

Speeds go with pitch diameters (effective diameter + 2 b_e on grooves; ISO 9981 clause 5.4), slip left out unless
given. A fan's power goes with the cube of its speed, its flow with the speed, its pressure with the square (the fan
laws, textbook). Fans and belts start without warning: engine off, key out, before a hand goes near.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


class SpeedError(ValueError):
    """Diameters or speeds that cannot be."""


@dataclass(frozen=True, slots=True)
class Turned:
    """One part as one drive turns it. ``ratio``: its turns per turn of the driver. ``with_driver``: same way round."""

    name: str
    ratio: float
    with_driver: bool = True
    by_belt_back: bool = False


@dataclass(frozen=True, slots=True)
class SpeedRow:
    """One part before and after, rpm at idle and at governed speed; None where it is in one drive only.

    ``change`` is after / before - 1 at governed speed; ``flagged`` where it is beyond the set share either way.
    """

    name: str
    idle_before_rpm: float | None
    idle_after_rpm: float | None
    governed_before_rpm: float | None
    governed_after_rpm: float | None
    change: float | None
    flagged: bool


@dataclass(frozen=True, slots=True)
class WrongWay:
    """A part that now turns against the way it must, and why."""

    name: str
    why: str


def speed_ratio(driver_pitch_diameter_mm: float, pitch_diameter_mm: float, slip: float = 0.0) -> float:
    """Turns of a pulley per turn of the driver: d_driver (1 - slip) / d. ``slip`` is a share, 0 to below 1.

    >>> speed_ratio(184.0, 64.0)
    2.875
    """
    _positive(driver_pitch_diameter_mm, "the driver's pitch diameter (mm)")
    _positive(pitch_diameter_mm, "the pitch diameter (mm)")
    if not 0 <= slip < 1:
        raise SpeedError(f"slip is a share from 0 to below 1, not {slip:g}")
    return driver_pitch_diameter_mm * (1 - slip) / pitch_diameter_mm


def compare_speeds(
    before: Sequence[Turned],
    after: Sequence[Turned],
    *,
    idle_rpm: tuple[float, float],
    governed_rpm: tuple[float, float],
    flag_share: float,
) -> list[SpeedRow]:
    """Set two drives side by side, part by part (matched by name), in the order of the first.

    ``idle_rpm`` and ``governed_rpm`` are the driver's, (before, after). ``flag_share``: changes beyond it, either way
    and at either speed, are flagged; 0.1 is ten per cent.
    """
    for value in (*idle_rpm, *governed_rpm):
        _positive(value, "an engine speed (rpm)")
    if not flag_share >= 0:
        raise SpeedError(f"the share beyond which a change is flagged cannot be {flag_share:g}")
    old, new = _by_name(before), _by_name(after)
    return [
        _row(name, old.get(name), new.get(name), idle_rpm, governed_rpm, flag_share)
        for name in dict.fromkeys([*old, *new])
    ]


def _by_name(parts: Sequence[Turned]) -> dict[str, Turned]:
    named = {part.name: part for part in parts}
    if len(named) != len(parts):
        raise SpeedError("two parts of one drive have the same name")
    for part in parts:
        _positive(part.ratio, f"the speed ratio of {part.name}")
    return named


def _row(
    name: str,
    old: Turned | None,
    new: Turned | None,
    idle_rpm: tuple[float, float],
    governed_rpm: tuple[float, float],
    flag_share: float,
) -> SpeedRow:
    speeds = [
        (old.ratio * rpm[0] if old else None, new.ratio * rpm[1] if new else None) for rpm in (idle_rpm, governed_rpm)
    ]
    changes = [now / then - 1 for then, now in speeds if then is not None and now is not None]
    flagged = any(abs(change) > flag_share for change in changes)
    (idle_then, idle_now), (then, now) = speeds
    return SpeedRow(name, idle_then, idle_now, then, now, changes[-1] if changes else None, flagged)


def wrong_way(
    after: Sequence[Turned],
    must_turn_clockwise: Mapping[str, bool],
    *,
    driver_clockwise: bool,
) -> list[WrongWay]:
    """Parts that turn against the way they must (seen from the front): those driven by the belt's back, or reversed.

    ``must_turn_clockwise``: for each part that minds, as its maker says or as the drive before turned it
    (:func:`turns_clockwise`). Fans, coolant pumps and oil pumps mind; idlers do not; many alternators do by their fan.
    """
    found = []
    for part in after:
        must = must_turn_clockwise.get(part.name)
        now = part.with_driver == driver_clockwise
        if must is None or now == must:
            continue
        way = "clockwise" if now else "anticlockwise"
        by_back = part.by_belt_back and not part.with_driver
        cause = "the belt's back drives it" if by_back else "the driver or the route is reversed"
        found.append(WrongWay(part.name, f"it now turns {way}, seen from the front: {cause}"))
    return found


def turns_clockwise(parts: Sequence[Turned], *, driver_clockwise: bool) -> dict[str, bool]:
    """Which way each part turns, seen from the front.

    >>> turns_clockwise([Turned("pump", 1.1), Turned("idler", 2.0, with_driver=False)], driver_clockwise=True)
    {'pump': True, 'idler': False}
    """
    return {part.name: part.with_driver == driver_clockwise for part in parts}


def fan_power_factor(rpm_before: float, rpm_after: float) -> float:
    """By how much a fan's power changes with its speed: (n2 / n1)^3 (fan laws: same fan, same air).

    >>> round(fan_power_factor(2000.0, 2200.0), 3)
    1.331
    """
    _positive(rpm_before, "the fan's speed before (rpm)")
    _positive(rpm_after, "the fan's speed after (rpm)")
    return (rpm_after / rpm_before) ** 3


def tip_speed_m_s(diameter_mm: float, rpm: float) -> float:
    """Speed of a fan's blade tips, or of a pulley's rim, m/s: pi D n (kinematics).

    >>> round(tip_speed_m_s(812.8, 2200.0), 2)
    93.63
    """
    _positive(diameter_mm, "the diameter (mm)")
    _positive(rpm, "the speed (rpm)")
    return math.pi * diameter_mm / 1000 * rpm / 60


def _positive(value: float, what: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise SpeedError(f"{what} must be more than nothing, not {value:g}")
