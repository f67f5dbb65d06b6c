"""Shelves that earlier versions wrote, each with its own code of the time (``tests/kb/shelves/make.py``): opened today,
they keep every row, and every command answers on them.

The old rows are read from the old file with nothing but sqlite3, before anything of ours has touched it.
"""

from __future__ import annotations

import importlib.util
import json
import lzma
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from kb import new_shelf, shelf
from kb.cli import COMMANDS
from tests.kb.shelf_schema import schema_of

SHELVES = Path(__file__).parent / "shelves"
SCHEMAS = range(1, shelf.SCHEMA_VERSION)
BOOKS = ("search_", "_sqlite_migrations")
"""Tables that are worked out anew: the search's own, and the book of steps."""

Rows = dict[str, list[dict[str, Any]]]


@pytest.fixture(params=SCHEMAS)
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A shelf as that schema's code left it."""
    path = tmp_path / "shelf.db"
    path.write_bytes(lzma.decompress((SHELVES / f"schema_{request.param}.db.xz").read_bytes()))
    return path


def rows_of(path: Path) -> Rows:
    """Every row of every table of ours, by column."""
    connection = sqlite3.connect(path.resolve().as_uri() + "?mode=ro", uri=True)
    connection.row_factory = sqlite3.Row
    names = [
        name
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
        if "_fts" not in name and not name.endswith("_word") and not name.startswith((*BOOKS, "sqlite_"))
    ]
    found = {name: [dict(row) for row in connection.execute(f'SELECT * FROM "{name}"')] for name in names}
    connection.close()
    return found


def test_there_is_one_of_every_schema_with_something_in_every_table(old: Path) -> None:
    connection = sqlite3.connect(old)
    schema = connection.execute("PRAGMA user_version").fetchone()[0]
    connection.close()
    assert len(old.read_bytes()) < 500_000
    rows = rows_of(old)
    could_not_merge = {"job_conflict"} if schema in (1, 3) else set()
    assert {name for name, found in rows.items() if not found} <= could_not_merge
    assert ("line" in rows) is (schema >= 3)
    assert len(rows["job_revision"]) > len(rows["job"])
    assert {(len(SCHEMAS), path.name) for path in SHELVES.glob("*.xz")} == {
        (len(SCHEMAS), f"schema_{each}.db.xz") for each in SCHEMAS
    }


def test_every_row_is_kept_by_column(old: Path) -> None:
    before = rows_of(old)
    shelf.open_to_read(old).close()
    after = rows_of(old)
    assert set(before) <= set(after)
    for table, rows in before.items():
        assert len(after[table]) == len(rows), table
        for was, now in zip(
            sorted(rows, key=repr), sorted(after[table], key=lambda row: repr(only(row, rows))), strict=True
        ):
            assert only(now, rows) == was, table
            assert {name: type(value) for name, value in only(now, rows).items()} == {
                name: type(value) for name, value in was.items()
            }
    added = {table: set(after[table][0]) - set(before[table][0]) for table in before if before[table]}
    assert {table for table, names in added.items() if names} <= {"load", "job_revision"}
    for revision in after["job_revision"]:
        assert json.loads(revision["settles"]) == [] or "settles" in before["job_revision"][0]


def only(row: dict[str, Any], before: list[dict[str, Any]]) -> dict[str, Any]:
    """A row's columns that there were before."""
    return {name: row[name] for name in before[0]}


def test_the_schema_is_a_new_shelfs(old: Path, tmp_path: Path) -> None:
    shelf.open_to_read(old).close()
    new = shelf.open_to_write(tmp_path / "new.db")
    migrated = sqlite3.connect(old)
    assert schema_of(migrated) == schema_of(new)
    assert migrated.execute("PRAGMA user_version").fetchone()[0] == shelf.SCHEMA_VERSION
    steps = [name for (name,) in migrated.execute("SELECT name FROM _sqlite_migrations ORDER BY id")]
    assert tuple(steps) == new_shelf.STEPS
    migrated.close()
    new.close()
    assert shelf.check(old) == []


def test_opening_it_twice_changes_nothing_more(old: Path) -> None:
    shelf.open_to_read(old).close()
    once = old.read_bytes()
    shelf.open_to_read(old).close()
    shelf.open_to_write(old).close()
    assert old.read_bytes() == once


