"""A belt beside what was asked: how far off, how good a fit, how its jobs ended, who else has the same."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import ClassVar, NamedTuple

from kb.measure import both_text, millimetres_text
from kb.mechanics.belt_lengths import fit
from queries.answers import apart
from queries.history import NONE, Record, records

EQUIVALENT_MM = 1.0
"""Belts of one profile and rib count this near in effective length do the same: common practice, no source."""

_MOST_EQUIVALENTS = 5

SAME_MM = 0.5
"""Belts whose distances from what was asked differ by less are told apart by how their jobs ended."""

BESIDE = 20
"""How many belts beyond the limit are looked at, where they are as far off as the last one inside it."""


class Listed(NamedTuple):
    """A belt as the shelf holds it, with what :data:`COLUMNS` names; ``away_mm`` is how far off it was found."""

    away_mm: float
    id: int
    part_no: str
    code: str
    supplier: str
    profile: str | None
    ribs: int | None
    section: str | None
    top_width_mm: float | None
    effective_length_mm: float | None
    outside_length_mm: float | None
    pitch_length_mm: float | None
    length_tolerance_mm: float | None
    description: str | None


COLUMNS = ", ".join(
    {"supplier": "supplier.name", "id": "belt.id"}.get(name, name) for name in Listed._fields if name != "away_mm"
)
"""The columns of a :class:`Listed` after the first, of ``belt JOIN supplier``."""


def listed(connection: sqlite3.Connection, sql: str, values: Sequence[object] | dict[str, object]) -> Iterator[Listed]:
    """Run a query for belts, whose first column is how far off they are and the others are :data:`COLUMNS`."""
    cursor = connection.cursor()
    cursor.row_factory = None  # plain tuples: rows that look their names up cost more than the index does
    return map(Listed._make, cursor.execute(sql, values))


class _BeltRow(NamedTuple):
    part_no: str
    supplier: str
    profile: str | None
    ribs: int | None
    effective_length_mm: float | None
    outside_length_mm: float | None
    difference_mm: float | None
    fit: float
    section: str | None = None
    top_width_mm: float | None = None
    description: str | None = None
    stands_in: bool = False
    record: Record = NONE
    equivalents: tuple[str, ...] = ()
    length_tolerance_mm: float | None = None
    says_first: str = ""
    says_last: str = ""


class BeltRow(_BeltRow):
    """One belt beside the question; ``difference_mm`` is the belt minus what was asked, as effective length.

    Where only another kind of length can be compared, the difference is in that kind and ``why`` says so. ``says_first``
    and ``says_last`` are what is to be said before and after how far off it is.
    """

    __slots__ = ()
    KEYS: ClassVar[tuple[str, ...]] = (
        "part_no", "supplier", "profile", "ribs", "effective_length_mm", "outside_length_mm", "difference_mm", "fit",
        "why", "jobs_worked", "jobs_failed", "jobs_after_change", "section", "top_width_mm", "description", "stands_in",
        "equivalents",
    )  # fmt: skip

    @property
    def why(self) -> str:
        """Why it is in the answer, in words; put together where it is read."""
        off = _difference_text(self.difference_mm, self.length_tolerance_mm)
        return joined(self.says_first, off, self.record.says, self.says_last)

    def saying_first(self, said: str) -> BeltRow:
        """Return the row with more to say of why it stands there, before the rest."""
        return self._replace(says_first=joined(said, self.says_first))

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            "part_no": self.part_no,
            "supplier": self.supplier,
            "profile": self.profile,
            "ribs": self.ribs,
            "effective_length_mm": self.effective_length_mm,
            "outside_length_mm": self.outside_length_mm,
            "difference_mm": self.difference_mm,
            "fit": self.fit,
            "why": self.why,
            "jobs_worked": self.record.worked,
            "jobs_failed": self.record.failed,
            "jobs_after_change": self.record.after_change,
            "section": self.section,
            "top_width_mm": self.top_width_mm,
            "description": self.description,
            "stands_in": self.stands_in,
            "equivalents": list(self.equivalents),
        }


@dataclass(frozen=True, slots=True)
class Compared:
    """What belts are held against: a length column, the length asked for in that kind, its doubt, and what to say of it."""

    column: str
    asked_mm: float | None
    doubt_mm: float
    says: str = ""

    def off(self, belt: Listed) -> float | None:
        """Return the belt's length minus the one asked for; ``None`` where either is not known."""
        length: float | None = getattr(belt, self.column)
        return None if self.asked_mm is None or length is None else round(length - self.asked_mm, 3)


def belt_rows(
    connection: sqlite3.Connection, found: list[Listed], compared: Compared, limit: int, stands_in: str = ""
) -> list[BeltRow]:
    """Return the best ``limit`` of the belts found, best first; ``stands_in`` says what is different about them all."""
    if not found:
        return []
    told = records(connection, [(belt.supplier, belt.part_no) for belt in found], [belt.code for belt in found])
    ranked = _ranked(found, told, compared)[:limit]
    same = _equivalents(connection, ranked)
    says_first = joined(stands_in, compared.says)
    rows = []
    for belt in ranked:
        off = compared.off(belt)
        record = told.get((belt.supplier, belt.part_no), NONE) if told else NONE
        how_fit = 100.0 if off is None else round(fit(off, compared.doubt_mm), 1)
        rows.append(
            BeltRow(
                belt.part_no, belt.supplier, belt.profile, belt.ribs, belt.effective_length_mm, belt.outside_length_mm,
                off, how_fit, belt.section, belt.top_width_mm, belt.description, bool(stands_in), record,
                same.get(belt.id, ()), belt.length_tolerance_mm, says_first,
            )
        )  # fmt: skip
    return rows


