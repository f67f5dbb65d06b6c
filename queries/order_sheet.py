"""The order sheet of a line: everything that who makes it must know, on one page, and as text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from kb.errors import LineError
from kb.measure import both_text
from queries.drawings.line import end_words, key_of
from queries.lines import LineAnswer

TEXT_WIDTH = 84
_PSI_KPA = 6.894757293168


@dataclass(frozen=True, slots=True)
class OrderSheet:
    """What stands on the sheet: facts by their labels, both ends, the bends, what to clear, the cautions."""

    title: str
    facts: tuple[tuple[str, str], ...]
    ends: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...]
    """Of each end its mark, its name and its facts."""
    bends: tuple[tuple[str, ...], ...]
    clearances: tuple[tuple[str, ...], ...]
    cautions: tuple[str, ...]
    notes: str | None = None

    def as_json(self) -> dict[str, object]:
        """Return the documented form of ``line order``."""
        return {
            "title": self.title,
            "facts": dict(self.facts),
            "ends": [{"end": key, "name": name, "facts": dict(facts)} for key, name, facts in self.ends],
            "bends": [dict(zip(BEND_HEADINGS, row, strict=True)) for row in self.bends],
            "clearances": [dict(zip(CLEAR_HEADINGS, row, strict=True)) for row in self.clearances],
            "notes": self.notes,
            "cautions": list(self.cautions),
        }


BEND_TITLE = "Bends, from A to B (twist: clockwise from the bend before)"
BEND_HEADINGS = ("corner", "turns", "centre radius", "twist", "straight before it")
CLEAR_TITLE = "What it passes"
CLEAR_HEADINGS = ("mark", "keep clear of", "gap", "asked")


def order_sheet(answer: LineAnswer) -> OrderSheet:
    """Write an order sheet. Raises :class:`~kb.errors.LineError` for a line that should not be ordered as it is."""
    sheet = answer.sheet
    if answer.order_length_mm is None:
        raise LineError(
            answer.cautions[0], where=sheet.source, do="Nothing is ordered by a route that no hose can take."
        )
    struck = next((one for one in answer.clearances if one.gap_mm < 0), None)
    if struck is not None:
        raise LineError(
            f"the route runs into {struck.thing.name}, {both_text(-struck.gap_mm)} deep.",
            where=sheet.source,
            do="Move a corner; nothing is ordered by such a route.",
        )
    return OrderSheet(
        sheet.name,
        tuple(_facts(answer)),
        _ends(answer),
        _bends(answer),
        _clearances(answer),
        answer.cautions,
        sheet.notes,
    )


def measured_to(answer: LineAnswer) -> str:
    """Return from where to where the order length counts, in words."""
    said = [
        f"the end of the hose at {end.name}" if end.form == "hose"
        else f"the crossing of hose and seat axis at {end.name}" if end.is_elbow
        else f"the seat at {end.name}"
        for end in answer.sheet.ends
    ]  # fmt: skip
    return f"from {said[0]} to {said[1]}, along the middle of the hose"


def clock_text(answer: LineAnswer) -> str | None:
    """Return the clock angle in words; ``None`` without one."""
    if answer.clock_deg is None or answer.clock_anticlockwise_deg is None:
        return None
    clockwise, anticlockwise = round(answer.clock_deg) % 360, round(answer.clock_anticlockwise_deg) % 360
    within = f" ±{answer.clock_tolerance_deg:g}°" if answer.clock_tolerance_deg else ""
    said = (
        f"{clockwise}°{within} CLOCKWISE from A to B as drawn, looking from A to B with A's elbow at 12 o'clock (the same "
        "from B)."
    )
    if clockwise == anticlockwise:
        return said
    return f"{said} SAE J517 counts anticlockwise: that is {anticlockwise}°."


def rating_text(answer: LineAnswer) -> str:
    """Return the pressure and heat that the line must stand, both unit systems side by side."""
    pressure, heat = answer.sheet.pressure_kpa, answer.sheet.temperature_c
    said = []
    if pressure is not None:
        said.append(f"at least {pressure / _PSI_KPA:.0f} psi ({pressure:.0f} kPa) gauge")
    if heat is not None:
        said.append(f"{heat * 1.8 + 32:.0f} °F ({heat:.0f} °C)")
    return ", ".join(said) or "not given: ask before it is made"


def lengths(answer: LineAnswer) -> list[tuple[str, str]]:
    """Return the lengths by their labels: what to order, what to cut, what they are made of."""
    order = answer.order_length_mm
    if order is None or answer.developed_length_mm is None:
        return []
    within = f" ± {both_text(answer.length_tolerance_mm, denominator=32)}" if answer.length_tolerance_mm else ""
    found = [("Order length", f"{both_text(order)}{within}"), ("Counted", measured_to(answer))]
    if answer.cut_length_mm is not None:
        found.append(("Hose cut to", both_text(answer.cut_length_mm)))
    parts = [f"{both_text(answer.developed_length_mm)} centre line"]
    if answer.sheet.movement_mm:
        parts.append(f"{both_text(answer.sheet.movement_mm)} for movement")
    if answer.shortening_mm:
        parts.append(f"{both_text(answer.shortening_mm)} for shortening under pressure")
    if len(parts) > 1:
        found.append(("Made of", " + ".join(parts)))
    off = answer.difference_from_old_mm
    if off is not None:
        word = "longer" if off >= 0 else "shorter"
        found.append(
            ("The old one", f"{both_text(answer.sheet.old_length_mm or 0.0)}: this is {both_text(abs(off))} {word}")
        )
    return found


def _facts(answer: LineAnswer) -> list[tuple[str, str]]:
    sheet = answer.sheet
    found = [("Quantity", str(sheet.quantity)), *lengths(answer)]
    clock = clock_text(answer)
    elbows = [end.name for end in sheet.ends if end.is_elbow]
    if clock:
        found.append(("Clock angle", clock))
    elif len(elbows) == 2:
        found.append(("Clock angle", "not known: where the elbows face is not given; do not make it yet"))
    else:
        found.append(
            ("Clock angle", f"none: only {elbows[0]} has an elbow" if elbows else "none: no elbow at either end")
        )
    found.append(("Service", sheet.service or "not given: ask before it is made"))
    found.append(("Rating", rating_text(answer)))
    found.append(("Hose", _hose_text(answer)))
    if sheet.machine:
        found.append(("Machine", sheet.machine))
    return found


def _hose_text(answer: LineAnswer) -> str:
    sheet = answer.sheet
    said = [sheet.hose] if sheet.hose else []
    if sheet.hose_inside_mm:
        said.append(f"{both_text(sheet.hose_inside_mm, denominator=32)} inside")
    if sheet.hose_outside_mm:
        said.append(f"about {both_text(sheet.hose_outside_mm)} outside")
    if sheet.min_bend_radius_mm and answer.route.bends:
        said.append(f"bends to {both_text(sheet.min_bend_radius_mm)} inside the bend or tighter")
    return ", ".join(said) or "not given: ask before it is made"


def _ends(answer: LineAnswer) -> tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...]:
    found = []
    for key, end in zip("AB", answer.sheet.ends, strict=True):
        facts = [("End", end_words(end))]
        if end.cut_off_mm:
            facts.append(("Fitting takes", both_text(end.cut_off_mm)))
        if end.drop_mm is not None:
            facts.append(("Drop, hose axis to seat", both_text(end.drop_mm)))
        found.append((key, end.name, tuple(facts)))
    return tuple(found)


def _bends(answer: LineAnswer) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (
            f"{bend.point}", f"{math.degrees(bend.turn_rad):.0f}°", both_text(bend.radius_mm),
            "" if bend.twist_rad is None else f"{math.degrees(bend.twist_rad):.0f}°",
            both_text(answer.route.legs[bend.point - 1].straight_mm),
        )
        for bend in answer.route.bends
    )  # fmt: skip


MOST_CLEARANCES = 8
"""So many things that a line passes fit on its one page; the nearest to being too close are kept."""


def _clearances(answer: LineAnswer) -> tuple[tuple[str, ...], ...]:
    """Return the things it passes in the sheet's order, the drawing's marks before them."""
    tightest = sorted(enumerate(answer.clearances), key=lambda pair: pair[1].gap_mm - pair[1].thing.by_mm)
    kept = sorted(place for place, _ in tightest[:MOST_CLEARANCES])
    rows = [
        (
            key_of(place), one.thing.name, both_text(one.gap_mm),
            both_text(one.thing.by_mm) + ("" if one.clear else ": TOO CLOSE"),
        )
        for place, one in enumerate(answer.clearances)
        if place in kept
    ]  # fmt: skip
    more = len(answer.clearances) - len(rows)
    return (*rows, *([("", f"and {more} more", "farther off", "")] if more else []))


def order_text(sheet: OrderSheet) -> str:
    """Return the order sheet as text, to be sent as a message."""
    lines = [f"ORDER: {sheet.title}", ""]
    lines += labelled(sheet.facts)
    for key, name, facts in sheet.ends:
        lines += ["", f"End {key}: {name}", *labelled(facts)]
    for title, headings, rows in (
        (BEND_TITLE, BEND_HEADINGS, sheet.bends), (CLEAR_TITLE, CLEAR_HEADINGS, sheet.clearances)
    ):  # fmt: skip
        if rows:
            lines += ["", title]
            lines += [
                line
                for row in rows
                for line in _wrapped(
                    ", ".join(f"{head} {cell}" for head, cell in zip(headings, row, strict=True) if cell), "  "
                )
            ]
    if sheet.notes:
        lines += ["", *labelled((("Notes", sheet.notes),))]
    lines += ["", "CAUTIONS"]
    for caution in sheet.cautions:
        lines += _wrapped(caution, "! ")
    return "\n".join(lines)


def labelled(facts: Sequence[tuple[str, str]]) -> list[str]:
    """Return facts as lines of text, their labels in a column."""
    widest = max(len(label) for label, _ in facts)
    return [line for label, text in facts for line in _wrapped(text, f"  {label.ljust(widest)}  ")]


def _wrapped(text: str, first: str) -> list[str]:
    return wrap(text, TEXT_WIDTH, initial_indent=first, subsequent_indent=" " * len(first), break_on_hyphens=False)