ASKED: dict[str, tuple[tuple[str, ...], str]] = {
    # What is asked, and what of the old shelf's must stand in the answer.
    "belts": (("belts", "--length", "1857 mm", "--ribs", "8"), "HX-2047"),
    "pulleys": (("pulleys", "--diameter", "196 mm"), "PU-196"),
    "tensioners": (("tensioners", "--diameter", "3 in"), "TE-76"),
    "hoses": (("hoses", "--inside", "38 mm", "--bends", "90"), "MH-90"),
    "clamps": (("clamps", "--around", "50 mm"), "CL-50"),
    "fittings": (("fittings", "7/8-14"), "AD-1"),
    "adapters": (("adapters", "female 7/8-14 37", "female 1/2 NPT"), "AD-1"),
    "find": (("find", "hx-2074"), "HX-2047"),
    "find by words": (("find", "kühlung"), "ÄÖ-7/8"),
    "jobs": (("jobs", "fray"), "W-009"),
    "jobs like one": (("jobs", "--like", "N-001"), "W-009"),
    "morning": (("morning", "W-009"), "Dry Creek Parts, 24 h"),
    "closing": (("closing", "W-009"), "charging voltage"),
    "drive": (("drive", "path", "Sprayer 2, fan plane"), "crank"),
    "drive belts": (("drive", "belts", "Sprayer 2, fan plane"), "HX-2047"),
    "record": (("record", "limit"), "our alternators are small"),
    "check": (("check",), ""),
}
NO_SHELF = {"load", "merge", "publish", "serve", "demo", "line", "holes", "fan", "fluids", "settle"}
"""Commands that write or need no shelf; the first four are tried below."""


def test_every_command_answers(old: Path, run: Any) -> None:
    assert {asked[0] for asked, _ in ASKED.values()} | NO_SHELF == set(COMMANDS)
    for name, (asked, expected) in ASKED.items():
        done = run(*asked, shelf=old)
        assert done.exit_code == 0, (name, done.output, done.stderr)
        assert expected in done.output, (name, done.output)


def test_its_lines_are_worked_out(old: Path) -> None:
    from queries.stored_lines import ask_lines

    names = [row["name"] for row in rows_of(old).get("line", [])]
    connection = shelf.open_to_read(old)
    found = ask_lines(connection)
    connection.close()
    assert [one.name for one in found] == names
    assert all(one.answer is not None for one in found)


def test_it_can_be_loaded_into_merged_and_published(old: Path, run: Any, tmp_path: Path) -> None:
    sheets = SHELVES / "sheets"
    before = rows_of(old)
    again = run("load", "--json", "--supplier", "Dry Creek Parts", str(sheets / "hoses.csv"), shelf=old)
    assert again.exit_code == 0, again.stderr
    assert [one["rows_stored"] + one["rows_updated"] for one in json.loads(again.stdout)] == [0]
    assert rows_of(old)["hose"] == before["hose"]
    done = run("merge", str(old), shelf=tmp_path / "other.db")
    assert done.exit_code == 0, done.stderr
    assert {row["part_no"] for row in rows_of(tmp_path / "other.db")["belt"]} == {
        row["part_no"] for row in before["belt"]
    }
    (tmp_path / "copies").mkdir()
    done = run("publish", str(tmp_path / "copies"), shelf=old)
    assert done.exit_code == 0, done.stderr
    for copy in (tmp_path / "copies").iterdir():
        assert b"private customer" not in copy.read_bytes()


def test_an_older_shelf_is_merged_without_being_touched(old: Path, run: Any, tmp_path: Path) -> None:
    bytes_before, rows = old.read_bytes(), rows_of(old)
    done = run("merge", str(old), shelf=tmp_path / "other.db")
    assert done.exit_code == 0, done.stderr
    assert old.read_bytes() == bytes_before
    merged = rows_of(tmp_path / "other.db")
    assert {row["id"] for row in merged["job"]} == {row["id"] for row in rows["job"]}
    assert {row["id"] for row in merged["job_revision"]} == {row["id"] for row in rows["job_revision"]}


def test_the_sheets_and_the_maker_are_there() -> None:
    """The fixtures can be made anew: their maker imports, and names a commit for each."""
    spec = importlib.util.spec_from_file_location("make_shelves", SHELVES / "make.py")
    assert spec is not None
    assert spec.loader is not None
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    assert set(maker.COMMITS) == set(SCHEMAS)
    assert all((SHELVES / "sheets" / f"{part}.csv").is_file() for part in maker.PARTS)
