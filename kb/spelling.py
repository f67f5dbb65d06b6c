"""How part numbers and words are compared: what people mix up counts as the same, and slips are found by hash.

Two texts a few slips apart become equal when as many characters are left out of both. So each term is filed under
the hashes of what remains of it when up to two characters are left out, and a question looks under its own: an
edit-distance search without a scan. Terms are also filed under their runs of four, since worn labels show only a piece.

The idea is the deletion neighbourhood of T. Bocek, E. Hunt, B. Stiller, "Fast Similarity Search in Large
Dictionaries", University of Zurich, 2007. Distances are the optimal string alignment distance: a wrong, missing or
extra character counts one, and so do two swapped neighbours.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RUN = 4
"""Characters of a run: a piece of three fits too many part numbers to say anything."""

WINDOW = 8
"""A longer term is filed by its last eight characters, and more sparely by its first eight.

A question two slips away from a term still shares what is left of the last eight with two characters out of each, so
nothing is missed, and a term's part of the index stays bounded. Where the first eight are something else (from twelve
characters on), they find what shares its ending with thousands.
"""

_LONG = WINDOW + 4

LONGEST = 40
"""Characters of the longest term that is filed: beyond that it is no part number and no word."""

POSTING_LIMIT = 2048
"""Terms filed under one key: what more of them share tells none of them apart, and would slow every question down."""

NUMBER_BITS, MARK_BITS = 24, 8
"""An entry of the index is a term's number, and above it so many bits of the key, which tell its bucket's keys apart."""

_WORD = re.compile(r"[^\W_]+")
_ACCENTS = re.compile("[\u0300-\u036f]+")
_FOLDED = str.maketrans("µſς", "μsσ")  # small letters that fold to another, of which str.lower knows nothing
_LOOK_ALIKE = str.maketrans("oil", "011")
_NOT_CODE = re.compile(r"[\W_]+")
_ASCII_CODE = {place: None for place in range(128) if not chr(place).isalnum() and chr(place) != "\n"} | _LOOK_ALIKE
_BITS = (1 << 64) - 1
_BASE = 0x9E3779B97F4A7C15
_MIX = 0xD6E8FEB86659FD93
_POWERS = [pow(_BASE, exponent, 1 << 64) for exponent in range(WINDOW)]
_SALT = {"code": 0x2545F4914F6CDD1D, "word": 0x1B873593CC9E2D51, "code run": 0x52DCE729, "word run": 0x38495AB5}


def normalise_code(text: str) -> str:
    """Reduce a part number to what is compared: no case, no dashes or spaces, O as 0, I and l as 1.

    >>> normalise_code("AB-l0 O1")
    'ab1001'
    """
    if text.isascii():
        folded = text.lower()
        if folded.isalnum():
            return folded.translate(_LOOK_ALIKE)
    else:
        decomposed = unicodedata.normalize("NFKD", text).casefold()
        folded = "".join(each for each in decomposed if not unicodedata.combining(each))
    return _NOT_CODE.sub("", folded).translate(_LOOK_ALIKE)


def normalise_codes(texts: Sequence[str]) -> list[str]:
    """Return :func:`normalise_code` of each text; many together take a fifth of the time.

    >>> normalise_codes(["AB-l0 O1", "8 PK 1854"])
    ['ab1001', '8pk1854']
    """
    joined = "\n".join(texts)
    if joined.isascii():
        codes = joined.lower().translate(_ASCII_CODE).split("\n")
        if len(codes) == len(texts):  # none of them has a line break of its own
            return codes
    return [normalise_code(text) for text in texts]


def words_of(text: str) -> list[str]:
    """Return a text's words as the word index (SQLite's ``unicode61``) keeps them: lower case, without accents.

    >>> words_of("Idler, 3 in. flat, Schläuche")
    ['idler', '3', 'in', 'flat', 'schlauche']
    """
    lower = text.lower()
    if not lower.isascii():
        lower = _ACCENTS.sub("", unicodedata.normalize("NFD", lower.translate(_FOLDED)))
    return _WORD.findall(lower)


def slips_allowed(term: str) -> int:
    """Return how many slips still mean the same: at most a third of the characters (common practice, no source).

    One in four is allowed because a slip in a short word mostly makes no word; in a word of three it makes another.

    >>> [slips_allowed("tensioner"[:length]) for length in (3, 4, 5, 6)]
    [0, 1, 1, 2]
    """
    return (len(term) >= 4) + (len(term) >= 6)


def keys_near(term: str, kind: str = "word") -> set[int]:
    """Return the 64-bit hashes of a term with its allowed slips left out, and of less.

    Two terms within the slips allowed to either share at least one, unless their windows differ by more.
    """
    slips = slips_allowed(term)
    keys = _left_out(term[-WINDOW:], slips, _SALT[kind])
    if len(term) >= _LONG:
        keys |= _left_out(term[:WINDOW], min(slips, 1), _SALT[kind])
    return keys


def keys_inside(term: str, kind: str = "word") -> list[int]:
    """Return the hashes of a term's runs of four characters, from left to right.

    >>> len(keys_inside("8pk1854"))
    4
    """
    salt = _SALT[f"{kind} run"]
    return [
        _mixed(sum(map(int.__mul__, map(ord, term[start : start + RUN]), _POWERS)) + salt)
        for start in range(len(term) - RUN + 1)
    ]


def keys_of_many(terms: Sequence[str], kind: str = "word") -> NDArray[np.uint64]:
    """Return what :func:`keys_near` and :func:`keys_inside` say of many terms of one length: a row for each term.

    A row may hold a key twice. Done column by column with numpy: a million terms take about a second.
    """
    import numpy as np

    length, slips = len(terms[0]), slips_allowed(terms[0])
    letters = np.array(terms, dtype=f"<U{length}").view(np.uint32).reshape(len(terms), length).astype(np.uint64)
    salt = np.uint64(_SALT[kind])
    columns = [each + salt for each in _columns_left_out(letters[:, -WINDOW:], slips)]
    if length >= _LONG:
        columns += [each + salt for each in _columns_left_out(letters[:, :WINDOW], min(slips, 1))]
    run_salt, powers = np.uint64(_SALT[f"{kind} run"]), np.array(_POWERS[:RUN], dtype=np.uint64)
    for start in range(length - RUN + 1):
        columns.append((letters[:, start : start + RUN] * powers).sum(axis=1, dtype=np.uint64) + run_salt)
    keys = np.column_stack(columns)
    keys ^= keys >> np.uint64(29)
    keys *= np.uint64(_MIX)
    return keys


def place_of(key: int, bits: int) -> tuple[int, int]:
    """Return the bucket, of ``2 ** bits``, in which a key is filed, and its mark inside.

    >>> place_of(0xABCD << 48, 8) == (0xAB, 0xCD)
    True
    """
    return key >> (64 - bits), (key >> (64 - bits - MARK_BITS)) & ((1 << MARK_BITS) - 1)


def within(asked: str, terms: Iterable[str], slips: int) -> list[tuple[int, str]]:
    """Return the terms at most so many slips away, each with how many: the optimal string alignment distance.

    >>> within("8pk1845", ["8pk1854", "8pk1845", "hose"], 2)
    [(1, '8pk1854'), (0, '8pk1845')]
    """
    from rapidfuzz.distance import OSA

    found = ((OSA.distance(asked, term, score_cutoff=slips), term) for term in terms)
    return [each for each in found if each[0] <= slips]


def slip_in_words(asked: str, meant: str, slips: int) -> str:
    """Say what went wrong between what was asked and what was meant, ``slips`` apart.

    >>> slip_in_words("8pk1845", "8pk1854", 1), slip_in_words("8pk184", "8pk1854", 1)
    ('two characters swapped', 'one character missing')
    """
    if slips > 1:
        return f"{'two' if slips == 2 else slips} slips"
    if len(asked) < len(meant):
        return "one character missing"
    if len(asked) > len(meant):
        place = next((at for at, pair in enumerate(zip(asked, meant, strict=False)) if pair[0] != pair[1]), len(meant))
        return "one character doubled" if place and asked[place] == asked[place - 1] else "one character too many"
    wrong = sum(one != other for one, other in zip(asked, meant, strict=True))
    return "two characters swapped" if wrong == 2 else "one character wrong"


def _mixed(key: int) -> int:
    key &= _BITS
    return ((key ^ key >> 29) * _MIX) & _BITS


def _left_out(text: str, slips: int, salt: int) -> set[int]:
    """Hash what remains of a short text when up to ``slips`` characters are left out.

    The hash is a polynomial, so what stands behind a gap counts with the next lower power: three running sums give
    every remainder by a few additions, the same way for one text here and for many at once below.
    """
    sums = _running_sums([ord(each) for each in text])
    length = len(text)
    keys = {sums[0][length]}
    if slips >= 1:
        keys.update(sums[0][i] + sums[1][length] - sums[1][i + 1] for i in range(length))
    if slips >= 2:
        for i in range(length):
            before = sums[0][i] - sums[1][i + 1] + sums[2][length]
            keys.update(before + sums[1][j] - sums[2][j + 1] for j in range(i + 1, length))
    return {_mixed(key + salt) for key in keys}


def _running_sums(letters: list[int]) -> tuple[list[int], list[int], list[int]]:
    sums: tuple[list[int], list[int], list[int]] = ([0], [0], [0])
    for place, letter in enumerate(letters):
        for shift, each in enumerate(sums):
            each.append(each[-1] + (letter * _POWERS[place - shift] if place >= shift else 0))
    return sums


def _columns_left_out(letters: NDArray[np.uint64], slips: int) -> list[NDArray[np.uint64]]:
    import numpy as np

    length = letters.shape[1]
    sums = np.zeros((3, length + 1, len(letters)), dtype=np.uint64)
    for place in range(length):
        for shift in range(3):
            sums[shift, place + 1] = sums[shift, place]
            if place >= shift:
                sums[shift, place + 1] += letters[:, place] * np.uint64(_POWERS[place - shift])
    columns = [sums[0, length]]
    if slips >= 1:
        columns += [sums[0, i] + sums[1, length] - sums[1, i + 1] for i in range(length)]
    if slips >= 2:
        columns += [
            sums[0, i] - sums[1, i + 1] + sums[2, length] + sums[1, j] - sums[2, j + 1]
            for i in range(length)
            for j in range(i + 1, length)
        ]
    return columns
