"""What people mean by the words of the trade: squeal and chirp are noise, ``brkt`` is a bracket, ``altenator`` a slip.

The words stand in ``reference/trade_words.csv``, a meaning per row. Texts are compared by meanings, so that two people's
words for the same thing count as the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache, lru_cache

from kb.reference.tables import table
from kb.spelling import words_of

_SAID_OF_ANYTHING = (
    "a about after again all also an and any are as at be been before both but by did do does down for from get got had has "
    "have he her here his how i if in into is it its just like me mm more no not now of off on one only or our out over "
    "own per please same she so some than that the their them then there they this to too two under until up us very was "
    "we went were what when where which while who why will with you your job bay again first once still side needs "
    "needed need"
)
LEFT_OUT = frozenset(_SAID_OF_ANYTHING.split())
"""Words that tell nothing of a job. A meaning's own words are looked up before these are left out."""

_VOWELS = frozenset("aeiouy")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_LEAST_CUT = 4
_LONG = 9
"""Letters from which two slips are still a slip: driven is no drier."""
_LONGEST_PHRASE = 4


@cache
def _phrases() -> dict[tuple[str, ...], str]:
    """Return every spelling of the table, as words, with what it means."""
    found: dict[tuple[str, ...], str] = {}
    for row in table("trade_words"):
        for spelling in row["words"].split(";"):
            words = tuple(_parted(spelling))
            if words:
                found.setdefault(words, row["meaning"])
    return found


@cache
def _single() -> dict[str, str]:
    return {words[0]: meaning for words, meaning in _phrases().items() if len(words) == 1}


@cache
def _by_meaning() -> dict[str, tuple[tuple[str, ...], ...]]:
    found: dict[str, list[tuple[str, ...]]] = {}
    for words, meaning in _phrases().items():
        found.setdefault(meaning, []).append(words)
    return {meaning: tuple(spellings) for meaning, spellings in found.items()}


def spellings_of(meaning: str) -> tuple[tuple[str, ...], ...]:
    """Return the table's spellings of a meaning, each as its words; none where the table does not know it."""
    return _by_meaning().get(meaning, ())


@cache
def families() -> dict[str, str]:
    """Return what larger thing a meaning belongs to, where the table says: a condenser belongs to air conditioning."""
    return {row["meaning"]: row["family"] for row in table("trade_words") if row["family"]}


@cache
def tells_of() -> dict[str, str]:
    """Return what kind of trouble a meaning tells of, where the table says: a shim and a frayed edge of pulleys in line."""
    return {row["meaning"]: row["tells_of"] for row in table("trade_words") if row["tells_of"]}


@cache
def _says_too() -> dict[str, tuple[str, ...]]:
    """Return what a meaning says besides, where the table says: a growl is of a bearing, a chafed place is touched."""
    return {
        row["meaning"]: tuple(each.strip() for each in row["says_too"].split(";"))
        for row in table("trade_words")
        if row["says_too"]
    }


@lru_cache(maxsize=16384)
def meanings_of(text: str) -> tuple[str, ...]:
    """Return what a text is about: meanings of the table, else its words without endings; numbers as they stand.

    >>> meanings_of("Belt chirps, brkt cracked; altenator 24 V")
    ('belt', 'noise', 'bracket', 'crack', 'alternator', '24', 'v')
    >>> meanings_of("serpentine squealing after a/c conv.")
    ('belt', 'noise', 'air conditioning', 'convert')
    """
    words = [word for word in _parted(text) if word]
    too = _says_too()
    return tuple(each for meaning in _read(words) for each in (meaning, *too.get(meaning, ())))


def _parted(text: str) -> Iterator[str]:
    """Yield words; a number keeps its decimals, and letters stuck to it come apart: ``8pk``, ``7.6L``."""
    place = 0
    lowered = text.replace("'", "").replace("’", "")
    for number in _NUMBER.finditer(lowered):
        yield from words_of(lowered[place : number.start()])
        yield number[0].replace(",", ".")
        place = number.end()
    yield from words_of(lowered[place:])


def _read(words: list[str]) -> Iterator[str]:
    phrases = _phrases()
    place = 0
    while place < len(words):
        for length in range(min(_LONGEST_PHRASE, len(words) - place), 0, -1):
            meaning = phrases.get(tuple(words[place : place + length]))
            if meaning is not None:
                yield meaning
                place += length
                break
        else:
            meaning = _single_meaning(words[place])
            if meaning is not None:
                yield meaning
            place += 1


