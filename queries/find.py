"""One question over every kind at once."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from queries.answers import Answer
from queries.belts import BeltQuestion, BeltRow, ask_belts
from queries.clamps import ClampQuestion, ask_clamps
from queries.fittings import FittingQuestion, ask_fittings
from queries.hoses import HoseQuestion, ask_hoses
from queries.pulleys import PulleyQuestion, ask_pulleys, ask_tensioners
from queries.text_index import search
from queries.understanding import Understanding, understand


@dataclass(frozen=True, slots=True)
class FindRow:
    """One thing found; ``id`` is ``kind:supplier:part number``, ``job:id`` or ``thread:name``."""

    kind: str
    id: str
    title: str
    score: float
    why: str

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.__slots__}


def ask_find(connection: sqlite3.Connection, text: str, limit: int = 10) -> Answer[FindRow]:
    """Find anything: measurements are answered by the kind they belong to, words by every kind; best first."""
    understood = understand(text)
    best: dict[str, FindRow] = {}
    for row in (*_measured(connection, understood, limit), *_by_text(connection, understood, limit)):
        if row.id not in best or row.score > best[row.id].score:
            best[row.id] = row
    rows = sorted(best.values(), key=lambda row: (-row.score, row.kind, row.id))[:limit]
    misses = [] if rows else list(_misses(connection, understood))
    return Answer(rows, misses, understood.sentence)


def _measured(connection: sqlite3.Connection, asked: Understanding, limit: int) -> Iterator[FindRow]:
    if asked.thread:
        yield from _threads(connection, asked.thread)
    elif asked.length_mm is not None and asked.kind in _BY_LENGTH:
        yield from _BY_LENGTH[asked.kind](connection, asked, limit)


def _belts(connection: sqlite3.Connection, asked: Understanding, limit: int) -> Iterator[FindRow]:
    for row in ask_belts(connection, _belt_question(asked, limit)).rows:
        # A belt with the ribs asked for, however far inside the window, stands above one that only stands in.
        score = 0.45 * row.fit if row.stands_in else 50.0 + 0.5 * row.fit
        yield _part("belt", row.supplier, row.part_no, _belt_title(row), score, row.why)


def _hoses(connection: sqlite3.Connection, asked: Understanding, limit: int) -> Iterator[FindRow]:
    question = HoseQuestion(inside_mm=asked.length_mm, bends_deg=asked.bends_deg, limit=limit)
    for row in ask_hoses(connection, question).rows:
        yield _part("hose", row.supplier, row.part_no, row.description, row.fit, row.why)


def _clamps(connection: sqlite3.Connection, asked: Understanding, limit: int) -> Iterator[FindRow]:
    for row in ask_clamps(connection, ClampQuestion(asked.length_mm, limit)).rows:
        if row.supplier:
            yield _part("clamp", row.supplier, row.part_no, row.style, row.fit, row.why)


def _pulleys(connection: sqlite3.Connection, asked: Understanding, limit: int) -> Iterator[FindRow]:
    assert asked.kind is not None
    ask = ask_pulleys if asked.kind == "pulley" else ask_tensioners
    for row in ask(connection, PulleyQuestion(diameter_mm=asked.length_mm, limit=limit)).rows:
        yield _part(asked.kind, row.supplier, row.part_no, row.description, row.fit, row.why)


_BY_LENGTH = {"belt": _belts, "hose": _hoses, "clamp": _clamps, "pulley": _pulleys, "tensioner": _pulleys}


def _belt_question(asked: Understanding, limit: int) -> BeltQuestion:
    return BeltQuestion(length_mm=asked.length_mm, ribs=asked.ribs, profile=asked.profile, limit=limit)


def _belt_title(row: BeltRow) -> str:
    named = f"{row.ribs}{row.profile}{row.effective_length_mm:.0f}" if row.effective_length_mm else ""
    return " ".join(filter(None, (named, row.description)))


def _threads(connection: sqlite3.Connection, thread: str) -> Iterator[FindRow]:
    seen: set[str] = set()
    for row in ask_fittings(connection, FittingQuestion(text=thread)).rows:
        yield FindRow(
            "thread", f"thread:{row.thread}:{row.standard}", f"{row.thread}, {row.standard}", row.fit, row.why
        )
        for part in row.parts:
            key = f"{part['supplier']}:{part['part_no']}"
            if key not in seen:
                seen.add(key)
                yield _part("fitting", part["supplier"], part["part_no"], None, 80.0, f"has a {row.thread} end")


def _by_text(connection: sqlite3.Connection, asked: Understanding, limit: int) -> Iterator[FindRow]:
    # What was understood as a measurement is answered above: its numbers as words would bring every other size along.
    hits = search(connection, asked.text, limit, measured=asked.kind is not None and asked.length_mm is not None)
    for kind in dict.fromkeys(hit.kind for hit in hits):
        shown = _shown(connection, kind, [hit.row_id for hit in hits if hit.kind == kind])
        for hit in hits:
            if hit.kind == kind:
                first, title, supplier = shown[hit.row_id]
                if kind == "job":
                    yield FindRow("job", f"job:{first}", f"{first}: {title}", hit.score, hit.why)
                else:
                    yield _part(kind, supplier, first, title, hit.score, hit.why)


def _shown(connection: sqlite3.Connection, kind: str, row_ids: list[int]) -> dict[int, tuple[str, str, str]]:
    """Return of each row of a kind its part number, description and supplier; of a job its id and title."""
    marks = ", ".join("?" * len(row_ids))
    if kind == "job":
        asked = f"SELECT number, id, title, '' FROM job WHERE number IN ({marks})"
    else:
        asked = (
            f"SELECT {kind}.id, part_no, description, supplier.name FROM {kind} "
            f"JOIN supplier ON supplier.id = supplier_id WHERE {kind}.id IN ({marks})"
        )
    return {row_id: tuple(shown) for row_id, *shown in connection.execute(asked, row_ids)}


def _part(kind: str, supplier: str, part_no: str, title: str | None, score: float, why: str) -> FindRow:
    shown = f"{part_no}: {title}" if title else part_no
    return FindRow(kind, f"{kind}:{supplier}:{part_no}", f"{shown} ({supplier})", round(score, 1), why)


def _misses(connection: sqlite3.Connection, asked: Understanding) -> Iterable[FindRow]:
    if asked.kind == "belt" and asked.length_mm is not None:
        for row in ask_belts(connection, _belt_question(asked, 5)).misses:
            yield _part("belt", row.supplier, row.part_no, _belt_title(row), row.fit, row.why)
