"""Of a damaged shelf everything that still reads is carried over, and nothing else is made up."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from kb.errors import ShelfError
from kb.salvage import carry_over, what_reads
from kb.shelf import check, open_to_read

PAGE = 4096


@pytest.fixture
def damaged(demo_shelf: Path, tmp_path: Path) -> Path:
    """The demo shop's shelf with one page of belts and one of jobs overwritten."""
    path = tmp_path / "damaged.db"
    with closing(sqlite3.connect(demo_shelf)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")
        pages = {
            name: [row[0] for row in target.execute(
                "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY path", (name,))]
            for name in ("belt", "job")
        }  # fmt: skip
    data = bytearray(path.read_bytes())
    for leaves in pages.values():
        at = (leaves[len(leaves) // 2] - 1) * PAGE
        data[at : at + PAGE] = b"\xff" * PAGE
    path.write_bytes(data)
    return path


def _rows(path: Path, table: str) -> dict[int, tuple[object, ...]]:
    with closing(open_to_read(path)) as connection:
        return {row[0]: tuple(row) for row in connection.execute(f"SELECT * FROM {table}")}


def test_a_lost_page_costs_its_own_rows_and_no_others(damaged, demo_shelf, tmp_path, run) -> None:
    told = run("check", "--json", shelf=damaged)
    assert told.exit_code == 1
    reads = json.loads(told.stdout)["reads"]
    new = tmp_path / "new.db"
    done = run("check", "--save-to", str(new), shelf=damaged)
    assert done.exit_code == 0, done.output
    assert check(new) == []
    for table, most_lost in (("belt", 40), ("job", 12)):
        before, after = _rows(demo_shelf, table), _rows(new, table)
        assert 0 < len(before) - len(after) <= most_lost
        assert all(before[key] == row for key, row in after.items())
        assert reads[table] == len(after)
    assert _rows(demo_shelf, "hose") == _rows(new, "hose")
    found = json.loads(run("find", _rows(new, "belt")[5][2], "--json", shelf=new).stdout)
    assert found[0]["kind"] == "belt"


def test_a_whole_shelf_is_carried_over_whole(demo_shelf, tmp_path) -> None:
    saved = carry_over(demo_shelf, tmp_path / "new.db")
    assert {one.table: one.rows for one in saved} == {one.table: one.rows for one in what_reads(demo_shelf)}
    assert sum(one.stops + one.refused for one in saved) == 0


def test_parts_whose_load_is_lost_are_kept_and_say_so(demo_shelf, tmp_path) -> None:
    path = tmp_path / "lost.db"
    with closing(sqlite3.connect(demo_shelf)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)
        target.execute("DELETE FROM load WHERE number = 1")
        target.execute("DELETE FROM supplier WHERE id = 1")
        target.commit()
    carry_over(path, tmp_path / "new.db")
    with closing(open_to_read(tmp_path / "new.db")) as connection:
        assert connection.execute("SELECT sheet FROM load WHERE number = 1").fetchone()[0].startswith("lost")
        assert connection.execute("SELECT name FROM supplier WHERE id = 1").fetchone()[0] == "lost supplier 1"
    assert check(tmp_path / "new.db") == []
    assert len(_rows(tmp_path / "new.db", "belt")) == len(_rows(demo_shelf, "belt"))


def test_nothing_is_written_over_and_no_other_file_is_taken_for_a_shelf(demo_shelf, tmp_path) -> None:
    there, letter = tmp_path / "there.db", tmp_path / "letter.db"
    there.write_text("mine", encoding="utf-8")
    letter.write_text("Dear all, " * 200, encoding="utf-8")
    with pytest.raises(ShelfError, match="something already"):
        carry_over(demo_shelf, there)
    assert there.read_text(encoding="utf-8") == "mine"
    with pytest.raises(ShelfError, match="not a shelf"):
        carry_over(letter, tmp_path / "new.db")
    assert not (tmp_path / "new.db").exists()
