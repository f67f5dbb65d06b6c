"""Many belt paths in one pass: the lengths of :mod:`kb.mechanics.path` for whole arrays of places and sizes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from kb.mechanics.path import MISSED_RAD, TURN
from kb.mechanics.tensioner import Drive

Floats = npt.NDArray[np.float64]
Numbers = float | Floats


def path_lengths_mm(
    x_mm: Sequence[Numbers], y_mm: Sequence[Numbers], radius_mm: Sequence[Numbers], senses: Sequence[int]
) -> Floats:
    """Return the lengths of many paths; each entry is one number for all of them or an array of one number for each.

    ``senses`` are the pulleys' senses of :class:`~kb.mechanics.path.Route`. NaN where two neighbours leave no room.
    """
    total: Numbers = 0.0
    directions: list[Numbers] = []
    count = len(senses)
    for one in range(count):
        other = (one + 1) % count
        dx, dy = x_mm[other] - x_mm[one], y_mm[other] - y_mm[one]
        difference = senses[one] * radius_mm[one] - senses[other] * radius_mm[other]
        with np.errstate(invalid="ignore"):
            length = np.sqrt(dx * dx + dy * dy - difference * difference)
        directions.append(np.arctan2(dy, dx) + np.arctan2(difference, length))
        total = total + length
    for one in range(count):
        turned = senses[one] * (directions[one] - directions[one - 1])
        total = total + radius_mm[one] * ((turned + MISSED_RAD) % TURN - MISSED_RAD)
    return np.asarray(total)


def lengths_at_mm(drive: Drive, arm_rad: Floats) -> Floats:
    """Return the route's length at each of many arm angles.

    >>> from kb.mechanics.path import Pulley
    >>> from kb.mechanics.tensioner import Arm
    >>> fixed = (Pulley("crank", 0, 0, 95), Pulley("pump", 310, -10, 60), Pulley("idler", 300, 200, 38, flat=True),
    ...          Pulley("alternator", 330, 330, 30), Pulley("fan", 40, 310, 75))
    >>> drive = Drive(fixed, Arm(3.6, 3.0, 80.0), 2)
    >>> lengths_at_mm(drive, np.radians([180.0])).round(3)  # geometry example G22
    array([1847.599])
    """
    assert drive.arm is not None
    assert drive.arm_index is not None
    x_mm: list[Numbers] = [one.x_mm for one in drive.fixed]
    y_mm: list[Numbers] = [one.y_mm for one in drive.fixed]
    x_mm[drive.arm_index] = x_mm[drive.arm_index] + drive.arm.length_mm * np.cos(arm_rad)
    y_mm[drive.arm_index] = y_mm[drive.arm_index] + drive.arm.length_mm * np.sin(arm_rad)
    senses = [-drive.grooved_sense if one.flat else drive.grooved_sense for one in drive.fixed]
    return path_lengths_mm(x_mm, y_mm, [one.radius_mm for one in drive.fixed], senses)
