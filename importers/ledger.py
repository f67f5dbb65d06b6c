"""The shelf's own book of loads: what was loaded when, how its columns were read, what was refused and why."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from importers.report import Refusal, Report
from kb.fields import Kind
from kb.sheets.headings import Column, plain
from kb.shelf import new_id, now

CLOCK_SLACK_MIN = 5
"""Minutes by which clocks may differ before it is said: our own choice."""


def open_load(connection: sqlite3.Connection, report: Report, digest: str, settings: str, supplier: int | None) -> int:
    """Write the load's row, so that its rows can point at it; return its number on this shelf."""
    report.load_id = new_id()
    loaded_at, behind = _time_after(connection, report.kind)
    if behind is not None:
        report.notes.append(behind)
    cursor = connection.execute(
        "INSERT INTO load (id, kind, sheet, supplier_id, digest, settings, loaded_at, heading_row) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (report.load_id, report.kind, report.sheet, supplier, digest, settings, loaded_at, report.heading_row),
    )
    return int(cursor.lastrowid or 0)


def _time_after(connection: sqlite3.Connection, kind: str) -> tuple[str, str | None]:
    """Return a time for a load, later than every load's of its kind here; and what to say of a clock that is behind.

    Where shelves meet, the newest load's row holds: a sheet that was loaded after another must be the newer one whatever
    this machine's clock says, and also within one second. Recorded jobs do not go by it: their revisions know each other.
    """
    clock = now()
    newest, newest_of_kind = connection.execute(
        "SELECT max(loaded_at), max(loaded_at) FILTER (WHERE kind = ? AND kind <> 'job') FROM load", (kind,)
    ).fetchone()
    time = clock
    if newest_of_kind is not None and newest_of_kind >= clock:
        time = _shifted(newest_of_kind, timedelta(seconds=1)) or clock
    return time, clock_behind(newest, clock)


def clock_behind(newest: str | None, clock: str) -> str | None:
    """Return what to say where the newest load is dated minutes after the machine's clock, nothing where all is well."""
    late = _shifted(clock, timedelta(minutes=CLOCK_SLACK_MIN))
    if newest is None or late is None or newest <= late:
        return None
    return (
        f"The clock here says {clock}, and the newest load on the shelf is dated {newest}: a clock is or was wrong. "
        "What is stored now counts as newer all the same; set this machine's clock."
    )


def _shifted(time: str, by: timedelta) -> str | None:
    try:
        return f"{datetime.fromisoformat(time) + by:%Y-%m-%dT%H:%M:%SZ}"
    except (ValueError, OverflowError):
        return None  # dates that were written by something else


def close_load(connection: sqlite3.Connection, number: int, report: Report, places: Mapping[int, int]) -> None:
    """Write down what the load did. A load that changed nothing and refused nothing new leaves no trace at all."""
    if not report.changed and _same_refusals(connection, number, report):
        connection.execute("DELETE FROM load WHERE number = ?", (number,))
        return
    connection.execute(
        "UPDATE load SET rows_read = ?, rows_stored = ?, rows_updated = ?, rows_unchanged = ?, rows_refused = ?, "
        "cells_read = ?, cells_stored = ?, cells_ignored = ?, notes = ? WHERE number = ?",
        (
            report.rows_read, report.rows_stored, report.rows_updated, report.rows_unchanged, report.rows_refused,
            report.cells_read, report.cells_stored, report.cells_ignored,
            json.dumps(report.notes, ensure_ascii=False), number,
        ),
    )  # fmt: skip
    connection.executemany(
        "INSERT INTO load_column (load_number, position, heading, field, unit, place, likeness, how) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (number, each.position, each.heading, each.field.name if each.field else None, each.unit,
             places.get(each.position), min(each.likeness, 100), each.how)
            for each in report.columns
        ],
    )  # fmt: skip
    connection.executemany(
        "INSERT INTO refusal (load_number, row_number, whole_row, column_name, value, reason) VALUES (?, ?, ?, ?, ?, ?)",
        [_refusal_row(number, each) for each in report.refusals],
    )
    connection.executemany(
        "INSERT INTO private_refused_row (load_number, row_number, cells) VALUES (?, ?, ?)",
        [(number, row, json.dumps(cells, ensure_ascii=False)) for row, cells in report.refused_rows.items()],
    )


