"""Bolt circles from what a caliper reads, and whether a part goes on a hub: pattern, pilot, studs and what they clamp."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

from kb.errors import AnswerError
from kb.measure import both_text, inches_text
from kb.mechanics import bolt_circle as circles
from kb.mechanics.bolt_circle import HoleSet, Match, Stack
from queries.answers import apart, caliper_text
from queries.hole_parts import MOST_HOLES, HolePart, Shelf, hole_part, set_text
from queries.worked import Worked, asking

CALIPER_DOUBT_MM = 0.15
"""One standard deviation of a spacing read from hole to hole: common practice, no source."""
USUAL_OFFSET_MM = 0.5
"""How far each hole may be off where the holes and studs are not known: common practice, no source."""
LOOSE_PILOT_MM = 0.2
"""A pilot's clearance above which it no longer centres: common practice, no source."""
LEAST_BEYOND_MM = 1.5
"""Of a stud beyond its nut, about one thread: common practice, no source."""
CAUTIONS = (
    "Engine stopped, key out and battery isolated before a hub or fan is touched; a fan can start by itself.",
    "What turns is held by its pilot and clamped by bolts of the right grade and torque, the machine maker's figures; a fan "
    "on a pattern that only nearly fits comes off.",
)


@dataclass(frozen=True, slots=True)
class HolesQuestion:
    """mm, from centre to centre, or from an edge to the same edge of the next hole."""

    count: int
    adjacent_mm: float | None = None
    across_mm: float | None = None
    hole_mm: float | None = None