def _ranked(found: list[Listed], told: dict[tuple[str, str], Record], compared: Compared) -> list[Listed]:
    """Order by how far off; those as far off within half a millimetre by how the jobs with them ended, then by name.

    Without a length to compare the shortest comes first.
    """
    asked = compared.asked_mm or 0.0
    lengths = map(attrgetter(compared.column), found)
    ordered = sorted(
        (abs((length or 0.0) - asked), belt.supplier, belt.part_no, belt)
        for length, belt in zip(lengths, found, strict=True)
    )
    if not told or compared.asked_mm is None:
        return [belt for *_, belt in ordered]
    ranked: list[Listed] = []
    while ordered:
        first = ordered[0][0]
        alike = [belt for away, _, _, belt in ordered if away - first < SAME_MM]
        # The sort is stable: what the jobs do not tell apart stays nearest first.
        ranked += sorted(alike, key=lambda belt: _history(told, belt))
        del ordered[: len(alike)]
    return ranked


def _history(told: dict[tuple[str, str], Record], belt: Listed) -> tuple[int, int]:
    record = told.get((belt.supplier, belt.part_no), NONE)
    return (record.failed - record.worked, -record.worked)


def joined(*said: str) -> str:
    """Join what there is to say.

    >>> joined("8 ribs instead of 7", "", "1 mm longer")
    '8 ribs instead of 7; 1 mm longer'
    """
    return "; ".join(filter(None, said))


def _difference_text(off: float | None, tolerance_mm: float | None) -> str:
    if off is None:
        return ""
    if abs(off) < 0.05:
        return "the length asked for"
    said = f"{apart(off)} {'longer' if off > 0 else 'shorter'}"
    if tolerance_mm and abs(off) <= tolerance_mm:
        said += f" (its tolerance is ±{millimetres_text(tolerance_mm)})"
    return said


def width_text(row: BeltRow, asked_mm: float) -> str:
    """Return how much wider or narrower a V-belt is than asked, empty where a caliper would not tell."""
    off = (row.top_width_mm or asked_mm) - asked_mm
    if abs(off) < 0.05:
        return ""
    return f"{millimetres_text(abs(off))} {'wider' if off > 0 else 'narrower'} than {both_text(asked_mm)}"


def _equivalents(connection: sqlite3.Connection, found: list[Listed]) -> dict[int, tuple[str, ...]]:
    """Return, by id, the belts of other suppliers that do the same; one range of the index serves all rows of a kind."""
    cursor = connection.cursor()
    cursor.row_factory = None
    names: dict[int, str] = dict(cursor.execute("SELECT id, name FROM supplier"))
    if len(names) < 2:
        return {}
    spans: dict[tuple[str, int], list[tuple[float, Listed]]] = {}
    for belt in found:
        if belt.profile is not None and belt.ribs is not None and belt.effective_length_mm is not None:
            spans.setdefault((belt.profile, belt.ribs), []).append((belt.effective_length_mm, belt))
    same: dict[int, tuple[str, ...]] = {}
    for (profile, ribs), belts in spans.items():
        for low, high in _ranges(length for length, _ in belts):
            others = cursor.execute(
                "SELECT supplier_id, part_no, effective_length_mm FROM belt "
                "WHERE profile = ? AND ribs = ? AND effective_length_mm BETWEEN ? AND ?",
                (profile, ribs, low - EQUIVALENT_MM, high + EQUIVALENT_MM),
            )
            told = sorted([(names[supplier], part_no, length) for supplier, part_no, length in others])
            met: dict[tuple[float, str], tuple[str, ...]] = {}
            for length, belt in belts:
                if low <= length <= high:
                    key = (length, belt.supplier)
                    if key not in met:
                        met[key] = _same_as(*key, told)
                    same[belt.id] = met[key]
    return same


def _same_as(length: float, supplier: str, told: list[tuple[str, str, float]]) -> tuple[str, ...]:
    low, high = length - EQUIVALENT_MM, length + EQUIVALENT_MM
    near = []
    for who, part_no, its in told:
        if low <= its <= high and who != supplier:
            near.append(f"{who} {part_no}")
            if len(near) == _MOST_EQUIVALENTS:
                break
    return tuple(near)


def _ranges(lengths: Iterable[float]) -> list[tuple[float, float]]:
    """Join lengths near each other into ranges, so that a list over all lengths does not read the whole index.

    >>> _ranges([1854.0, 1855.0, 2400.0])
    [(1854.0, 1855.0), (2400.0, 2400.0)]
    """
    ranges: list[tuple[float, float]] = []
    for length in sorted(lengths):
        if ranges and length - ranges[-1][1] <= 4 * EQUIVALENT_MM:
            ranges[-1] = (ranges[-1][0], length)
        else:
            ranges.append((length, length))
    return ranges
