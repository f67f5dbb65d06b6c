"""The distinct part numbers and words of the shelf, found in spite of slips or by a piece of them."""

from __future__ import annotations

import sqlite3
import sys
from array import array
from bisect import bisect_left
from collections.abc import Iterable

from kb.spelling import (
    LONGEST,
    NUMBER_BITS,
    POSTING_LIMIT,
    RUN,
    keys_inside,
    keys_near,
    place_of,
    slips_allowed,
    within,
)

_COMPARED = 400
"""Terms that are compared letter by letter; of more, those that share most of what is left with slips taken out."""

_LONG = 8

_NUMBER = (1 << NUMBER_BITS) - 1


class Terms:
    """The index of distinct terms on one connection; an index that was never made knows nothing."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        made = connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'search_shape'").fetchone()
        shape = connection.execute("SELECT bits FROM search_shape").fetchone() if made else None
        self._bits: int | None = shape[0] if shape else None

    def near(self, asked: str, kind: str = "word") -> list[tuple[int, str]]:
        """Return the terms of a kind within the allowed slips, with how many: fewest first, then by likeness.

        A long word near to none may have a third of its letters wrong, if a run of four of them is right.
        """
        slips = slips_allowed(asked)
        if self._bits is None or not slips or len(asked) > LONGEST:
            return []
        found = self._within(asked, kind, slips, keys_near(asked, kind))
        if not found and kind == "word" and len(asked) >= _LONG:
            found = self._within(asked, kind, len(asked) // 3, keys_inside(asked, kind))
        return found

    def _within(self, asked: str, kind: str, slips: int, keys: Iterable[int]) -> list[tuple[int, str]]:
        postings = self._postings(keys)
        numbers = sorted({number for posting in postings for number in posting})
        if not numbers:
            return []  # without loading rapidfuzz
        if len(numbers) > _COMPARED:
            # What few share tells more than what thousands do.
            weights = dict.fromkeys(numbers, 0.0)
            for posting in postings:
                for number in posting:
                    weights[number] += 1.0 / len(posting)
            numbers = sorted(numbers, key=lambda number: (-weights[number], number))[:_COMPARED]
        found = within(asked, self._terms(numbers, kind), slips)
        return sorted(set(found), key=lambda each: (*_unlikeness(asked, *each), each))

    def containing(self, run: str, kind: str = "word", limit: int = 50) -> list[str]:
        """Return terms that have a run of at least four characters in them, shortest first."""
        if not RUN <= len(run) <= LONGEST:
            return []
        postings = self._postings(keys_inside(run, kind))
        if len(postings) < len(set(keys_inside(run, kind))):
            return []
        # A full posting does not know all; the others do.
        whole = [set(posting) for posting in postings if len(posting) < POSTING_LIMIT] or [set(postings[0])]
        numbers = set.intersection(*whole)
        found = {term for term in self._terms(sorted(numbers), kind) if run in term}
        return sorted(found, key=lambda term: (len(term), term))[:limit]

    def beginning(self, start: str, most: int, limit: int = 12) -> list[str]:
        """Return the words that begin so and go on for up to ``most`` more letters, shortest first."""
        if self._bits is None:
            return []
        rows = self.connection.execute(
            "SELECT word FROM search_word WHERE word > ? AND word < ? AND length(word) <= ? "
            "ORDER BY length(word), word LIMIT ?",
            (start, start + "\U0010ffff", len(start) + most, limit),
        )
        return [word for (word,) in rows]

    def known(self, words: Iterable[str]) -> dict[str, tuple[int, int]]:
        """Return of each known word how often it is used and the bit mask of the kinds that use it."""
        asked = list(words)
        if self._bits is None:
            return {}
        rows = self.connection.execute(
            f"SELECT word, uses, kinds FROM search_word WHERE word IN ({_marks(asked)})", asked
        )
        return {word: (uses, kinds) for word, uses, kinds in rows}

    def _postings(self, keys: Iterable[int]) -> list[list[int]]:
        """Return the term numbers filed under each key that has any, smallest posting first."""
        if self._bits is None:
            return []
        places = {place_of(key, self._bits) for key in keys}
        buckets = sorted({bucket for bucket, _ in places})
        rows = self.connection.execute(
            f"SELECT bucket, entries FROM search_form WHERE bucket IN ({_marks(buckets)})", buckets
        )
        entries = {bucket: _entries(blob) for bucket, blob in rows}
        postings = []
        for bucket, mark in sorted(places):
            filed = entries.get(bucket)
            if filed:
                start = bisect_left(filed, mark << NUMBER_BITS)
                posting = filed[start : bisect_left(filed, (mark + 1) << NUMBER_BITS, start)]
                if posting:
                    postings.append([entry & _NUMBER for entry in posting])
        return sorted(postings, key=len)

    def _terms(self, numbers: list[int], kind: str) -> list[str]:
        rows = self.connection.execute(f"SELECT {kind} FROM search_{kind} WHERE number IN ({_marks(numbers)})", numbers)
        return [term for (term,) in rows]


def _marks(values: list[int] | list[str]) -> str:
    return ", ".join("?" * len(values))


def _entries(blob: bytes) -> array[int]:
    entries = array("I", blob)
    if sys.byteorder == "big":
        entries.byteswap()
    return entries


_ALIKE = {frozenset(pair) for pair in ("5s", "8b", "2z", "6g", "0d", "0q", "1t", "17", "uv", "mn", "ce")}
"""Characters that are misread for each other on worn labels (common practice, no source)."""


def _unlikeness(asked: str, slips: int, term: str) -> tuple[int, int, int]:
    """Order terms of equally many slips: by the likelier slip, then by how far they begin alike."""
    if len(asked) != len(term):
        kind = 1
    else:
        wrong = [frozenset(pair) for pair in zip(asked, term, strict=True) if pair[0] != pair[1]]
        swapped = len(wrong) == 2 * slips and all(wrong.count(pair) == 2 for pair in wrong)
        kind = 0 if swapped or all(pair in _ALIKE for pair in wrong) else 2
    same = next((at for at, (one, other) in enumerate(zip(asked, term, strict=False)) if one != other), len(asked))
    return slips, kind, -same
