"""Storing lines: the sheet as it was written, and what pages list of it; all else is worked out from the sheet."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from kb.sheets.line import read_line

_COLUMNS = (
    "machine", "service", "hose_inside_mm", "hose_outside_mm", "min_bend_radius_mm", "old_length_mm", "quantity",
)  # fmt: skip


def store_line(connection: sqlite3.Connection, source: Path, load_number: int) -> str:
    """Read and store one line sheet; return ``stored``, ``updated`` or ``unchanged``.

    A line is known by its name. One whose route does not work yet is stored as well: its page says what is wrong. Raises
    :class:`~kb.errors.LineError` for a sheet that cannot be read.
    """
    sheet = read_line(source)
    there = connection.execute("SELECT sheet_text FROM line WHERE name = ?", (sheet.name,)).fetchone()
    if there and there["sheet_text"] == sheet.text:
        return "unchanged"
    values = {name: getattr(sheet, name) for name in _COLUMNS}
    values |= {"sheet_text": sheet.text, "load_number": load_number, "name": sheet.name}
    names = ", ".join(values)
    marks = ", ".join(f":{name}" for name in values)
    changed = ", ".join(f"{name} = excluded.{name}" for name in values)
    connection.execute(
        f"INSERT INTO line ({names}) VALUES ({marks}) ON CONFLICT (name) DO UPDATE SET {changed}", values
    )
    return "updated" if there else "stored"