@cache
def _plain(kind: str) -> frozenset[str]:
    """Words of everyday language: those that tell nothing of a job, and those that are no slip for one of the trade's."""
    return frozenset(
        word.strip() for row in table("plain_words") if row["kind"] == kind for word in row["words"].split(";")
    )


@cache
def is_everyday(meaning: str) -> bool:
    """Whether what was read is an everyday word that the trade gives no meaning of its own, such as week or road."""
    return meaning in _everyday_stems()


@cache
def _everyday_stems() -> frozenset[str]:
    own = _plain("its own word")
    return (own | {_stem(word) for word in own}) - set(_by_meaning())


@lru_cache(maxsize=16384)
def _single_meaning(word: str) -> str | None:
    if word[0].isdigit():
        return word
    if word in LEFT_OUT or word in _plain("tells nothing"):
        return None
    known = _single().get(_stem(word))
    if known is None and not {word, _stem(word)} & _plain("its own word"):
        known = _roots().get(_root(word) or "") or _cut_short(word) or _misspelt(word)
    return known or _stem(word)


def _stem(word: str) -> str:
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3 and not word.endswith("ss"):
            return word[: -len(ending)]
    return word


def _root(word: str) -> str | None:
    """What is left of an inflected word, without its last e and doubled consonant: trim of trimmed, shav of shaving."""
    for ending in ("ing", "ed", "es", "s"):
        rest = word[: -len(ending)]
        if word.endswith(ending) and len(rest) >= 4 and not word.endswith(("ss", "eed")):
            return rest[:-1] if rest[-1] == rest[-2] and rest[-1] not in "lsz" else rest
    return None


@cache
def _roots() -> dict[str, str | None]:
    """Return the meaning of every root of the table's words, ``None`` where words of several meanings share one."""
    found: dict[str, str | None] = {}
    for word, meaning in _single().items():
        root = _root(word) or word.removesuffix("e")
        found[root] = meaning if found.get(root, meaning) == meaning else None
    return found


@cache
def _of_letter() -> dict[str, tuple[str, ...]]:
    """Return the table's single words by their first letter, which neither a slip nor an abbreviation changes."""
    found: dict[str, list[str]] = {}
    for word in _single():
        found.setdefault(word[0], []).append(word)
    return {letter: tuple(words) for letter, words in found.items()}


@cache
def _about_as_long(letter: str, length: int, slips: int) -> tuple[str, ...]:
    """Return the words of a first letter that so many slips could turn into one of this length; none under four letters."""
    return tuple(word for word in _of_letter().get(letter, ()) if len(word) >= 4 and abs(len(word) - length) <= slips)


def _cut_short(word: str) -> str | None:
    """An abbreviation: the word's beginning (``tension`` is its own word, ``alterna``), or its consonants (``brckt``)."""
    known = _single()
    near = _of_letter().get(word[0], ())
    if len(word) >= _LEAST_CUT:
        begins = {known[spelling] for spelling in near if spelling.startswith(word)}
        if len(begins) == 1:
            return begins.pop()
    if len(word) >= 3 and not _VOWELS & set(word):
        fits = [
            (len(spelling), spelling) for spelling in near if len(spelling) > len(word) and _is_within(word, spelling)
        ]
        if fits:
            return known[min(fits)[1]]
    return None


def _is_within(short: str, whole: str) -> bool:
    """Whether the letters stand in the word in that order, most of its consonants among them."""
    letters = iter(whole)
    return all(letter in letters for letter in short) and len(short) >= 0.6 * sum(
        letter not in _VOWELS for letter in whole
    )


def _misspelt(word: str) -> str | None:
    """The one meaning whose word is a slip or two away; short words have too many neighbours to guess at."""
    if len(word) < 4:
        return None
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    slips = 2 if len(word) >= _LONG else 1
    known, choices = _single(), _about_as_long(word[0], len(word), slips)
    near = [
        (distance, spelling)
        for spelling, distance, _ in process.extract(word, choices, scorer=OSA.distance, score_cutoff=slips, limit=8)
        # In four letters only two that changed places are a slip: felt is no belt.
        if len(word) > 4 or sorted(word) == sorted(spelling)
    ]
    if not near:
        return None
    least = min(distance for distance, _ in near)
    meant = {known[spelling] for distance, spelling in near if distance == least}
    return meant.pop() if len(meant) == 1 else None
