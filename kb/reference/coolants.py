"""Freeze points of glycol in water by volume, from ``coolant_freeze.csv``; only rows that were checked."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from kb.reference.tables import is_checked, table

GLYCOLS = ("ethylene", "propylene")


@dataclass(frozen=True, slots=True)
class FreezeTable:
    """Per cent by volume, rising, with the freeze points in degC and those of a second model, and where they come from."""

    glycol: str
    percents: tuple[float, ...]
    freeze_c: tuple[float, ...]
    second_percents: tuple[float, ...]
    second_freeze_c: tuple[float, ...]
    source: str
    status: str


@cache
def freeze_table(glycol: str) -> FreezeTable:
    """Return the table of ``ethylene`` or ``propylene`` glycol; ``KeyError`` for another."""
    if glycol not in GLYCOLS:
        raise KeyError(glycol)
    rows = [row for row in table("coolant_freeze") if row["glycol"] == f"{glycol} glycol" and is_checked(row)]
    main = [row for row in rows if row["row_type"] == "main: by volume"]
    second = [row for row in rows if row["row_type"].startswith("second model") and row["vol_percent"]]
    return FreezeTable(
        glycol,
        tuple(float(row["vol_percent"]) for row in main),
        tuple(float(row["freeze_C"]) for row in main),
        tuple(float(row["vol_percent"]) for row in second),
        tuple(float(row["freeze_C"]) for row in second),
        main[0]["source"],
        main[0]["status"],
    )
