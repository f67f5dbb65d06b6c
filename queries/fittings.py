"""Which thread this is, what else it could be, what would settle it, and the parts that have it."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field

from kb.errors import AnswerError
from kb.mechanics.thread_questions import Question, describe, settling_question, tell_apart
from kb.mechanics.threads import CALIPER_DOUBT_MM, Candidate, Seen, Thread, ThreadError, Use, identify, shown
from kb.reference.thread_names import EXAMPLES, find_name, threads_named
from kb.reference.threads import thread_candidates
from queries.answers import Answer, caliper_text
from queries.shelf_ends import is_of_family, rows_with, spellings

WORTH_SHOWING = 2.0
"""Threads, and families of a thread, less likely than this in a hundred of the best are not shown."""

MOST_PARTS = 12
_NEAREST = 3


@dataclass(frozen=True, slots=True)
class FittingQuestion:
    """What was measured on a thread, or the thread's name as ``text``; lengths in mm, angles in degrees.

    ``pitch_mm`` comes from counting where ``counted_over_mm`` is given. ``seat_deg`` is the cone's half or whole angle, 0
    where there is none; ``flanks_deg`` the angle between flanks.
    """

    text: str | None = None
    outside_mm: float | None = None
    inside_mm: float | None = None
    pitch_mm: float | None = None
    seat_deg: float | None = None
    taper: bool | None = None
    limit: int = 10
    counted_over_mm: float | None = None
    tube_mm: float | None = None
    flanks_deg: float | None = None
    doubt_mm: float = CALIPER_DOUBT_MM

    @property
    def measured_mm(self) -> float | None:
        """What the caliper read, inside or outside."""
        return self.inside_mm if self.inside_mm is not None else self.outside_mm

    def seen(self) -> Seen:
        """Return it as the thread arithmetic takes it."""
        return Seen(
            self.measured_mm, self.inside_mm is not None, self.pitch_mm, self.seat_deg, self.taper, self.doubt_mm,
            self.counted_over_mm, self.tube_mm, self.flanks_deg,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class FittingRow:
    """One family's use of a thread it may be: rows of one thread have one ``place``, 1 for the likeliest thread.

    ``fit`` is 100 for the likeliest family of the likeliest thread, ``share`` the thread's part of all likelihood in a
    hundred, ``families`` everyone who uses the thread, shown here or not.
    """

    standard: str
    end: str
    dash: str | None
    thread: str
    outside_diameter_mm: float
    threads_per_inch: float | None
    pitch_mm: float
    seat_deg: float | None
    taper: bool
    seals_on: str
    difference_mm: float | None
    fit: float
    why: str
    source: str
    checked: bool
    place: int
    share: float
    families: list[str]
    tube_outside_diameter_mm: float | None
    told_apart: str
    settled_by: str
    parts: list[dict[str, str]] = field(default_factory=list)

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True)
class FittingAnswer(Answer[FittingRow]):
    """Rows, with the threads that they stand for and the measurement that would settle which."""

    threads: tuple[Thread, ...] = ()
    settling: Question | None = None


def ask_fittings(connection: sqlite3.Connection | None, question: FittingQuestion) -> FittingAnswer:
    """Tell which threads fit what was measured, likeliest first, a row per family; without a shelf no parts are named.

    Raises :class:`~kb.errors.AnswerError` where nothing was asked, or a reading cannot be.
    """
    seen, named = question.seen(), threads_named(question.text) if question.text else None
    if named == ():
        return FittingAnswer([], [], f"the thread {question.text!r}", (_not_known(question),))
    try:
        judged = identify(thread_candidates() if named is None else named, seen, named is not None)
    except ThreadError as error:
        raise AnswerError(f"{error}.", do="Give a caliper reading and a pitch, or a thread's name.") from error
    found = shown(judged, WORTH_SHOWING)
    if not found:
        nearest = _nearest(judged, seen)
        misses = [_missed(one, place, seen) for place, one in enumerate(nearest, 1)]
        return FittingAnswer([], misses, _understood(question), (), tuple(one.thread for one in nearest))
    settling = settling_question(found, seen)
    rows = _rows(found, seen, settling, connection)[: question.limit]
    notes = _settling_notes(settling) if settling else ()
    told = tuple(one.thread for one in found)[: rows[-1].place]
    return FittingAnswer(rows, [], _understood(question), notes, told, settling)


def _rows(
    found: Sequence[Candidate], seen: Seen, settling: Question | None, connection: sqlite3.Connection | None
) -> list[FittingRow]:
    best, rows = found[0], []
    spelt = spellings(connection) if connection is not None else {}
    for place, one in enumerate(found, 1):
        parts = _parts(connection, one.thread, spelt.get(one.thread, []), seen.inside)
        apart = "" if place == 1 else tell_apart(best.thread, one.thread, seen.inside)
        said = f"unlike {best.thread.name}: {apart}" if apart else describe(one.thread, seen.inside).partition(": ")[2]
        likely = [(use, value) for use, value in one.uses if 100 * value >= WORTH_SHOWING * one.likelihood]
        unlikely = [use for use, _ in one.uses if use not in dict(likely)]
        for use, likelihood in likely:
            rows.append(
                _row(
                    one.thread, use, seen, place=place, fit=round(100 * likelihood / best.likelihood, 1),
                    why=_why(use, said, unlikely), share=round(100 * one.share, 1), told_apart=apart,
                    settled_by=settling.words if settling else "", parts=parts.get(use, [])[:MOST_PARTS],
                )
            )  # fmt: skip
            said = ""
    return rows


def _row(thread: Thread, use: Use, seen: Seen, **judged: object) -> FittingRow:
    measured = seen.diameter_mm
    nominal = thread.female_large_mm if seen.inside else thread.nominal_mm
    return FittingRow(
        standard=use.family,
        end="female" if seen.inside else "male",
        dash=use.dash or None,
        thread=use.thread,
        outside_diameter_mm=thread.nominal_mm,
        threads_per_inch=round(thread.threads_per_inch, 3),
        pitch_mm=thread.pitch_mm,
        seat_deg=use.seat_half_deg,
        taper=thread.taper,
        seals_on=use.sealing,
        difference_mm=None if measured is None else round(nominal - measured, 3),
        source=use.standard,
        checked=use.checked,
        families=[f"{each.family} {each.dash}".strip() for each in thread.uses],
        tube_outside_diameter_mm=use.tube_outside_mm,
        **judged,  # type: ignore[arg-type] # the judgement's own fields, typed where they are made
    )


def _why(use: Use, said: str, unlikely: Sequence[Use] = ()) -> str:
    """What a thread measures (on its first row), how this family seals, and who else uses it though it hardly is theirs."""
    words = [said, f"seals on {use.sealing}"]
    if said and unlikely:
        words.append(f"the same thread also serves {', '.join(dict.fromkeys(each.family for each in unlikely))}")
    if not use.checked:
        words.append("from memory: check before ordering")
    return "; ".join(filter(None, words))


def _nearest(judged: Sequence[Candidate], seen: Seen) -> list[Candidate]:
    """The threads nearest to a reading that none can give: by diameter and pitch together."""

    def off(one: Candidate) -> float:
        nominal = one.thread.female_large_mm if seen.inside else one.thread.nominal_mm
        by_size = 0.0 if seen.diameter_mm is None else abs(nominal - seen.diameter_mm) / nominal
        return by_size + (0.0 if seen.pitch_mm is None else abs(1 - seen.pitch_mm / one.thread.pitch_mm))

    return sorted(judged, key=off)[:_NEAREST]


def _missed(one: Candidate, place: int, seen: Seen) -> FittingRow:
    use, _ = one.uses[0]
    why = f"nearest, yet not it: {_why(use, describe(one.thread, seen.inside).partition(': ')[2])}"
    return _row(one.thread, use, seen, place=place, fit=0.0, why=why, share=0.0, told_apart="", settled_by="")


def _parts(
    connection: sqlite3.Connection | None, thread: Thread, spelt: Sequence[str], inside: bool
) -> dict[Use, list[dict[str, str]]]:
    """The shelf's parts with an end of this thread, by family: seats that share a thread do not seal on each other."""
    found: dict[Use, list[dict[str, str]]] = {}
    if connection is None:
        return found
    for letter, row in rows_with(connection, spelt, "female" if inside else "male"):
        for use in thread.uses:
            if is_of_family(row[f"end_{letter}_standard"], row[f"end_{letter}_seat_deg"], use, thread.uses):
                part = {"supplier": row["supplier"], "part_no": row["part_no"]}
                if part not in found.setdefault(use, []):
                    found[use].append(part)
    return found


