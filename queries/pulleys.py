"""Pulleys and tensioners by diameter, grooves and use."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from kb.errors import AnswerError
from kb.measure import both_text
from kb.mechanics.belt_lengths import fit
from queries.answers import Answer, apart
from queries.history import NONE, Record, records

DOUBT_MM = 1.0
"""A caliper across a worn pulley or a rule across a big one: common practice, no source."""


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
    """One pulley or tensioner beside the question."""

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
        names = [name for name in self.__slots__ if name != "record"]
        told = {"jobs_worked": self.record.worked, "jobs_failed": self.record.failed}
        return {**{name: getattr(self, name) for name in names}, **told}


def ask_pulleys(connection: sqlite3.Connection, question: PulleyQuestion) -> Answer[PulleyRow]:
    """Find pulleys, best first; raises :class:`~kb.errors.AnswerError` where nothing was asked."""
    return _ask(connection, "pulley", question)


def ask_tensioners(connection: sqlite3.Connection, question: PulleyQuestion) -> Answer[PulleyRow]:
    """Find tensioners by their pulley, best first; raises :class:`~kb.errors.AnswerError` where nothing was asked."""
    return _ask(connection, "tensioner", question)


def _ask(connection: sqlite3.Connection, kind: str, question: PulleyQuestion) -> Answer[PulleyRow]:
    if not (question.text or question.use or question.diameter_mm or question.ribs):
        raise AnswerError("nothing was asked.", do="Give --diameter, --ribs, --use or words.")
    words = " ".join(filter(None, (question.text, question.use)))
    scores = _word_scores(connection, kind, words) if words else None
    diameter = "coalesce(outside_diameter_mm, effective_diameter_mm)" if kind == "pulley" else "outside_diameter_mm"
    found = connection.execute(
        f"SELECT {kind}.id, part_no, supplier.name AS supplier, use, face, grooves, {diameter} AS diameter, description "
        f"FROM {kind} JOIN supplier ON supplier.id = supplier_id WHERE (? IS NULL OR {diameter} BETWEEN ? AND ?) "
        "AND (? IS NULL OR grooves >= ?)",
        (question.diameter_mm, (question.diameter_mm or 0) - 80, (question.diameter_mm or 0) + 80, question.ribs,
         question.ribs),
    )  # fmt: skip
    kept = [row for row in found if scores is None or row["id"] in scores]
    kept.sort(key=lambda row: _rank(row, question, scores))
    near = [row for row in kept if _off(row, question) is None or abs(_off(row, question) or 0) <= 2 * DOUBT_MM]
    rows = _rows(connection, near[: question.limit], question, scores)
    misses = [] if rows else _rows(connection, kept[:5], question, scores)
    return Answer(rows, misses, _understood(kind, question))


def _word_scores(connection: sqlite3.Connection, kind: str, words: str) -> dict[int, float]:
    from queries.text_index import search

    scores = {hit.row_id: hit.score for hit in search(connection, words, 300, (kind,))}
    for row_id, use in connection.execute(f"SELECT id, use FROM {kind} WHERE use IS NOT NULL"):
        if words.casefold() in use.casefold() or use.casefold() in words.casefold():
            scores[row_id] = 95.0
    return scores


def _off(row: sqlite3.Row, question: PulleyQuestion) -> float | None:
    if question.diameter_mm is None or row["diameter"] is None:
        return None
    return float(round(row["diameter"] - question.diameter_mm, 3))


def _rank(row: sqlite3.Row, question: PulleyQuestion, scores: dict[int, float] | None) -> tuple[float, int, float, str]:
    extra = (row["grooves"] or 0) - question.ribs if question.ribs else 0
    off = _off(row, question)
    return (extra, 0 if off is None else round(abs(off), 1), -(scores or {}).get(row["id"], 0.0), row["part_no"])  # type: ignore[return-value] # rounding keeps a float


def _rows(
    connection: sqlite3.Connection, found: list[sqlite3.Row], question: PulleyQuestion, scores: dict[int, float] | None
) -> list[PulleyRow]:
    told = records(connection, [(row["supplier"], row["part_no"]) for row in found])
    rows = []
    for row in found:
        off = _off(row, question)
        said = []
        if off is not None:
            said.append(
                "the diameter asked for" if abs(off) < 0.05 else f"{apart(off)} {'larger' if off > 0 else 'smaller'}"
            )
        if question.ribs and row["grooves"] and row["grooves"] > question.ribs:
            said.append(f"{row['grooves']} grooves: the belt leaves {row['grooves'] - question.ribs} empty")
        record = told.get((row["supplier"], row["part_no"]), NONE)
        if record.says:
            said.append(record.says)
        likeness = 100.0 if off is None else fit(off, DOUBT_MM)
        if scores is not None and off is None:
            likeness = scores[row["id"]]
        rows.append(
            PulleyRow(
                row["part_no"], row["supplier"], row["use"], row["face"], row["grooves"], row["diameter"], off,
                round(likeness, 1), "; ".join(said), row["description"], record,
            )
        )  # fmt: skip
    return rows


def _understood(kind: str, question: PulleyQuestion) -> str:
    said = [f"{kind}s"]
    if question.diameter_mm is not None:
        said.append(f"{both_text(question.diameter_mm)} across")
    if question.ribs is not None:
        said.append(f"at least {question.ribs} grooves")
    said += [f"like {text!r}" for text in (question.text, question.use) if text]
    return ", ".join(said)