def ask_holes(question: HolesQuestion) -> Worked:
    """Return the bolt circle. Raises :class:`~kb.errors.AnswerError` for holes or spacings that cannot be."""
    from queries.drawings.holes import holes_drawing

    count = question.count
    if question.adjacent_mm is None and question.across_mm is None:
        raise AnswerError("a spacing is needed.", do="Give the one of holes beside each other, or across, or both.")
    if not 2 <= count <= MOST_HOLES:
        raise AnswerError(f"{count} holes make no bolt circle here.", do=f"From 2 to {MOST_HOLES} holes are told.")
    told: list[tuple[float, float]] = []
    with asking("Measure centre to centre, or from an edge to the same edge of the other hole."):
        if question.adjacent_mm is not None:
            told.append((circles.circle_from_adjacent_mm(count, question.adjacent_mm), circles.doubt_factor(count, 1)))
        if question.across_mm is not None:
            told.append(
                (circles.circle_from_across_mm(count, question.across_mm), circles.doubt_factor(count, count // 2))
            )
    weights = [1 / factor**2 for _, factor in told]
    circle = sum(weight * mm for weight, (mm, _) in zip(weights, told, strict=True)) / sum(weights)
    doubt = CALIPER_DOUBT_MM / math.sqrt(sum(weights))
    apart_mm = abs(told[0][0] - told[-1][0])
    if apart_mm > 4 * CALIPER_DOUBT_MM * math.hypot(told[0][1], told[-1][1]):
        raise AnswerError(
            f"with {count} holes the two spacings make circles of {both_text(told[0][0])} and {both_text(told[1][0])}.",
            do="Count the holes and measure again; holes that are not evenly spaced have no one circle to be told so.",
        )
    across = circles.chord_mm(count, circle, count // 2)
    values: dict[str, object] = {
        "bolt_circle_mm": round(circle, 3), "doubt_mm": round(doubt, 3), "count": count,
        "adjacent_mm": round(circles.chord_mm(count, circle), 3), "across_mm": round(across, 3),
    }  # fmt: skip
    facts = (
        ("Bolt circle", f"{caliper_text(circle)}, nearly {inches_text(circle)}"),
        ("Beside each other", caliper_text(circles.chord_mm(count, circle))),
        ("Straight across" if count % 2 == 0 else "To either of the farthest two", caliper_text(across)),
        ("Doubt", f"{doubt:.2f} mm, from a spacing read to {CALIPER_DOUBT_MM:g} mm (common practice, no source)"),
    )
    says = f"{count} holes on a bolt circle of {both_text(circle)}."
    notes = (
        ("From holes beside each other a slip grows "f"{told[0][1]:.1f} times: measure across where you can.",)
        if question.across_mm is None and count > 3 else ()
    )  # fmt: skip
    picture = holes_drawing(HoleSet(count, circle, question.hole_mm))
    return Worked(says, values, facts, CAUTIONS, notes, picture)


@dataclass(frozen=True, slots=True)
class MatchQuestion:
    """``hub`` carries ``part``; lengths in mm. ``within_mm`` is how far each hole may be off, where that is known."""

    hub: str
    part: str
    within_mm: float | None = None
    flange_mm: float | None = None
    adapter_mm: float = 0.0
    washer_mm: float = 0.0
    nut_mm: float | None = None
    stud_out_mm: float | None = None
    bolt_mm: float | None = None


def ask_match(question: MatchQuestion, shelf: Shelf) -> Worked:
    """Say which of a part's hole sets goes on a hub, and how. Raises :class:`~kb.errors.AnswerError`."""
    from queries.drawings.holes import match_drawing

    hub, part = hole_part(question.hub, shelf), hole_part(question.part, shelf)
    tried = [
        (one, other, _matched(hub, one, other, question.within_mm)) for one, other in product(hub.sets, part.sets)
    ]  # fmt: skip
    best = min(tried, key=lambda each: (not each[2].fits, -each[2].used, each[2].radial_mm))
    found = best[2]
    pilot_fits, pilot = _pilot(hub, part, question.adapter_mm)
    clamped, stacked, stack_notes = _stack(question, hub)
    held = _held(clamped)
    fits = found.fits and pilot_fits is not False and not held
    values: dict[str, object] = {
        "fits": fits, "pattern_fits": found.fits, "pilot_fits": pilot_fits, "used": found.used,
        "off_mm": round(found.radial_mm, 3), "turned_deg": round(found.turned_deg, 3), "why": found.why,
        "hub": hub.as_json(), "part": part.as_json(),
        "sets": [
            {"hub": set_text(one), "part": set_text(other), "fits": each.fits, "why": each.why} for one, other, each in tried
        ],
        **clamped,
    }  # fmt: skip
    facts = [
        ("Hub", f"{hub.name}: {set_text(best[0])}"), ("Part", f"{part.name}: {set_text(best[1])}"),
        ("Pattern", found.why), ("Pilot", pilot), *stacked,
    ]  # fmt: skip
    if len(tried) > 1:
        facts += [(f"{set_text(other)}", each.why) for _, other, each in tried if each is not found]
    if found.fits:
        facts.append(("Goes on again every", f"{found.turned_deg:.4g}°"))
    if fits:
        says = f"It goes on: {found.why}.{'' if pilot_fits else f' Its pilot: {pilot}.'}"
    elif found.fits and pilot_fits is not False:
        says = f"The pattern lines up ({found.why}), but {held}."
    else:
        says = f"It does not go on: {found.why if not found.fits else pilot}."
    return Worked(says, values, tuple(facts), CAUTIONS, tuple(stack_notes), match_drawing(best[0], best[1], found.fits))


def _matched(hub: HolePart, one: HoleSet, other: HoleSet, within_mm: float | None) -> Match:
    with asking("Check the counts and the circles."):
        within = within_mm
        if within is None and other.hole_mm and hub.stud_mm:
            within = circles.allowed_offset_mm(other.hole_mm, hub.stud_mm)
        return circles.match(one, other, USUAL_OFFSET_MM if within is None else within)


def _held(clamped: dict[str, object]) -> str:
    """Say why studs or bolts do not hold the part; empty where they do, or nothing is known of them."""
    beyond, engaged = clamped["stud_beyond_mm"], clamped["engaged_mm"]
    if isinstance(beyond, float) and beyond < LEAST_BEYOND_MM:
        return f"the studs are {apart(LEAST_BEYOND_MM - beyond)} too short to stand a thread beyond their nuts"
    if isinstance(engaged, float) and engaged <= 0.0:
        return f"the bolts end {apart(engaged)} before the hub"
    return ""


def _pilot(hub: HolePart, part: HolePart, adapter_mm: float) -> tuple[bool | None, str]:
    if hub.pilot_mm is None or part.pilot_mm is None:
        return None, "not known on both: measure the hub's pilot and the part's bore; bolts alone do not centre it"
    clearance = part.pilot_mm - hub.pilot_mm
    if adapter_mm and hub.pilot_deep_mm is None:
        return None, "not known: how far the hub's pilot stands out, with an adapter on it, is not given"
    if adapter_mm and hub.pilot_deep_mm is not None and hub.pilot_deep_mm <= adapter_mm:
        return (
            None,
            f"the hub's pilot ends inside the adapter ({both_text(adapter_mm)}): the adapter needs one of its own",
        )
    if clearance < 0:
        return False, f"the part's bore is {apart(clearance)} too small for the hub's pilot"
    if hub.pilot_deep_mm and part.pilot_deep_mm and hub.pilot_deep_mm - adapter_mm > part.pilot_deep_mm:
        high = hub.pilot_deep_mm - adapter_mm - part.pilot_deep_mm
        return False, f"the hub's pilot stands {apart(high)} higher than the part's bore is deep: it would not seat"
    if clearance > LOOSE_PILOT_MM:
        return None, f"{apart(clearance)} loose: too loose to centre it (common practice, no source); a ring is needed"
    return True, f"{clearance:.2f} mm of clearance: it centres"


def _stack(question: MatchQuestion, hub: HolePart) -> tuple[dict[str, object], list[tuple[str, str]], list[str]]:
    nothing: dict[str, object] = {"grip_mm": None, "overhang_mm": None, "stud_beyond_mm": None, "engaged_mm": None}
    if question.flange_mm is None:
        if question.adapter_mm or question.stud_out_mm or question.bolt_mm:
            raise AnswerError("what the bolts clamp is not known.", do="Give the thickness of the part's flange too.")
        return nothing, [], []
    if question.stud_out_mm is not None and question.nut_mm is None:
        raise AnswerError("the nut's height is not known.", do="Give it with the stud's length.")
    with asking("Measure each at the bolts."):
        found = circles.stack(
            question.flange_mm, question.adapter_mm, question.washer_mm, question.nut_mm or 0.0, question.stud_out_mm,
            question.bolt_mm,
        )  # fmt: skip
    values: dict[str, object] = {
        "grip_mm": round(found.grip_mm, 3), "overhang_mm": round(found.overhang_mm, 3),
        "stud_beyond_mm": None if found.beyond_mm is None else round(found.beyond_mm, 3),
        "engaged_mm": None if found.engaged_mm is None else round(found.engaged_mm, 3),
    }  # fmt: skip
    facts = [("Grip length", both_text(found.grip_mm))]
    if found.overhang_mm:
        facts.append(("Stands farther out by", both_text(found.overhang_mm)))
    return values, facts, list(_stack_notes(found, hub))


def _stack_notes(found: Stack, hub: HolePart) -> list[str]:
    notes = []
    if found.beyond_mm is not None:
        enough = found.beyond_mm >= LEAST_BEYOND_MM
        notes.append(
            f"{apart(found.beyond_mm)} of stud stands beyond the nut." if enough
            else f"The stud is {apart(LEAST_BEYOND_MM - found.beyond_mm)} too short to stand a thread beyond its nut "
            "(common practice, no source)."
        )  # fmt: skip
    if found.engaged_mm is not None:
        wanted = hub.stud_mm
        said = (
            f"The bolt turns {apart(found.engaged_mm)} into the hub"
            if found.engaged_mm > 0
            else "The bolt does not reach"
        )
        short = wanted is not None and found.engaged_mm < wanted
        notes.append(
            f"{said}; one diameter in steel, one and a half to two in cast iron or aluminium (common practice, no source)"
            f"{': too little' if short else ''}. See that it does not bottom."
        )
    if found.overhang_mm:
        notes.append(
            "An adapter moves the belt plane or the fan forward and loads the bearing by that arm: look whether the machine "
            "maker allows it, and keep the fan's clearances in front."
        )
    return notes
