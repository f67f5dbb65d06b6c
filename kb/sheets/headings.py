"""Telling what a supplier's columns are: which row holds the headings, which kind of sheet it is, which column is what.

Nothing is matched in silence: every column comes back with what it was taken for, how, and how alike the words were.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache

from rapidfuzz import fuzz

from kb.errors import HeadingError
from kb.fields import SHEET_KINDS, Field, Kind
from kb.measure import UNITS_OF, unit_in_heading
from kb.sheets.cells import MOST_COLUMNS

SURE = 88.0
"""A likeness from which a column is taken without asking; chosen so that one slip in a short word still passes."""

WORTH_ASKING = 70.0
"""A likeness from which a column is worth asking about; below, it is ignored and said."""

ROWS_LOOKED_AT = 30
"""How far down the headings are looked for: title rows, addresses and dates stand above them."""

MOST_COMPARED = 2_000
"""How many texts are compared with the known words at most: each costs a millisecond or two, and real sheets hold some
hundred above their first rows. A single row of headings is always looked at."""

LONGEST_HEADING = 200
"""Characters: what is longer is no heading, and is not compared."""

REFUSED_MARK = "refused:"
"""Headings of the two columns that a file of refusals adds; they are left out when it is loaded again."""

_LETTER = re.compile(r"[^\W\d_]")
_PREFIXES = frozenset({
    "artikel", "article", "item", "product", "produkt", "part", "teil", "belt", "pulley", "hose", "clamp", "fitting",
    "tensioner", "riemen", "schlauch", "schelle", "our", "supplier", "nominal", "nom", "the", "job",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Column:
    """What one column was taken for: ``field`` is ``None`` where it is left out."""

    position: int
    heading: str
    field: Field | None
    unit: str | None
    likeness: float
    how: str
    """``as told``, ``remembered``, ``same words``, ``alike``, ``asked about``, ``repeated``, ``not known``, ``left out``"""
    could_be: str | None = None
    """The field that a column may be, where it was not sure enough to take."""


@dataclass(frozen=True, slots=True)
class Matching:
    """A worksheet's kind, where its headings stand, and its columns."""

    kind: Kind
    heading_row: int
    columns: tuple[Column, ...]
    score: float
    missing: tuple[str, ...] = ()
    """What a row of this kind needs and no column gives, in words."""

    @property
    def used(self) -> tuple[Column, ...]:
        """The columns that were taken for a field."""
        return tuple(column for column in self.columns if column.field is not None)


@dataclass(slots=True)
class Choices:
    """What people said of a supplier's headings: now (``told``) and earlier (``remembered``); '' leaves a column out."""

    told: Mapping[str, str] = field(default_factory=dict)
    remembered: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


@lru_cache(maxsize=1 << 14)
def plain(text: str) -> str:
    """Reduce a heading to its words: ``"Artikel-Nr. "`` becomes ``"artikel nr"``."""
    folded = unicodedata.normalize("NFKC", text).casefold().replace("#", " no ").replace("№", " no ")
    return " ".join(re.findall(r"[\w+]+|/", folded.replace("_", " ").replace(".", ""), re.UNICODE))


def match(
    rows: Sequence[Sequence[str]],
    *,
    numbers: Sequence[int],
    name: str,
    kind: Kind | None = None,
    choices: Choices | None = None,
) -> Matching:
    """Find the headings among a worksheet's first rows.

    ``rows`` are the texts of the first rows and ``numbers`` their row numbers; ``name`` is the worksheet's, and can
    hint at its kind. Raises :class:`HeadingError` where no row could be the headings, or where two kinds are equally
    likely.
    """
    choices = choices or Choices()
    kinds = (kind,) if kind else SHEET_KINDS
    found: list[Matching] = []
    for cells, number in _worth_a_look(rows[:ROWS_LOOKED_AT], numbers):
        found.extend(_as_headings(cells, number, each, choices, name) for each in kinds)
    whole = [one for one in found if not one.missing and one.score > 0]
    if not whole:
        raise _not_told(found, name, kind)
    best = max(whole, key=lambda one: (one.score, -one.heading_row))
    rivals = {one.kind.name for one in whole if one.score > best.score - 0.25 and one.heading_row == best.heading_row}
    if len(rivals) > 1:
        raise HeadingError(
            f"these headings could be {' or '.join(sorted(rivals))}.",
            where=name,
            do=f"Say which with --as {best.kind.plural}.",
        )
    return best


def _worth_a_look(rows: Sequence[Sequence[str]], numbers: Sequence[int]) -> Iterator[tuple[Sequence[str], int]]:
    """Yield the rows that could be headings, until comparing them has become too much work."""
    compared: set[str] = set()
    for cells, number in zip(rows, numbers, strict=False):
        if len(cells) > MOST_COLUMNS or sum(1 for cell in cells if cell.strip()) < 2:
            continue
        texts = {cell for cell in cells if len(cell) <= LONGEST_HEADING and _LETTER.search(cell)}
        if compared and len(compared | texts) > MOST_COMPARED:
            return
        compared |= texts
        yield cells, number


def _as_headings(cells: Sequence[str], number: int, kind: Kind, choices: Choices, name: str) -> Matching:
    columns = _columns(cells, kind, choices)
    taken = {column.field.name for column in columns if column.field}
    score = sum(column.likeness / 100 for column in columns if column.field)
    hints = plain(name.replace(".", " ")).split()  # `plain` drops the dot: "belts.csv" would be one word
    if kind.plural in hints or kind.name in hints:
        score += 0.5
    return Matching(kind, number, columns, score, _missing(kind, taken))


