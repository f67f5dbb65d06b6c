"""A shelf in a folder that cannot be written: look-ups answer, loading says that it cannot, nothing is changed.

Root may write anywhere, so for root the command runs without the one capability that allows it (capabilities(7),
CAP_DAC_OVERRIDE), through util-linux' setpriv; for anyone else the folder's mode is enough.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
BOUND = ["setpriv", "--bounding-set=-dac_override"] if os.geteuid() == 0 else []
LOOK_UPS = [
    ("belts", "--length", "73 1/8 in", "--ribs", "8"), ("find", "8pk 1854"), ("jobs", "--like", "N-001"),
    ("hoses", "--inside", "1 1/2 in"), ("clamps", "--around", "2 1/4 in"), ("fittings", "--outside", "22.1 mm"),
    ("pulleys", "--diameter", "3 in"), ("check",),
]  # fmt: skip


def bayshelf(shelf: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    code = "import sys; from kb.cli import main; main(sys.argv[1:])"
    command = [*BOUND, sys.executable, "-c", code, "--shelf", str(shelf), *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


def digest(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


@pytest.fixture
def folder(tmp_path: Path, demo_shelf: Path) -> Iterator[Path]:
    """A folder with the demo shop's shelf in it, to be closed by the test with ``closed``."""
    made = tmp_path / "shared"
    made.mkdir()
    with sqlite3.connect(demo_shelf) as source, sqlite3.connect(made / "shelf.db") as target:
        source.backup(target)
    source.close()
    target.execute("PRAGMA journal_mode = WAL")
    target.close()
    yield made
    made.chmod(0o755)


def closed(folder: Path) -> Path:
    for path in folder.iterdir():
        path.chmod(0o444)
    folder.chmod(0o555)
    probe = [*BOUND, sys.executable, "-c", "import sys; open(sys.argv[1], 'w')", str(folder / "probe")]
    tried = subprocess.run(probe, capture_output=True, text=True, check=False)
    assert "PermissionError" in tried.stderr, "the folder can be written: this test would prove nothing"
    return folder / "shelf.db"


def test_look_ups_answer_as_they_do_elsewhere(folder: Path, demo_shelf: Path) -> None:
    shelf = closed(folder)
    before = digest(folder)
    for arguments in LOOK_UPS:
        done = bayshelf(shelf, *arguments)
        assert done.returncode == 0, (arguments, done.stderr)
        assert done.stdout == bayshelf(demo_shelf, *arguments).stdout
    assert digest(folder) == before


def test_loading_says_that_it_cannot_write(folder: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "belts.csv"
    sheet.write_text("Part no,Ribs,Eff. length\nZ-1,8,1800\n", encoding="utf-8")
    shelf = closed(folder)
    before = digest(folder)
    done = bayshelf(shelf, "load", str(sheet), "--supplier", "Anyone")
    assert done.returncode == 1
    assert "cannot be written" in done.stderr
    assert str(shelf) in done.stderr
    assert "permissions" in done.stderr
    assert "Traceback" not in done.stderr
    assert digest(folder) == before
    none = bayshelf(folder / "new.db", "load", str(sheet), "--supplier", "Anyone")
    assert (none.returncode, "cannot be written" in none.stderr) == (1, True)
    assert digest(folder) == before


def test_changes_that_wait_out_of_reach_are_told_and_a_copy_of_both_files_answers(folder: Path, tmp_path: Path) -> None:
    writer = sqlite3.connect(folder / "shelf.db")
    writer.execute("UPDATE supplier SET notes = 'only in the log' WHERE name = 'Harrowfen Supply'")
    writer.commit()
    kept = tmp_path / "kept"
    kept.mkdir()
    for name in ("shelf.db", "shelf.db-wal"):
        shutil.copy(folder / name, kept / name)
    writer.close()  # folds the log into the shelf: the copies are as a killed writer leaves them
    for name in ("shelf.db", "shelf.db-wal"):
        shutil.copy(kept / name, folder / name)
    shelf = closed(folder)
    before = digest(folder)
    for arguments in LOOK_UPS:
        done = bayshelf(shelf, *arguments)
        assert done.returncode == 1, arguments
        assert "shelf.db-wal" in done.stderr
        assert "Copy" in done.stderr
        assert "Traceback" not in done.stderr
    assert digest(folder) == before
    assert bayshelf(kept / "shelf.db", "find", "8pk 1854").returncode == 0
    connection = sqlite3.connect(kept / "shelf.db")
    assert connection.execute("SELECT notes FROM supplier WHERE name = 'Harrowfen Supply'").fetchone() == (
        "only in the log",
    )
    connection.close()
