"""The arm's angle for a hundred thousand belts in one pass: a table of the route's length, read the other way round."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from kb.mechanics.path_arrays import Floats, lengths_at_mm
from kb.mechanics.tensioner import Drive, Window

Flags = npt.NDArray[np.bool_]
ANGLES = 513
BUCKETS = 1024
ROUGH_RAD = 1e-7
"""Where a bucket's parabola may be further off than this, its belts are solved one by one."""
HALVED_TO_RAD = 1e-9


@dataclass(frozen=True)
class ArmTable:
    """Angle over length, in equal steps of length: through three angles of each step runs a parabola.

    Where the length is near a turning point its angle over length is too steep for that, and the belts that fall there
    (``rough``) are solved by halving.
    """

    drive: Drive
    low_mm: float
    high_mm: float
    node_rad: Floats
    """Angles at 2 BUCKETS + 1 equally spaced lengths."""
    rough: Flags

    @cached_property
    def _parabolas(self) -> tuple[Floats, Floats, Floats]:
        """The three coefficients of each step's parabola, over the number of steps from the low end."""
        begin, middle, end = self.node_rad[:-2:2], self.node_rad[1:-1:2], self.node_rad[2::2]
        at = np.arange(BUCKETS) + 0.5
        bend, slope = 2.0 * (begin + end) - 4.0 * middle, end - begin
        return middle + (bend * at - slope) * at, slope - 2.0 * bend * at, bend

    def angles_rad(self, belts_mm: Floats) -> Floats:
        """Return the arm's angle for each belt; NaN where the arm cannot rest on it."""
        share = (belts_mm - self.low_mm) * (BUCKETS / (self.high_mm - self.low_mm))
        outside = (belts_mm < self.low_mm) | (belts_mm > self.high_mm)
        np.clip(share, 0.0, BUCKETS - 1e-9, out=share)
        bucket = share.astype(np.intp)
        constant, linear, square = self._parabolas
        angles: Floats = (square.take(bucket) * share + linear.take(bucket)) * share + constant.take(bucket)
        if self.rough.any():
            places = np.flatnonzero(self.rough.take(bucket) & ~outside)
            at = bucket[places]
            ends = self.node_rad[2 * at], self.node_rad[2 * at + 2]
            angles[places] = _halved(self.drive, belts_mm[places], *ends)
        angles[outside] = np.nan
        return angles


def arm_table(drive: Drive, window: Window) -> ArmTable:
    """Build the table for a drive's usable range."""
    angles = np.linspace(window.low_rad, window.high_rad, ANGLES)
    lengths = np.maximum.accumulate(lengths_at_mm(drive, angles))
    wanted = np.linspace(window.low_mm, window.high_mm, 2 * BUCKETS + 1)
    nodes = np.interp(wanted, lengths, angles)
    cell = np.clip(np.searchsorted(lengths, wanted) - 1, 0, ANGLES - 2)
    with np.errstate(divide="ignore"):
        angle_per_mm = (angles[cell + 1] - angles[cell]) / (lengths[cell + 1] - lengths[cell])
    lowest, highest = min(angles[0], angles[-1]), max(angles[0], angles[-1])
    for _ in range(2):  # the chord's slope is off by some parts in a thousand, so each round gains two digits or more
        nodes = np.clip(nodes + (wanted - lengths_at_mm(drive, nodes)) * angle_per_mm, lowest, highest)
    nodes[0], nodes[-1] = window.low_rad, window.high_rad
    return ArmTable(drive, window.low_mm, window.high_mm, nodes, _rough(nodes))


def _rough(nodes: Floats) -> Flags:
    """Tell which buckets' parabolas may be too far off, by the third differences of their nodes."""
    third = np.abs(np.diff(nodes, 3))
    worst = np.maximum(np.append(third, third[-1]), np.insert(third, 0, third[0]))
    off = np.append(worst, worst[-1])[: 2 * BUCKETS].reshape(BUCKETS, 2).max(axis=1)
    rough: Flags = ~(0.1 * off < ROUGH_RAD)
    # Third differences lag where the steepness begins, so the buckets beside a rough one are taken as rough too.
    beside: Flags = np.append(rough[1:], False) | np.insert(rough[:-1], 0, False)
    return rough | beside


def _halved(drive: Drive, belts_mm: Floats, begin_rad: Floats, end_rad: Floats) -> Floats:
    low, high = begin_rad.copy(), end_rad.copy()
    for _ in range(math.ceil(math.log2(max(float(np.abs(high - low).max(initial=0.0)) / HALVED_TO_RAD, 2.0)))):
        middle = (low + high) / 2.0
        short = lengths_at_mm(drive, middle) < belts_mm
        low = np.where(short, middle, low)
        high = np.where(short, high, middle)
    return (low + high) / 2.0
