"""Drives to test with, and a rubber band: a minimiser that knows nothing of tangent formulas."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from scipy.optimize import minimize

from kb.mechanics.path import PathError, Pulley, find_route
from kb.mechanics.tensioner import Arm, Drive


@dataclass(frozen=True)
class Band:
    """What the rubber band came to: total length, wraps and straight spans."""

    length_mm: float
    wraps_rad: tuple[float, ...]
    spans_mm: tuple[float, ...]


def rubber_band(pulleys: Sequence[Pulley], senses: Sequence[int]) -> Band:
    """Stretch a polygon of two corners per pulley round them and let it shrink as far as it can.

    Every side must keep the pulleys it touches on their own side and a radius away: nothing else is asked, and the
    corners are free. The shortest such polygon lies along the taut belt's spans, whose directions, and feet from the
    centres, give the wraps and the straight lengths; the two corners on a pulley are the only difference to its arc.
    """
    centres = np.array([(one.x_mm, one.y_mm) for one in pulleys])
    radii = np.array([one.radius_mm for one in pulleys])
    sides = np.array(senses, dtype=float)
    count, scale = len(pulleys), float(np.abs(centres).max() + radii.max())
    # side k of 2 count: even k lies on pulley k/2 alone, odd k leads from pulley (k-1)/2 to the next
    touched = [(k, k // 2) for k in range(2 * count)] + [(k, (k // 2 + 1) % count) for k in range(1, 2 * count, 2)]
    rows, on = np.array([k for k, _ in touched]), np.array([place for _, place in touched])

    def corners(flat: np.ndarray) -> np.ndarray:
        return np.asarray(flat.reshape(2 * count, 2) * scale)

    def length(flat: np.ndarray) -> float:
        points = corners(flat)
        return float(np.hypot(*(np.roll(points, -1, axis=0) - points).T).sum()) / scale

    def length_slope(flat: np.ndarray) -> np.ndarray:
        points = corners(flat)
        along = np.roll(points, -1, axis=0) - points
        unit = along / np.hypot(*along.T)[:, np.newaxis]
        return np.asarray((np.roll(unit, 1, axis=0) - unit).ravel())

    def clearances(flat: np.ndarray) -> np.ndarray:
        points = corners(flat)
        begin, along = points[rows], (np.roll(points, -1, axis=0) - points)[rows]
        to_centre = centres[on] - begin
        cross = along[:, 0] * to_centre[:, 1] - along[:, 1] * to_centre[:, 0]
        return np.asarray((sides[on] * cross / np.hypot(*along.T) - radii[on]) / scale)

    def clearance_slopes(flat: np.ndarray) -> np.ndarray:
        points = corners(flat)
        begin, along = points[rows], (np.roll(points, -1, axis=0) - points)[rows]
        reach = np.hypot(*along.T)
        unit = along / reach[:, np.newaxis]
        normal = np.column_stack((-unit[:, 1], unit[:, 0])) * sides[on][:, np.newaxis]
        share = (np.sum(unit * (centres[on] - begin), axis=1) / reach)[:, np.newaxis]
        slopes = np.zeros((len(rows), 2 * count, 2))
        slopes[np.arange(len(rows)), rows] = -(1.0 - share) * normal
        slopes[np.arange(len(rows)), (rows + 1) % (2 * count)] = -share * normal
        return slopes.reshape(len(rows), -1)

    for away in (1.2, 1.5, 1.05, 2.0):  # the search can lose its way: then begin again from a looser band
        begin = _loose_band(centres, radii, sides, away) / scale
        found = minimize(
            length, begin.ravel(), jac=length_slope, method="SLSQP", options={"maxiter": 500, "ftol": 1e-14},
            constraints={"type": "ineq", "fun": clearances, "jac": clearance_slopes},
        )  # fmt: skip
        if clearances(found.x).min() > -1e-10:
            break
    assert clearances(found.x).min() > -1e-10, found.message
    return _measured(corners(found.x), centres, radii, sides)


def _loose_band(centres: np.ndarray, radii: np.ndarray, sides: np.ndarray, away: float) -> np.ndarray:
    """Put two corners off each pulley, on the side where the belt runs, by its lines of centres."""
    points = []
    for place in range(len(centres)):
        arriving = centres[place] - centres[place - 1]
        leaving = centres[(place + 1) % len(centres)] - centres[place]
        for along in (arriving, leaving):
            unit = along / np.hypot(*along)
            ahead = (-1.0 if along is arriving else 1.0) * 0.7 * radii[place]
            points.append(
                centres[place] + away * sides[place] * radii[place] * np.array([unit[1], -unit[0]]) + ahead * unit
            )
    return np.array(points)


def _measured(points: np.ndarray, centres: np.ndarray, radii: np.ndarray, sides: np.ndarray) -> Band:
    count = len(centres)
    spans, directions = [], []
    for place in range(count):
        begin, end = points[2 * place + 1], points[(2 * place + 2) % (2 * count)]
        unit = (end - begin) / np.hypot(*(end - begin))
        feet = [float((centres[at] - begin) @ unit) for at in (place, (place + 1) % count)]
        spans.append(feet[1] - feet[0])
        directions.append(math.atan2(unit[1], unit[0]))
    wraps = [
        float(sides[place] * (directions[place] - directions[place - 1]) % (2 * math.pi)) for place in range(count)
    ]
    return Band(sum(spans) + float(np.dot(radii, wraps)), tuple(wraps), tuple(spans))


@cache
def random_drive(seed: int, *, count: int | None = None, flat: bool = True) -> tuple[Pulley, ...]:
    """Throw pulleys round a rough ring, pressing flat ones in from outside, until a belt can follow them."""
    random = np.random.default_rng(seed)
    for _ in range(200):
        grooved = count or int(random.integers(3, 7))
        angles = np.linspace(0.0, 2 * math.pi, grooved, endpoint=False) + random.uniform(-0.25, 0.25, grooved)
        reach = random.uniform(170.0, 330.0, grooved)
        pulleys = [
            Pulley(
                f"g{at}", float(far * math.cos(angle)), float(far * math.sin(angle)), float(random.uniform(28.0, 95.0))
            )
            for at, (angle, far) in enumerate(zip(angles, reach, strict=True))
        ]
        for at in range(grooved, 0, -1):
            if flat and random.random() < 0.5:
                one, other = pulleys[at - 1], pulleys[at % grooved]
                share = random.uniform(0.35, 0.65)
                in_to = random.uniform(0.75, 1.0)
                pulleys.insert(at, Pulley(
                    f"f{at}", (one.x_mm * (1 - share) + other.x_mm * share) * in_to,
                    (one.y_mm * (1 - share) + other.y_mm * share) * in_to, float(random.uniform(25.0, 45.0)), flat=True,
                ))  # fmt: skip
        try:
            wraps = find_route(pulleys).wraps_rad
        except PathError:
            continue
        if min(wraps) > math.radians(12.0):  # a rubber band round two corners wants an arc to hold them
            return tuple(pulleys)
    raise AssertionError("no drive was found")


def seven_pulleys(**arm: float) -> Drive:
    """A seven-pulley front of our own: six grooved or flat pulleys and a sprung idler on the belt's back."""
    fixed = (
        Pulley("crank", 0.0, 0.0, 92.0),
        Pulley("compressor", 265.0, 60.0, 63.0),
        Pulley("idler", 180.0, 200.0, 38.0, flat=True),
        Pulley("alternator", 270.0, 330.0, 35.0),
        Pulley("fan", 30.0, 395.0, 100.0),
        Pulley("tensioner", -150.0, 340.0, 40.5, flat=True),
        Pulley("pump", -220.0, 105.0, 70.0),
    )
    given = {"slack_rad": math.radians(222.0), "free_rad": math.radians(265.0), "length_mm": 88.0} | arm
    return Drive(fixed, Arm(**given), 5)


@pytest.fixture(scope="session", name="rubber_band")
def _rubber_band() -> Callable[[Sequence[Pulley], Sequence[int]], Band]:
    return rubber_band


@pytest.fixture(scope="session", name="random_drive")
def _random_drive() -> Callable[..., tuple[Pulley, ...]]:
    return random_drive


@pytest.fixture(scope="session", name="seven_pulleys")
def _seven_pulleys() -> Callable[..., Drive]:
    return seven_pulleys