def _missing(kind: Kind, taken: set[str]) -> tuple[str, ...]:
    missing = [one.label for one in kind.fields if one.required and one.name not in taken]
    # A belt's designation (8PK1854, ISO 9981) gives ribs, profile and length at once.
    if not (kind.name == "belt" and "designation" in taken):
        for group in kind.one_of:
            if not taken.intersection(group):
                missing.append(" or ".join(kind.field(each).label for each in group))
    return tuple(missing)


def _columns(cells: Sequence[str], kind: Kind, choices: Choices) -> tuple[Column, ...]:
    settled: dict[int, Column] = {}
    seen: set[str] = set()
    remembered = choices.remembered.get(kind.name, {})
    for position, heading in enumerate(cells):
        if len(heading) > LONGEST_HEADING:
            settled[position] = Column(position, heading, None, None, 0, "not known")
            continue
        key = plain(heading)
        if not key:
            settled[position] = Column(position, heading, None, None, 0, "no heading")
        elif key.startswith(plain(REFUSED_MARK)):
            settled[position] = Column(position, heading, None, None, 0, "left out")
        elif key in seen:
            settled[position] = Column(position, heading, None, None, 0, "repeated")
        else:
            for how, said in (("as told", choices.told), ("remembered", remembered)):
                if key in said:
                    settled[position] = _said(position, heading, said[key], kind, how)
                    break
        seen.add(key)
    return _by_likeness(cells, kind, settled)


def _said(position: int, heading: str, name: str, kind: Kind, how: str) -> Column:
    unit = unit_in_heading(heading)[1]
    if not name:
        return Column(position, heading, None, None, 100, "left out")
    try:
        return Column(position, heading, kind.field(name), unit, 100, how)
    except KeyError:
        known = ", ".join(one.name for one in kind.fields)
        raise HeadingError(
            f"{kind.plural} have no column `{name}`.", where=f"--map {heading!r}", do=f"Known: {known}."
        ) from None


def _by_likeness(cells: Sequence[str], kind: Kind, settled: dict[int, Column]) -> tuple[Column, ...]:
    """Give each remaining column the field it is most like; each field goes to one column only, the likest first."""
    taken = {column.field.name for column in settled.values() if column.field}
    pairs = []
    for position, heading in enumerate(cells):
        if position in settled:
            continue
        text, unit = unit_in_heading(heading)
        key = plain(text) or plain(heading)
        for order, one in enumerate(kind.fields):
            if unit is not None and unit not in UNITS_OF.get(_base(one.quantity), {unit}):
                continue
            pairs.append((-likeness(key, one), position, order, one, unit))
    for negative, position, _, one, unit in sorted(pairs, key=lambda pair: pair[:3]):
        if position in settled or one.name in taken or -negative < SURE:
            continue
        how = "same words" if negative == -100 else "alike"
        settled[position] = Column(position, cells[position], one, unit, -negative, how)
        taken.add(one.name)
    for negative, position, _, one, _unit in sorted(pairs, key=lambda pair: pair[:3]):
        if position in settled or one.name in taken:
            continue
        if -negative >= WORTH_ASKING:
            settled[position] = Column(position, cells[position], None, None, -negative, "asked about", one.name)
    return tuple(
        settled.get(position, Column(position, heading, None, None, 0, "not known"))
        for position, heading in enumerate(cells)
    )


def _base(quantity: str) -> str:
    return {"lengths": "length", "angles": "angle"}.get(quantity, quantity)


@lru_cache(maxsize=1 << 18)
def likeness(key: str, one: Field) -> float:
    """Return how alike a heading's plain words and a field's are, 0 to 100; what is not worth asking about is 0."""
    words = _words(one)
    if key in words:
        return 100.0
    if not _LETTER.search(key):
        return 0.0  # a number, of which the rows below the headings are full
    best = 0.0
    short = _without_prefix(key)
    if short in words:
        best = 97.0
    parts = set(key.split())
    for word, its_parts in words.items():
        # One slip in a two-letter word makes another word: short ones match whole or not at all.
        if len(word) > 3 and len(key) > 3:
            best = max(
                best,
                fuzz.ratio(key, word, score_cutoff=WORTH_ASKING),
                0.99 * fuzz.token_sort_ratio(key, word, score_cutoff=WORTH_ASKING),
            )
            if short != key:
                best = max(best, 0.97 * fuzz.ratio(short, word, score_cutoff=WORTH_ASKING))
        if len(word) >= 4 and its_parts < parts:
            best = max(best, 80.0)
    return best


def _without_prefix(key: str) -> str:
    words = key.split()
    while len(words) > 1 and words[0] in _PREFIXES:
        words = words[1:]
    return " ".join(words)


@cache
def _words(one: Field) -> dict[str, frozenset[str]]:
    """Return the plain words that a field goes by, each with its parts."""
    known = (one.label, one.name.replace("_", " "), *one.words)
    return {word: frozenset(word.split()) for word in map(plain, known)}


def _not_told(found: Iterable[Matching], name: str, kind: Kind | None) -> HeadingError:
    best = max(found, key=lambda one: (-len(one.missing), one.score), default=None)
    if best is None:
        return HeadingError(
            "no row has two cells that could be headings.", where=name, do="The first row should name the columns."
        )
    asked = [f'--map "{column.heading}={column.could_be}"' for column in best.columns if column.could_be]
    what = f"as {best.kind.plural}, " if kind or best.score > 1 else "no kind of sheet fits; as the nearest, "
    what += f"{best.kind.plural}, " if not what.startswith("as") else ""
    hint = f"Perhaps {' '.join(asked)}." if asked else f'Name the column with --map "their heading={_example(best)}".'
    return HeadingError(f"{what}a column is missing: {'; '.join(best.missing)}.", where=name, do=hint)


def _example(best: Matching) -> str:
    for one in best.kind.fields:
        if one.label in best.missing or any(one.label in each for each in best.missing):
            return one.name
    return "part_no"
