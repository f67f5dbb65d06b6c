"""Clamps that close on a measured diameter."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from kb.errors import AnswerError
from kb.measure import both_text
from kb.mechanics.clamps import ClampBand, clamp_fit
from kb.reference.sizes import clamp_bands
from queries.answers import Answer, apart

LEAST_BAND_MM = 0.02
_BY_SIZE = "SAE J1508"
_NUMBER = re.compile(r"[0-9]+")
_NEAREST = 5


@dataclass(frozen=True, slots=True)
class ClampQuestion:
    """The diameter to be clamped: the hose's outside over its stub, in mm."""

    around_mm: float | None = None
    limit: int = 10


@dataclass(frozen=True, slots=True)
class ClampRow:
    """One clamp, or one size number of SAE J1508 where ``supplier`` is empty.

    ``difference_mm`` is the middle of its band minus the diameter asked for; ``fit`` is that of
    :func:`kb.mechanics.clamps.clamp_fit`.
    """

    KEYS: ClassVar[tuple[str, ...]] = (
        "part_no", "supplier", "size_number", "style", "smallest_mm", "largest_mm", "difference_mm", "fit", "why",
    )  # fmt: skip

    part_no: str
    supplier: str
    size_number: str | None
    style: str | None
    smallest_mm: float
    largest_mm: float
    difference_mm: float
    fit: float
    why: str

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.KEYS}


def ask_clamps(connection: sqlite3.Connection, question: ClampQuestion) -> Answer[ClampRow]:
    """Find clamps whose band holds a diameter, the ones that close near their middle first."""
    if question.around_mm is None:
        raise AnswerError("nothing was asked.", do="Give --around, the hose's outside diameter over its stub.")
    around = question.around_mm
    held = [row for row in _clamps(connection, question, _MAY_HOLD, (around - LEAST_BAND_MM, around)) if row.fit > 0]
    held.sort(key=lambda row: (-row.fit, abs(row.difference_mm), row.supplier == "", row.supplier, row.part_no))
    nearest = []
    if not held:
        rows = list(_clamps(connection, question, "1", ()))
        nearest = sorted(rows, key=lambda row: (_missed_by(row, around), row.supplier == "", row.supplier, row.part_no))
    return Answer(held[: question.limit], nearest[:_NEAREST], f"clamps around {both_text(around)}")


_MAY_HOLD = "coalesce(largest_mm, 1e9) >= ?1 AND coalesce(smallest_mm, 0) <= ?2"
"""What a clamp must be to hold a diameter, as far as its own row tells."""


def _clamps(
    connection: sqlite3.Connection, question: ClampQuestion, where: str, values: tuple[float, ...]
) -> Iterator[ClampRow]:
    """Yield the shelf's clamps, then the standard's sizes, each as it stands on the diameter asked for."""
    sizes = _sizes()
    rows = connection.execute(
        "SELECT part_no, supplier.name AS supplier, size_number, style, smallest_mm, largest_mm FROM clamp "
        f"JOIN supplier ON supplier.id = supplier_id WHERE {where}",
        values,
    )
    for row in rows:
        banded = _band(row, sizes)
        if banded is not None:
            band, note = banded
            yield _row(row["part_no"], row["supplier"], row["size_number"], row["style"], band, question, note)
    for size, band in sizes.items():
        yield _row(f"size {size}", "", size, "worm drive", band, question, _BY_SIZE)


def _missed_by(row: ClampRow, around: float) -> float:
    return max(row.smallest_mm - around, around - row.largest_mm)


def _sizes() -> dict[str, tuple[float, float]]:
    """Return the bands of the size numbers of SAE J1508 that were checked against something outside."""
    return {band.size: (band.smallest_mm, band.largest_mm) for band in clamp_bands() if band.checked}


def _band(row: sqlite3.Row, sizes: dict[str, tuple[float, float]]) -> tuple[tuple[float, float], str] | None:
    """Return a clamp's band and where it comes from; what its sheet does not give is taken from its size number."""
    low, high = row["smallest_mm"], row["largest_mm"]
    if low is not None and high is not None:
        return (low, high), ""
    numbers = _NUMBER.findall(row["size_number"] or "")
    if len(numbers) != 1 or numbers[0] not in sizes:
        return None
    by_size = sizes[numbers[0]]
    band = (by_size[0] if low is None else low, by_size[1] if high is None else high)
    return (band, f"band from its size number ({_BY_SIZE})") if band[0] <= band[1] else None


def _row(
    part_no: str,
    supplier: str,
    size: str | None,
    style: str | None,
    band: tuple[float, float],
    question: ClampQuestion,
    note: str,
) -> ClampRow:
    low, high = band
    around = question.around_mm or 0.0
    # A band of nothing is a fixed ring: it fits what it measures.
    stands = clamp_fit(ClampBand(size or part_no, low, max(high, low + LEAST_BAND_MM)), around)
    if stands.outside_mm > 0:
        why = f"{apart(stands.outside_mm)} too {'large' if around < low else 'small'}"
    elif stands.near_an_end:
        why = f"holds it, near the {'closed' if stands.travel > 0.5 else 'open'} end of its band"
    else:
        why = "holds it, well inside its band"
    said = "; ".join(filter(None, (why, note)))
    middle = (low + high) / 2
    return ClampRow(part_no, supplier, size, style, low, high, round(middle - around, 2), round(stands.fit, 1), said)
