"""Filling an evacuated cooling system: what it draws, what must stand ready in one vessel, what is topped up."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from kb.errors import AnswerError
from kb.measure import both_text
from kb.mechanics.air import KPA_PER_INHG, AirError, air_pressure_kpa, residual_kpa
from kb.mechanics.vacuum_fill import Fill, head_kpa, vacuum_fill
from kb.mechanics.water import LOWEST_KPA, boiling_temperature_c
from queries.worked import Worked, asking, temperature_text, volume_text

CAUTIONS = (
    "Hot: evacuate and fill only a cold engine; a hot cooling system scalds when opened, and under vacuum it boils.",
    "Watch the hoses: a soft one that folds flat shuts the way, and is due.",
    "Glycol is poisonous and tastes sweet: keep the open vessel from children and animals.",
    "Inhibitor families are not mixed: what stands ready is what the system takes.",
)


@dataclass(frozen=True, slots=True)
class FillQuestion:
    """``reading_kpa``: what the gauge shows below the air; volumes in litres, altitude in m, lengths in mm."""

    system_l: float
    reading_kpa: float
    altitude_m: float = 0.0
    air_kpa: float | None = None
    head_mm: float = 0.0
    left_in_l: float = 0.0
    hose_inside_mm: float | None = None
    hose_length_mm: float | None = None
    below_pickup_l: float = 0.0


def air_outside_kpa(altitude_m: float, air_kpa: float | None) -> float:
    """Return the pressure of the air, from a barometer where one was read. Raises :class:`~kb.errors.AnswerError`."""
    if air_kpa is not None:
        return air_kpa
    with asking("Give the altitude of the shop, such as 5,000 ft."):
        return air_pressure_kpa(altitude_m)


def left_inside_kpa(reading_kpa: float, altitude_m: float, air_kpa: float) -> float:
    """Return what is left inside, kPa absolute; a reading beyond the air there is refused with the most there can be."""
    try:
        return residual_kpa(reading_kpa, air_kpa)
    except AirError as error:
        where = f"At {both_feet(altitude_m)} a gauge" if altitude_m else "A gauge"
        raise AnswerError(
            f"{error}.",
            do=f"{where} can show less than {air_kpa / KPA_PER_INHG:.1f} inHg: check that it stands at nothing when open, "
            "the altitude, and the unit; a barometer's own reading can be given as the air's pressure.",
        ) from error


def both_feet(altitude_m: float) -> str:
    """Return an altitude in feet and metres.

    >>> both_feet(1524)
    '5,000 ft (1524 m)'
    """
    return f"{altitude_m / 0.3048:,.0f} ft ({altitude_m:.0f} m)"


def ask_vacuum_fill(question: FillQuestion) -> Worked:
    """Work out a vacuum fill. Raises :class:`~kb.errors.AnswerError` for a reading or a height that cannot be."""
    from queries.drawings.vacuum_fill import vacuum_fill_drawing

    air = air_outside_kpa(question.altitude_m, question.air_kpa)
    residual = left_inside_kpa(question.reading_kpa, question.altitude_m, air)
    hose_l = _hose_l(question)
    with asking(
        "Raise the vessel, pull a deeper vacuum, or check the volumes: the head is from the coolant in the vessel up to the "
        "top of the system."
    ):
        found = vacuum_fill(
            question.system_l - question.left_in_l, residual, air, head_kpa(question.head_mm / 1000), hose_l,
            question.below_pickup_l,
        )  # fmt: skip
    values: dict[str, object] = {
        "drawn_l": round(found.drawn_l, 3), "stand_ready_l": round(found.stand_ready_l, 3),
        "top_up_l": round(found.top_up_l, 3), "share": round(found.share, 4), "residual_kpa": round(residual, 3),
        "air_kpa": round(air, 3), "head_kpa": round(found.head_kpa, 3), "hose_l": round(hose_l, 3),
        "below_pickup_l": question.below_pickup_l,
    }  # fmt: skip
    says = (
        f"It draws {volume_text(found.drawn_l)}, {100 * found.share:.0f} % of the empty space. Have "
        f"{volume_text(found.stand_ready_l)} ready in one vessel, so that the pick-up never draws air; top up about "
        f"{volume_text(found.top_up_l)} after."
    )
    facts = _facts(question, found, residual, air, hose_l)
    drawing = vacuum_fill_drawing(found, hose_l, question.below_pickup_l)
    return Worked(says, values, facts, CAUTIONS, _notes(question), drawing)


def _hose_l(question: FillQuestion) -> float:
    if (question.hose_inside_mm is None) != (question.hose_length_mm is None):
        raise AnswerError(
            "a filling hose needs both its bore and its length.", do="Give the other one too, or neither."
        )
    if question.hose_inside_mm is None or question.hose_length_mm is None:
        return 0.0
    return pi / 4 * question.hose_inside_mm**2 * question.hose_length_mm / 1e6


def _facts(
    question: FillQuestion, found: Fill, residual: float, air: float, hose_l: float
) -> tuple[tuple[str, str], ...]:
    facts = [
        ("Draws in", volume_text(found.drawn_l)),
        ("Have ready in one vessel", volume_text(found.stand_ready_l)),
        *[("Of that in the hose", volume_text(hose_l))] * bool(hose_l),
        *[("Of that below the pick-up", volume_text(question.below_pickup_l))] * bool(question.below_pickup_l),
        ("Top up after", volume_text(found.top_up_l)),
        ("Air outside", f"{air / KPA_PER_INHG:.1f} inHg ({air:.1f} kPa)"),
        ("Left inside", f"{residual / KPA_PER_INHG:.1f} inHg ({residual:.1f} kPa absolute)"),
    ]
    if question.head_mm:
        facts.append(("Lifted", f"{both_text(question.head_mm)}, {found.head_kpa:.1f} kPa"))
    if residual > LOWEST_KPA:
        facts.append(("Water boils in it at", temperature_text(boiling_temperature_c(residual))))
    return tuple(facts)


def _notes(question: FillQuestion) -> tuple[str, ...]:
    notes = ["Valve it off first and watch the gauge: a system that does not hold its vacuum leaks, and is not filled."]
    if question.hose_inside_mm is None:
        notes.append("The filling hose is not counted: give its bore and length, or fill it first.")
    if not question.below_pickup_l:
        notes.append("Nothing is counted as left below the pick-up: measure what the pick-up cannot reach.")
    if not question.altitude_m and question.air_kpa is None:
        notes.append("Reckoned for sea level: give the shop's altitude.")
    return tuple(notes)
