"""Finding rows by the words of a question, each word allowed its own slip; the rarest words lead."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from itertools import combinations
from math import log10

from kb.spelling import SEARCHED, words_of
from queries.near_terms import Terms

_LEFT_OUT = frozenset(
    ("a", "an", "and", "at", "by", "for", "from", "in", "is", "it", "not", "of", "on", "or", "the", "to", "too", "was",
     "with")
)  # fmt: skip
"""Words that tell nothing."""
_MOST_WORDS = 24
_HALF = 0.5
"""The share of what the question tells that a row must meet: below it, chance meetings of common words are the rule."""

_ORDERED_BELOW = 4000
"""Rows up to which the word index is asked for the best of them: of more, it would have to weigh every one."""

_TRIES = 10
_ALIKE = 12


class WordSearch:
    """One question's words, and what they may mean on this shelf."""

    def __init__(self, connection: sqlite3.Connection, terms: Terms, text: str) -> None:
        self._connection = connection
        self._terms = terms
        self.text = text
        asked = [word for word in dict.fromkeys(words_of(text)) if word not in _LEFT_OUT]
        self._asked = [word for word in asked if len(word) > 1 or word.isdigit()]
        self._alike: dict[str, dict[str, float]] = {}
        self._uses: dict[str, tuple[int, int]] = terms.known(self._asked)
        self._asked.sort(key=lambda word: (self._uses.get(word, (0, 0))[0], word))
        self._asked = self._asked[:_MOST_WORDS]
        self._near: dict[str, dict[str, float]] = {}

    def rows(self, kind: str, limit: int) -> Iterator[tuple[int, float, str]]:
        """Yield rows of a kind that meet half of the question or more: id, score up to 90, and why."""
        if not any(len(word) > 2 for word in self._asked):
            return
        meanings = {word: self._meanings(kind, word) for word in self._asked}
        usable = {word: meaning for word, meaning in meanings.items() if meaning}
        total = sum(self._weight(word) for word in self._asked)
        if sum(self._weight(word) for word in usable) < _HALF * total:
            return
        wanted = max(60, 2 * limit)
        numbers = self._candidates(kind, usable, total, wanted)
        for row_id, said in self._texts(kind, numbers):
            share, told, length = self._met(usable, total, said)
            if share >= _HALF:
                # A short description that says all of it means more than a long one that also does.
                brevity = min(1.0, (len(self._asked) + 4) / (length + 4)) if kind != "job" else 1.0
                yield row_id, round(85.0 * share + 5.0 * brevity, 2), f"words: {told}"

    def share(self, kind: str, words: Sequence[str], said: str) -> tuple[float, str]:
        """Return how much of some of the question's words a text meets, 0 to 1, and which, in words."""
        mine = [word for word in words if word in self._asked]
        if not mine:
            return 0.0, ""
        meanings = {word: self._meanings(kind, word) for word in mine}
        share, told, _ = self._met(meanings, sum(map(self._weight, mine)), said)
        return share, told

    def _met(self, meanings: dict[str, dict[str, float]], total: float, said: str) -> tuple[float, str, int]:
        here = set(words_of(said))
        got, told = 0.0, []
        for word, meaning in meanings.items():
            likest = max((term for term in meaning if term in here), key=meaning.__getitem__, default=None)
            if likest is not None:
                got += self._weight(word) * meaning[likest]
                told.append(f"'{likest}'" if likest == word else f"'{likest}' (you wrote '{word}')")
        return got / total, ", ".join(told), len(here)

    def _weight(self, word: str) -> float:
        """Return how much a word tells: plain numbers little, rare words three times as much as common ones."""
        if word.isdigit():
            return 1.0
        uses = self._uses.get(word, (0, 0))[0]
        return max(1.0, 3.0 - 0.5 * log10(1 + uses))

    def _meanings(self, kind: str, word: str) -> dict[str, float]:
        """Return the words of a kind that a word may mean, each with its likeness up to 1."""
        bit = 1 << SEARCHED.index(kind)
        if self._uses.get(word, (0, 0))[1] & bit:
            close = {word: 1.0, **dict.fromkeys(self._inflected(word), 0.95)}
        elif word.isdigit():
            close = {word: 1.0}
        else:
            close = {word: 1.0, **self._near_words(word)}
        known = self._terms_known(close)
        usable = {term: like for term, like in close.items() if term in known and known[term][1] & bit}
        best = sorted(usable.items(), key=lambda item: (-item[1], item[0]))[:_ALIKE]
        return dict(best) or ({word: 1.0} if self._in_index(kind, word) else {})

    def _terms_known(self, words: dict[str, float]) -> dict[str, tuple[int, int]]:
        new = [word for word in words if word not in self._uses]
        if new:
            found = self._terms.known(new)
            self._uses.update({word: found.get(word, (0, 0)) for word in new})
        return {word: self._uses[word] for word in words if self._uses[word][1]}

    def _inflected(self, word: str) -> list[str]:
        if word not in self._alike:
            shorter = [word[:-1], word[:-2]] if word.endswith("s") and len(word) > 4 else []
            longer = self._terms.beginning(word, 2, 6) if len(word) > 3 else []
            self._alike[word] = dict.fromkeys([*shorter, *longer], 0.95)
        return list(self._alike[word])

    def _near_words(self, word: str) -> dict[str, float]:
        """Return words with a slip, words that begin so or have that in them, and a word written as two."""
        if word not in self._near:
            found: dict[str, float] = {}
            if len(word) > 3:
                found |= dict.fromkeys(self._terms.containing(word, "word", _ALIKE), 0.75)
                found |= dict.fromkeys(self._terms.beginning(word, 30, _ALIKE), 0.85)
            for place, (slips, term) in enumerate(self._terms.near(word)[:_ALIKE]):
                found[term] = max(found.get(term, 0.0), 0.97 - 0.12 * slips - 0.002 * place)
            self._near[word] = found
        return self._near[word]

    def _in_index(self, kind: str, word: str) -> bool:
        found = self._connection.execute(
            f"SELECT 1 FROM {kind}_fts WHERE {kind}_fts MATCH ? LIMIT 1", (f'"{word}"',)
        ).fetchone()
        return found is not None

    def _candidates(self, kind: str, usable: dict[str, dict[str, float]], total: float, wanted: int) -> dict[int, None]:
        """Return rows that may do: those with all the words, then with all but the least telling, and so on."""
        numbers: dict[int, None] = {}
        for words in self._choices(usable, total):
            groups = ["(" + " OR ".join(f'"{term}"' for term in usable[word]) + ")" for word in words]
            fewest = min(sum(self._uses.get(term, (0, 0))[0] for term in usable[word]) for word in words)
            numbers.update(dict.fromkeys(self._matching(kind, " AND ".join(groups), fewest, wanted)))
            if len(numbers) >= wanted:
                return numbers
        if len(usable) > 4:
            numbers.update(dict.fromkeys(self._with_rarest(kind, usable, wanted)))
        return numbers

    def _choices(self, usable: dict[str, dict[str, float]], total: float) -> list[tuple[str, ...]]:
        words = sorted(usable, key=lambda word: (-self._weight(word), word))
        chosen = []
        for size in range(len(words), max(0, len(words) - 3), -1):
            if len(words) > 8 and size < len(words):
                break
            chosen += [each for each in combinations(words, size) if sum(map(self._weight, each)) >= _HALF * total]
        chosen.sort(key=lambda each: -sum(map(self._weight, each)))
        return chosen[:_TRIES]

    def _with_rarest(self, kind: str, usable: dict[str, dict[str, float]], wanted: int) -> list[int]:
        """Return the best rows with any of the rarest words: a long question is never met whole."""
        any_of: list[str] = []
        rows = 0
        for word in sorted(usable, key=lambda word: (self._uses.get(word, (0, 0))[0], word)):
            if word.isdigit():
                continue
            rows += sum(self._uses.get(term, (0, 0))[0] for term in usable[word])
            if rows > _ORDERED_BELOW and any_of:
                break
            any_of += usable[word]
        return self._matching(kind, " OR ".join(f'"{term}"' for term in any_of), rows, wanted) if any_of else []

    def _matching(self, kind: str, match: str, rows: int, wanted: int) -> list[int]:
        order = "ORDER BY rank, rowid" if rows <= _ORDERED_BELOW else ""
        found = self._connection.execute(
            f"SELECT rowid FROM {kind}_fts WHERE {kind}_fts MATCH ? {order} LIMIT ?", (match, wanted)
        )
        return [number for (number,) in found]

    def _texts(self, kind: str, numbers: dict[int, None]) -> list[tuple[int, str]]:
        said = "part_no || ' ' || coalesce(description, '')" if kind != "job" else "title || ' ' || words"
        key = "id" if kind != "job" else "number"
        asked = list(numbers)
        marks = ", ".join("?" * len(asked))
        rows = self._connection.execute(f"SELECT {key}, {said} FROM {kind} WHERE {key} IN ({marks})", asked)
        return [(row_id, text) for row_id, text in rows]
