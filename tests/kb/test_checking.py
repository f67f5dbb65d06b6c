"""What check finds beside SQLite's own look: a value changed by something else than bayshelf, wherever it stands twice."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from kb.checking import look_through
from kb.shelf import check

CHANGED = [
    ("UPDATE belt SET effective_length_mm = effective_length_mm + 0.5 WHERE id = 7", "its sheet said"),
    ("UPDATE belt SET pitch_length_mm = pitch_length_mm + 4 WHERE id = 7", "effective length makes it"),
    ("UPDATE hose SET description = 'x' || description WHERE id = 3", "its sheet said"),
    ("UPDATE fitting SET code = 'zz' WHERE id = 3", "filed under"),
    ("UPDATE drive SET sheet_text = replace(sheet_text, '0', '1') WHERE id = 1", "not the one that was loaded"),
    ("UPDATE drive SET idle_rpm = idle_rpm + 1 WHERE id = 1", "its sheet says"),
    ("UPDATE drive_pulley SET outside_diameter_mm = 99 WHERE drive_id = 1 AND position = 1", "its pulleys"),
    ("UPDATE drive_distance SET distance_mm = distance_mm + 1", "its distances"),
    ("UPDATE line SET quantity = quantity + 1", "its sheet says"),
    ("UPDATE job SET work = work || '.' WHERE number = 5", "work is not what its revision says"),
    ("UPDATE job_part SET note = 'other' WHERE job_number = 1 AND position = 1", "its parts"),
    ("UPDATE job SET row_number = 99 WHERE number = 5", "where it came from"),
    ("INSERT INTO belt_fts (rowid, part_no) VALUES (999999, 'nowhere')", "words of belts"),
    ("UPDATE search_word SET word = word || 'q' WHERE number = 9", "forgiving search"),
    ("UPDATE search_form SET entries = zeroblob(length(entries)) WHERE rowid = 3", "forgiving search"),
    ("UPDATE load SET kind = 'bolt' WHERE number = 2", "no such kind"),
    ("DROP INDEX belt_code", "declaration of 'belt_code'"),
]


@pytest.fixture(scope="module")
def closed(demo_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("closed") / "shelf.db"
    with closing(sqlite3.connect(demo_shelf)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")
    return path


def test_the_demo_shop_is_as_it_was_loaded(closed) -> None:
    assert look_through(closed) == []


@pytest.mark.parametrize(("statement", "told"), CHANGED, ids=[told for _, told in CHANGED])
def test_a_value_changed_behind_its_back_is_found(closed, tmp_path, statement, told) -> None:
    path = Path(shutil.copyfile(closed, tmp_path / "shelf.db"))
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute(statement).rowcount != 0
        connection.commit()
    assert check(path) == []  # SQLite itself sees nothing in it
    assert told in "\n".join(look_through(path))


def test_shelves_that_were_merged_corrected_and_recorded_on_are_whole(run, tmp_path, demo_shelf) -> None:
    north, sheet, form = tmp_path / "north.db", tmp_path / "belts.csv", tmp_path / "form.toml"
    for length in ("1800", "71 in", "1810"):
        sheet.write_text(f"Part no,Ribs,Eff. length,Profile\nZ-1,8,{length},pk\nZ-2,8,1900,PK\n", encoding="utf-8")
        assert run("load", str(sheet), "--supplier", "Anyone", shelf=north).exit_code == 0
    for notes in ("first", "second"):
        form.write_text(f'job = "Z-1"\nwork = "belt in"\nnotes = "{notes}"\n', encoding="utf-8")
        assert run("record", "add", str(form), shelf=north).exit_code == 0
    assert run("merge", str(demo_shelf), shelf=north).exit_code == 0
    assert run("load", str(sheet), "--supplier", "Anyone", "--unit", "mm", shelf=north).exit_code == 0
    folder = tmp_path / "shared"
    folder.mkdir()
    assert run("publish", str(folder), shelf=north).exit_code == 0
    assert look_through(north) == []
    assert look_through(folder / "north.db") == []


def test_a_job_that_was_changed_is_no_damage(demo_shelf, tmp_path, run) -> None:
    # The search still knows the words that its notes had before: that finds nothing wrong.
    shelf = tmp_path / "shelf.db"
    shutil.copy(demo_shelf, shelf)
    form = tmp_path / "form.toml"
    form.write_text('job = "N-021"\nnotes = "quite other words"\n', encoding="utf-8")
    assert run("record", "add", str(form), shelf=shelf).exit_code == 0
    assert run("check", shelf=shelf).exit_code == 0
