"""Finding rows by part number or words, with the slips that people make; every hit says why."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from kb.spelling import normalise_code, slips_allowed, words_of

KINDS = ("belt", "pulley", "tensioner", "hose", "fitting", "clamp", "job")
_PARTS = KINDS[:-1]
_LEFT_OUT = frozenset(
    [
        "a",
        "an",
        "and",
        "at",
        "by",
        "for",
        "from",
        "in",
        "is",
        "it",
        "of",
        "on",
        "or",
        "the",
        "to",
        "too",
        "with",
        "was",
        "not",
    ]
)
_LOOKED_AT = 400
"""Rows of one kind that are weighed: the word index has them in order of how rare their words are."""


@dataclass(frozen=True, slots=True)
class Hit:
    """One row found: ``score`` 0 to 100, ``why`` in words."""

    kind: str
    row_id: int
    score: float
    why: str


def search(connection: sqlite3.Connection, text: str, limit: int = 10, kinds: Sequence[str] | None = None) -> list[Hit]:
    """Return the rows that a text means, best first: whole part numbers, part numbers with a slip, then words."""
    wanted = tuple(kinds) if kinds else KINDS
    text = text[:300]
    best: dict[tuple[str, int], Hit] = {}
    for hit in (*_by_code(connection, text, wanted), *_by_words(connection, text, wanted)):
        key = (hit.kind, hit.row_id)
        if key not in best or hit.score > best[key].score:
            best[key] = hit
    return sorted(best.values(), key=lambda hit: (-hit.score, KINDS.index(hit.kind), hit.row_id))[:limit]


def _by_code(connection: sqlite3.Connection, text: str, kinds: Sequence[str]) -> Iterator[Hit]:
    if "job" in kinds:
        named = connection.execute("SELECT number FROM job WHERE id = ? COLLATE NOCASE", (text.strip(),))
        yield from (Hit("job", number, 100.0, "the job asked for") for (number,) in named)
    parts = [kind for kind in kinds if kind in _PARTS]
    asked = {normalise_code(text)} | {normalise_code(word) for word in text.split() if any(map(str.isdigit, word))}
    for code in sorted(asked - {""}, key=len, reverse=True):
        if len(code) < 3:
            continue
        for kind in parts:
            found = connection.execute(f"SELECT id FROM {kind} WHERE code = ? LIMIT 50", (code,))
            yield from (Hit(kind, row_id, 100.0, "the part number asked for") for (row_id,) in found)
            if len(code) >= 4:
                yield from _part_of_code(connection, kind, code)
    whole = normalise_code(text)
    if len(whole) >= 4 and any(map(str.isdigit, whole)):
        yield from _near_codes(connection, whole, parts)


def _part_of_code(connection: sqlite3.Connection, kind: str, code: str) -> Iterator[Hit]:
    found = connection.execute(
        f"SELECT id, code FROM {kind} WHERE code LIKE '%' || ? || '%' AND code <> ? LIMIT 50", (code, code)
    )
    for row_id, whole in found:
        where = "begins" if whole.startswith(code) else "ends" if whole.endswith(code) else "goes"
        told = {"begins": "begins so", "ends": "ends so", "goes": "has that in it"}[where]
        yield Hit(kind, row_id, 60.0 + 30.0 * len(code) / len(whole), f"the part number {told}")


def _near_codes(connection: sqlite3.Connection, code: str, kinds: Iterable[str]) -> Iterator[Hit]:
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    slips = slips_allowed(code)
    for kind in kinds:
        rows = connection.execute(f"SELECT id, code FROM {kind} WHERE length(code) BETWEEN ? AND ?",
                                  (len(code) - slips, len(code) + slips)).fetchall()  # fmt: skip
        codes = [row[1] for row in rows]
        found = process.extract(code, codes, scorer=OSA.distance, score_cutoff=slips, limit=30)
        for other, distance, place in found:
            if distance:
                word = "character" if distance == 1 else "characters"
                yield Hit(
                    kind, rows[place][0], 92.0 - 12.0 * distance, f"part number, {distance:g} {word} off: {other}"
                )


def _by_words(connection: sqlite3.Connection, text: str, kinds: Sequence[str]) -> Iterator[Hit]:
    asked = [
        word for word in dict.fromkeys(words_of(text)) if word not in _LEFT_OUT and (len(word) > 1 or word.isdigit())
    ]
    if not asked or not any(len(word) > 2 for word in asked):
        return
    for kind in kinds:
        known = {word: _alike(connection, kind, word) for word in asked}
        usable = {word: alike for word, alike in known.items() if alike}
        if sum(len(word) for word in usable) * 2 >= sum(map(len, asked)):
            yield from _weigh(connection, kind, asked, usable)


def _alike(connection: sqlite3.Connection, kind: str, word: str) -> dict[str, float]:
    """Return the index's words that a word may mean, each with its likeness up to 1."""
    exact = connection.execute(f"SELECT term FROM {kind}_word WHERE term = ?", (word,)).fetchone()
    if exact:
        return {word: 1.0}
    if word.isdigit() or len(word) < 3:
        return {}
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    slips = slips_allowed(word)
    terms = [
        term
        for (term,) in connection.execute(f"SELECT term FROM {kind}_word WHERE length(term) >= ?", (len(word) - slips,))
    ]
    near: dict[str, float] = {}
    if slips:
        found = process.extract(word, terms, scorer=OSA.distance, score_cutoff=slips, limit=12)
        near = {term: 1.0 - distance / len(word) for term, distance, _ in found}
    if len(word) >= 4:
        near |= {term: 0.9 for term in terms if term.startswith(word) and term not in near}
    return dict(sorted(near.items(), key=lambda item: (-item[1], item[0]))[:12])


def _weigh(
    connection: sqlite3.Connection, kind: str, asked: Sequence[str], usable: dict[str, dict[str, float]]
) -> Iterator[Hit]:
    groups = ["(" + " OR ".join(f'"{term}"' for term in alike) + ")" for alike in usable.values()]
    key, columns = (
        ("number", "job.title || ' ' || job.words")
        if kind == "job"
        else ("id", f"{kind}.part_no || ' ' || coalesce({kind}.description, '')")
    )
    rows: list[tuple[int, str]] = []
    for glue in (" AND ", " OR "):
        rows = connection.execute(
            f"SELECT {key}, {columns} FROM {kind}_fts JOIN {kind} ON {kind}.{key} = {kind}_fts.rowid "
            f"WHERE {kind}_fts MATCH ? ORDER BY bm25({kind}_fts) LIMIT ?",
            (glue.join(groups), _LOOKED_AT),
        ).fetchall()
        if rows:
            break
    total = sum(_weight(word) for word in asked)
    for row_id, said in rows:
        here = set(words_of(said))
        got, told = 0.0, []
        for word, alike in usable.items():
            likest = max((term for term in alike if term in here), key=alike.__getitem__, default=None)
            if likest is not None:
                got += _weight(word) * alike[likest]
                told.append(likest if likest == word else f"{likest} (you wrote {word})")
        # A short description that says all of it means more than a long one that also does.
        brevity = min(1.0, (len(asked) + 4) / (len(here) + 4)) if kind != "job" else 1.0
        score = 85.0 * got / total + 5.0 * brevity
        if score >= 40.0:
            yield Hit(kind, row_id, round(score, 2), f"words: {', '.join(told)}")


def _weight(word: str) -> float:
    return 1.0 if word.isdigit() or len(word) < 3 else min(len(word), 8) / 2.0
