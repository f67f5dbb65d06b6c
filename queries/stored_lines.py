"""The lines on the shelf: all of them, or one, worked out anew from the sheet as it was written."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from kb.errors import LineError
from kb.sheets.line import read_line
from queries.lines import LineAnswer, ask_line


@dataclass(frozen=True, slots=True)
class StoredLine:
    """A line of the shelf, and what it was loaded from; ``answer`` is ``None`` where ``error`` says why."""

    name: str
    machine: str | None
    service: str | None
    loaded_from: str
    answer: LineAnswer | None
    error: str | None = None


def ask_lines(connection: sqlite3.Connection) -> list[StoredLine]:
    """Return every line on the shelf, by name."""
    rows = connection.execute(f"{_SELECT} ORDER BY line.name")
    return [_stored(row) for row in rows]


def ask_stored_line(connection: sqlite3.Connection, name: str) -> StoredLine | None:
    """Return one line by its name, or ``None``."""
    row = connection.execute(f"{_SELECT} WHERE line.name = ?", (name,)).fetchone()
    return None if row is None else _stored(row)


_SELECT = (
    "SELECT line.name, machine, service, sheet_text, load.sheet, load.loaded_at "
    "FROM line JOIN load ON load.number = load_number"
)


def _stored(row: sqlite3.Row) -> StoredLine:
    answer, told = None, None
    try:
        answer = ask_line(read_line(row["sheet_text"], name=row["sheet"]))
    except LineError as error:  # a sheet that an older version took and this one does not
        told = str(error)
    loaded_from = f"{row['sheet']}, loaded {row['loaded_at']}"
    return StoredLine(row["name"], row["machine"], row["service"], loaded_from, answer, told)
