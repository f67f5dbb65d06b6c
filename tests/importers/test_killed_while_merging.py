"""A merge that is killed leaves the shelf as it was before or as it is after, and the other shelf untouched."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
TIMES = 25


def _counts(shelf: Path) -> tuple[int, ...]:
    connection = sqlite3.connect(shelf)
    try:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        return tuple(
            connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("belt", "hose", "job", "job_revision", "load", "belt_fts_docsize", "job_fts_docsize", "drive")
        )
    finally:
        connection.close()


def test_killed_at_random_moments(tmp_path: Path, run, demo_shelf: Path) -> None:
    sheet = tmp_path / "first.csv"
    sheet.write_text("Part no,Ribs,Eff. length\nA,8,1800\n", encoding="utf-8")
    start = tmp_path / "start.db"
    run("load", str(sheet), "--supplier", "Anyone", shelf=start)
    chance = random.Random(11)
    spare = tmp_path / "spare"
    spare.mkdir()
    environment = {**os.environ, "TMPDIR": str(spare)}  # what a killed merge leaves there goes with the test's folder

    def command(shelf: Path) -> list[str]:
        code = f"from kb.cli import main; main(['--shelf', {str(shelf)!r}, 'merge', {str(demo_shelf)!r}])"
        return [sys.executable, "-c", code]

    def copy(name: str) -> Path:
        return Path(shutil.copyfile(start, tmp_path / name))

    whole = copy("whole.db")
    began = time.perf_counter()
    subprocess.run(command(whole), cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=True)
    longest = 1.2 * (time.perf_counter() - began)
    before, after = _counts(start), _counts(whole)
    theirs = demo_shelf.read_bytes()
    seen = []
    for attempt in range(TIMES):
        shelf = copy(f"shelf{attempt}.db")
        process = subprocess.Popen(command(shelf), cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)
        time.sleep(chance.uniform(0.2 * longest, longest))
        process.send_signal(signal.SIGKILL)
        process.wait()
        seen.append(_counts(shelf))
        assert seen[-1] in (before, after)
        for each in tmp_path.glob(f"{shelf.name}*"):
            each.unlink()
    assert before in seen  # some were killed before the end, or nothing was tried
    assert demo_shelf.read_bytes() == theirs
