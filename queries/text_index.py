"""Finding rows by part number or words, with the slips that people make; every hit says why.

Nothing close gives nothing: a part number may be off by the slips that :func:`kb.spelling.slips_allowed` grants, a piece
of one must have four characters (three at its beginning), and of the words, weighed by how much they tell, half must be met.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kb.searched import SEARCHED, TEXTS
from kb.spelling import normalise_code, slip_in_words, slips_allowed, words_of
from queries.near_terms import Terms
from queries.word_hits import WordSearch

KINDS = SEARCHED
_PARTS = KINDS[:-1]
_ASKED_CHARACTERS = 300
_TOKENS = 12
"""Pieces of a question in which part numbers are looked for; a pasted paragraph holds words."""

_JOINED = 4
"""Pieces that may belong to one part number: "PT 89 76", "8 PK 1854"."""

_FORGIVEN = 6
"""Readings of a question as a part number that are looked up with slips, longest first."""

_NEAREST = 30
_CODES_AT_ONCE = 100
_NOT_LETTERS = re.compile(r"[\W_]+")


@dataclass(frozen=True, slots=True)
class Hit:
    """One row found: ``score`` 0 to 100, ``why`` in words."""

    kind: str
    row_id: int
    score: float
    why: str


@dataclass(frozen=True, slots=True)
class _Reading:
    """A part of the question taken for a part number, and the words beside it."""

    code: str
    start: int
    end: int
    whole: bool
    joined: bool
    has_digit: bool
    beside: tuple[str, ...]

    @property
    def pieces(self) -> int:
        """How many pieces of the question it takes."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class _Meaning:
    """Why a part number is meant; ``alone`` is the share of the score it has if none of the words beside it is met."""

    score: float
    alone: float
    why: str
    reading: _Reading


def search(
    connection: sqlite3.Connection,
    text: str,
    limit: int = 10,
    kinds: Sequence[str] | None = None,
    *,
    measured: bool = False,
) -> list[Hit]:
    """Return the rows that a text means, best first: part numbers, part numbers with a slip or in part, words.

    A text may hold both ("8pk1854 plow belt"). The order is that of score, then of kind, then of row. ``measured``: the
    text is a size that is answered elsewhere; here only the whole of it and its pieces are looked up, as part numbers
    without a slip.
    """
    wanted = [kind for kind in KINDS if kinds is None or kind in kinds]
    text = text[:_ASKED_CHARACTERS]
    terms = Terms(connection)
    words = WordSearch(connection, terms, text)
    parts = [kind for kind in wanted if kind in _PARTS]
    meant, all_of_it = _part_numbers_meant(
        connection, terms, _readings(text, 1 if measured else _JOINED), parts, forgiving=not measured
    )
    by_code = _rows_of(connection, words, meant, parts, limit)
    # Jobs name parts among their words; of parts, a number in several pieces is no words.
    worded = () if measured else words.rows([kind for kind in wanted if kind == "job"] if all_of_it else wanted, limit)
    best: dict[tuple[str, int], Hit] = {}
    for hit in (*_job_asked_for(connection, text, wanted), *by_code, *(Hit(*row) for row in worded)):
        key = (hit.kind, hit.row_id)
        if key not in best or hit.score > best[key].score:
            best[key] = hit
    return sorted(best.values(), key=lambda hit: (-hit.score, KINDS.index(hit.kind), hit.row_id))[:limit]


def _job_asked_for(connection: sqlite3.Connection, text: str, kinds: Sequence[str]) -> list[Hit]:
    asked = text.strip()
    if "job" not in kinds or not asked:
        return []
    named = connection.execute("SELECT number FROM job WHERE id IN (?, ?, ?)", (asked, asked.upper(), asked.lower()))
    return [Hit("job", number, 100.0, "the job asked for") for (number,) in named]


def _part_numbers_meant(
    connection: sqlite3.Connection, terms: Terms, readings: Sequence[_Reading], kinds: Sequence[str], *, forgiving: bool
) -> tuple[dict[str, _Meaning], bool]:
    """Return the part numbers that a text may mean, and whether all of it, in several pieces, is one of them.

    Once a longer reading is near to a part number, the pieces of it are not looked up on their own.
    """
    meant: dict[str, _Meaning] = {}
    clear: list[_Reading] = []
    tries = 0
    for reading in readings if kinds else ():
        if any(other.start <= reading.start and reading.end <= other.end for other in clear):
            continue
        _mean(meant, reading.code, _Meaning(100.0, 0.85, "the part number asked for", reading))
        for code, score, why in _part_of_code(connection, terms, reading, kinds):
            _mean(meant, code, _Meaning(score, 0.5, why, reading))
        if forgiving and _may_slip(reading) and tries < _FORGIVEN:
            tries += 1
            near = terms.near(reading.code, "code")[:_NEAREST]
            clear += [reading] * bool(near)
            for place, (slips, code) in enumerate(near):
                # Beyond one slip more than the nearest, chance likenesses begin.
                if 0 < slips <= near[0][0] + 1:
                    score = 96.0 - 60.0 * slips / len(reading.code) - 0.1 * place
                    why = f"part number, {slip_in_words(reading.code, code, slips)}"
                    _mean(meant, code, _Meaning(score, 0.7, why, reading))
    return meant, any(reading.whole and reading.pieces > 1 for reading in clear)


