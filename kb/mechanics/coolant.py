"""Coolant: how much to drain and add for a concentration, by one drain or by repeated swaps, and which containers.

Concentrations are per cent of glycol by volume. Volumes are taken to add up: glycol and water shrink by up to one per
cent when mixed, which is less than a drain can be read.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

MOST_SWAPS = 60
MOST_COMBINATIONS = 20_000
_NEAR_PCT = 1e-9


class CoolantError(ValueError):
    """A concentration or a volume that cannot be, or cannot be reached that way."""


@dataclass(frozen=True, slots=True)
class Swap:
    """One drain and refill, litres, and the concentration when it is mixed through."""

    drain_l: float
    add_l: float
    percent_after: float


def drain_volume_l(system_l: float, now_pct: float, want_pct: float, with_pct: float) -> float:
    """Litres to drain and put back as ``with_pct``, all at once, so that ``now_pct`` becomes ``want_pct``.

    Formula: the balance of the glycol, V = V0 (ct - c0) / (cr - c0). Raises :class:`CoolantError` where what goes in
    lies on the wrong side: it can never take the mixture that far.

    >>> round(drain_volume_l(40.0, 30.0, 50.0, 100.0), 3)
    11.429
    """
    _check_system(system_l)
    for percent, what in ((now_pct, "now"), (want_pct, "wanted"), (with_pct, "refilled")):
        if not 0 <= percent <= 100:
            raise CoolantError(f"{percent:g} % {what}: a share of glycol lies between 0 and 100 %")
    if abs(want_pct - now_pct) <= _NEAR_PCT:
        return 0.0
    share = (want_pct - now_pct) / (with_pct - now_pct) if with_pct != now_pct else math.inf
    if not 0 <= share <= 1:
        way = "raise" if want_pct > now_pct else "lower"
        raise CoolantError(f"{with_pct:g} % cannot {way} {now_pct:g} % to {want_pct:g} %")
    return system_l * share


def percent_after_swaps(now_pct: float, with_pct: float, share: float, count: int) -> float:
    """Concentration after so many swaps of a share of the system, mixed through each time.

    Formula: c_n = c_r + (c_0 - c_r) (1 - f)^n. Raises :class:`CoolantError` for a share outside 0 to 1.

    >>> percent_after_swaps(0.0, 100.0, 0.5, 2)
    75.0
    """
    if not 0 <= share <= 1:
        raise CoolantError(f"a share of {share:g} of the system cannot be drained")
    return with_pct + (now_pct - with_pct) * (1 - share) ** count


def swaps(system_l: float, now_pct: float, want_pct: float, with_pct: float, drainable_l: float) -> list[Swap]:
    """The drains that take ``now_pct`` to ``want_pct`` where only ``drainable_l`` comes out at a time.

    Every swap but the last is of all that comes out; the last is as much as is still needed, so that the end is met
    and not passed. One swap where one is enough; none where nothing is to be changed. Raises :class:`CoolantError` as
    :func:`drain_volume_l` does, and where it would take more than ``MOST_SWAPS``.
    """
    if not 0 < drainable_l <= system_l:
        raise CoolantError(f"{drainable_l:g} L cannot be drained from a system of {system_l:g} L")
    done: list[Swap] = []
    percent = now_pct
    while abs(percent - want_pct) > 1e-6:
        needed = drain_volume_l(system_l, percent, want_pct, with_pct)
        if len(done) == MOST_SWAPS:
            raise CoolantError(f"{drainable_l:g} L at a time would take more than {MOST_SWAPS} swaps")
        drained = min(needed, drainable_l)
        percent = percent_after_swaps(percent, with_pct, drained / system_l, 1)
        done.append(Swap(drained, drained, percent))
    return done


def parts_for_fill(system_l: float, want_pct: float, with_pct: float) -> tuple[float, float]:
    """Litres of coolant at ``with_pct`` and of water for an empty system.

    Raises :class:`CoolantError` where the coolant is weaker than what is wanted.

    >>> parts_for_fill(40.0, 50.0, 100.0)
    (20.0, 20.0)
    """
    _check_system(system_l)
    if not 0 <= want_pct <= with_pct <= 100 or with_pct == 0:
        raise CoolantError(f"coolant of {with_pct:g} % cannot make {want_pct:g} %")
    coolant_l = system_l * want_pct / with_pct
    return coolant_l, system_l - coolant_l


def freeze_point_c(percent: float, percents: Sequence[float], freeze_c: Sequence[float]) -> float:
    """Freeze point of a mixture, degC, between the rows of a table (rising per cent), along straight lines.

    Raises :class:`CoolantError` outside the table.
    """
    if not percents[0] <= percent <= percents[-1]:
        raise CoolantError(f"{percent:g} % is outside the table, {percents[0]:g} to {percents[-1]:g} %")
    return _between(percent, percents, freeze_c)


def percent_for_freeze_point(wanted_c: float, percents: Sequence[float], freeze_c: Sequence[float]) -> float:
    """Per cent of glycol that freezes at a temperature: :func:`freeze_point_c` the other way round."""
    if not freeze_c[-1] <= wanted_c <= freeze_c[0]:
        raise CoolantError(f"{wanted_c:g} degC is outside the table, {freeze_c[-1]:g} to {freeze_c[0]:g} degC")
    return _between(-wanted_c, [-one for one in freeze_c], percents)


def containers(needed_l: float, sizes_l: Sequence[float]) -> list[int]:
    """How many of each size hold at least ``needed_l`` with the least left over, then the fewest containers.

    The counts stand in the order of ``sizes_l``, at most five sizes. Every combination is tried; where there are more
    than :data:`MOST_COMBINATIONS`, of every size but the smallest only none, and the twelve counts nearest to filling
    the need with it alone.
    Raises :class:`CoolantError` for a size that is not positive or a need below nothing.

    >>> containers(11.4, [3.785, 18.93])
    [4, 0]
    """
    if not sizes_l or len(sizes_l) > 5 or min(sizes_l) <= 0 or needed_l < 0:
        raise CoolantError("one to five sizes of container, each more than nothing, for a need of nothing or more")
    smallest = min(range(len(sizes_l)), key=lambda at: sizes_l[at])
    most = [0 if at == smallest else _ceiling(needed_l / size) for at, size in enumerate(sizes_l)]
    few = math.prod(one + 1 for one in most) <= MOST_COMBINATIONS
    tried = [sorted({0, *range(0 if few else max(0, one - 11), one + 1)}) for one in most]
    best: tuple[float, int, list[int]] | None = None
    for counts in map(list, product(*tried)):
        rest = needed_l - sum(count * size for count, size in zip(counts, sizes_l, strict=True))
        counts[smallest] = max(0, _ceiling(rest / sizes_l[smallest]))
        over = counts[smallest] * sizes_l[smallest] - rest
        found = (round(over, 6), sum(counts), counts)
        best = found if best is None else min(best, found)
    assert best is not None
    return best[2]


def _ceiling(share: float) -> int:
    return math.ceil(share - 1e-9)


def _check_system(system_l: float) -> None:
    if not (math.isfinite(system_l) and system_l > 0):
        raise CoolantError(f"a system of {system_l:g} L holds nothing")


def _between(at: float, places: Sequence[float], values: Sequence[float]) -> float:
    right = max(1, bisect_left(places, at))
    low, high = places[right - 1], places[right]
    return values[right - 1] + (values[right] - values[right - 1]) * (at - low) / (high - low)
