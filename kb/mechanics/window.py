"""Whether a belt fits a drive, under the doubts of what was measured; for every belt of a shelf in one pass.

A belt fits where its slack with the arm at the slack stop covers what the last pulley needs, and the arm then rests
between its working marks, or its stops where it has none. Where there is no tensioner but pulleys move in slots, the
slackest and the tightest of their places stand for the stops.

The route's length at each mark is taken as linear in everything that was measured, so that the three conditions are
normal quantities::

    belt - slack stop - need >= 0      belt - lower mark >= 0      upper mark - belt >= 0
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from kb.mechanics.arm_table import arm_table
from kb.mechanics.normal import Floats, both_below, normal_below
from kb.mechanics.path import Route
from kb.mechanics.tensioner import Drive, Window

CHANCE_POINTS = 513
MOST_POINTS = 8193
WIDEST = 7.0
"""Standard deviations beyond which a chance is 0 or 1 to more digits than anyone reads."""
BLOCK = 16_384
LEAST_MM = 1e-6
"""No measurement is more certain: keeps a sheet without any doubt from dividing by zero."""


@dataclass(frozen=True)
class DriveDoubts:
    """One standard deviation of everything that was measured of a drive; lengths in mm.

    ``centre_covariance_mm2`` is (2n, 2n), in the order x0, y0, x1, y1, …; for the pulley on the arm, of its pivot.
    ``belt_over_rim_mm`` is shared by all flat pulleys; ``angle_rad`` counts for each stop and mark on its own.
    """

    centre_covariance_mm2: Floats
    radius_mm: tuple[float, ...]
    belt_over_rim_mm: float = 0.0
    arm_length_mm: float = 0.0
    angle_rad: float = 0.0
    belt_mm: float = 0.0


def independent_centres(doubt_mm: float, count: int) -> Floats:
    """Return the covariance of ``count`` centres, each coordinate with the same doubt of its own, in mm2."""
    return np.eye(2 * count) * doubt_mm**2


@dataclass(frozen=True)
class Marks:
    """The route's length at the slack stop, at the lower and at the upper end of the window, with their covariance.

    ``middle_mm`` is what a belt is best off being; a mark that bounds nothing has its ``bounds_…`` false.
    """

    slack_mm: float
    low_mm: float
    high_mm: float
    covariance_mm2: Floats
    middle_mm: float
    bounds_low: bool = True
    bounds_high: bool = True
    slack_doubt_mm: float = field(init=False)
    """The doubt of the length at the slack stop, the belt's own left out."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "slack_doubt_mm", math.sqrt(max(float(self.covariance_mm2[0, 0]), 0.0)))


ANGLES = ("slack stop", "free stop", "work from", "work to")


def arm_marks(drive: Drive, window: Window, doubts: DriveDoubts) -> Marks:
    """Return the lengths at an arm's marks with their covariance, first order in everything measured.

    Moving a centre counts by the difference of its spans' directions, a radius by its wrap, the arm's length and angles
    through the same derivative (virtual work; tested against finite differences).
    """
    arm = drive.arm
    assert arm is not None
    low_named = "slack stop" if arm.work_from_rad is None else "work from"
    high_named = "free stop" if arm.work_to_rad is None else "work to"
    if arm.work_from_rad is not None and arm.work_to_rad is not None:
        backwards = (arm.work_to_rad - arm.work_from_rad) * arm.towards_free < 0
        low_named, high_named = (high_named, low_named) if backwards else (low_named, high_named)
    angle_of = {
        "slack stop": arm.slack_rad,
        "free stop": arm.free_rad,
        "work from": arm.work_from_rad,
        "work to": arm.work_to_rad,
    }
    # The end of the usable range is no mark that was read: there its angle has no doubt of its own.
    slack_angle = "slack stop" if arm.slack_rad == window.low_rad else None
    low_angle = low_named if angle_of[low_named] == window.work_low_rad else None
    high_angle = high_named if angle_of[high_named] == window.work_high_rad else None
    gradients = np.array(
        [
            _gradient(drive, drive.route_at(window.low_rad), window.low_rad, slack_angle),
            _gradient(drive, drive.route_at(window.work_low_rad), window.work_low_rad, low_angle),
            _gradient(drive, drive.route_at(window.work_high_rad), window.work_high_rad, high_angle),
        ]
    )
    return Marks(
        slack_mm=window.low_mm,
        low_mm=window.work_low_mm,
        high_mm=window.work_high_mm,
        covariance_mm2=_spread(gradients, doubts),
        middle_mm=window.middle_mm,
        bounds_low=window.work_low_rad != window.low_rad,
    )