def _mean(meant: dict[str, _Meaning], code: str, meaning: _Meaning) -> None:
    if code not in meant or meaning.score > meant[code].score:
        meant[code] = meaning


def _readings(text: str, most: int) -> list[_Reading]:
    """Return what may be a part number, longest first: the whole text, and up to ``most`` pieces joined that have a digit."""
    pieces = text.split()[:_TOKENS]
    found: dict[str, _Reading] = {}
    spans = [(start, start + size) for size in range(most, 0, -1) for start in range(len(pieces) - size + 1)]
    for start, end in [(0, len(pieces)), *spans]:
        said = " ".join(pieces[start:end])
        has_digit = any(map(str.isdigit, said))
        joined = has_digit and all(map(_may_be_joined, pieces[start:end]))
        whole = end - start == len(pieces)
        code = normalise_code(said)
        if len(code) >= 3 and code not in found and (whole or joined or (has_digit and end - start == 1)):
            beside = tuple(words_of(" ".join(pieces[:start] + pieces[end:])))
            found[code] = _Reading(code, start, end, whole, joined, has_digit, beside)
    return sorted(found.values(), key=lambda reading: (-len(reading.code), reading.start))


def _may_be_joined(piece: str) -> bool:
    """Say whether a piece may be one of several of a part number: "8", "PK", "1854", but no word of four letters."""
    return len(piece) <= 3 or any(map(str.isdigit, piece))


def _may_slip(reading: _Reading) -> bool:
    """A short number in a line of words, or joined pieces of one, is likelier a size than a part number with a slip."""
    if not slips_allowed(reading.code) or (reading.pieces > 1 and not reading.joined):
        return False
    return reading.whole or len(reading.code) >= (5 if reading.pieces == 1 else 6)


def _part_of_code(
    connection: sqlite3.Connection, terms: Terms, reading: _Reading, kinds: Sequence[str]
) -> Iterator[tuple[str, float, str]]:
    asked = reading.code
    if reading.pieces > 1 and not reading.joined:
        return
    longer = set(terms.containing(asked, "code"))
    rows = connection.execute(
        " UNION ALL ".join(
            f"SELECT * FROM (SELECT code FROM {kind} WHERE code > ?1 AND code < ?2 ORDER BY code LIMIT 50)"
            for kind in kinds
        ),
        (asked, asked + "\U0010ffff"),
    )
    longer.update(code for (code,) in rows)
    for code in sorted(longer - {asked}):
        score = 55.0 + 35.0 * len(asked) / len(code)
        told = "begins so" if code.startswith(asked) else "ends so" if code.endswith(asked) else "has that in it"
        yield code, score, f"the part number {told}"


def _rows_of(
    connection: sqlite3.Connection, words: WordSearch, meant: dict[str, _Meaning], kinds: Sequence[str], limit: int
) -> list[Hit]:
    """Return the rows of the likeliest part numbers, until there are enough."""
    codes = sorted(meant, key=lambda code: (-meant[code].score, code))
    found: list[Hit] = []
    for start in range(0, len(codes), _CODES_AT_ONCE):
        some = codes[start : start + _CODES_AT_ONCE]
        marks = ", ".join("?" * len(some))
        for kind in kinds:
            rows = connection.execute(
                f"SELECT id, code, {', '.join(TEXTS[kind])} FROM {kind} WHERE code IN ({marks}) ORDER BY id", some
            )
            for row_id, code, part_no, *texts in rows:
                meaning = meant[code]
                if meaning.reading.has_digit or not _only_looks_alike(words.text, part_no):
                    found.append(_hit(words, kind, row_id, meaning, part_no, " ".join(filter(None, texts))))
        if len(found) >= limit:
            break
    return found


def _hit(words: WordSearch, kind: str, row_id: int, meaning: _Meaning, part_no: str, said: str) -> Hit:
    score = meaning.score
    told = meaning.why if score == 100.0 else f"{meaning.why}: {part_no}"
    if meaning.reading.beside:
        share, met = words.share(kind, meaning.reading.beside, f"{part_no} {said}")
        score *= meaning.alone + (1.0 - meaning.alone) * share
        told += f"; words: {met}" if met else ""
    return Hit(kind, row_id, round(score, 2), told)


def _only_looks_alike(asked: str, part_no: str) -> bool:
    """Say whether letters alone meet a part number only by digits that look like them: "oil" is not 011."""
    first, second = (_NOT_LETTERS.sub("", each.lower()) for each in (asked, part_no))
    return first not in second and any(map(str.isdigit, part_no))
