"""Real processes on one shelf at once, recording, loading, merging, publishing: nothing is lost, nobody meets a database."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from kb.shelf import check, open_to_read

ROOT = Path(__file__).parent.parent.parent
RECORDED = 6
"""Forms that each of the two recorders takes in, one command each."""

_DATABASE_WORDS = re.compile(r"sqlite|database|locked|transaction|traceback|busy", re.IGNORECASE)


def _start(*commands: list[str]) -> subprocess.Popen[str]:
    """One process that runs commands one after the other, as a person would, and stops at the first that fails."""
    code = (
        "import json, subprocess, sys\n"
        "for command in json.loads(sys.argv[1]):\n"
        "    code = 'import sys; from kb.cli import main; main(sys.argv[1:])'\n"
        "    done = subprocess.run([sys.executable, '-c', code, *command], stdout=subprocess.DEVNULL)\n"
        "    if done.returncode: sys.exit(f'{command}: {done.returncode}')\n"
    )
    return subprocess.Popen(
        [sys.executable, "-c", code, json.dumps(commands)], cwd=ROOT, stderr=subprocess.PIPE, text=True
    )


def _finish(*processes: subprocess.Popen[str]) -> None:
    told = [(process.communicate(timeout=300)[1], process.returncode) for process in processes]
    assert [code for _, code in told] == [0] * len(told), told
    assert [text for text, _ in told if _DATABASE_WORDS.search(text)] == []


def _forms(folder: Path, bay: str) -> list[str]:
    paths = []
    for number in range(RECORDED):
        path = folder / f"{bay}-{number}.toml"
        path.write_text(
            f'job = "{bay}-{number}"\nwork = "belt in, {bay} {number}"\n[[part]]\npart_no = "P{number}"\n'
            '[[measurement]]\nname = "charging voltage"\nunit = "V"\nas_left = "14.1"\n',
            encoding="utf-8",
        )
        paths.append(str(path))
    return paths


@pytest.mark.parametrize("there_already", [True, False], ids=["a shelf in use", "no shelf yet"])
def test_nothing_is_lost(tmp_path, run, there_already) -> None:
    shelf, wash, folder = tmp_path / "shelf.db", tmp_path / "wash.db", tmp_path / "shared"
    folder.mkdir()
    sheets = []
    for number in range(4):
        sheet = tmp_path / f"belts{number}.csv"
        rows = [f"B{number}-{row},8,{1000 + row}" for row in range(1500)]
        sheet.write_text("Part no,Ribs,Eff. length\n" + "\n".join(rows) + "\n", encoding="utf-8")
        sheets.append(str(sheet))
    theirs = _forms(tmp_path, "W")
    assert run("record", "add", *theirs, shelf=wash).exit_code == 0
    assert run("load", sheets[3], "--supplier", "Someone", shelf=wash).exit_code == 0
    if there_already:
        assert run("load", sheets[0], "--supplier", "Anyone", shelf=shelf).exit_code == 0
    on = ["--shelf", str(shelf)]
    recorders = [_start(*([*on, "record", "add", form] for form in _forms(tmp_path, bay))) for bay in ("N", "S")]
    loader = _start(*([*on, "load", sheet, "--supplier", "Anyone"] for sheet in sheets[:3]))
    merger = _start(*([*on, "merge", str(wash)] for _ in range(3)))
    if not there_already:
        _finish(recorders.pop())  # publishing needs a shelf to be there
    publisher = _start(*([*on, "publish", str(folder)] for _ in range(4)))
    _finish(publisher, loader, merger, *recorders)
    assert run("publish", str(folder), shelf=shelf).exit_code == 0
    for path in (shelf, folder / "shelf.db"):
        assert check(path) == []
        connection = open_to_read(path)
        jobs = {row["id"] for row in connection.execute("SELECT id FROM job")}
        belts = connection.execute("SELECT count(*) FROM belt").fetchone()[0]
        words = connection.execute("SELECT count(*) FROM belt_fts_docsize").fetchone()[0]
        connection.close()
        assert jobs == {f"{bay}-{number}" for bay in "NSW" for number in range(RECORDED)}
        assert belts == words == 6000


def test_two_bays_merge_each_other_at_once(tmp_path, run) -> None:
    north, wash = tmp_path / "north.db", tmp_path / "wash.db"
    for bay, shelf in (("N", north), ("W", wash)):
        assert run("record", "add", *_forms(tmp_path, bay), shelf=shelf).exit_code == 0
    _finish(
        _start(*(["--shelf", str(north), "merge", str(wash)] for _ in range(3))),
        _start(*(["--shelf", str(wash), "merge", str(north)] for _ in range(3))),
    )
    for shelf in (north, wash):
        connection = open_to_read(shelf)
        assert connection.execute("SELECT count(*) FROM job").fetchone()[0] == 2 * RECORDED
        connection.close()
