"""A vacuum against water's boiling point, and what a pressure that rises after valving off can mean."""

from __future__ import annotations

import re
from dataclasses import dataclass

from kb.errors import AnswerError
from kb.measure import QUANTITIES, read
from kb.mechanics.air import KPA_PER_INHG
from kb.mechanics.evacuation import Rise, judge_rise
from kb.mechanics.water import LOWEST_KPA, boiling_pressure_kpa, boiling_temperature_c
from kb.reference.limits import limit
from queries.refrigerant import CAUTIONS
from queries.vacuum_fill import air_outside_kpa, both_feet, left_inside_kpa
from queries.worked import Worked, asking, limit_text, temperature_text

MICRON_KPA = 0.000133322387415
"""A micrometre of mercury, read as an absolute pressure."""
DIAL_STEP_KPA, MICRON_STEP_KPA = 0.2 * KPA_PER_INHG, 50 * MICRON_KPA
"""The smallest change that a dial, read between its marks, and an electronic gauge show: common practice, no source."""
DIAL_CANNOT_KPA = 3.0
"""What the day's weather moves the air by, so that a dial, which reads below it, cannot tell less (ISO 2533 is a mean)."""
_MICRON = re.compile(r"\s*([0-9][0-9,]*(?:\.[0-9]+)?)\s*(?:microns?|µm|um|µ)\s*(?:hg)?\s*", re.IGNORECASE)
MEANINGS = {
    "holds": "It holds: no rise that the gauge can show.",
    "creeps": "Every reading is higher than the one before, by less than this gauge can tell: it is not proven to hold. "
    "Watch it longer, or with an absolute gauge.",
    "leak": "It goes on rising as it began: a leak. Find it before anything is charged.",
    "moisture": "It levels off at no more than water's own pressure: moisture boiling away. Pump on, warmer and longer.",
    "gas from the oil or a slow leak": "It levels off, but above what water alone explains: gas from oil, or a slow leak. "
    "Pump on, and watch it again.",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class EvacuationQuestion:
    """``reading`` and ``rise`` as written: ``28.5 inHg`` is below the air, ``500 micron`` absolute; degC and m."""

    reading: str | None = None
    temperature_c: float = 20.0
    altitude_m: float = 0.0
    air_kpa: float | None = None
    rise: str | None = None


def absolute_kpa(text: str, altitude_m: float, air_kpa: float) -> tuple[float, bool]:
    """Return what is left inside, kPa absolute, and whether an absolute gauge showed it.

    >>> [round(one, 4) for one in absolute_kpa("500 micron", 0.0, 101.325)]
    [0.0667, 1]
    """
    if match := _MICRON.fullmatch(text):
        return float(match[1].replace(",", "")) * MICRON_KPA, True
    reading = read(text, QUANTITIES["pressure"], unit="inHg", low=0.0, high=200.0)
    return left_inside_kpa(reading, altitude_m, air_kpa), False


def ask_evacuation(question: EvacuationQuestion) -> Worked:
    """Judge a vacuum, readings after valving off, or both. Raises :class:`~kb.errors.AnswerError`."""
    air = air_outside_kpa(question.altitude_m, question.air_kpa)
    with asking("Give the temperature of the coldest part that may be wet."):
        boils = boiling_pressure_kpa(question.temperature_c)
    if question.reading is None and question.rise is None:
        raise AnswerError("no reading is given.", do='Give the vacuum, such as "28.5 inHg" or "500 micron", or a rise.')
    wanted = (air - boils) / KPA_PER_INHG
    values: dict[str, object] = {
        "air_kpa": round(air, 3), "water_boils_at_kpa": round(boils, 4), "reading_needed_inhg": round(wanted, 2),
        "temperature_c": question.temperature_c,
    }  # fmt: skip
    facts = [
        (
            "Water boils",
            f"at {temperature_text(question.temperature_c)} below {boils:.2f} kPa ({boils / MICRON_KPA:,.0f} micron)",
        ),
        ("A dial must show", f"more than {wanted:.2f} inHg{_at(question)}"),
    ]
    notes: list[str] = []
    says = ""
    if question.reading is not None:
        says = _judge_reading(question, air, boils, values, facts, notes)
    if question.rise is not None:
        rise = _judge_rise(question, question.rise, air, boils, values, facts)
        says = f"{says} {MEANINGS[rise.meaning]}".strip()
    notes.append(
        "No charge before the vacuum holds. Charge-air pipes and whatever else the lines must clear go in before."
    )
    return Worked(says, values, tuple(facts), CAUTIONS, tuple(notes))


def _at(question: EvacuationQuestion) -> str:
    return f" at {both_feet(question.altitude_m)}" if question.altitude_m and question.air_kpa is None else ""


def _judge_reading(
    question: EvacuationQuestion, air: float, boils: float, values: dict[str, object], facts: list[tuple[str, str]],
    notes: list[str],
) -> str:  # fmt: skip
    assert question.reading is not None
    left, by_absolute = absolute_kpa(question.reading, question.altitude_m, air)
    boiling = left < boils
    values |= {"residual_kpa": round(left, 4), "water_boils": boiling}
    facts.append(("Left inside", f"{left:.3g} kPa absolute ({left / MICRON_KPA:,.0f} micron)"))
    if left >= LOWEST_KPA:
        at = boiling_temperature_c(left)
        values["water_boils_at_c"] = round(at, 2)
        facts.append(("Water boils in it at", temperature_text(at)))
    else:
        values["water_boils_at_c"] = None
        facts.append(("Water boils in it", "even at its freezing point"))
    if by_absolute:
        deep = limit("evacuation", "deep vacuum target with electronic gauge")
        facts.append(("Deep vacuum", limit_text(deep, left / MICRON_KPA)))
    else:
        notes.append(
            f"A dial reads below the air of the day, which moves by {DIAL_CANNOT_KPA / KPA_PER_INHG:.1f} inHg: near the end "
            "only an absolute gauge can tell."
        )
        if not question.altitude_m and question.air_kpa is None:
            usual = limit("evacuation", "vacuum to reach at sea level, stricter")
            facts.append(("Usual at sea level", limit_text(usual, (air - left) / KPA_PER_INHG)))
    pump = limit("evacuation", "pump-down time after reaching vacuum")
    notes.append(f"Then pump on for {pump.low:g} {pump.unit} or more ({pump.source}); other manuals say 15 and 90 min.")
    if boiling:
        return f"Deep enough: water boils away at {temperature_text(question.temperature_c)}."
    return f"Not deep enough: water stays in it at {temperature_text(question.temperature_c)}."


def _readings(rise: str) -> list[str]:
    """Part readings at semicolons, else at commas but for those between thousands; a unit at the very end is for all.

    >>> _readings("1500, 2200, 2,300 micron")
    ['1500 micron', '2200 micron', '2,300 micron']
    >>> _readings("28.5 inHg,28.0 inHg")
    ['28.5 inHg', '28.0 inHg']
    """
    parting = r";" if ";" in rise else r",\s+|(?<=[a-zA-Zµ]),|,(?![0-9]{3}(?![0-9]))"
    parts = [part.strip() for part in re.split(parting, rise)]
    unit = re.sub(r"^[0-9.,\s]*", "", parts[-1])
    bare = all(re.fullmatch(r"[0-9.,\s]+", part) for part in parts[:-1])
    return [f"{part} {unit}" for part in parts[:-1]] + parts[-1:] if unit and bare else parts


def _judge_rise(
    question: EvacuationQuestion, rise: str, air: float, boils: float, values: dict[str, object],
    facts: list[tuple[str, str]],
) -> Rise:  # fmt: skip
    read_in = [absolute_kpa(part, question.altitude_m, air) for part in _readings(rise)]
    if len({by_absolute for _, by_absolute in read_in}) > 1:
        raise AnswerError("readings of two gauges stand beside each other.", do="Give all of them from one gauge.")
    step = MICRON_STEP_KPA if read_in[0][1] else DIAL_STEP_KPA
    with asking(
        'Read it three times or more, in their order, each as long after the last: "28.5 inHg, 28.0 inHg, 27.9 inHg". '
        "Is it valved off?"
    ):
        found = judge_rise([pressure for pressure, _ in read_in], boils, step)
    values |= {"rise_kpa": round(found.rise_kpa, 4), "levels_off": found.levels_off, "meaning": found.meaning}
    facts.append(
        (
            "Rise",
            f"{found.rise_kpa / KPA_PER_INHG:.2f} inHg ({found.rise_kpa / MICRON_KPA:,.0f} micron): {found.meaning}",
        )
    )
    if read_in[0][1]:
        deep = limit("evacuation", "deep vacuum rise in 10 min with pump isolated")
        facts.append(("Last reading, if 10 minutes after", limit_text(deep, read_in[-1][0] / MICRON_KPA)))
        return found
    for name in ("vacuum loss allowed in 5 min", "vacuum loss allowed in 5 min, looser"):
        allowed = limit("evacuation", name)
        facts.append(("If over 5 minutes", limit_text(allowed, found.rise_kpa / KPA_PER_INHG)))
    return found
