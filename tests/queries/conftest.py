"""Shelves for the look-ups: an empty one, and one that a test fills with the few rows that it works out by hand."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.sheets.job_sheet import JobPart, JobSheet
from kb.shelf import now, open_to_write
from kb.spelling import normalise_code


class Filled:
    """A shelf that a test fills row by row; ``path`` for commands, ``connection`` for query functions."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.connection: sqlite3.Connection = open_to_write(path)
        self.row_number = 1
        self.load_number = self.put(
            "load", id="load-1", kind="belt", sheet="by hand.csv", digest="0", settings="{}", loaded_at=now()
        )

    def put(self, table: str, **columns: object) -> int:
        """Insert one row; return its number."""
        known = {row["name"] for row in self.connection.execute(f"PRAGMA table_info({table})")}
        assert set(columns) <= known, set(columns) - known
        names, marks = ", ".join(columns), ", ".join("?" * len(columns))
        cursor = self.connection.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(columns.values()))
        assert cursor.lastrowid is not None
        return cursor.lastrowid

    def supplier(self, name: str) -> int:
        """Return the supplier's id, a new one if need be."""
        row = self.connection.execute("SELECT id FROM supplier WHERE name = ?", (name,)).fetchone()
        return int(row[0]) if row else self.put("supplier", name=name)

    def part(
        self, kind: str, part_no: str, supplier: str = "Supplier A", written: str = "[]", **columns: object
    ) -> int:
        """Insert a part; what it needs beside its columns is filled in."""
        self.row_number += 1
        if kind == "belt":
            columns.setdefault("length_given", "effective" if "effective_length_mm" in columns else "outside")
        return self.put(
            kind, supplier_id=self.supplier(supplier), part_no=part_no, code=normalise_code(part_no),
            load_number=self.load_number, row_number=self.row_number, written=written, **columns,
        )  # fmt: skip

    def belt(self, part_no: str, length: float, ribs: int = 8, supplier: str = "Supplier A", **columns: object) -> int:
        """Insert a PK belt."""
        return self.part("belt", part_no, supplier, profile="PK", ribs=ribs, effective_length_mm=length, **columns)

    def job(
        self, job_id: str, outcome: str | None, *parts: tuple[str, str | None], opened_on: str = "2025-03-01"
    ) -> None:
        """Insert a job that used (part number, supplier or none)."""
        self.row_number += 1
        used = tuple(JobPart(part_no, supplier) for part_no, supplier in parts)
        job = JobSheet(job_id, "refit", opened_on=opened_on, outcome=outcome, parts=used)
        revision = f"revision-{job_id}"
        self.put(
            "job_revision", id=revision, job_id=job_id, made_at=now(), content=json.dumps(job.content()),
            load_number=self.load_number,
        )  # fmt: skip
        number = self.put(
            "job", id=job_id, revision=revision, title=f"Job {job_id}", opened_on=opened_on, work="refit", outcome=outcome,
            words="", load_number=self.load_number, row_number=self.row_number, written="[]",
        )  # fmt: skip
        for position, (part_no, supplier) in enumerate(parts, 1):
            self.put(
                "job_part", job_number=number, position=position, part_no=part_no, code=normalise_code(part_no),
                supplier=supplier,
            )  # fmt: skip


@pytest.fixture
def filled(tmp_path: Path) -> Iterator[Filled]:
    """An empty shelf to fill."""
    shelf = Filled(tmp_path / "shelf.db")
    yield shelf
    shelf.connection.close()


BEFORE = """
name = "Before"
profile = "13A"
rotation = "clockwise"
idle_rpm = 600
governed_rpm = 2000
belt_plane = 80
[[pulley]]
name = "crank"
effective_diameter = 200
face = "grooved"
at = [0, 0]
driver = true
[[pulley]]
name = "pump"
effective_diameter = 100
face = "grooved"
at = [-300, 200]
load_kw = 4
[[pulley]]
name = "fan"
effective_diameter = 160
face = "grooved"
at = [0, 400]
load_kw = 16
"""
AFTER = """
name = "After"
profile = "PK"
ribs = 8
rotation = "clockwise"
idle_rpm = 600
governed_rpm = 2000
belt_over_rim = 2.5
belt_thickness = 4.6
belt_mass_kg_per_m = 0.15
tension_n = 500
friction = 0.4
groove_angle = 38
design_ratio = 5
design_ratio_flat = 2.5
misalignment_limit = 0.4
[[pulley]]
name = "crank"
effective_diameter = 196
face = "grooved"
grooves = 8
at = [0, 0]
driver = true
hub_face = 50
pulley_offset = 10
[[pulley]]
name = "tensioner"
outside_diameter = 76
face = "flat"
[pulley.arm]
pivot = [-113.5, 120]
length = 80
slack_stop = 105
free_stop = 75
[[pulley]]
name = "fan"
effective_diameter = 196
face = "grooved"
grooves = 8
at = [0, 400]
hub_face = 52
spacer = 12
pulley_offset = -4.5
[[pulley]]
name = "pump"
outside_diameter = 98
face = "flat"
at = [124.5, 200]
load_kw = 4
"""


@pytest.fixture
def before_text() -> str:
    """V-belts: crank, a pump at twice and a fan at 5/4 of its speed."""
    return BEFORE


@pytest.fixture
def after_text() -> str:
    """One ribbed belt, clockwise: crank, tensioner on the slack side, fan at the top, the pump turned by the belt's back."""
    return AFTER
