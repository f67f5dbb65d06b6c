"""What to look out for on a line: where its route does not work or passes too close, and the usual care of its service."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import TYPE_CHECKING

from kb.measure import both_text, inches_text, millimetres_text
from kb.reference.tables import is_checked, number, table

if TYPE_CHECKING:
    from kb.sheets.line_fields import EndSheet
    from queries.lines import LineAnswer

PRESSURE_SERVICES = (
    "hydraulic", "oil", "air", "refrigerant", "refrigerant suction", "refrigerant discharge", "refrigerant liquid",
)  # fmt: skip
HOT_SERVICES = ("coolant", "heater", "charge air", "oil", "refrigerant discharge")
CLOSE_LEAD_MM = 100.0
"""A chain of points whose next best is nearer than this is asked about."""
STRAIGHT_BEHIND_FITTING = 1.5
"""Outside diameters of hose that should run straight out of a fitting; common practice, no source."""
FACES_OFF_DEG = 3.0


def cautions_of(answer: LineAnswer) -> tuple[str, ...]:
    """Return the cautions in words, those about this route first."""
    return tuple(
        chain(_bends(answer), _clearances(answer), _order(answer), _ends(answer), _length(answer), _service(answer))
    )


def _bends(answer: LineAnswer) -> Iterator[str]:
    radius = answer.route.radius_mm
    outside = answer.sheet.hose_outside_mm or 0.0
    for bend in answer.route.bends:
        if not bend.possible:
            name = answer.sheet.point_names[bend.point]
            inside = max(bend.largest_radius_mm - outside / 2, 0.0)
            yield (
                f"The legs at {name} are too short for its bend: the hose needs {both_text(radius)} to its centre line, and "
                f"there is room for {both_text(bend.largest_radius_mm)} ({both_text(inside)} to the inside of the bend). "
                "Move the corner, use an elbow end, or take a hose that bends tighter."
            )


def _clearances(answer: LineAnswer) -> Iterator[str]:
    for one in answer.clearances:
        if one.gap_mm < 0:
            yield f"It runs into {one.thing.name}, {both_text(-one.gap_mm)} deep: move a corner before anything is ordered."
        elif not one.clear:
            yield (
                f"It passes {both_text(one.gap_mm)} from {one.thing.name}; {both_text(one.thing.by_mm)} was asked. Move a "
                "corner, or tie it back."
            )
        for row in _rows("clearance to exhaust parts"):
            low = number(row["value_low"])
            if low and one.clear and _is_hot(one.thing.name) and one.gap_mm < low:
                yield (
                    f"It passes {both_text(one.gap_mm)} from {one.thing.name}; {low:g} mm without a heat shield is usual "
                    f"({_sure(row)})."
                )


def _is_hot(name: str) -> bool:
    return any(word in name.casefold() for word in ("exhaust", "turbo", "muffler"))


def _order(answer: LineAnswer) -> Iterator[str]:
    lead = answer.sheet.order_lead_mm
    if lead is not None and lead < CLOSE_LEAD_MM:
        yield (
            f"The points were put into the shortest chain, but another order is only {both_text(lead)} longer: give each "
            "its place."
        )


def _ends(answer: LineAnswer) -> Iterator[str]:
    from queries.lines import faces_off_deg

    sheet = answer.sheet
    for end, off in zip(sheet.ends, faces_off_deg(sheet), strict=True):
        if off > FACES_OFF_DEG:
            yield f"{end.name}'s seat points {off:.0f} degrees off where its fitting puts it: check it on the machine."
        if end.is_elbow and end.faces is None and all(one.is_elbow for one in sheet.ends):
            yield f"Where {end.name}'s elbow faces is not given, so there is no clock angle: add faces = …"
        yield from _thread(end)
        if end.cut_off_mm is None:
            yield f"What {end.name}'s fitting takes of the length (its cut_off) is not known, so there is no cut length."
    legs = answer.route.legs
    if answer.route.bends and answer.route.possible and sheet.hose_outside_mm:
        wanted = STRAIGHT_BEHIND_FITTING * sheet.hose_outside_mm
        for end, leg in ((sheet.ends[0], legs[0]), (sheet.ends[1], legs[-1])):
            if end.form != "hose" and leg.straight_mm < wanted:
                yield (
                    f"Only {both_text(leg.straight_mm)} runs straight between {end.name}'s fitting and the bend; "
                    f"{both_text(wanted)} is usual (common practice, no source)."
                )


def _thread(end: EndSheet) -> Iterator[str]:
    """Say what is missing to make an end: its thread, or which of the families that share the thread is meant."""
    from kb.reference.thread_names import threads_named

    if end.form == "hose" or end.stub_mm is not None or end.part_no:
        return
    if not end.thread:
        yield f"What thread {end.name} has is not given: do not make it yet."
        return
    if end.standard or end.seat_deg is not None:
        return
    families = list(dict.fromkeys(use.family for thread in threads_named(end.thread) for use in thread.uses))
    if len(families) > 1:
        yield (
            f"{end.name}: {end.thread} is the thread of {', '.join(families)}; they do not all seal on each other. Ask which "
            "before it is made (seat or standard)."
        )


def _length(answer: LineAnswer) -> Iterator[str]:
    sheet = answer.sheet
    under_pressure = sheet.service in PRESSURE_SERVICES or bool(sheet.pressure_kpa)
    if under_pressure and not sheet.shortening_percent:
        for row in _rows("slack for length change under pressure"):
            bent = "its bends take that up" if answer.route.bends else "a straight hose must be that much longer"
            yield (
                f"Under pressure a hose grows by up to {row['value_low']} % or shortens by up to {row['value_high']} % "
                f"({row['source']}): {bent}; the order length does not hold it."
            )
    if sheet.movement_mm and answer.order_length_mm is not None:
        yield (
            f"{inches_text(sheet.movement_mm)} of the order length ({millimetres_text(sheet.movement_mm)}) is for movement: "
            "the line hangs by so much, and its clearances are those of the taut route."
        )
    for row in _rows("support spacing"):
        spacing = number(row["value_high"])
        if spacing and answer.developed_length_mm and answer.developed_length_mm > spacing:
            yield f"Support it every {both_text(spacing)} or closer ({_sure(row)})."


def _service(answer: LineAnswer) -> Iterator[str]:
    service = answer.sheet.service or ""
    if service.startswith("refrigerant"):
        yield (
            "Refrigerant: it is recovered, evacuated and charged by certified people, under the local code; the charge is "
            "the label's. Eye protection: it freezes skin and eyes."
        )
        yield "Fit the charge-air pipes, and whatever else this line must clear, before the system is evacuated."
    if service in HOT_SERVICES:
        yield "Hot: measure and fit it with the engine stopped and cold; a hot cooling system scalds when it is opened."
    if service in PRESSURE_SERVICES or answer.sheet.pressure_kpa:
        yield "Pressure: let it down and prove it gone before a fitting is loosened; never feel for a leak by hand."
    yield "Brake, steering and fuel lines are not made from this sheet."


def _rows(parameter: str) -> list[dict[str, str]]:
    return [row for row in table("practice_limits") if row["topic"] == "hose routing" and row["parameter"] == parameter]


def _sure(row: dict[str, str]) -> str:
    return row["source"] if is_checked(row) else f"{row['source']}; from memory"