def fixed_marks(slackest: Drive, tightest: Drive | None, doubts: DriveDoubts) -> Marks:
    """Return the marks of a drive without an arm: its slackest and, where pulleys move in slots, its tightest places."""
    slack_route, tight_route = slackest.route_at(), (tightest or slackest).route_at()
    slack_gradient = _gradient(slackest, slack_route, None, None)
    tight_gradient = _gradient(tightest or slackest, tight_route, None, None)
    return Marks(
        slack_mm=slack_route.length_mm,
        low_mm=slack_route.length_mm,
        high_mm=tight_route.length_mm,
        covariance_mm2=_spread(np.array([slack_gradient, slack_gradient, tight_gradient]), doubts),
        middle_mm=(slack_route.length_mm + tight_route.length_mm) / 2,
        bounds_low=False,
        bounds_high=tightest is not None,
    )


def _gradient(drive: Drive, route: Route, arm_rad: float | None, angle_named: str | None) -> Floats:
    """Return what each thing measured adds to a route: centres, radii, belt over rim, arm length, arm angles."""
    centres = [part for gradient in route.centre_gradients for part in gradient]
    flat = sum(wrap for one, wrap in zip(route.pulleys, route.wraps_rad, strict=True) if one.flat)
    length, angles = 0.0, [0.0] * len(ANGLES)
    if drive.arm is not None and drive.arm_index is not None and arm_rad is not None:
        along_x, along_y = route.centre_gradients[drive.arm_index]
        length = along_x * math.cos(arm_rad) + along_y * math.sin(arm_rad)
        if angle_named is not None:
            across = along_y * math.cos(arm_rad) - along_x * math.sin(arm_rad)
            angles[ANGLES.index(angle_named)] = drive.arm.length_mm * across
    return np.array([*centres, *route.radius_gradients, flat, length, *angles])


def _spread(gradients: Floats, doubts: DriveDoubts) -> Floats:
    count = len(doubts.radius_mm)
    spread = np.zeros((gradients.shape[1], gradients.shape[1]))
    spread[: 2 * count, : 2 * count] = doubts.centre_covariance_mm2
    rest = [*doubts.radius_mm, doubts.belt_over_rim_mm, doubts.arm_length_mm, *[doubts.angle_rad] * len(ANGLES)]
    spread[2 * count :, 2 * count :] = np.diag(np.square(rest))
    covariance: Floats = gradients @ spread @ gradients.T
    return covariance


def chance_it_fits(marks: Marks, belts_mm: Floats, need_mm: float, belt_doubt_mm: float) -> Floats:
    """Return, for each effective belt length, the chance that it goes on and the arm then rests in its window.

    ``need_mm`` is the slack that the last pulley needs. A belt beyond the upper mark is taken to be above the lower one
    too, which holds while the window is wider than the marks' doubts.

    >>> marks = Marks(1800.0, 1800.0, 1860.0, np.zeros((3, 3)), 1830.0, bounds_low=False)
    >>> chance_it_fits(marks, np.array([1806.0, 1830.0, 1860.0]), 6.0, 4.5).round(3)
    array([0.5, 1. , 0.5])
    """
    belts = np.asarray(belts_mm, dtype=np.float64)
    spread = _conditions(marks.covariance_mm2, belt_doubt_mm)
    scale = np.sqrt(np.maximum(np.diag(spread), LEAST_MM**2))
    related = np.clip(spread / np.outer(scale, scale), -1.0, 1.0)
    goes_on = (belts - marks.slack_mm - need_mm) / scale[0]
    above = (belts - marks.low_mm) / scale[1]
    under = (marks.high_mm - belts) / scale[2]
    chance = both_below(goes_on, above, float(related[0, 1])) if marks.bounds_low else normal_below(goes_on)
    if marks.bounds_high:
        chance = chance - both_below(goes_on, -under, -float(related[0, 2]))
    return np.clip(chance, 0.0, 1.0)


