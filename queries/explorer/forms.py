"""What each page asks: its fields, how to measure them, and how their texts become a question."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from kb.errors import AnswerError
from kb.fields import KINDS
from kb.measure import QUANTITIES, read


@dataclass(frozen=True, slots=True)
class Ask:
    """One field of a page's form; the name is the command's option."""

    name: str
    label: str
    quantity: str = "text"
    hint: str = ""
    choices: tuple[str, ...] = ()
    example: str = ""
    guide: str = ""
    """The drawn page that says how it is measured, under ``/measure/``."""


def value_of(ask: Ask, text: str) -> Any:
    """Read a field's text; empty is ``None``.

    Raises :class:`~kb.errors.MeasurementError`, and :class:`~kb.errors.AnswerError` for a choice that is not offered:
    an address passed on with a slip in it must not be answered as if it had asked for the first choice.
    """
    text = text.strip()
    if not text:
        return None
    if ask.choices and text not in ask.choices:
        raise AnswerError(f"{text!r} is no choice for {ask.label!r}.", do=f"Use one of: {', '.join(ask.choices)}.")
    if ask.quantity == "text":
        return text
    if ask.quantity.startswith("list of "):
        quantity = QUANTITIES[ask.quantity.removeprefix("list of ")]
        separator = ";" if ";" in text else ","
        return tuple(read(part.strip(), quantity) for part in text.split(separator) if part.strip())
    number = read(text, QUANTITIES[ask.quantity])
    return int(number) if ask.quantity == "count" else number


def _how(kind: str, field: str) -> str:
    return KINDS[kind].field(field).how


TEXT = Ask("text", "Part number or words")
FORMS: dict[str, tuple[Ask, ...]] = {
    "belts": (
        Ask("length", "Length", "length", "As printed on the belt, or as measured: then say how.", example="73 1/8 in",
            guide="outside-length"),
        Ask("ribs", "Ribs", "count", _how("belt", "ribs"), example="8", guide="ribs"),
        Ask("measured", "Measured as", choices=("effective", "outside", "pitch", "string"),
            hint="Effective: as printed. Outside: a tape round the back, belt off. String: round the pulleys."),
        Ask("string-thickness", "String's thickness", "length", example="2 mm"),
        Ask("top-width", "V-belt's top width", "length", _how("belt", "top_width_mm"), example="1/2 in"),
        TEXT,
    ),
    "pulleys": (
        Ask("diameter", "Diameter", "length", _how("pulley", "outside_diameter_mm"), example="3 in",
            guide="pulley-diameter"),
        Ask("ribs", "Grooves at least", "count", _how("pulley", "grooves"), example="8"),
        Ask("use", "Used on", example="alternator"),
        TEXT,
    ),
    "hoses": (
        Ask("inside", "Inside", "length", _how("hose", "inside_diameter_mm"), example="1 1/2 in"),
        Ask("length", "Length", "length", _how("hose", "length_mm"), example="14 in"),
        Ask("bends", "Bends", "list of angle", _how("hose", "bends_deg"), example="90, 45", guide="hose-bends"),
        Ask("legs", "Legs", "list of length", _how("hose", "legs_mm"), example="4 in, 7 in"),
        Ask("twists", "Twist between bends", "list of angle", _how("hose", "twists_deg"), example="90"),
        Ask("leg-within", "Legs between bends within", "length", "Else 6 mm: they cannot be cut.", example="6 mm"),
        Ask("bend-within", "Bends within", "angle", "Else 5 degrees; twists within twice it.", example="5"),
        Ask("service", "What runs in it", example="coolant"),
        TEXT,
    ),
    "clamps": (Ask("around", "Around", "length", "Caliper over the hose on its stub.", example="2 1/4 in"),),
    "fittings": (
        Ask("outside", "Outside, male thread", "length", "Caliper over the thread's crests.", example="22.1 mm",
            guide="thread"),
        Ask("inside", "Inside, female thread", "length", "Caliper inside the crests.", example="20.3 mm"),
        Ask("pitch", "Pitch", "pitch", "By the pitch gauge.", example="14 tpi"),
        Ask("count", "Threads counted", "number", "Crest to crest, where there is no gauge.", example="7"),
        Ask("over", "Counted over", "length", example="1/2 in"),
        Ask("seat", "Seat angle", "angle", "By the seat gauge on the cone; 0 where there is no cone.", example="37",
            guide="seat"),
        Ask("taper", "Taper", choices=("not known", "taper", "straight"), hint="Lay a straightedge along the thread."),
        Ask("tube", "Tube outside", "length", "Caliper over the tube that the fitting takes.", example="15 mm"),
        Ask("flanks", "Angle between flanks", choices=("not known", "55", "60"), hint="By a gauge of each form."),
        Ask("text", "Or the thread's name", example="7/8-14"),
    ),
    "adapters": (
        Ask("first", "One end", hint="Male or female, the thread, its seat or family.", example="male 7/8-14 37"),
        Ask("second", "The other end", hint="In any order; what is left out stays open.", example="female 1/2 NPT"),
    ),
    "jobs": (
        Ask("text", "Words", example="belt too short"),
        Ask("like", "Like the job", example="N-001"),
        Ask("drive", "On the drive", example="Water tender 4, fan plane"),
    ),
}  # fmt: skip


def read_form(page: str, texts: Mapping[str, str]) -> dict[str, Any]:
    """Return the values of a page's fields by option name with underscores."""
    return {ask.name.replace("-", "_"): value_of(ask, texts.get(ask.name, "")) for ask in FORMS[page]}


