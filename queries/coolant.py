"""Coolant for a concentration or a freeze point: what to drain, what to add, which containers to buy and open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.errors import AnswerError
from kb.mechanics import coolant as mixing
from kb.reference.coolants import FreezeTable, freeze_table
from queries.worked import Worked, asking, temperature_text, volume_text, volumes_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.mechanics.coolant import Swap

HIGHEST_PCT = 60.0
"""Per cent: above it neither table goes, and more glycol cools worse (common practice, no source)."""
CONTAINERS = "1 gal, 5 gal"
FAMILIES = ("inorganic", "organic acid", "nitrited organic acid", "hybrid")
CAUTIONS = (
    "Hot: a cooling system is opened only cold and with its pressure gone; it scalds.",
    "Glycol is poisonous and tastes sweet: keep it from children and animals, catch all of it, and wipe up what is spilt. "
    "Used coolant goes where the local code says.",
    "Inhibitor families are not mixed, and the colour does not tell them apart: read the label, or drain and flush it all.",
)


@dataclass(frozen=True, slots=True)
class CoolantQuestion:
    """Litres, per cent by volume and degC; ``now_pct`` and ``now_freeze_c`` both ``None`` for an empty system."""

    system_l: float
    now_pct: float | None = None
    now_freeze_c: float | None = None
    want_pct: float | None = None
    want_freeze_c: float | None = None
    with_pct: float | None = None
    glycol: str = "ethylene"
    drainable_l: float | None = None
    containers: str = CONTAINERS
    inhibitor_now: str | None = None
    inhibitor_new: str | None = None


@dataclass(frozen=True, slots=True)
class _Step:
    """One row of what is drained and what is poured, in litres."""

    drain_l: float
    coolant_l: float
    water_l: float
    percent_after: float


def ask_coolant(question: CoolantQuestion) -> Worked:
    """Say what to drain and add. Raises :class:`~kb.errors.AnswerError` with what is possible."""
    table = freeze_table(question.glycol)
    now, want = _concentrations(question, table)
    if now is None:
        return _fill(question, table, want)
    _families(question)
    return _correct(question, table, now, want)


def _concentrations(question: CoolantQuestion, table: FreezeTable) -> tuple[float | None, float]:
    ends = (
        f"{question.glycol} glycol is told from {table.percents[0]:g} to {table.percents[-1]:g} % by volume, "
        f"{temperature_text(table.freeze_c[0])} down to {temperature_text(table.freeze_c[-1])}"
    )
    for percent in (question.now_pct, question.want_pct, question.with_pct):
        if percent is not None and not 0 <= percent <= 100:
            raise AnswerError(
                f"{percent:g} % is no share of glycol.", do="It lies between 0 (water) and 100 % (concentrate)."
            )
    if question.now_pct is not None and question.now_freeze_c is not None:
        raise AnswerError("what is in it now is given twice.", do="Give its percentage or its freeze point, not both.")
    if (question.want_pct is None) == (question.want_freeze_c is None):
        raise AnswerError("what is wanted should be given once.", do="Give its percentage or its freeze point.")
    with asking(f"The table of {ends}."):
        now, want = question.now_pct, question.want_pct
        if question.now_freeze_c is not None:
            now = mixing.percent_for_freeze_point(question.now_freeze_c, table.percents, table.freeze_c)
        if want is None:
            assert question.want_freeze_c is not None
            want = mixing.percent_for_freeze_point(question.want_freeze_c, table.percents, table.freeze_c)
    if want > HIGHEST_PCT:
        raise AnswerError(
            f"{want:g} % is more {question.glycol} glycol than a cooling system takes: it carries less heat, and beyond "
            f"about {HIGHEST_PCT:g} % the freeze point no longer falls for certain.",
            do=f"Ask for {HIGHEST_PCT:g} % or less; {ends}.",
        )
    return now, want


def _families(question: CoolantQuestion) -> None:
    now, new = question.inhibitor_now, question.inhibitor_new
    if now and new and now != new and question.with_pct != 0:
        raise AnswerError(
            f"{now} and {new} inhibitors are not mixed: each can spoil the other's protection.",
            do="Use coolant of the family that is in it, or drain and flush the whole system and fill it from empty.",
        )


def _fill(question: CoolantQuestion, table: FreezeTable, want: float) -> Worked:
    strength = 100.0 if question.with_pct is None else question.with_pct
    with asking(f"Use coolant of {want:g} % or more."):
        coolant_l, water_l = mixing.parts_for_fill(question.system_l, want, strength)
    step = _Step(0.0, coolant_l, water_l, want)
    says = f"Into the empty system: {volume_text(coolant_l)} of {_named(strength)}"
    says += f" and {volume_text(water_l)} of water." if water_l > 0.005 else "."
    return _worked(question, table, [step], strength, says, 0.0)


def _correct(question: CoolantQuestion, table: FreezeTable, now: float, want: float) -> Worked:
    strength = question.with_pct
    if strength is None:
        strength = 100.0 if want >= now else 0.0
    drainable = question.system_l if question.drainable_l is None else question.drainable_l
    if drainable > question.system_l:
        raise AnswerError(
            f"{volume_text(drainable)} cannot be drained from a system of {volume_text(question.system_l)}.",
            do="Check both volumes.",
        )
    way = "above" if want > now else "below"
    with asking(f"What goes in must be at or {way} {want:g} %, and enough must come out at a time: give --drainable."):
        swaps = mixing.swaps(question.system_l, now, want, strength, drainable)
    steps = [_step(swap, strength) for swap in swaps]
    poured = sum(step.coolant_l + step.water_l for step in steps)
    if not steps:
        says = f"It is at {now:.3g} % already: nothing to drain."
    elif len(steps) == 1:
        says = (
            f"Drain {volume_text(poured)}, and put back as much {_named(strength)}: {now:.3g} % becomes {want:.3g} %."
        )
    else:
        says = (
            f"One drain of {volume_text(drainable)} cannot do it. Drain and put back {_named(strength)} {len(steps)} times, "
            f"{volume_text(poured)} in all, and run it warm, let it mix and cool between: {now:.3g} % becomes {want:.3g} %."
        )
    return _worked(question, table, steps, strength, says, poured)


def _step(swap: Swap, strength: float) -> _Step:
    water = strength == 0
    return _Step(swap.drain_l, 0.0 if water else swap.add_l, swap.add_l if water else 0.0, swap.percent_after)


def _named(strength: float) -> str:
    if strength == 0:
        return "water"
    return "concentrate" if strength == 100 else f"coolant of {strength:g} %"


def _worked(
    question: CoolantQuestion, table: FreezeTable, steps: Sequence[_Step], strength: float, says: str, drained_l: float
) -> Worked:
    now, want = _concentrations(question, table)
    coolant_l = sum(step.coolant_l for step in steps)
    water_l = sum(step.water_l for step in steps)
    boxes, left_l = _containers(question, coolant_l)
    freeze_c = _freeze(want, table)
    values: dict[str, object] = {
        "drain_l": round(drained_l, 3), "add_l": round(coolant_l + water_l, 3), "coolant_l": round(coolant_l, 3),
        "water_l": round(water_l, 3), "now_percent": None if now is None else round(now, 2),
        "want_percent": round(want, 2), "with_percent": strength, "glycol": question.glycol,
        "freeze_c": None if freeze_c is None else round(freeze_c, 2),
        "swaps": [_swap_json(step) for step in steps] if len(steps) > 1 else [],
        "containers": boxes, "left_over_l": round(left_l, 3), "source": f"{table.source} ({table.status})",
    }  # fmt: skip
    facts = [("Wanted", f"{want:.3g} % {question.glycol} glycol by volume")]
    facts.append(
        ("Freezes at", "not told below the table" if freeze_c is None else f"about {temperature_text(freeze_c)}")
    )
    if len(steps) > 1:
        facts += [
            (f"Swap {number}", f"{volume_text(step.drain_l)} out and in: {step.percent_after:.1f} %")
            for number, step in enumerate(steps, 1)
        ]
    if boxes:
        bought = ", ".join(f"{box['count']} of {volume_text(box['size_l'])}" for box in boxes)  # type: ignore[arg-type] # a number
        left = f"{volume_text(left_l)} is left over" if left_l > 0.005 else "nothing is left over"
        facts.append(("Buy and open", f"{bought}; {left}"))
    return Worked(says, values, tuple(facts), CAUTIONS, _notes(question, strength), _picture(now, want, steps))


def _picture(now: float | None, want: float, steps: Sequence[_Step]) -> str:
    from queries.drawings.coolant import coolant_drawing

    rows = [] if now is None else [("now", now)]
    name = "filled" if now is None else "swap {}" if len(steps) > 1 else "then"
    rows += [(name.format(number), step.percent_after) for number, step in enumerate(steps, 1)]
    return coolant_drawing(rows, want)


def _freeze(percent: float, table: FreezeTable) -> float | None:
    if percent < table.percents[0]:
        return None
    return mixing.freeze_point_c(percent, table.percents, table.freeze_c)


def _swap_json(step: _Step) -> dict[str, float]:
    return {
        "drain_l": round(step.drain_l, 3), "add_l": round(step.coolant_l + step.water_l, 3),
        "percent_after": round(step.percent_after, 2),
    }  # fmt: skip


def _containers(question: CoolantQuestion, needed_l: float) -> tuple[list[dict[str, object]], float]:
    if needed_l <= 0:
        return [], 0.0
    sizes = volumes_in(question.containers)
    with asking("Name one to five sizes, such as 1 gal, 5 gal."):
        counts = mixing.containers(needed_l, sizes)
    boxes: list[dict[str, object]] = [
        {"size_l": round(size, 3), "count": count} for size, count in zip(sizes, counts, strict=True) if count
    ]
    return boxes, sum(size * count for size, count in zip(sizes, counts, strict=True)) - needed_l


def _notes(question: CoolantQuestion, strength: float) -> tuple[str, ...]:
    notes = [
        "Per cent by volume. Freeze points of two published models differ by 2.5 to 3.5 K: check it with a refractometer "
        "when it is mixed through."
    ]
    if question.drainable_l is None and (question.now_pct is not None or question.now_freeze_c is not None):
        notes.append(
            "Taken to come out in one drain: an engine often keeps a third of its fill; say how much comes out."
        )
    if strength < 100:
        notes.append("Water, where any is mixed in, is distilled or deionised (common practice, no source).")
    return tuple(notes)
