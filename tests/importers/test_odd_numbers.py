"""Every number and text of every sheet in turn made odd: what is stored fits the shelf's own checks, the rest is refused.

The shelf's tables check their values; a reader that lets through what a table refuses would end in the database's words.
"""

from __future__ import annotations

import copy
import csv
import io
import json
import sqlite3
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from importers.load import Settings, load_file
from kb.errors import BayshelfError
from kb.shelf import open_to_write
from tests.fuzz.changes import places, written

ROOT = Path(__file__).parents[2]
SHEETS = ROOT / "tests" / "kb" / "shelves" / "sheets"
DEMO = ROOT / "demo_db"
TOMLS = [SHEETS / "drive.toml", SHEETS / "line.toml", SHEETS / "W-009.toml", DEMO / "drives" / "water_tender_4.toml",
         DEMO / "lines" / "tender-4-discharge.toml", DEMO / "jobs" / "W-016.toml"]  # fmt: skip
ODD: tuple[Any, ...] = (0, -1, 1e-12, 1e12, 99, "0", "0 mm", "-5 in", "", " ", "1e3", float("nan"), "²")
CELLS = (
    "0",
    "-1",
    "0.000000000001",
    "999999999999",
    "99",
    "0 mm",
    "nan",
    "1e400",
    "²",
    "x" * 3_000,
    "1,5",
    "1;2",
    "90; 999",
    "\u202e",
)


@pytest.fixture
def connection(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    made = open_to_write(tmp_path / "shelf.db")
    yield made
    made.close()


def loads(connection: sqlite3.Connection, source: Path) -> str:
    """Load and take back again; return what was said."""
    try:
        reports = load_file(connection, source, source, Settings(supplier="Dry Creek", dry_run=True))
    except BayshelfError as error:
        return str(error)
    return json.dumps([report.as_json() for report in reports], allow_nan=False)


@pytest.mark.parametrize("sheet", TOMLS, ids=lambda path: path.stem)
def test_every_key_of_a_sheet(connection: sqlite3.Connection, tmp_path: Path, sheet: Path) -> None:
    tables = tomllib.loads(sheet.read_text(encoding="utf-8"))
    path = tmp_path / "sheet.toml"
    for place in range(len(places(tables))):
        for value in ODD:
            changed = copy.deepcopy(tables)
            holder, key = places(changed)[place]
            if isinstance(holder[key], (dict, list)):
                continue
            holder[key] = value
            path.write_text("".join(f"{name} = {written(each)}\n" for name, each in changed.items()), encoding="utf-8")
            assert loads(connection, path), (key, value)


@pytest.mark.parametrize("sheet", sorted(SHEETS.glob("*.csv")), ids=lambda path: path.stem)
def test_every_column_of_a_sheet(connection: sqlite3.Connection, tmp_path: Path, sheet: Path) -> None:
    text = sheet.read_text(encoding="utf-8")
    delimiter = ";" if text.splitlines()[0].count(";") > 3 else ","
    heading, row, *_ = csv.reader(io.StringIO(text), delimiter=delimiter)
    path = tmp_path / sheet.name
    for place in range(len(heading)):
        rows = [[*row[:place], cell, *row[place + 1 :]] for cell in CELLS]
        for number, one in enumerate(rows):
            if place:
                one[0] = f"{one[0]}-{number}"  # else all but the first would be repeated part numbers
        out = io.StringIO()
        csv.writer(out, delimiter=delimiter).writerows([heading, *rows])
        path.write_text(out.getvalue(), encoding="utf-8")
        told = loads(connection, path)
        if told.startswith("[{"):
            (report,) = json.loads(told)
            counts = [report[f"rows_{what}"] for what in ("stored", "updated", "unchanged", "refused")]
            assert sum(counts) == report["rows_read"] == len(CELLS), heading[place]
