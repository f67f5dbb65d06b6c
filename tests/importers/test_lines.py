"""Line sheets on the shelf: told from drives and jobs, kept as written, unchanged the second time, refused whole."""

from __future__ import annotations

import json
from importlib.resources import files

from kb.shelf import open_to_read, open_to_write

SHEET = (files("demo_db") / "lines" / "tender-4-discharge.toml").read_text(encoding="utf-8")


def _stored(shelf) -> list[dict[str, object]]:
    connection = open_to_read(shelf)
    try:
        return [dict(row) for row in connection.execute("SELECT * FROM line ORDER BY name")]
    finally:
        connection.close()


def _loaded(run, path, shelf, *options: str) -> dict[str, object]:
    done = run("load", str(path), "--json", *options, shelf=shelf)
    assert done.exit_code == 0, done.output
    (report,) = json.loads(done.stdout)
    return report


def test_a_line_is_stored_once_and_updated(tmp_path, run) -> None:
    shelf, path = tmp_path / "shelf.db", tmp_path / "line.toml"
    path.write_text(SHEET, encoding="utf-8")
    assert (_loaded(run, path, shelf)["kind"], _loaded(run, path, shelf, "--as", "lines")["rows_unchanged"]) == (
        "line",
        1,
    )
    (row,) = _stored(shelf)
    assert row["name"] == "Tender 4, compressor to condenser"
    assert row["sheet_text"] == SHEET
    assert (row["machine"], row["service"], row["quantity"]) == ("Water tender 4", "refrigerant discharge", 1)
    assert (row["hose_outside_mm"], row["min_bend_radius_mm"], row["old_length_mm"]) == (23.876, 76.2, 787.4)
    path.write_text(SHEET.replace("Tender 4, comp", "TENDER 4, comp").replace('"31 in"', '"32 in"'), encoding="utf-8")
    assert _loaded(run, path, shelf)["rows_updated"] == 1
    (row,) = _stored(shelf)
    assert (row["name"], row["old_length_mm"]) == ("TENDER 4, compressor to condenser", 812.8)


def test_what_is_no_line_stores_nothing(tmp_path, run) -> None:
    shelf, path = tmp_path / "shelf.db", tmp_path / "line.toml"
    path.write_text(SHEET.replace('service = "refrigerant discharge"', 'service = "fuel"'), encoding="utf-8")
    done = run("load", str(path), shelf=shelf)
    assert done.exit_code == 1
    assert "line.toml" in done.stderr
    assert "fuel lines are not worked out" in done.stderr
    assert _stored(shelf) == []
    path.write_text("a = 1\n", encoding="utf-8")
    assert "is no drive, no line and no job" in run("load", str(path), shelf=shelf).stderr


def test_a_shelf_of_the_first_versions_gets_its_table_and_keeps_its_rows(tmp_path, demo_shelf) -> None:
    import shutil
    import sqlite3

    import sqlite_utils

    from kb import migrations

    # A shelf as it was before there were lines: the same steps, without the last one, and the rows of the demo's drives.
    path = tmp_path / "old.db"
    shutil.copy(demo_shelf, path)
    old = sqlite3.connect(path)
    old.execute("DROP TABLE line")
    (applied,) = [
        step for step in migrations.MIGRATIONS.applied(sqlite_utils.Database(old)) if step.name == "m003_lines"
    ]
    old.execute("DELETE FROM _sqlite_migrations WHERE name = ?", (applied.name,))
    old.execute("PRAGMA user_version = 2")
    drives = old.execute("SELECT * FROM drive").fetchall()
    old.commit()
    old.close()
    connection = open_to_write(path)
    assert [tuple(row) for row in connection.execute("SELECT * FROM drive")] == drives
    assert connection.execute("SELECT count(*) FROM line").fetchone()[0] == 0
    connection.close()