def _refusal_row(number: int, each: Refusal) -> tuple[int, int, int, str | None, str | None, str]:
    # The text of a column that was not understood may be anything, a price as well: it stays in the private row.
    value = None if each.private else each.value
    return (number, each.row, int(each.whole_row), each.column, value, each.reason)


def _same_refusals(connection: sqlite3.Connection, number: int, report: Report) -> bool:
    if not report.refusals:
        return True
    earlier = connection.execute(
        "SELECT max(number) FROM load WHERE sheet = ? AND kind = ? AND number <> ? AND merged_from IS NULL",
        (report.sheet, report.kind, number),
    ).fetchone()[0]
    known = connection.execute("SELECT row_number, reason FROM refusal WHERE load_number = ?", (earlier,))
    return sorted((each.row, each.reason) for each in report.refusals) == sorted(map(tuple, known))


def same_load(connection: sqlite3.Connection, digest: str, name: str, settings: str) -> list[Report] | None:
    """Return the reports of an earlier load of the same bytes in the same way, if nothing has changed them since."""
    loads = connection.execute(
        "SELECT load.*, supplier.name AS supplier FROM load LEFT JOIN supplier ON supplier.id = load.supplier_id "
        "WHERE digest = ? AND settings = ? AND merged_from IS NULL AND (sheet = ? OR sheet LIKE ? || ': %') ORDER BY number",
        (digest, settings, name, name),
    ).fetchall()
    if not loads or _since(connection, loads):
        return None
    return [_again(connection, load) for load in loads]


def _since(connection: sqlite3.Connection, loads: Sequence[sqlite3.Row]) -> bool:
    """Whether a later load may have touched the same rows."""
    last = max(load["number"] for load in loads)
    kinds = json.dumps([load["kind"] for load in loads])
    later = connection.execute(
        "SELECT 1 FROM load WHERE number > ? AND kind IN (SELECT value FROM json_each(?)) LIMIT 1", (last, kinds)
    )
    return later.fetchone() is not None


def _again(connection: sqlite3.Connection, load: sqlite3.Row) -> Report:
    report = Report(load["sheet"], load["kind"], load["id"], load["supplier"], load["heading_row"], loaded_before=True)
    report.notes = ["The same bytes were loaded before, in the same way: nothing was added."]
    report.rows_read, report.rows_refused = load["rows_read"], load["rows_refused"]
    report.rows_unchanged = load["rows_read"] - load["rows_refused"]
    report.cells_read, report.cells_stored = load["cells_read"], load["cells_stored"]
    report.cells_ignored = load["cells_ignored"]
    report.cells_refused = report.cells_read - report.cells_stored - report.cells_ignored
    columns = connection.execute(
        "SELECT heading FROM load_column WHERE load_number = ? ORDER BY position", (load["number"],)
    )
    report.headings = [heading for (heading,) in columns]
    refusals = connection.execute("SELECT * FROM refusal WHERE load_number = ? ORDER BY id", (load["number"],))
    report.refusals = [
        Refusal(row["row_number"], row["column_name"], row["value"], row["reason"], bool(row["whole_row"]))
        for row in refusals
    ]
    rows = connection.execute(
        "SELECT row_number, cells FROM private_refused_row WHERE load_number = ? ORDER BY row_number",
        (load["number"],),
    )
    report.refused_rows = {number: json.loads(cells) for number, cells in rows}
    return report


def remembered(connection: sqlite3.Connection, supplier: str) -> dict[str, dict[str, str]]:
    """Return what was said earlier of this supplier's headings, by kind: plain heading to field name."""
    found = connection.execute(
        "SELECT kind, heading, field FROM heading_choice JOIN supplier ON supplier.id = supplier_id WHERE name = ?",
        (supplier,),
    )
    said: dict[str, dict[str, str]] = {}
    for kind, heading, name in found:
        said.setdefault(kind, {})[heading] = name
    return said


def remember(
    connection: sqlite3.Connection, supplier: int, kind: Kind, told: Mapping[str, str], columns: Sequence[Column]
) -> None:
    """Keep what was said of the headings that this sheet has."""
    here = {plain(column.heading) for column in columns}
    connection.executemany(
        "INSERT INTO heading_choice (supplier_id, kind, heading, field) VALUES (?, ?, ?, ?) "
        "ON CONFLICT (supplier_id, kind, heading) DO UPDATE SET field = excluded.field",
        [(supplier, kind.name, heading, name) for heading, name in told.items() if heading in here],
    )
