"""What a load did, worksheet by worksheet: the same object is printed, given as JSON, and kept on the shelf."""

from __future__ import annotations

from dataclasses import dataclass, field

from kb.sheets.headings import Column


@dataclass(frozen=True, slots=True)
class Refusal:
    """A row or a cell that could not be stored, and why."""

    row: int
    column: str | None
    value: str | None
    reason: str
    whole_row: bool = True
    private: bool = False

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            "row": self.row,
            "column": self.column,
            "value": self.value,
            "reason": self.reason,
            "whole_row": self.whole_row,
        }


@dataclass(slots=True)
class Report:
    """One worksheet's load. Of the cells below the headings: read = stored + ignored + refused."""

    sheet: str
    kind: str
    load_id: str | None = None
    supplier: str | None = None
    heading_row: int | None = None
    columns: tuple[Column, ...] = ()
    notes: list[str] = field(default_factory=list)
    rows_read: int = 0
    rows_stored: int = 0
    rows_updated: int = 0
    rows_unchanged: int = 0
    rows_refused: int = 0
    cells_read: int = 0
    cells_stored: int = 0
    cells_ignored: int = 0
    cells_refused: int = 0
    refusals: list[Refusal] = field(default_factory=list)
    refused_rows: dict[int, list[str]] = field(default_factory=dict)
    headings: list[str] = field(default_factory=list)
    loaded_before: bool = False
    dry_run: bool = False

    @property
    def changed(self) -> bool:
        """Whether the load stored or updated anything."""
        return self.rows_stored + self.rows_updated > 0

    def as_json(self) -> dict[str, object]:
        """Return the documented form of ``load --json``."""
        return {
            "load_id": self.load_id,
            "kind": self.kind,
            "sheet": self.sheet,
            "supplier": self.supplier,
            "heading_row": self.heading_row,
            "rows_read": self.rows_read,
            "rows_stored": self.rows_stored,
            "rows_updated": self.rows_updated,
            "rows_unchanged": self.rows_unchanged,
            "rows_refused": self.rows_refused,
            "cells_read": self.cells_read,
            "cells_stored": self.cells_stored,
            "cells_ignored": self.cells_ignored,
            "cells_refused": self.cells_refused,
            "columns": [
                {
                    "heading": column.heading,
                    "field": column.field.name if column.field else None,
                    "unit": column.unit,
                    "how": column.how,
                    "likeness": round(column.likeness, 1),
                    "could_be": column.could_be,
                }
                for column in self.columns
            ],
            "notes": self.notes,
            "loaded_before": self.loaded_before,
            "dry_run": self.dry_run,
            "refusals": [refusal.as_json() for refusal in self.refusals],
        }
