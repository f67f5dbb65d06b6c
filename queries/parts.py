"""One part with everything known of it."""

from __future__ import annotations

import json
import sqlite3

from kb.fields import PARTS
from kb.measure import QUANTITIES, both_text
from queries.history import jobs_with

_KINDS = {kind.name: kind for kind in PARTS}


def ask_part(connection: sqlite3.Connection, kind: str, supplier: str, part_no: str) -> dict[str, object] | None:
    """Return a part: title, its fields as understood and as written, its load, equivalents, history; ``None`` if unknown."""
    if kind not in _KINDS:
        return None
    row = connection.execute(
        f"SELECT {kind}.*, supplier.name AS supplier, load.sheet, loaded_at FROM {kind} "
        f"JOIN supplier ON supplier.id = {kind}.supplier_id JOIN load ON load.number = {kind}.load_number "
        "WHERE supplier.name = ? AND part_no = ?",
        (supplier, part_no),
    ).fetchone()
    if row is None:
        return None
    written = _written(connection, row)
    fields = [
        {
            "name": one.name,
            "label": one.label,
            "shown": _shown(one.name, row[one.name]),
            "written": written.get(one.name),
        }
        for one in _KINDS[kind].fields
        if one.own_column and not one.private and row[one.name] is not None
    ]
    return {
        "title": row["description"] or part_no,
        "kind": kind,
        "supplier": row["supplier"],
        "part_no": part_no,
        "fields": fields,
        "load": {"sheet": row["sheet"], "row": row["row_number"], "loaded_at": row["loaded_at"]},
        "equivalents": _equivalents(connection, row) if kind == "belt" else [],
        "history": jobs_with(connection, supplier, part_no),
    }


def _written(connection: sqlite3.Connection, row: sqlite3.Row) -> dict[str, str]:
    """Return the row's cells as they stood in the sheet, by field."""
    cells = json.loads(row["written"])
    places = connection.execute(
        "SELECT field, place FROM load_column WHERE load_number = ? AND place IS NOT NULL", (row["load_number"],)
    )
    return {field: cells[place] for field, place in places if place < len(cells)}


_BESIDE = {
    "c": ("temperature", "degC", "°C", "degF", "°F"),
    "kpa": ("pressure", "kPa", "kPa", "psi", "psi"),
    "nm": ("torque", "Nm", "Nm", "lbf.ft", "lbf ft"),
    "nm_per_deg": ("torque rate", "Nm/deg", "Nm/deg", "lbf.ft/deg", "lbf ft/deg"),
}
"""Units at the end of a field's name, and the one that people see beside each."""


def _shown(name: str, value: object) -> str:
    """Return a value as people read it, in both units; lists as they stand."""
    if name in ("legs_mm", "bends_deg", "twists_deg"):
        numbers = json.loads(str(value))
        return ", ".join(both_text(one) if name == "legs_mm" else f"{one:g}°" for one in numbers)
    if not isinstance(value, (int, float)):
        return str(value)
    if name.endswith("_mm"):
        return both_text(float(value))
    for end, (quantity, unit, spelt, other, other_spelt) in _BESIDE.items():
        if name.endswith(f"_{end}"):
            table = QUANTITIES[quantity].table
            own, theirs = table[unit], table[other]
            number = (float(value) * own[0] + own[1] - theirs[1]) / theirs[0]
            return f"{value:.4g} {spelt} ({number:.3g} {other_spelt})"
    return f"{value:g}°" if name.endswith("_deg") else f"{value:g}"


def _equivalents(connection: sqlite3.Connection, row: sqlite3.Row) -> list[dict[str, str]]:
    from queries.belts import EQUIVALENT_MM

    if row["ribs"] is None or row["effective_length_mm"] is None:
        return []
    length = row["effective_length_mm"]
    found = connection.execute(
        "SELECT supplier.name AS supplier, part_no FROM belt JOIN supplier ON supplier.id = supplier_id "
        "WHERE profile = ? AND ribs = ? AND effective_length_mm BETWEEN ? AND ? AND belt.id <> ? ORDER BY 1, 2",
        (row["profile"], row["ribs"], length - EQUIVALENT_MM, length + EQUIVALENT_MM, row["id"]),
    )
    return [dict(each) for each in found if each["supplier"] != row["supplier"]]