def _settling_notes(settling: Question) -> tuple[str, ...]:
    answers = [f"{said}: {points_to}." for said, points_to in settling.answers]
    return (f"To settle it: {settling.words}", *answers)


def _not_known(question: FittingQuestion) -> str:
    text = question.text or ""
    what = "is in no table here" if find_name(text) else "is no thread's name"
    return f"{text!r} {what}. Write one like {EXAMPLES}, or measure it."


def _understood(question: FittingQuestion) -> str:
    said = [f"thread {question.text}"] if question.text else []
    for name, length_mm in (("outside", question.outside_mm), ("inside", question.inside_mm)):
        if length_mm is not None:
            said.append(f"{name} {caliper_text(length_mm)}")
    if question.doubt_mm != CALIPER_DOUBT_MM:
        said.append(f"give or take {question.doubt_mm:g} mm")
    if question.pitch_mm is not None:
        said.append(f"pitch {question.pitch_mm:.3g} mm ({25.4 / question.pitch_mm:.3g} per inch)")
    if question.counted_over_mm is not None:
        said.append(f"counted over {caliper_text(question.counted_over_mm)}")
    return ", ".join([*said, *_looked_at(question)])


def _looked_at(question: FittingQuestion) -> list[str]:
    said = []
    if question.seat_deg is not None:
        said.append(f"seat {question.seat_deg:g} degrees" if question.seat_deg else "no cone")
    if question.taper is not None:
        said.append("taper" if question.taper else "parallel")
    if question.tube_mm is not None:
        said.append(f"tube {caliper_text(question.tube_mm)}")
    if question.flanks_deg is not None:
        said.append(f"flanks {question.flanks_deg:g} degrees")
    return said