def _conditions(lengths_mm2: Floats, belt_doubt_mm: float) -> Floats:
    """Return the covariance of belt - slack, belt - low and high - belt from that of slack, low and high."""
    signs = np.array([-1.0, -1.0, 1.0])
    belt = -signs * belt_doubt_mm
    conditions: Floats = np.outer(signs, signs) * lengths_mm2 + np.outer(belt, belt)
    return conditions


@dataclass(frozen=True)
class JudgedBelts:
    """What becomes of each belt, in the order asked; angles and travel are NaN where the arm cannot rest on it."""

    arm_rad: Floats
    travel_used: Floats
    slack_at_stop_mm: Floats
    difference_mm: Floats
    """To the length at the middle of the window."""
    chance_it_fits: Floats


def judge_belts(
    drive: Drive,
    window: Window | None,
    marks: Marks,
    belts_mm: Floats,
    need_mm: float,
    belt_doubt_mm: float | Floats,
) -> JudgedBelts:
    """Judge every belt in one pass; ``belts_mm`` (m,) are effective lengths, their doubts one number or one for each.

    ``window`` is ``None`` for a drive without an arm.
    """
    belts = np.asarray(belts_mm, dtype=np.float64)
    arm_rad, travel = np.full(belts.shape, np.nan), np.full(belts.shape, np.nan)
    if window is not None and drive.arm is not None:
        arm_rad = _in_blocks(arm_table(drive, window).angles_rad, belts)
        np.subtract(arm_rad, drive.arm.slack_rad, out=travel)
        travel *= 1.0 / drive.arm.travel_rad
    doubts = np.asarray(belt_doubt_mm, dtype=np.float64)
    if doubts.ndim == 0:
        chance = _chances(marks, belts, need_mm, float(doubts))
    else:
        chance = np.empty(belts.shape)
        for doubt in np.unique(doubts):
            of_it = doubts == doubt
            chance[of_it] = _chances(marks, belts[of_it], need_mm, float(doubt))
    return JudgedBelts(arm_rad, travel, belts - marks.slack_mm, belts - marks.middle_mm, chance)


def _in_blocks(function: Callable[[Floats], Floats], values: Floats) -> Floats:
    """Work through many values a block at a time: what stays in the processor's cache goes three times as fast."""
    done = np.empty(values.shape)
    for begin in range(0, values.size, BLOCK):
        done[begin : begin + BLOCK] = function(values[begin : begin + BLOCK])
    return done


def _chances(marks: Marks, belts: Floats, need_mm: float, belt_doubt_mm: float) -> Floats:
    """Return the chances of many belts of one doubt from a table over length, straight between its points."""
    if belts.size <= CHANCE_POINTS:
        return chance_it_fits(marks, belts, need_mm, belt_doubt_mm)
    variances = np.diag(marks.covariance_mm2)
    widest = WIDEST * math.sqrt(max(float(variances.max()), 0.0) + belt_doubt_mm**2)
    begin = min(marks.slack_mm + min(need_mm, 0.0), marks.low_mm) - widest
    end = (marks.high_mm if marks.bounds_high else marks.slack_mm + need_mm) + widest
    least = math.sqrt(max(float(variances.min()), 0.0) + belt_doubt_mm**2)
    count = min(max(CHANCE_POINTS, math.ceil(8.0 * (end - begin) / max(least, LEAST_MM))), MOST_POINTS)
    table = chance_it_fits(marks, np.linspace(begin, end, count), need_mm, belt_doubt_mm)
    slopes = np.diff(table)
    constants = table[:-1] - slopes * np.arange(count - 1)
    per_mm = (count - 1) / (end - begin)

    def looked_up(some: Floats) -> Floats:
        share = (some - begin) * per_mm
        np.clip(share, 0.0, count - 1 - 1e-9, out=share)
        place = share.astype(np.intp)
        found: Floats = slopes.take(place) * share + constants.take(place)
        return found

    return _in_blocks(looked_up, belts)
