"""Span tensions of a drive with fixed centres, from the tension that was measured with the engine standing.

    standing   ====T0====T0====T0====      the same in every span
    running    ==low== [driven] ==high==   the belt's stretch, and so the mean of its tension, stays T0

Fixed centres hold the belt's length. A belt that follows Hooke's law is stretched by the integral of its tension, so the
mean over the whole belt stays what it was standing (textbook belt drives); on a pulley, half the sum of its two spans
is taken for the arc. That is the whole tension: for the grip the centrifugal part is taken off (:mod:`kb.mechanics.grip`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from kb.mechanics.grip import (
    Assumption,
    GripError,
    Load,
    SpanTensions,
    centrifugal_tension_n,
    span_rises_n,
)


def standing_tensions(
    pulleys: Sequence[Load],
    *,
    spans_mm: Sequence[float],
    arcs_mm: Sequence[float],
    tension_n: tuple[float, float],
    belt_speed_m_s: float,
    mass_kg_per_m: Assumption,
) -> SpanTensions:
    """Give every span its tension when running, N.

    ``pulleys`` in the direction of travel; ``spans_mm[k]`` leaves pulley k, ``arcs_mm[k]`` lies on it. ``tension_n``, (low,
    high), was measured with the engine off, its key out. Raises :class:`GripError` for lengths or tensions that cannot be.

    >>> mass = Assumption("belt mass", 0.1, "kg/m", "given", "given")
    >>> two = [Load("crank", 3.0, True, driver=True), Load("pump", 3.0, True, 4.0)]
    >>> found = standing_tensions(two, spans_mm=(400, 400), arcs_mm=(300, 300), tension_n=(500, 500), belt_speed_m_s=20.0,
    ...                           mass_kg_per_m=mass)
    >>> found.whole_n  # 4 kW at 20 m/s is 200 N: half above, half below what was measured
    ((400.0, 400.0), (600.0, 600.0))
    """
    count = len(pulleys)
    if len(spans_mm) != count or len(arcs_mm) != count:
        raise GripError("every pulley needs its arc and the span that leaves it")
    if min(*spans_mm, *arcs_mm) < 0 or not sum(spans_mm) + sum(arcs_mm) > 0:
        raise GripError("spans and arcs cannot be shorter than nothing")
    low, high = tension_n
    if not 0 <= low <= high < math.inf:
        raise GripError(f"a tension band runs from low to high, not from {low:g} to {high:g} N")
    if not mass_kg_per_m.value > 0:
        raise GripError(f"the belt's mass (kg/m) must be more than nothing, not {mass_kg_per_m.value:g}")
    rises = span_rises_n(pulleys, belt_speed_m_s)
    stretched = math.fsum(spans_mm[k] * rises[k] + arcs_mm[k] * (rises[k - 1] + rises[k]) / 2 for k in range(count)) / (
        math.fsum(spans_mm) + math.fsum(arcs_mm)
    )
    pull_n = centrifugal_tension_n(mass_kg_per_m.value, belt_speed_m_s)
    whole = tuple((low - stretched + rise, high - stretched + rise) for rise in rises)
    return SpanTensions(
        gripping_n=tuple((one - pull_n, other - pull_n) for one, other in whole),
        whole_n=whole,
        centrifugal_n=pull_n,
        belt_speed_m_s=belt_speed_m_s,
        before_tensioner_kw=0.0,
        total_kw=math.fsum(one.takes_kw for one in pulleys),
        assumed=(mass_kg_per_m,),
    )
