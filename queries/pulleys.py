"""Pulleys and tensioners by diameter, grooves and use."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import ClassVar

from kb.errors import AnswerError
from kb.measure import both_text
from kb.mechanics.belt_lengths import fit
from queries.answers import Answer, apart
from queries.history import NONE, Record, records

DOUBT_MM = 1.0
"""A caliper across a worn pulley or a rule across a big one: common practice, no source."""

EFFECTIVE_OVER_OUTSIDE_MM = 0.35
"""A PK pulley's effective diameter less its outside one: between 0, with the sharpest rib tips that ISO 9981's groove
allows, and about 0.7 mm, with round ones; the middle is taken."""

OVER_BALLS_LESS_EFFECTIVE_MM = 0.99
"""A PK pulley's diameter over 2.5 mm balls less its effective one (ISO 9981, row ``2X`` of ``belt_profiles.csv``)."""

_NEAREST = 5
_WORD_HITS = 500


@dataclass(frozen=True, slots=True)
class PulleyQuestion:
    """What was measured on a pulley; the diameter in mm across the rib tips or the flat face."""

    text: str | None = None
    diameter_mm: float | None = None
    ribs: int | None = None
    use: str | None = None
    limit: int = 10


@dataclass(frozen=True, slots=True)
class PulleyRow:
    """One pulley or tensioner beside the question.

    ``outside_diameter_mm`` is worked out where the sheet gives another diameter of a PK pulley; ``why`` says so.
    """

    KEYS: ClassVar[tuple[str, ...]] = (
        "part_no", "supplier", "use", "face", "grooves", "outside_diameter_mm", "difference_mm", "fit", "why",
        "description", "jobs_worked", "jobs_failed",
    )  # fmt: skip

    part_no: str
    supplier: str
    use: str | None
    face: str | None
    grooves: int | None
    outside_diameter_mm: float | None
    difference_mm: float | None
    fit: float
    why: str
    description: str | None
    record: Record = NONE

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        told = {"jobs_worked": self.record.worked, "jobs_failed": self.record.failed}
        return {name: told[name] if name in told else getattr(self, name) for name in self.KEYS}


@dataclass(frozen=True, slots=True)
class _Found:
    row: sqlite3.Row
    diameter_mm: float | None
    worked_out: str
    off: float | None
    likeness: float
    told: str


def ask_pulleys(connection: sqlite3.Connection, question: PulleyQuestion) -> Answer[PulleyRow]:
    """Find pulleys, best first; raises :class:`~kb.errors.AnswerError` where nothing was asked."""
    return _ask(connection, "pulley", question)


def ask_tensioners(connection: sqlite3.Connection, question: PulleyQuestion) -> Answer[PulleyRow]:
    """Find tensioners by their pulley, best first; raises :class:`~kb.errors.AnswerError` where nothing was asked."""
    return _ask(connection, "tensioner", question)


def _ask(connection: sqlite3.Connection, kind: str, question: PulleyQuestion) -> Answer[PulleyRow]:
    if not (question.text or question.use or question.diameter_mm or question.ribs):
        raise AnswerError("nothing was asked.", do="Give --diameter, --ribs, --use or words.")
    words = _said(connection, kind, question)
    found = sorted(_found(connection, kind, question, words, 2 * DOUBT_MM), key=lambda one: _rank(one, question))
    rows = _rows(connection, found[: question.limit], question)
    misses: list[PulleyRow] = []
    if not rows and question.diameter_mm is not None:
        others = sorted(_found(connection, kind, question, words, None), key=lambda one: abs(one.off or 0.0))
        misses = _rows(connection, others[:_NEAREST], question)
    notes = [] if rows or misses else _nothing_like_it(connection, kind, question)
    return Answer(rows, misses, _understood(kind, question), tuple(notes))


def _found(
    connection: sqlite3.Connection,
    kind: str,
    question: PulleyQuestion,
    words: dict[int, tuple[float, str]] | None,
    within: float | None,
) -> list[_Found]:
    """Return what has the grooves, is meant by the words, and is ``within`` so much of the diameter asked for."""
    others = "profile, effective_diameter_mm, over_balls_mm" if kind == "pulley" else "NULL, NULL, NULL"
    asked = question.diameter_mm
    low, high = (asked - within, asked + within) if asked is not None and within is not None else (None, None)
    listed = connection.execute(
        f"SELECT {others}, {kind}.id, part_no, code, supplier.name AS supplier, use, face, grooves, outside_diameter_mm, "
        f"description FROM {kind} JOIN supplier ON supplier.id = supplier_id WHERE (:ribs IS NULL OR grooves >= :ribs) "
        "AND (:low IS NULL OR outside_diameter_mm BETWEEN :low AND :high OR outside_diameter_mm IS NULL)",
        {"ribs": question.ribs, "low": low, "high": high},
    )
    found = []
    for row in listed:
        if words is not None and row["id"] not in words:
            continue
        diameter, worked_out = _outside(row)
        if asked is None:
            likeness, told = words[row["id"]] if words is not None else (100.0, "")
            found.append(_Found(row, diameter, worked_out, None, likeness, told))
        elif diameter is not None and (within is None or abs(diameter - asked) <= within):
            off = round(diameter - asked, 3)
            told = words[row["id"]][1] if words is not None else ""
            found.append(_Found(row, diameter, worked_out, off, fit(off, DOUBT_MM), told))
    return found


