"""Saturation of refrigerants, from ``refrigerant_pt.csv``; only rows that were checked."""

from __future__ import annotations

import re
from functools import cache

from kb.mechanics.refrigerant import State
from kb.reference.tables import is_checked, table


@cache
def names() -> tuple[str, ...]:
    """Return the refrigerants that there is a table of, as they are written."""
    return tuple(dict.fromkeys(row["refrigerant"] for row in table("refrigerant_pt")))


def named(text: str) -> str | None:
    """Return the refrigerant that is meant, ``None`` where there is no table of it.

    >>> named("r134A"), named("1234 yf"), named("R-22")
    ('R-134a', 'R-1234yf', None)
    """
    bare = re.sub(r"[^a-z0-9]", "", text.casefold())
    bare = re.sub(r"^(?:hfc|hfo|r)", "", bare)
    return next((name for name in names() if name.removeprefix("R-").casefold() == bare), None)


@cache
def saturation(name: str) -> tuple[State, ...]:
    """Return the rows of a refrigerant's saturation table, coldest first; temperatures are exact from the rows' degF."""
    return tuple(
        State(
            (float(row["temp_F"]) - 32) / 1.8,
            float(row["p_sat_kPa_abs"]),
            float(row["sat_liquid_density_kg_m3"]),
            float(row["sat_vapour_density_kg_m3"]),
        )
        for row in table("refrigerant_pt")
        if row["refrigerant"] == name and row["row_type"] == "table" and is_checked(row)
    )


@cache
def source(name: str) -> str:
    """Return where a refrigerant's table comes from, with its status."""
    row = next(row for row in table("refrigerant_pt") if row["refrigerant"] == name and row["row_type"] == "table")
    return f"{row['source']} ({row['status']})"
