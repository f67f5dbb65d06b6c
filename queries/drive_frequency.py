"""The note of each span of a standing drive, plucked: from tension to frequency, and from one span's note to the tension.

The engine is off and its key out: a running belt is never touched, and a fan may start without warning.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from kb.errors import AnswerError, DriveError
from kb.mechanics.frequency import span_frequency_hz, tension_doubt_n, tension_from_frequency_n
from kb.mechanics.grip import Assumption
from kb.sheets.drive_fields import DriveSheet
from queries.answers import Answer
from queries.drive_assumed import belt_mass, was_given
from queries.drive_grip import Held, held_tension
from queries.drive_laid import said_of
from queries.drive_running import RunningDrive, run_drive

HERTZ_DOUBT_SHARE = 0.02
"""Doubt of a plucked note as a share of it, where nobody says: from memory, and said."""
MASS_DOUBT_SHARE = 0.1
"""Doubt of a belt's mass that was not weighed, as a share of it: from memory, and said."""
STANDING = "Standing only: engine off, key out, before a hand goes near the belt; fans start without warning."


@dataclass(frozen=True, slots=True)
class FrequencyQuestion:
    """``tension_n``, or a ``span`` with the ``hertz`` at which it sounds, or neither: the tension of the sheet."""

    sheet: DriveSheet
    tension_n: float | None = None
    span: str | None = None
    hertz: float | None = None
    belt_length_mm: float | None = None


@dataclass(frozen=True, slots=True)
class SpanNote:
    """One span: its length, tension, and note. ``low``/``high`` are the spring's band, or one doubt either way."""

    KEYS: ClassVar[tuple[str, ...]] = (
        "span", "leaves", "reaches", "span_mm", "tension_n", "tension_low_n", "tension_high_n",
        "frequency_hz", "frequency_low_hz", "frequency_high_hz", "measured",
    )  # fmt: skip

    leaves: str
    reaches: str
    span_mm: float
    tension_n: float
    tension_low_n: float
    tension_high_n: float
    frequency_hz: float
    frequency_low_hz: float
    frequency_high_hz: float
    measured: bool

    @property
    def span(self) -> str:
        """What the span is called: the pulley it leaves and the one it reaches, in the direction of travel."""
        return f"{self.leaves} to {self.reaches}"

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.KEYS}


@dataclass(frozen=True, slots=True)
class _Band:
    low_n: float
    middle_n: float
    high_n: float
    how: str


def ask_frequency(question: FrequencyQuestion) -> Answer[SpanNote]:
    """Return the note of every span, in the direction of travel.

    Raises :class:`~kb.errors.AnswerError` for a question that is none, :class:`~kb.errors.DriveError` for a drive or span
    that cannot be, or a belt whose mass or tension is not known.
    """
    _check(question)
    drive = run_drive(question.sheet, question.belt_length_mm)
    mass = belt_mass(question.sheet)
    if mass is None:
        raise DriveError(
            f"the mass of {question.sheet.profile} belts is not known.",
            where=question.sheet.source,
            do="Weigh one, divide by its length, and add belt_mass_kg_per_m = 0.15.",
        )
    spans = spans_of(drive)
    measured = None if question.span is None else find_span(drive, question.span)
    held = held_tension(drive)
    with said_of(question.sheet):
        band = _band(question, drive, mass, None if measured is None else spans[measured][2], held)
        rows = [
            _note(leaves, reaches, length, band, mass.value, step == measured)
            for step, (leaves, reaches, length) in enumerate(spans)
        ]
    notes = [STANDING, *_beside_the_spring(band, held, question), *_assumed(mass, question), *drive.notes]
    return Answer(rows, [], f"{question.sheet.name}, {band.how}", tuple(dict.fromkeys(notes)))


def _check(question: FrequencyQuestion) -> None:
    if (question.span is None) != (question.hertz is None):
        raise AnswerError("a note belongs to a span.", do='Give both: --span "crank to fan" --hertz 92.')
    if question.tension_n is not None and question.hertz is not None:
        raise AnswerError("a tension and a note are both given.", do="Give --tension, or --span with --hertz.")
    for value, name, unit in ((question.tension_n, "tension", "N"), (question.hertz, "hertz", "Hz")):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise AnswerError(f"--{name} must be more than nothing, not {value:g} {unit}.")