def _outside(row: sqlite3.Row) -> tuple[float | None, str]:
    """Return the outside diameter, and what it was worked out from where the sheet does not give it."""
    profile, effective, over_balls = row[0], row[1], row[2]
    if row["outside_diameter_mm"] is not None or (effective is None and over_balls is None):
        return row["outside_diameter_mm"], ""
    if row["face"] == "flat":
        return (effective, "") if effective is not None else (None, "")
    if profile not in (None, "PK"):
        return None, ""
    if effective is not None:
        return effective - EFFECTIVE_OVER_OUTSIDE_MM, "its effective diameter"
    return over_balls - OVER_BALLS_LESS_EFFECTIVE_MM - EFFECTIVE_OVER_OUTSIDE_MM, "its diameter over balls"


def _said(connection: sqlite3.Connection, kind: str, question: PulleyQuestion) -> dict[int, tuple[float, str]] | None:
    """Return what the words mean, by id: score and why; both text and use have to be met. ``None`` without words."""
    meant = [
        scores
        for text, scores in (
            (question.text, _by_text(connection, kind, question.text)),
            (question.use, _by_use(connection, kind, question.use)),
        )
        if text
    ]
    if not meant:
        return None
    both = set(meant[0]).intersection(*meant[1:])
    return {
        row_id: (min(scores[row_id][0] for scores in meant), ", ".join(scores[row_id][1] for scores in meant))
        for row_id in both
    }


def _by_text(connection: sqlite3.Connection, kind: str, text: str | None) -> dict[int, tuple[float, str]]:
    if not text:
        return {}
    from queries.text_index import search

    return {hit.row_id: (hit.score, hit.why) for hit in search(connection, text, _WORD_HITS, (kind,))}


def _by_use(connection: sqlite3.Connection, kind: str, asked: str | None) -> dict[int, tuple[float, str]]:
    """What a part is used on, compared word by word with its slips; what its description says counts as well."""
    if not asked:
        return {}
    scores = _by_text(connection, kind, asked)
    uses = [use for (use,) in connection.execute(f"SELECT DISTINCT use FROM {kind} WHERE use IS NOT NULL")]
    for use in uses:
        score = _likeness(asked, use)
        if score:
            said = f"used on: {use}" if score == 100.0 else f"used on: {use} (you wrote {asked})"
            for (row_id,) in connection.execute(f"SELECT id FROM {kind} WHERE use = ?", (use,)):
                if score >= scores.get(row_id, (0.0, ""))[0]:
                    scores[row_id] = (score, said)
    return scores


def _likeness(asked: str, use: str) -> float:
    """Return 100 where every word asked for stands in the use, less for each slip, 0 where a word is missing.

    >>> _likeness("altenator", "alternator"), _likeness("fan", "alternator"), _likeness("Fan", "fan belt")
    (90.0, 0.0, 100.0)
    """
    from kb.spelling import slips_allowed, words_of

    there = words_of(use)
    slips = 0
    for word in words_of(asked):
        if word in there:
            continue
        from rapidfuzz.distance import OSA

        least = min((OSA.distance(word, other) for other in there), default=99)
        if least > slips_allowed(word):
            return 0.0
        slips += least
    return max(50.0, 100.0 - 10.0 * slips)


def _nothing_like_it(connection: sqlite3.Connection, kind: str, question: PulleyQuestion) -> list[str]:
    """Say what there is, where neither a pulley nor a near miss answers."""
    if question.ribs:
        most = connection.execute(f"SELECT max(grooves) FROM {kind}").fetchone()[0]
        if most is not None and most < question.ribs:
            return [f"The {kind} with most grooves on the shelf has {most}."]
    if not question.use:
        return []
    uses = connection.execute(f"SELECT DISTINCT use FROM {kind} WHERE use IS NOT NULL ORDER BY use LIMIT 20").fetchall()
    return [f"Uses that the sheets name: {', '.join(use for (use,) in uses)}."] if uses else []


def _rank(one: _Found, question: PulleyQuestion) -> tuple[int, float, float, str, str]:
    """The grooves asked for before more of them, then by diameter, then by words."""
    more = (one.row["grooves"] or 0) - question.ribs if question.ribs else 0
    off = 0.0 if one.off is None else abs(one.off)
    return more, off, -one.likeness, one.row["supplier"], one.row["part_no"]


def _rows(connection: sqlite3.Connection, found: list[_Found], question: PulleyQuestion) -> list[PulleyRow]:
    listed = [one.row for one in found]
    told = records(connection, [(row["supplier"], row["part_no"]) for row in listed], [row["code"] for row in listed])
    rows = []
    for one in found:
        row = one.row
        record = told.get((row["supplier"], row["part_no"]), NONE)
        rows.append(
            PulleyRow(
                row["part_no"], row["supplier"], row["use"], row["face"], row["grooves"], one.diameter_mm, one.off,
                round(one.likeness, 1), "; ".join(filter(None, (*_why(one, question), record.says))),
                row["description"], record,
            )
        )  # fmt: skip
    return rows


def _why(one: _Found, question: PulleyQuestion) -> list[str]:
    said = [one.told]
    if one.off is not None:
        near = abs(one.off) < 0.05
        said.append("the diameter asked for" if near else f"{apart(one.off)} {'larger' if one.off > 0 else 'smaller'}")
    if one.worked_out:
        said.append(f"outside diameter worked out from {one.worked_out}")
    grooves = one.row["grooves"]
    if question.ribs and grooves and grooves > question.ribs:
        said.append(f"{grooves} grooves: the belt leaves {grooves - question.ribs} empty")
    return said


def _understood(kind: str, question: PulleyQuestion) -> str:
    said = [f"{kind}s"]
    if question.diameter_mm is not None:
        said.append(f"{both_text(question.diameter_mm)} across, within {apart(2 * DOUBT_MM)}")
    if question.ribs is not None:
        said.append(f"at least {question.ribs} grooves")
    if question.text:
        said.append(f"like {question.text!r}")
    if question.use:
        said.append(f"used on {question.use!r}")
    return ", ".join(said)
