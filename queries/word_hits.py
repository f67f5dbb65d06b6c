"""Finding rows by the words of a question, each word allowed its own slip; the rarest words lead."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations
from math import log10

from kb.searched import NAMES, SEARCHED, TEXTS, key_of
from kb.spelling import words_of
from queries.near_terms import Terms

_LEFT_OUT = frozenset(
    ("a", "an", "and", "at", "by", "for", "from", "in", "is", "it", "not", "of", "on", "or", "the", "to", "too", "was",
     "with")
)  # fmt: skip
"""Words that tell nothing."""
_MOST_WORDS = 24
_HALF = 0.5
"""The share of what the question tells that a row must meet: below it, chance meetings of common words are the rule."""

_RARE = 1000
"""Rows up to which a word is rare: all its rows are looked at, and put in order. Of more, only as many as are wanted."""

_SELDOM = 3
"""Uses up to which a word on the shelf may itself be a slip, so that others near it are looked for as well."""

_LOOKED_AT = 60
"""Rows of all kinds whose words are read, at the least; the word indexes tell which are worth it."""

_NAMES = frozenset().union(*NAMES.values())
_TRIES = 10
_ALIKE = 12


class WordSearch:
    """One question's words, and what they may mean on this shelf."""

    def __init__(self, connection: sqlite3.Connection, terms: Terms, text: str) -> None:
        self._connection = connection
        self._terms = terms
        self.text = text
        asked = [word for word in dict.fromkeys(words_of(text)) if word not in _LEFT_OUT]
        asked = [word for word in asked if len(word) > 1 or word.isdigit()]
        self._uses: dict[str, tuple[int, int]] = dict.fromkeys(asked, (0, 0)) | terms.known(asked)
        rarest = set(sorted(asked, key=lambda word: (self._uses[word][0], word))[:_MOST_WORDS])
        self._asked = [word for word in asked if word in rarest]
        self._weights = {word: _weight(word, self._uses[word][0]) for word in self._asked}
        # What names a kind tells as little as a word of all its rows, however few of them say it.
        self._weights |= {word: 1.0 for word in self._asked if word in _NAMES}
        self._total = sum(self._weights.values())
        self._enough = _HALF * self._total
        self._says_something = any(len(word) > 2 and not word.isdigit() for word in self._asked)
        self._near: dict[str, dict[str, float]] = {}

    def rows(self, kinds: Sequence[str], limit: int) -> Iterator[tuple[str, int, float, str]]:
        """Yield rows that meet half of the question or more: kind, id, score up to 90, and why."""
        meanings: dict[str, dict[str, dict[str, float]]] = {}
        told: dict[tuple[str, int], float] = {}
        wanted = max(_LOOKED_AT, 2 * limit)
        for kind in kinds:
            # Parts are found by their numbers; numbers alone are looked up among words only where jobs name parts.
            if self._says_something or kind == "job" or len(self._asked) == 1:
                usable = {word: meaning for word in self._asked if (meaning := self._meanings(kind, word))}
                usable = {word: meaning for word, meaning in usable.items() if word not in NAMES[kind]}
                if self._weighed(usable) + self._named(kind) >= self._enough > 0:
                    meanings[kind] = usable
                    told |= self._credited(kind, self._candidates(kind, usable, wanted))
        if max(told.values(), default=0.0) < self._enough:
            for kind, usable in meanings.items():
                told |= self._credited(kind, self._with_fewer(kind, usable, wanted))
        best = sorted(told, key=lambda key: (-told[key], SEARCHED.index(key[0]), key[1]))[:wanted]
        for kind, usable in meanings.items():
            for row_id, said in self._texts(kind, [number for of, number in best if of == kind]):
                named = {word: {word: 1.0} for word in self._asked if word in NAMES[kind]}
                got, words, length = self._met(kind, usable | named, said)
                share = got / self._total
                if share >= _HALF:
                    # A short description that says all of it means more than a long one that also does.
                    brevity = min(1.0, (len(self._asked) + 4) / (length + 4)) if kind != "job" else 0.5
                    yield kind, row_id, round(85.0 * share + 5.0 * brevity, 2), f"words: {words}"

    def share(self, kind: str, words: Sequence[str], said: str) -> tuple[float, str]:
        """Return how much of some of the question's words a text meets, 0 to 1, and which, in words."""
        mine = [word for word in words if word in self._weights]
        if not mine:
            return 0.0, ""
        met, told, _ = self._met(kind, {word: self._meanings(kind, word) for word in mine}, said)
        return met / self._weighed(mine), told

    def _named(self, kind: str) -> float:
        """Return the weight of the words that every row of a kind meets: a hose is a hose."""
        return self._weighed(word for word in self._asked if word in NAMES[kind])

    def _credited(self, kind: str, told: dict[int, float]) -> dict[tuple[str, int], float]:
        named = self._named(kind)
        return {(kind, number): share + named for number, share in told.items()}

    def _met(self, kind: str, meanings: dict[str, dict[str, float]], said: str) -> tuple[float, str, int]:
        said_here = set(words_of(said))
        here = said_here | NAMES[kind]
        got, told = 0.0, []
        for word, meaning in meanings.items():
            if word in here:
                got += self._weights[word]
                told.append(f"'{word}'")
            elif there := [term for term in meaning if term in here]:
                likest = max(there, key=meaning.__getitem__)
                got += self._weights[word] * meaning[likest]
                told.append(f"'{likest}' (you wrote '{word}')")
        return got, ", ".join(told), len(said_here)

    def _meanings(self, kind: str, word: str) -> dict[str, float]:
        """Return the words of a kind that a word may mean, each with its likeness up to 1, likest first."""
        bit = 1 << SEARCHED.index(kind)
        uses, kinds = self._uses[word]
        if word.isdigit():
            return {word: 1.0} if kinds & bit else {}
        known = kinds & bit or uses > _SELDOM
        close = {word: 1.0, **self._inflected(word)} if known else self._near_words(word)
        found = {term: like for term, like in close.items() if self._uses[term][1] & bit}
        if not found and not uses and word.isalpha() and self._in_index(kind, word):
            return {word: 1.0}  # letters of a part number, which are not counted among the words
        return found

    def _inflected(self, word: str) -> dict[str, float]:
        """Return the word with one or two letters more, or without its plural's."""
        key = word + "*"
        if key not in self._near:
            shorter = [word[:-1], word[:-2]] if word.endswith("s") and len(word) > 4 else []
            longer = self._terms.beginning(word, 2, 6) if len(word) > 3 else []
            self._near[key] = self._known(dict.fromkeys([*shorter, *longer], 0.95))
        return self._near[key]

    def _near_words(self, word: str) -> dict[str, float]:
        """Return words with a slip, words that begin so or have that in them."""
        if word not in self._near:
            found: dict[str, float] = {}
            if len(word) > 3 and word.isalpha():
                found |= dict.fromkeys(self._terms.containing(word, "word", _ALIKE), 0.75)
                found |= dict.fromkeys(self._terms.beginning(word, 30, _ALIKE), 0.85)
            for place, (slips, term) in enumerate(self._terms.near(word)[:_ALIKE]):
                found[term] = max(found.get(term, 0.0), 0.97 - 0.12 * min(slips, 4) - 0.002 * place)
            self._near[word] = self._known(found)
        return self._near[word]

    def _known(self, words: dict[str, float]) -> dict[str, float]:
        """Learn how often and where words are used; return those that are, likest first."""
        new = [word for word in words if word not in self._uses]
        self._uses |= dict.fromkeys(new, (0, 0)) | (self._terms.known(new) if new else {})
        return dict(sorted(words.items(), key=lambda item: (-item[1], item[0]))[:_ALIKE])

    def _in_index(self, kind: str, word: str) -> bool:
        return bool(self._matching(kind, f'"{word}"', 0, 1))

    def _candidates(self, kind: str, meanings: dict[str, dict[str, float]], wanted: int) -> dict[int, float]:
        """Return rows that may do, with what they tell at the least: by rare words one by one, by common ones together."""
        if not meanings:  # only the kind was named
            return dict.fromkeys(self._first(kind, wanted), 0.0)
        told: dict[int, float] = {}
        enough = self._enough - self._named(kind)
        for word, meaning in meanings.items():
            if sum(self._uses[term][0] for term in meaning) <= _RARE:
                for number in self._matching(kind, _any_of(meaning), 0, _RARE):
                    told[number] = told.get(number, 0.0) + self._weights[word]
        # Where the rare words alone do not tell, or tell too much, all the words together do.
        if max(told.values(), default=0.0) < enough or len(told) > wanted:
            told |= dict.fromkeys(self._with_all(kind, meanings, wanted), self._weighed(meanings) + 0.001)
        return told

    def _with_fewer(self, kind: str, meanings: dict[str, dict[str, float]], wanted: int) -> dict[int, float]:
        """Return rows with all but one of the words, all but two, and so on, with what they tell at the least."""
        told: dict[int, float] = {}
        for choice in self._choices(meanings, self._enough - self._named(kind)):
            rows = self._with_all(kind, {word: meanings[word] for word in choice}, wanted)
            told = dict.fromkeys(rows, self._weighed(choice)) | told
            if len(told) >= wanted:
                break
        return told

    def _with_all(self, kind: str, meanings: dict[str, dict[str, float]], wanted: int) -> list[int]:
        fewest = min(sum(self._uses[term][0] for term in meaning) for meaning in meanings.values())
        return self._matching(kind, " AND ".join(map(_any_of, meanings.values())), fewest, wanted)

    def _weighed(self, words: Iterable[str]) -> float:
        return sum(map(self._weights.__getitem__, words))

    def _choices(self, meanings: dict[str, dict[str, float]], enough: float) -> list[tuple[str, ...]]:
        """Return all words but one, all but two, and so on, the most telling choice first."""
        words = sorted(meanings, key=lambda word: (-self._weights[word], word))[:8]
        chosen = []
        for size in range(len(words) - 1, max(0, len(words) - 3), -1):
            chosen += [each for each in combinations(words, size) if self._weighed(each) >= enough]
        chosen.sort(key=lambda each: -self._weighed(each))
        return chosen[:_TRIES]

    def _matching(self, kind: str, match: str, rows: int, wanted: int) -> list[int]:
        """Ask a kind's word index; the best first where ``rows`` says that they are few enough to be weighed."""
        order = "ORDER BY rank, rowid" if 1 < rows <= _RARE else ""
        found = self._connection.execute(
            f"SELECT rowid FROM {kind}_fts WHERE {kind}_fts MATCH ? {order} LIMIT ?", (match, wanted)
        )
        return [number for (number,) in found]

    def _first(self, kind: str, wanted: int) -> list[int]:
        key = key_of(kind)
        found = self._connection.execute(f"SELECT {key} FROM {kind} ORDER BY {key} LIMIT ?", (wanted,))
        return [number for (number,) in found]

    def _texts(self, kind: str, numbers: list[int]) -> list[tuple[int, str]]:
        if not numbers:
            return []
        key, marks = key_of(kind), ", ".join("?" * len(numbers))
        rows = self._connection.execute(
            f"SELECT {key}, {', '.join(TEXTS[kind])} FROM {kind} WHERE {key} IN ({marks})", numbers
        )
        return [(row_id, " ".join(filter(None, texts))) for row_id, *texts in rows]


def _any_of(terms: Iterable[str]) -> str:
    return "(" + " OR ".join(f'"{term}"' for term in terms) + ")"


def _weight(word: str, uses: int) -> float:
    """Return how much a word tells: plain numbers little, rare words three times as much as common ones."""
    return 1.0 if word.isdigit() else max(1.0, 3.0 - 0.5 * log10(1 + uses))