def question_of(page: str, values: Mapping[str, Any]) -> tuple[Callable[..., Any], Any]:
    """Return the query function of a page, and its question."""
    get = values.get
    if page == "belts":
        from queries.belts import BeltQuestion, ask_belts

        return ask_belts, BeltQuestion(
            get("text"), get("length"), get("ribs"), get("measured") or "effective", get("string_thickness"),
            top_width_mm=get("top_width"), limit=20,
        )  # fmt: skip
    if page == "pulleys":
        from queries.pulleys import PulleyQuestion, ask_pulleys

        return ask_pulleys, PulleyQuestion(get("text"), get("diameter"), get("ribs"), get("use"), 20)
    if page == "hoses":
        return _hose_question(values)
    if page == "clamps":
        from queries.clamps import ClampQuestion, ask_clamps

        return ask_clamps, ClampQuestion(get("around"), 20)
    if page == "fittings":
        return _fitting_question(values)
    if page == "adapters":
        from queries.adapters import AdapterQuestion, ask_adapters

        first, second = get("first"), get("second")
        if not (first and second):
            raise AnswerError("adapters join two ends.", do="Fill in both.")
        return ask_adapters, AdapterQuestion(first, second, 20)
    from queries.jobs import JobQuestion, ask_jobs

    return ask_jobs, JobQuestion(get("text"), get("like"), None, 20, get("drive"))


def _fitting_question(values: Mapping[str, Any]) -> tuple[Callable[..., Any], Any]:
    from kb.mechanics.threads import pitch_counted
    from queries.fittings import FittingQuestion, ask_fittings

    get = values.get
    if get("outside") is not None and get("inside") is not None:
        raise AnswerError("a thread is measured outside or inside, not both.", do="Empty one of the two fields.")
    pitch, count, over = get("pitch"), get("count"), get("over")
    if (count is None) != (over is None) or (over is not None and pitch is not None):
        raise AnswerError(
            "a pitch comes from the gauge, or from threads counted over a length.",
            do="Fill in one or the other, whole.",
        )
    if count is not None and over is not None:
        pitch = pitch_counted(count, over)
    taper = {"taper": True, "straight": False}.get(get("taper") or "")
    flanks = {"55": 55.0, "60": 60.0}.get(get("flanks") or "")
    return ask_fittings, FittingQuestion(
        get("text"), get("outside"), get("inside"), pitch, get("seat"), taper, 40, over, get("tube"), flanks
    )


def _hose_question(values: Mapping[str, Any]) -> tuple[Callable[..., Any], Any]:
    from kb.mechanics.moulded_search import Tolerance
    from queries.hoses import HoseQuestion, ask_hoses

    get = values.get
    for name, (low, high) in {"leg_within": (0.5, 100.0), "bend_within": (0.5, 45.0)}.items():
        value = get(name)
        if value is not None and not low <= value <= high:
            raise AnswerError(f"within {value:g} is no tolerance.", do=f"Give one from {low:g} to {high:g}, or none.")
    return ask_hoses, HoseQuestion(
        get("text"), get("service"), get("inside"), get("length"), get("legs") or (), get("bends") or (), 20,
        get("twists") or (), Tolerance.within(get("leg_within"), get("bend_within")),
    )  # fmt: skip
