"""Which pulley the belt goes over last: the slack that each needs, against the slack there is.

Wound back to the slack stop, the arm leaves the belt some slack. A pulley can be the last between two ways of getting the
belt on: rolled on while the pulley is turned, which needs next to nothing, or lifted over its rim all round and slid in
from the side, which needs at most::

    wrap x rim climb  +  over both spans: sqrt(span^2 + width^2) - span

(the belt rises to the rim all along its wrap; each span runs aslant by the belt's width). Plane geometry.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kb.mechanics.path import Route

CAUTION = (
    "The arm is sprung: hold it with a bar that cannot slip and keep fingers out of its way. Roll a belt on by turning the "
    "engine by hand only, key out and battery off; never with the starter, never with fingers between belt and pulley."
)
"""Shown wherever the last pulley is advised on. Common practice, no source; the maker's instructions come first."""


@dataclass(frozen=True, slots=True)
class LastPulley:
    """What one pulley needs to be the last, in mm of slack, and what that comes to."""

    pulley: str
    needs_low_mm: float
    needs_high_mm: float
    slack_mm: float
    verdict: str
    """``slides on``, ``has to be rolled on`` or ``does not go on``."""
    why: str


def slack_needed_mm(route: Route, place: int, climb_mm: float, belt_width_mm: float) -> float:
    """Return the most slack that the pulley of that place needs to go on last: lifted over its rim, slid in sideways.

    ``route`` is the path with the arm at its slack stop; ``climb_mm`` how far the belt must rise to pass the pulley's edge.

    >>> from kb.mechanics.path import Pulley, follow
    >>> pair = follow([Pulley("crank", 0, 0, 50), Pulley("pump", 300, 0, 50)], +1)
    >>> round(slack_needed_mm(pair, 1, 2.1, 28.48), 2)  # pi x 2.1 + 2 (301.3488 - 300)
    9.29
    """
    spans = (route.spans[place - 1].length_mm, route.spans[place].length_mm)
    aslant = sum(math.hypot(span, belt_width_mm) - span for span in spans)
    return max(route.wraps_rad[place], 0.0) * climb_mm + aslant


def last_pulleys(
    route: Route,
    slack_mm: float,
    belt_width_mm: float,
    rim_climb_mm: float,
    flanges_mm: Mapping[str, float] | None = None,
    reachable: Sequence[str] | None = None,
) -> list[LastPulley]:
    """Return every pulley that can be reached, the one that needs least first.

    ``rim_climb_mm`` counts on grooved pulleys; on a flat one the height of its flange, 0 where ``flanges_mm`` names none.
    ``reachable`` keeps to the pulleys of those names.
    """
    found = []
    for place, one in enumerate(route.pulleys):
        if reachable is not None and one.name not in reachable:
            continue
        climb = (flanges_mm or {}).get(one.name, 0.0) if one.flat else rim_climb_mm
        high = slack_needed_mm(route, place, climb, belt_width_mm)
        verdict = _verdict(slack_mm, high)
        why = _why(route, place, climb, slack_mm, high)
        found.append(LastPulley(one.name, 0.0, high, slack_mm, verdict, why))
    return sorted(found, key=lambda last: last.needs_high_mm)


def default_need_mm(lasts: Sequence[LastPulley]) -> float:
    """Return the slack that a belt should leave where nobody says: half the upper bound of the easiest pulley."""
    if not lasts:
        raise ValueError("No pulley can be reached to put the belt over last.")
    return min(last.needs_high_mm for last in lasts) / 2.0


def _verdict(slack_mm: float, high_mm: float) -> str:
    if slack_mm >= high_mm:
        return "slides on"
    return "has to be rolled on" if slack_mm > 0.0 else "does not go on"


def _why(route: Route, place: int, climb_mm: float, slack_mm: float, high_mm: float) -> str:
    one, wrap_deg = route.pulleys[place], math.degrees(route.wraps_rad[place])
    if climb_mm > 0.0:
        edge = "flange" if one.flat else "rim"
        climbs = f"the belt climbs {climb_mm:.1f} mm over the {edge} along {wrap_deg:.0f} degrees of wrap"
    else:
        climbs = "a flat face with no flange: the belt only has to come in from the side"
    if slack_mm <= 0.0:
        return f"{climbs}; the belt is {-slack_mm:.1f} mm shorter than the path with the arm at its slack stop"
    left = slack_mm - high_mm
    return f"{climbs}; {abs(left):.1f} mm of slack {'to spare' if left >= 0 else 'are missing to lift it over'}"
