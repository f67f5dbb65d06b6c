"""How people spell units: typographic marks made plain, separators inside a unit, and units in a heading."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache

from kb.quantities import QUANTITIES, Quantity

LONGEST = 80
"""Characters in the longest text that is looked at: no measurement and no heading with a unit is longer."""

VULGAR_FRACTIONS = "".join(map(chr, (*range(0xBC, 0xBF), *range(0x2150, 0x215F), 0x2189)))


def _folding() -> dict[int, str]:
    """Return the characters that stand for a plain one, each folded to exactly one, so that places in a text keep."""
    fold: dict[int, str] = {}
    for characters, plain in (
        ("\u2044\u2215\uff0f", "/"),
        ("\u2032\u2018\u2019\u201b\u02b9\u02bc\u00b4\u0060\uff07", "'"),
        ("\u2033\u201c\u201d\u201e\u201f\u02ba\u3003\uff02", '"'),
        ("\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000\t", " "),
        ("\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d", "-"),
        ("\u00ba\u02da", "°"),
        ("\u22c5\u2219\u2022", "\u00b7"),
    ):
        fold.update(dict.fromkeys(map(ord, characters), plain))
    return fold


FOLD = _folding()
"""One plain character for each typographic one."""
SPELT_OUT = FOLD | {
    **{ord(one): f" {unicodedata.normalize('NFKC', one).replace(chr(0x2044), '/')}" for one in VULGAR_FRACTIONS},
    0x215F: " 1/",
}
"""The same, and vulgar fractions spelt out."""
_INNER = re.compile(r"(?<=[\w°\"])[ .·*-]{1,2}(?=\w)")


def spelling_of(written: str, quantity: Quantity) -> str | None:
    """Return the spelling among the quantity's units that is meant, if there is one.

    >>> from kb.quantities import TORQUE
    >>> spelling_of("lbf-ft", TORQUE)
    'lbfft'
    """
    if written in quantity.short:
        return written
    plain, compact = _plain_and_compact(written)
    if plain in quantity.short:
        return plain
    return compact if compact in quantity.jointed else None


@lru_cache(maxsize=1024)
def _plain_and_compact(written: str) -> tuple[str, str]:
    folded = written.translate(FOLD).casefold().replace("²", "2").replace("³", "3").replace("''", '"').strip()
    plain = folded.removesuffix(".")
    return plain, _INNER.sub("", plain)


_BRACKETED = re.compile(r"[(\[{]\s*(?:in\s+)?([^()\[\]{}]{1,20})[)\]}]")
_TAIL_MARK = re.compile(r"(?<=[\w.\s])(?:\"|''|%|°\s?[cf]?)$", re.IGNORECASE)
_NOT_HEADINGS = frozenset({"pt", "pts", "rev", "revs", "off", "foot", "pound", "pounds", "'"})
"""Spellings that mean something else in a heading: a part, a revision …"""
_BESIDE = {
    "m": r"len|länge|long|lg|dist|roll|height|depth", "min": r"time|hour|labou?r|lost|zeit|dauer",
    "g": r"weight|mass|charge|gewicht|masse|füll",
    "h": r"time|hour|labou?r|lead|lost|zeit|stunde|dauer", "d": r"lead|lieferzeit",
    "l": r"volum|capac|content|tank|inhalt|fill", "v": r"volt|spannung|charg", "w": r"power|load|leistung",
    "hp": r"power|load|leistung", "ps": r"power|load|leistung", "c": r"temp", "f": r"temp", "pa": r"press|druck",
    "rad": r"angle|bend|winkel|travel|seat|twist", "grad": r"angle|bend|winkel|travel|seat|twist",
}  # fmt: skip
"""Units that are also a symbol, a limit or a material, and the words of a heading beside which they are units."""
_PER_UNIT = re.compile(r"pric|cost|preis|\bper$|\bpro$|\beach$", re.IGNORECASE)
"""A price in a length's unit is none: ``Price / ft`` is per foot."""


@cache
def _heading_units() -> dict[str, str]:
    return {
        spelling: short.replace(" ", "").casefold()
        for one in QUANTITIES.values()
        for spelling, short in one.short.items()
        if one.name != "count" and spelling not in _NOT_HEADINGS
    }


def unit_in_heading(text: str) -> tuple[str, str | None]:
    """Part a heading from the unit it names, if it names one; the unit is one of the spellings of ``UNITS_OF``.

    A letter that is also a dimension's symbol, as in ``Length (L)``, is a unit only beside a word that calls for it.

    >>> unit_in_heading("Eff. Length (mm)")
    ('Eff. Length', 'mm')
    >>> unit_in_heading("Inside dia")
    ('Inside dia', None)
    """
    if len(text) <= LONGEST:
        for words, written in _parted(text.translate(FOLD).strip()):
            plain, compact = _plain_and_compact(written)
            spelling = plain if plain in _heading_units() else compact
            short = _heading_units().get(spelling)
            beside = _BESIDE.get(spelling)
            if short and words and not _PER_UNIT.search(words) and (not beside or re.search(beside, words.casefold())):
                return words, short
    return text, None


def _parted(heading: str) -> Iterator[tuple[str, str]]:
    """Yield what may be a heading's words and its unit, the surest first."""
    if bracketed := _BRACKETED.search(heading):
        yield _joined(heading[: bracketed.start()], heading[bracketed.end() :]), bracketed[1]
    if mark := _TAIL_MARK.search(heading):
        yield _joined(heading[: mark.start()]), mark[0]
    for separator in (",", ":", ";", " / ", " in "):
        words, found, written = heading.rpartition(separator)
        if found:
            yield _joined(words), written
    tokens = heading.split()
    for count in (2, 1):
        if len(tokens) > count:
            yield _joined(" ".join(tokens[:-count])), " ".join(tokens[-count:])
    for separator in "_-":
        words, found, written = heading.rpartition(separator)
        if found:
            yield _joined(words), written


def _joined(*parts: str) -> str:
    return " ".join(part.strip(" ,:;-_/") for part in parts if part.strip(" ,:;-_/"))