def spans_of(drive: RunningDrive) -> list[tuple[str, str, float]]:
    """Return the spans in the direction of travel: the pulley each leaves, the one it reaches, its length in mm."""
    names = [one.name for one in drive.pulleys]
    return [
        (name, names[(step + 1) % len(names)], drive.route.spans[drive.span_place(step)].length_mm)
        for step, name in enumerate(names)
    ]


def find_span(drive: RunningDrive, named: str) -> int:
    """Return which span is called so, ``crank to fan`` or ``crank-fan``, either way round.

    Raises :class:`~kb.errors.DriveError` with the spans there are.
    """
    spans = spans_of(drive)
    key = " ".join(named.split()).casefold()
    for turned in (False, True):
        for step, (leaves, reaches, _) in enumerate(spans):
            one, other = (reaches, leaves) if turned else (leaves, reaches)
            spellings = {f"{one}{joint}{other}".casefold() for joint in (" to ", "-", " - ", "–", ",", ", ")}
            if key in spellings:
                return step
    known = "; ".join(f"{one} to {other}" for one, other, _ in spans)
    raise DriveError(f"no span is called {named!r}.", where=drive.sheet.source, do=f"There are: {known}.")


def _band(
    question: FrequencyQuestion, drive: RunningDrive, mass: Assumption, span_mm: float | None, held: Held | None
) -> _Band:
    if question.hertz is not None:
        assert span_mm is not None
        tension = tension_from_frequency_n(question.hertz, mass.value, span_mm)
        doubt = tension_doubt_n(
            question.hertz,
            question.hertz * HERTZ_DOUBT_SHARE,
            mass.value,
            0.0 if was_given(mass) else mass.value * MASS_DOUBT_SHARE,
            span_mm,
            math.sqrt(2.0) * drive.sheet.doubt.centre_mm,  # its two ends, each along the span
        )
        how = f"{question.span} sounding at {question.hertz:g} Hz: {tension:.0f} N, give or take {doubt:.0f}"
        return _Band(max(tension - doubt, tension * 1e-3), tension, tension + doubt, how)
    if question.tension_n is not None:
        return _Band(*(question.tension_n,) * 3, f"tension {question.tension_n:g} N")
    if held is None:
        raise DriveError(
            "the belt's tension is not known.",
            where=question.sheet.source,
            do='Give --tension 550, or --span "crank to fan" --hertz 92, or add the arm\'s torque_nm or tension_n.',
        )
    middle = (held.low_n + held.high_n) / 2
    between = f"{held.low_n:.0f} N" if held.low_n == held.high_n else f"{held.low_n:.0f} to {held.high_n:.0f} N"
    return _Band(held.low_n, middle, held.high_n, f"tension {between}: {held.how}")


def _note(leaves: str, reaches: str, span_mm: float, band: _Band, mass: float, measured: bool) -> SpanNote:
    low, middle, high = (
        span_frequency_hz(tension, mass, span_mm) for tension in (band.low_n, band.middle_n, band.high_n)
    )
    return SpanNote(
        leaves, reaches, span_mm, band.middle_n, band.low_n, band.high_n, middle, low, high, measured
    )  # fmt: skip


def _beside_the_spring(band: _Band, held: Held | None, question: FrequencyQuestion) -> list[str]:
    """Say whether a measured tension lies in the spring's band."""
    if held is None or not held.sprung or question.hertz is None:
        return []
    state = "lies within" if band.high_n >= held.low_n and band.low_n <= held.high_n else "is outside"
    return [
        f"{band.middle_n:.0f} N {state} what {held.how} gives here, {held.low_n:.0f} to {held.high_n:.0f} N "
        "(doubt considered)."
    ]


def _assumed(mass: Assumption, question: FrequencyQuestion) -> list[str]:
    said = []
    if not was_given(mass):
        said.append(f"Assumed: belt mass {mass.value:g} kg/m ({mass.source}, {mass.status}); weigh a belt to know it.")
        if question.hertz is not None:
            said.append(f"Assumed: that mass to {MASS_DOUBT_SHARE:.0%} (from memory).")
    if question.hertz is not None:
        said.append(f"Assumed: the note read to {HERTZ_DOUBT_SHARE:.0%} (from memory).")
    said.append("Short spans of a stiff belt sound a little higher than reckoned here: pluck the longest.")
    return said
