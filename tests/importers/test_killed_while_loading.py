"""A load that is killed leaves the shelf as it was before or as it is after."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

ROWS = 4000
TIMES = 55


def test_killed_at_random_moments(tmp_path: Path, run) -> None:
    first, second = tmp_path / "first.csv", tmp_path / "second.csv"
    first.write_text("Part no,Ribs,Eff. length\nA,8,1800\n", encoding="utf-8")
    lines = [f"B{number},8,{1000 + number % 900}" for number in range(ROWS)]
    second.write_text("Part no,Ribs,Eff. length\n" + "\n".join(lines) + "\n", encoding="utf-8")
    chance = random.Random(7)
    root = Path(__file__).parent.parent.parent
    seen = set()
    began = time.perf_counter()
    code = f"from kb.cli import main; main(['--shelf', {str(tmp_path / 'whole.db')!r}, 'load', {str(second)!r}])"
    subprocess.run([sys.executable, "-c", code], cwd=root, stdout=subprocess.DEVNULL, check=True)
    longest = 1.5 * (
        time.perf_counter() - began
    )  # as long as a whole load takes on this machine, and half as long again
    for attempt in range(TIMES):
        shelf = tmp_path / f"shelf{attempt}.db"
        run("load", str(first), "--supplier", "Anyone", shelf=shelf)
        code = f"from kb.cli import main; main(['--shelf', {str(shelf)!r}, 'load', {str(second)!r}, '--supplier', 'Anyone'])"
        process = subprocess.Popen([sys.executable, "-c", code], cwd=root, stdout=subprocess.DEVNULL)
        time.sleep(chance.uniform(0.2 * longest, longest))
        process.send_signal(signal.SIGKILL)
        process.wait()
        connection = sqlite3.connect(shelf)
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        count = connection.execute("SELECT count(*) FROM belt").fetchone()[0]
        loads = connection.execute("SELECT count(*) FROM load").fetchone()[0]
        indexed = connection.execute("SELECT count(*) FROM belt_fts_docsize").fetchone()[0]
        connection.close()
        assert (count, loads, indexed) in {(1, 1, 1), (ROWS + 1, 2, ROWS + 1)}
        seen.add(count)
    assert seen <= {1, ROWS + 1}
    assert 1 in seen  # some were killed before the end, or nothing was tried
