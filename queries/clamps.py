"""Clamps that close on a measured diameter."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from kb.errors import AnswerError
from kb.measure import both_text
from kb.reference.tables import is_checked, table
from queries.answers import Answer, apart


@dataclass(frozen=True, slots=True)
class ClampQuestion:
    """The diameter to be clamped: the hose's outside over its stub, in mm."""

    around_mm: float | None = None
    limit: int = 10


@dataclass(frozen=True, slots=True)
class ClampRow:
    """One clamp, or one size number of SAE J1508 where ``supplier`` is empty."""

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
        return {name: getattr(self, name) for name in self.__slots__}


def ask_clamps(connection: sqlite3.Connection, question: ClampQuestion) -> Answer[ClampRow]:
    """Find clamps whose band holds a diameter, the ones that close near their middle first."""
    if question.around_mm is None:
        raise AnswerError("nothing was asked.", do="Give --around, the hose's outside diameter over its stub.")
    sizes = {
        row["dash_or_size"]: (float(row["min_mm"]), float(row["max_mm"]))
        for row in table("hose_sizes")
        if row["table"].startswith("worm-drive clamp") and is_checked(row)
    }
    rows = []
    for row in connection.execute(
        "SELECT part_no, supplier.name AS supplier, size_number, style, smallest_mm, largest_mm FROM clamp "
        "JOIN supplier ON supplier.id = supplier_id"
    ):
        band, note = (row["smallest_mm"], row["largest_mm"]), ""
        if None in band:
            number = "".join(each for each in row["size_number"] or "" if each.isdigit())
            if number not in sizes:
                continue
            band, note = sizes[number], "; band from its size number (SAE J1508)"
        rows.append(_row(row["part_no"], row["supplier"], row["size_number"], row["style"], band, question, note))
    rows += [
        _row(f"size {size}", "", size, "worm drive", band, question, "; SAE J1508") for size, band in sizes.items()
    ]
    rows.sort(key=lambda row: (-row.fit, abs(row.difference_mm), row.supplier == "", row.supplier, row.part_no))
    held = [row for row in rows if row.fit > 0]
    understood = f"clamps around {both_text(question.around_mm)}"
    return Answer(held[: question.limit], [] if held else rows[:5], understood)


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
    middle = (low + high) / 2
    outside = max(low - around, around - high, 0.0)
    share = abs(around - middle) / max((high - low) / 2, 0.01)
    if outside > 0:
        why = f"{apart(outside)} too {'large' if around < low else 'small'}"
    elif share > 0.8:
        why = "holds it, near the end of its band"
    else:
        why = "holds it, well inside its band"
    fit = 0.0 if outside else round(100.0 - 50.0 * share, 1)
    return ClampRow(part_no, supplier, size, style, low, high, round(middle - around, 2), fit, why + note)
