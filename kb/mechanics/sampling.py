"""The chance that a belt fits, by drawing every measurement again and again: keeps the first-order answer honest."""

from __future__ import annotations

import numpy as np

from kb.mechanics.path_arrays import Floats, Numbers, path_lengths_mm
from kb.mechanics.tensioner import Drive
from kb.mechanics.window import DriveDoubts

DRAWS = 20_000
ANGLES = 61
"""The window of each draw is looked through at so many angles: its longest route need not be at its end."""


def sampled_chance(
    drive: Drive, doubts: DriveDoubts, belt_mm: float, need_mm: float, *, draws: int = DRAWS, seed: int = 1
) -> float:
    """Return the share of draws in which the belt goes on and the arm rests between its marks, or its stops.

    Each draw measures every centre, diameter, stop and belt afresh, with the doubts given, and follows the whole path;
    nothing is taken as linear.
    """
    arm, arm_index = drive.arm, drive.arm_index
    assert arm is not None
    assert arm_index is not None
    random = np.random.default_rng(seed)
    count = len(drive.fixed)
    centres = random.multivariate_normal(np.zeros(2 * count), doubts.centre_covariance_mm2, draws, method="eigh")
    over_rim = random.normal(0.0, doubts.belt_over_rim_mm, draws)
    length = arm.length_mm + random.normal(0.0, doubts.arm_length_mm, draws)
    belt = belt_mm + random.normal(0.0, doubts.belt_mm, draws)
    radii = [
        (one.radius_mm + random.normal(0.0, doubt, draws) + (over_rim if one.flat else 0.0))[:, np.newaxis]
        for one, doubt in zip(drive.fixed, doubts.radius_mm, strict=True)
    ]
    read = {
        angle: angle + random.normal(0.0, doubts.angle_rad, draws)
        for angle in (arm.slack_rad, arm.free_rad, arm.work_from_rad, arm.work_to_rad)
        if angle is not None
    }

    def lengths(angles: Floats) -> Floats:
        x: list[Numbers] = [one.x_mm + centres[:, 2 * at, np.newaxis] for at, one in enumerate(drive.fixed)]
        y: list[Numbers] = [one.y_mm + centres[:, 2 * at + 1, np.newaxis] for at, one in enumerate(drive.fixed)]
        x[arm_index] = x[arm_index] + length[:, np.newaxis] * np.cos(angles)
        y[arm_index] = y[arm_index] + length[:, np.newaxis] * np.sin(angles)
        senses = [-drive.grooved_sense if one.flat else drive.grooved_sense for one in drive.fixed]
        return path_lengths_mm(x, y, radii, senses)

    slack = np.asarray(read[arm.slack_rad])
    begin = np.asarray(read[arm.slack_rad if arm.work_from_rad is None else arm.work_from_rad])
    end = np.asarray(read[arm.free_rad if arm.work_to_rad is None else arm.work_to_rad])
    shares = np.linspace(0.0, 1.0, ANGLES)
    routes = lengths(begin[:, np.newaxis] * (1.0 - shares) + end[:, np.newaxis] * shares)
    goes_on = belt - lengths(slack[:, np.newaxis])[:, 0] >= need_mm
    rests = (belt >= np.nanmin(routes, axis=1)) & (belt <= np.nanmax(routes, axis=1))
    return float(np.mean(goes_on & rests))
