"""Shelves that earlier schemas wrote open, migrate and keep every row.

Each file in ``shelves/`` was written by the program as it was when that schema was the newest: its own ``demo`` on the first
rows of each of its sheets; in the newest, two bays' versions of one job wait to be settled. What a row held is read by SQLite
alone.
"""

from __future__ import annotations

import json
import lzma
import sqlite3
from collections import Counter
from pathlib import Path

import pytest

from kb.new_shelf import STEPS
from kb.shelf import open_to_write, writing

SHELVES = sorted((Path(__file__).parent / "shelves").glob("schema_*.db.xz"))
_DERIVED = ("sqlite_", "_sqlite_", "search_")


def unpacked(packed: Path, folder: Path) -> Path:
    """Unpack a stored shelf into a folder."""
    shelf = folder / packed.stem
    shelf.write_bytes(lzma.decompress(packed.read_bytes()))
    return shelf


def rows_by_table(shelf: Path) -> dict[str, tuple[tuple[str, ...], Counter[tuple[object, ...]]]]:
    """Return of each table that holds what was stored (no search, no book of steps) its columns and its rows."""
    connection = sqlite3.connect(shelf)
    names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    held = {}
    for name in names:
        # A search index is made anew from the rows; its tables are named after the kind they search.
        if name.startswith(_DERIVED) or "_fts" in name or name.endswith("_word"):
            continue
        columns = tuple(row[1] for row in connection.execute(f"PRAGMA table_info({name})"))
        held[name] = (columns, Counter(connection.execute(f"SELECT {', '.join(columns)} FROM {name}")))
    connection.close()
    return held


def schema_of(connection: sqlite3.Connection) -> Counter[tuple[str, str, str]]:
    """Return every declaration, spaces and quotes aside."""
    rows = connection.execute("SELECT type, name, coalesce(sql, '') FROM sqlite_master")
    return Counter((kind, name, "".join(sql.replace('"', "").split())) for kind, name, sql in rows)


def test_there_is_a_shelf_of_every_schema() -> None:
    assert [path.name for path in SHELVES] == [f"schema_{step}.db.xz" for step in range(1, len(STEPS) + 1)]


@pytest.mark.parametrize("packed", SHELVES, ids=lambda path: path.name.split(".")[0])
def test_every_row_is_kept(packed, tmp_path) -> None:
    shelf = unpacked(packed, tmp_path)
    before = rows_by_table(shelf)
    # The file is what its name says it is: a mislabelled one would prove nothing.
    old = sqlite3.connect(shelf)
    assert old.execute("SELECT count(*) FROM _sqlite_migrations").fetchone()[0] == int(packed.name[7])
    old.close()
    assert before["belt"][1].total() > 50
    assert before["job"][1].total() > 20
    open_to_write(shelf).close()
    after = sqlite3.connect(shelf)
    for table, (columns, rows) in before.items():
        kept = Counter(after.execute(f"SELECT {', '.join(columns)} FROM {table}"))
        assert kept == rows, table
    assert after.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert after.execute("PRAGMA foreign_key_check").fetchall() == []
    with writing(tmp_path / "new.db") as new:
        assert schema_of(after) == schema_of(new)
    after.close()


@pytest.mark.parametrize("packed", SHELVES, ids=lambda path: path.name.split(".")[0])
def test_every_look_up_answers_on_it(packed, tmp_path, run) -> None:
    shelf = unpacked(packed, tmp_path)
    connection = sqlite3.connect(shelf)
    part_no, ribs, length = connection.execute(
        "SELECT part_no, ribs, effective_length_mm FROM belt WHERE ribs > 0 AND effective_length_mm > 0 LIMIT 1"
    ).fetchone()
    word = connection.execute("SELECT title FROM job ORDER BY number LIMIT 1").fetchone()[0]
    connection.close()
    open_to_write(shelf).close()
    belts = json.loads(run("belts", "--length", f"{length} mm", "--ribs", str(ribs), "--json", shelf=shelf).stdout)
    assert part_no in {row["part_no"] for row in belts}
    found = json.loads(run("find", part_no, "--json", shelf=shelf).stdout)
    assert any(part_no in row["id"] for row in found)
    assert json.loads(run("jobs", word, "--json", shelf=shelf).stdout)
    assert json.loads(run("jobs", "--like", "N-001", "--json", shelf=shelf).stdout)
    assert run("check", shelf=shelf).exit_code == 0
