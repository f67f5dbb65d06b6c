"""Belts by what was measured: how long, how many ribs, how wide."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, replace
from heapq import merge
from itertools import islice

from kb.errors import AnswerError
from kb.measure import both_text
from kb.mechanics.belt_lengths import WAYS, effective_length, fit, parse_designation, window_mm
from queries.answers import Answer, apart
from queries.history import NONE, Record, records

EQUIVALENT_MM = 1.0
"""Belts of one profile and rib count this near in effective length do the same: common practice, no source."""

_COLUMNS = (
    "belt.id, part_no, code, supplier.name AS supplier, profile, ribs, section, top_width_mm, effective_length_mm, "
    "outside_length_mm, description"
)


@dataclass(frozen=True, slots=True)
class BeltQuestion:
    """What was measured; lengths in mm, ``measured`` one of the ways of :mod:`kb.mechanics.belt_lengths`."""

    text: str | None = None
    length_mm: float | None = None
    ribs: int | None = None
    measured: str = "effective"
    string_thickness_mm: float | None = None
    profile: str | None = None
    top_width_mm: float | None = None
    within_mm: float | None = None
    limit: int = 10


@dataclass(frozen=True, slots=True)
class BeltRow:
    """One belt beside the question; ``difference_mm`` is the belt minus what was asked, as effective length."""

    part_no: str
    supplier: str
    profile: str | None
    ribs: int | None
    effective_length_mm: float | None
    outside_length_mm: float | None
    difference_mm: float | None
    fit: float
    why: str
    section: str | None = None
    top_width_mm: float | None = None
    description: str | None = None
    stands_in: bool = False
    record: Record = NONE
    equivalents: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        names = (
            "part_no", "supplier", "profile", "ribs", "effective_length_mm", "outside_length_mm", "difference_mm",
            "fit", "why",
        )  # fmt: skip
        return {
            **{name: getattr(self, name) for name in names},
            "jobs_worked": self.record.worked,
            "jobs_failed": self.record.failed,
            "jobs_after_change": self.record.after_change,
            "section": self.section,
            "top_width_mm": self.top_width_mm,
            "description": self.description,
            "stands_in": self.stands_in,
            "equivalents": list(self.equivalents),
        }


def ask_belts(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    """Find belts, best first. Raises :class:`~kb.errors.AnswerError` where nothing or too little was asked."""
    question = _with_designation(question)
    if question.measured not in WAYS:
        raise AnswerError(f"{question.measured!r} is no way of measuring.", do=f"Known: {', '.join(WAYS)}.")
    if question.measured == "string" and question.length_mm is not None and question.string_thickness_mm is None:
        raise AnswerError("a string's thickness is needed.", do="Give --string-thickness, such as 2 mm.")
    if question.text:
        return _by_text(connection, question)
    if question.length_mm is None and question.ribs is None and question.top_width_mm is None:
        raise AnswerError("nothing was asked.", do='Give --length, --ribs, --top-width or words: --length "73 1/8 in".')
    if question.top_width_mm is not None:
        return _v_belts(connection, question)
    return _ribbed(connection, question)


def _with_designation(question: BeltQuestion) -> BeltQuestion:
    parsed = parse_designation(question.text) if question.text else None
    if parsed is None:
        return question
    ribs, profile, length = parsed
    return replace(question, text=None, ribs=ribs, profile=profile, length_mm=length, measured="effective")


def _ribbed(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    asked = None
    if question.length_mm is not None:
        asked = effective_length(question.length_mm, question.measured, question.string_thickness_mm)
    doubt = WAYS[question.measured].doubt_mm
    within = question.within_mm if question.within_mm is not None else window_mm(question.measured)
    profile = (question.profile or "PK").upper()
    exact = list(_walk(connection, profile, question.ribs, asked, within, question.limit))
    rows = _rows(connection, exact, asked, doubt)
    if question.ribs is not None and len(rows) < question.limit:
        rows += _stand_ins(connection, question, profile, asked, within, doubt, question.limit - len(rows))
    misses: list[BeltRow] = []
    if not rows and asked is not None:
        misses = _rows(connection, list(_walk(connection, profile, question.ribs, asked, 1e9, 5)), asked, doubt)
    return Answer(rows, misses, _understood(question, asked, within, profile), _notes(question))


def _walk(
    connection: sqlite3.Connection, profile: str, ribs: int | None, asked: float | None, within: float, limit: int
) -> Iterator[sqlite3.Row]:
    """Walk the index outwards from the asked length, nearest first: the cost does not grow with the window."""
    counts = [ribs] if ribs is not None else [
        row[0] for row in connection.execute("SELECT DISTINCT ribs FROM belt WHERE profile = ? AND ribs > 0", (profile,))
    ]  # fmt: skip
    start = asked if asked is not None else 0.0
    last = within if asked is not None else 1e9
    walks = []
    for count in counts:
        for bound, order in ((">= ?", "ASC"), ("< ?", "DESC")):
            walks.append(
                connection.execute(
                    f"SELECT {_COLUMNS} FROM belt JOIN supplier ON supplier.id = supplier_id WHERE profile = ? AND ribs = ? "
                    f"AND effective_length_mm {bound} ORDER BY effective_length_mm {order} LIMIT ?",
                    (profile, count, start, limit),
                )
            )
    nearest = merge(*walks, key=lambda row: abs(row["effective_length_mm"] - start))
    return islice((row for row in nearest if abs(row["effective_length_mm"] - start) <= last), limit)


def _rows(
    connection: sqlite3.Connection, found: list[sqlite3.Row], asked: float | None, doubt: float, note: str = ""
) -> list[BeltRow]:
    told = records(connection, [(row["supplier"], row["part_no"]) for row in found], [row["code"] for row in found])
    same = _equivalents(connection, found)
    rows = []
    for row in found:
        record = told.get((row["supplier"], row["part_no"]), NONE)
        effective = row["effective_length_mm"]
        off = None if asked is None or effective is None else round(effective - asked, 3)
        why = "; ".join(filter(None, (note, _difference_text(off), record.says)))
        rows.append(
            BeltRow(
                row["part_no"], row["supplier"], row["profile"], row["ribs"], effective, row["outside_length_mm"], off,
                round(100.0 if off is None else fit(off, doubt), 1), why, row["section"], row["top_width_mm"],
                row["description"], bool(note), record, same.get(row["id"], ()),
            )
        )  # fmt: skip
    return sorted(rows, key=_rank)


def _rank(row: BeltRow) -> tuple[float, int, int, str, str]:
    """Nearest first; belts within half a millimetre of each other by how the jobs with them ended."""
    off = 0 if row.difference_mm is None else round(abs(row.difference_mm) * 2)
    return (off, row.record.failed - row.record.worked, -row.record.worked, row.supplier, row.part_no)


def _difference_text(off: float | None) -> str:
    if off is None:
        return ""
    if abs(off) < 0.05:
        return "the length asked for"
    return f"{apart(off)} {'longer' if off > 0 else 'shorter'}"


def _equivalents(connection: sqlite3.Connection, found: list[sqlite3.Row]) -> dict[int, tuple[str, ...]]:
    """Return, by id, the belts of other suppliers that do the same; one range of the index serves all rows of a kind."""
    names = dict(map(tuple, connection.execute("SELECT id, name FROM supplier")))
    if len(names) < 2:
        return {}
    spans: dict[tuple[str, int], list[sqlite3.Row]] = {}
    for row in found:
        if row["ribs"] is not None and row["effective_length_mm"] is not None:
            spans.setdefault((row["profile"], row["ribs"]), []).append(row)
    same: dict[int, tuple[str, ...]] = {}
    for (profile, ribs), rows in spans.items():
        lengths = [row["effective_length_mm"] for row in rows]
        if max(lengths) - min(lengths) > 100.0:
            continue  # a list over all lengths is no look-up for one belt
        others = connection.execute(
            "SELECT effective_length_mm, supplier_id, part_no FROM belt "
            "WHERE profile = ? AND ribs = ? AND effective_length_mm BETWEEN ? AND ?",
            (profile, ribs, min(lengths) - EQUIVALENT_MM, max(lengths) + EQUIVALENT_MM),
        ).fetchall()
        told = sorted((names[supplier], part_no, length) for length, supplier, part_no in others)
        for row in rows:
            length, supplier = row["effective_length_mm"], row["supplier"]
            near = (f"{who} {part_no}" for who, part_no, its in told
                    if abs(its - length) <= EQUIVALENT_MM and who != supplier)  # fmt: skip
            same[row["id"]] = tuple(islice(near, 5))
    return same


def _stand_ins(
    connection: sqlite3.Connection,
    question: BeltQuestion,
    profile: str,
    asked: float | None,
    within: float,
    doubt: float,
    limit: int,
) -> list[BeltRow]:
    """Belts with one rib fewer or more: marked so, and after those with the ribs asked for."""
    assert question.ribs is not None
    rows: list[BeltRow] = []
    for ribs, note in (
        (question.ribs - 1, f"{question.ribs - 1} ribs instead of {question.ribs}: runs, carries less"),
        (
            question.ribs + 1,
            f"{question.ribs + 1} ribs instead of {question.ribs}: only where every pulley has the grooves",
        ),
    ):
        if ribs > 0 and asked is not None:
            found = list(_walk(connection, profile, ribs, asked, within, limit))
            rows += _rows(connection, found, asked, doubt, note)
    return sorted(rows, key=_rank)[:limit]


def _v_belts(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    assert question.top_width_mm is not None
    column = "outside_length_mm" if question.measured in ("outside", "string") else "effective_length_mm"
    doubt = WAYS[question.measured].doubt_mm
    within = question.within_mm if question.within_mm is not None else window_mm(question.measured)
    found = connection.execute(
        f"SELECT {_COLUMNS} FROM belt JOIN supplier ON supplier.id = supplier_id WHERE top_width_mm BETWEEN ? AND ? "
        f"AND (? IS NULL OR {column} IS NOT NULL)",
        (question.top_width_mm - 0.8, question.top_width_mm + 0.8, question.length_mm),
    ).fetchall()
    told = records(connection, [(row["supplier"], row["part_no"]) for row in found[:200]])
    rows = []
    for row in found:
        off = None if question.length_mm is None else round(row[column] - question.length_mm, 3)
        record = told.get((row["supplier"], row["part_no"]), NONE)
        why = "; ".join(filter(None, (f"compared as {question.measured} length", _difference_text(off), record.says)))
        rows.append(
            BeltRow(
                row["part_no"], row["supplier"], row["profile"], row["ribs"], row["effective_length_mm"],
                row["outside_length_mm"], off, round(100.0 if off is None else fit(off, doubt), 1), why, row["section"],
                row["top_width_mm"], row["description"], False, record,
            )
        )  # fmt: skip
    rows.sort(key=_rank)
    near = [row for row in rows if row.difference_mm is None or abs(row.difference_mm) <= within]
    return Answer(near[: question.limit], [] if near else rows[:5], _understood(question, None, within, None))


def _by_text(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    from queries.text_index import search

    assert question.text is not None
    hits = {hit.row_id: hit for hit in search(connection, question.text, 200, ("belt",))}
    found = [
        row
        for row in connection.execute(
            f"SELECT {_COLUMNS} FROM belt JOIN supplier ON supplier.id = supplier_id "
            f"WHERE belt.id IN ({', '.join(map(str, hits))})"
        )
        if (question.ribs is None or row["ribs"] == question.ribs)
        and (question.profile is None or row["profile"] == question.profile.upper())
    ]
    asked = None
    if question.length_mm is not None:
        asked = effective_length(question.length_mm, question.measured, question.string_thickness_mm)
        within = question.within_mm if question.within_mm is not None else window_mm(question.measured)
        found = [row for row in found if abs((row["effective_length_mm"] or 1e9) - asked) <= within]
    place = {(row["supplier"], row["part_no"]): hits[row["id"]] for row in found}
    rows = _rows(connection, found, asked, WAYS[question.measured].doubt_mm)
    rows.sort(key=lambda row: -place[row.supplier, row.part_no].score)
    rows = [
        replace(row, why="; ".join(filter(None, (place[row.supplier, row.part_no].why, row.why))))
        for row in rows[: question.limit]
    ]
    return Answer(rows, understood=f"belts like {question.text!r}")


def _understood(question: BeltQuestion, asked: float | None, within: float, profile: str | None) -> str:
    said = []
    if question.ribs is not None:
        said.append(f"{question.ribs} ribs {profile}" if profile else f"{question.ribs} ribs")
    if question.top_width_mm is not None:
        said.append(f"top width {both_text(question.top_width_mm)}")
    if question.length_mm is not None:
        said.append(f"{both_text(question.length_mm)}, as {question.measured} length")
        if asked is not None and question.measured != "effective":
            said.append(f"that is {both_text(asked)} effective")
        said.append(f"within {both_text(within)}")
    return ", ".join(said)


def _notes(question: BeltQuestion) -> tuple[str, ...]:
    if question.length_mm is None:
        return ()
    way = WAYS[question.measured]
    notes = [f"Measured as {way.name}: {way.says}; taken as good to {both_text(way.doubt_mm)} ({way.source})."]
    if question.measured == "string":
        notes.append("Flat pulleys under the string make the belt longer than this: a drive sheet counts them.")
    return tuple(notes)
