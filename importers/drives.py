"""Storing drives: the sheet as it was written, and its pulleys and distances to look through."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from kb.sheets.drive import DriveSheet, read_drive
from kb.sheets.drive_fields import PulleySheet


def store_drive(connection: sqlite3.Connection, source: Path, load_number: int) -> str:
    """Read and store one drive sheet; return ``stored``, ``updated`` or ``unchanged``."""
    sheet = read_drive(source)
    there = connection.execute("SELECT id, sheet_text FROM drive WHERE name = ?", (sheet.name,)).fetchone()
    if there and there["sheet_text"] == sheet.text:
        return "unchanged"
    values = (
        sheet.profile, sheet.ribs, sheet.rotation, sheet.idle_rpm, sheet.governed_rpm, sheet.belt_over_rim_mm,
        sheet.belt_thickness_mm, sheet.text, load_number,
    )  # fmt: skip
    if there:
        drive_id = int(there["id"])
        connection.execute(
            "UPDATE drive SET profile = ?, ribs = ?, rotation = ?, idle_rpm = ?, governed_rpm = ?, belt_over_rim_mm = ?, "
            "belt_thickness_mm = ?, sheet_text = ?, load_number = ? WHERE id = ?",
            (*values, drive_id),
        )
        connection.execute("DELETE FROM drive_pulley WHERE drive_id = ?", (drive_id,))
        connection.execute("DELETE FROM drive_distance WHERE drive_id = ?", (drive_id,))
    else:
        cursor = connection.execute(
            "INSERT INTO drive (profile, ribs, rotation, idle_rpm, governed_rpm, belt_over_rim_mm, belt_thickness_mm, "
            "sheet_text, load_number, name) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*values, sheet.name),
        )
        drive_id = int(cursor.lastrowid or 0)
    _store_lists(connection, drive_id, sheet)
    return "updated" if there else "stored"


def _store_lists(connection: sqlite3.Connection, drive_id: int, sheet: DriveSheet) -> None:
    connection.executemany(
        "INSERT INTO drive_pulley (drive_id, position, name, face, driver, grooves, outside_diameter_mm, "
        "effective_diameter_mm, over_balls_mm, x_mm, y_mm, has_arm) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (drive_id, place, one.name, one.face, int(one.driver), one.grooves, one.outside_diameter_mm,
             one.effective_diameter_mm, one.over_balls_mm, *_place(sheet, one), int(one.arm is not None))
            for place, one in enumerate(sheet.pulleys, 1)
        ],
    )  # fmt: skip
    connection.executemany(
        "INSERT INTO drive_distance (drive_id, position, from_pulley, to_pulley, distance_mm) VALUES (?, ?, ?, ?, ?)",
        [(drive_id, place, one.first, one.second, one.distance_mm) for place, one in enumerate(sheet.distances, 1)],
    )


def _place(sheet: DriveSheet, one: PulleySheet) -> tuple[float | None, float | None]:
    """The pulley's centre in mm; a place on a photo is in pixels and is left to the sheet itself."""
    return (None, None) if sheet.unit == "px" else (one.x, one.y)
