"""What a pressure that rises after the pump is valved off can mean: nothing, moisture, a leak, or both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

LEVELS_OFF_BELOW = 0.4
"""Last step over first step of a rise below which it levels off: common practice, no source; a leak into a vacuum of a
few kPa rises at a constant rate, since the flow into it is choked."""


class EvacuationError(ValueError):
    """Readings that tell nothing."""


@dataclass(frozen=True, slots=True)
class Rise:
    """``meaning``: ``holds``, ``creeps``, ``leak``, ``moisture`` or ``gas from the oil or a slow leak``; kPa in all."""

    rise_kpa: float
    first_step_kpa: float
    last_step_kpa: float
    levels_off: bool
    meaning: str


def judge_rise(absolute_kpa: Sequence[float], water_boils_at_kpa: float, can_read_kpa: float) -> Rise:
    """Judge absolute pressures read at equal times after valving off, three or more, in kPa.

    ``water_boils_at_kpa``: water's saturation pressure at the coldest wet part. ``can_read_kpa``: the smallest change
    the gauge shows. A rise below that holds, unless every reading is above the one before: that creeps, and the gauge is too
    coarse to say more. One that goes on as fast as it began is a leak. One that levels off at
    no more than water's own pressure is moisture boiling away; above that water alone cannot explain it. Raises
    :class:`EvacuationError` for fewer than three readings, a pressure that is none, or a vacuum that gets deeper.

    >>> judge_rise([1.0, 1.0, 1.0], 2.3, 0.1).meaning
    'holds'
    >>> judge_rise([1.0, 1.03, 1.06], 2.3, 0.1).meaning
    'creeps'
    >>> judge_rise([0.5, 1.5, 2.5], 2.3, 0.1).meaning
    'leak'
    >>> judge_rise([0.5, 1.7, 2.1, 2.2], 2.3, 0.1).meaning
    'moisture'
    """
    if len(absolute_kpa) < 3:
        raise EvacuationError("three readings at equal times are needed: two cannot tell a leak from moisture")
    if min(absolute_kpa) < 0:
        raise EvacuationError("an absolute pressure cannot be below nothing")
    first, last = absolute_kpa[1] - absolute_kpa[0], absolute_kpa[-1] - absolute_kpa[-2]
    rise = absolute_kpa[-1] - absolute_kpa[0]
    if rise < -can_read_kpa:
        raise EvacuationError("the vacuum gets deeper after valving off, which nothing makes it do")
    creeps = all(later > before for before, later in pairwise(absolute_kpa))
    unseen = can_read_kpa / 2 if first > can_read_kpa / 2 else 0.0  # where the first step is as small, none levels off
    levels_off = last <= max(LEVELS_OFF_BELOW * first, unseen)
    if rise < can_read_kpa:
        meaning = "creeps" if creeps else "holds"
    elif not levels_off:
        meaning = "leak"
    elif absolute_kpa[-1] <= water_boils_at_kpa + can_read_kpa:
        meaning = "moisture"
    else:
        meaning = "gas from the oil or a slow leak"
    return Rise(rise, first, last, levels_off, meaning)
