"""The shelf's file: made once, refused in words where it is not ours or too new, and read back by other people's tools."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pandas
import pytest
import sqlite_utils

from kb import migrations, new_shelf, shelf
from kb.errors import NewerShelfError, NoShelfError, NotAShelfError
from kb.fields import PARTS
from kb.searched import TEXTS, key_of
from queries.text_index import search
from tests.kb.shelf_schema import schema_of

ROOT = Path(__file__).parent.parent.parent


def test_a_migrated_shelf_is_a_new_one(tmp_path) -> None:
    """What the steps make, one after the other, is what ``schema.sql`` lays out, the book of steps included."""
    new = shelf.open_to_write(tmp_path / "a.db")
    migrated = sqlite3.connect(tmp_path / "b.db", isolation_level=None)
    migrations.migrate(migrated)
    migrated.row_factory = sqlite3.Row
    assert schema_of(new) == schema_of(migrated)
    for connection in (new, migrated):
        assert connection.execute("PRAGMA user_version").fetchone()[0] == shelf.SCHEMA_VERSION == len(new_shelf.STEPS)
        applied = migrations.MIGRATIONS.applied(sqlite_utils.Database(connection))
        assert tuple(step.name for step in applied) == new_shelf.STEPS
        assert migrations.unknown_steps(connection) == []
        connection.close()


def test_a_new_shelf_is_made_without_the_library_of_migrations(tmp_path) -> None:
    code = (
        "import sys; from pathlib import Path; from kb.shelf import open_to_write; "
        f"open_to_write(Path({str(tmp_path / 'a.db')!r})).close(); "
        "print({'sqlite_utils', 'pandas', 'numpy'} & set(sys.modules))"
    )
    told = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "set()"


def test_a_shelf_of_the_first_schema_can_be_searched_after_the_steps(tmp_path) -> None:
    path = tmp_path / "a.db"
    old = sqlite3.connect(path, isolation_level=None)
    database = sqlite_utils.Database(old)
    migrations.MIGRATIONS.apply(database, stop_before="m002_job_revisions")
    old.execute(f"PRAGMA application_id = {shelf.APPLICATION_ID}")
    old.execute("PRAGMA user_version = 1")
    old.execute("INSERT INTO supplier (id, name) VALUES (1, 'Dry Creek')")
    old.execute(
        "INSERT INTO load (number, id, kind, sheet, digest, settings, loaded_at) VALUES (1, 'a', 'hose', 's', '', '{}', '')"
    )
    old.execute(
        "INSERT INTO hose (supplier_id, part_no, code, description, service, inside_diameter_mm, load_number, row_number, "
        "written) VALUES (1, 'SH-610', 'sh610', 'Straight, silicone', 'coolant', 38, 1, 1, '[]')"
    )
    old.execute("INSERT INTO hose_fts (rowid, part_no, description) SELECT id, part_no, description FROM hose")
    old.execute(
        "INSERT INTO belt (id, supplier_id, part_no, code, description, profile, ribs, effective_length_mm, length_given, "
        "load_number, row_number, written) VALUES (7, 1, 'HX-2047', 'hx2047', NULL, 'PK', 8, 1854, 'effective', 1, 2, '[]')"
    )
    old.execute("INSERT INTO private_price (kind, part_id, price) VALUES ('belt', 7, '12.50')")
    old.close()
    connection = shelf.open_to_read(path)
    assert connection.execute("PRAGMA user_version").fetchone()[0] == shelf.SCHEMA_VERSION
    for asked in ("sh601", "silicoen", "coolant hose"):
        assert [(hit.kind, hit.row_id) for hit in search(connection, asked)] == [("hose", 1)], asked
    assert [(hit.kind, hit.row_id) for hit in search(connection, "hx-2074")] == [("belt", 7)]
    assert tuple(connection.execute("SELECT * FROM private_price").fetchone()) == ("belt", 7, "12.50")
    connection.close()
    connection = shelf.open_to_write(path)
    with pytest.raises(sqlite3.IntegrityError, match="length_given"):
        connection.execute("UPDATE belt SET length_given = 'guessed'")
    with pytest.raises(sqlite3.IntegrityError, match="kind"):
        connection.execute("UPDATE private_price SET kind = 'drive'")
    connection.close()
    assert shelf.check(path) == []


def test_what_is_searched_is_what_the_word_indexes_hold(tmp_path) -> None:
    connection = shelf.open_to_write(tmp_path / "a.db")
    for kind, texts in TEXTS.items():
        columns = [row["name"] for row in connection.execute(f"PRAGMA table_info({kind}_fts)")]
        assert tuple(columns) == texts
        assert {key_of(kind), *texts} <= {row["name"] for row in connection.execute(f"PRAGMA table_info({kind})")}
    connection.close()


def test_fields_are_columns(tmp_path) -> None:
    connection = shelf.open_to_write(tmp_path / "a.db")
    for kind in PARTS:
        columns = {row["name"] for row in connection.execute(f"PRAGMA table_info({kind.name})")}
        assert set(kind.columns) <= columns
    connection.close()


def test_every_table_of_ours_is_strict(tmp_path) -> None:
    connection = shelf.open_to_write(tmp_path / "a.db")
    loose = [
        row["name"]
        for row in connection.execute("PRAGMA table_list")
        if row["type"] == "table" and not row["strict"] and not row["name"].startswith(("sqlite_", "_sqlite_"))
    ]
    assert [name for name in loose if "_fts_" not in name] == []
    connection.close()


def test_two_first_openers_at_once(tmp_path) -> None:
    path = tmp_path / "a.db"
    code = f"from pathlib import Path; from kb.shelf import open_to_write; open_to_write(Path({str(path)!r})).close()"
    both = [subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stderr=subprocess.PIPE) for _ in range(4)]
    for process in both:
        assert process.stderr is not None
        told = process.stderr.read()
        process.stderr.close()
        assert process.wait() == 0, told
    assert shelf.check(path) == []


def test_a_newer_shelf_is_refused_and_left_alone(tmp_path) -> None:
    path = tmp_path / "a.db"
    connection = shelf.open_to_write(path)
    connection.execute(f"PRAGMA user_version = {shelf.SCHEMA_VERSION + 1}")
    connection.close()
    before = path.read_bytes()
    for opening in (shelf.open_to_read, shelf.open_to_write):
        with pytest.raises(NewerShelfError, match="newer bayshelf"):
            opening(path)
    assert path.read_bytes() == before


def test_what_is_no_shelf_is_refused(tmp_path) -> None:
    text, other = tmp_path / "text.db", tmp_path / "other.db"
    text.write_text("this is a letter, and it is longer than a database's first hundred bytes " * 3, encoding="utf-8")
    connection = sqlite3.connect(other)
    connection.execute("CREATE TABLE mine (a)")
    connection.close()
    for path in (text, other, tmp_path):
        for opening in (shelf.open_to_read, shelf.open_to_write):
            with pytest.raises(NotAShelfError):
                opening(path)
    with pytest.raises(NoShelfError, match="no shelf here yet"):
        shelf.open_to_read(tmp_path / "none.db")
    assert not (tmp_path / "none.db").exists()


def test_other_tools_read_it_back(demo_shelf) -> None:
    database = sqlite_utils.Database(demo_shelf)
    row = next(iter(database["belt"].rows_where("part_no = ?", ["00123"])))
    assert (row["ribs"], row["effective_length_mm"]) == (8, 1854.0)
    connection = sqlite3.connect(demo_shelf)
    frame = pandas.read_sql(
        "SELECT part_no, ribs FROM belt WHERE part_no IN ('1E5', '00123') ORDER BY part_no", connection
    )
    assert list(frame["part_no"]) == ["00123", "1E5"]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    connection.close()
    database.close()


def test_a_damaged_shelf_is_told(tmp_path, demo_shelf) -> None:
    path = tmp_path / "a.db"
    with sqlite3.connect(demo_shelf) as source, sqlite3.connect(path) as target:
        source.backup(target)
    source.close()
    target.close()
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 4096 * 4] = b"\xff" * 4096 * 4
    path.write_bytes(data)
    assert shelf.check(path) != []
