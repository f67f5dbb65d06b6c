"""Suppliers: by name when a part's sheet names them, and from a sheet of their own with what they can do."""

from __future__ import annotations

import json
import sqlite3

from importers.batches import Batch, SheetReader
from kb.sheets.columns import Value


def supplier_id(connection: sqlite3.Connection, name: str) -> int:
    """Return the supplier's id on this shelf, whatever the case it is written in; a new name is added."""
    found = connection.execute("SELECT id FROM supplier WHERE name = ?", (name,)).fetchone()
    if found:
        return int(found[0])
    return int(connection.execute("INSERT INTO supplier (name) VALUES (?)", (name,)).lastrowid or 0)


class SupplierStore:
    """Stores what suppliers can supply or make, and how soon."""

    def __init__(self, connection: sqlite3.Connection, load_number: int) -> None:
        self.connection = connection
        self.load_number = load_number
        self._seen: set[str] = set()

    def store_batch(self, batch: Batch, sheet: SheetReader) -> None:
        """Store a batch of rows; a supplier that stands twice is refused the second time."""
        for place, number in enumerate(batch.numbers):
            row = {name: column[place] for name, column in batch.values.items()}
            name = str(row["name"])
            if name.casefold() in self._seen:
                sheet.refuse_understood(batch, place, f"supplier {name} stands twice; the first was kept.", None, name)
                continue
            self._seen.add(name.casefold())
            done = self._store(name, row, number, batch.written[place])
            sheet.report.cells_stored += batch.stored_cells[place]
            setattr(sheet.report, f"rows_{done}", getattr(sheet.report, f"rows_{done}") + 1)

    def _store(self, name: str, row: dict[str, Value], number: int, written: str) -> str:
        known = self.connection.execute("SELECT * FROM supplier WHERE name = ?", (name,)).fetchone()
        can = [one for one in json.loads(str(row.get("can_supply") or "[]")) if one]
        values = (json.dumps(can, ensure_ascii=False), row.get("lead_time_hours"), row.get("notes"))
        if known and (known["can_supply"], known["lead_time_hours"], known["notes"]) == values:
            return "unchanged"
        self.connection.execute(
            "UPDATE supplier SET can_supply = ?, lead_time_hours = ?, notes = ?, load_number = ?, row_number = ?, "
            "written = ? WHERE id = ?",
            (*values, self.load_number, number, written, supplier_id(self.connection, name)),
        )
        return "updated" if known and known["load_number"] is not None else "stored"
