"""``bayshelf demo``: it fills only what is empty, and ``--serve`` really serves."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent


def test_a_shelf_with_something_on_it_is_left_alone(tmp_path, run, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    own, sheet = tmp_path / "own.db", tmp_path / "belts.csv"
    sheet.write_text("Part no,Ribs,Eff. length\nZ-1,8,1800\n", encoding="utf-8")
    run("load", str(sheet), "--supplier", "Anyone", shelf=own)
    before = own.read_bytes()
    done = run("demo", shelf=own)
    assert done.exit_code == 0
    assert "left alone" in done.stderr
    assert own.read_bytes() == before
    assert (tmp_path / "bayshelf-demo.db").exists()


def test_demo_again_loads_nothing_twice(demo_shelf, run) -> None:
    done = run("demo", shelf=demo_shelf)
    assert done.exit_code == 0
    assert "bayshelf load" not in done.stdout
    assert "00123" in done.stdout


def test_serve_answers_until_it_is_stopped(demo_shelf: Path) -> None:
    code = "import sys; from kb.cli import main; main(sys.argv[1:])"
    command = [sys.executable, "-u", "-c", code, "--shelf", str(demo_shelf), "demo", "--serve", "--port", "0"]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        try:
            address = next(
                found[0] for line in process.stdout if (found := re.search(r"http://127\.0\.0\.1:\d+/", line))
            )
            with urllib.request.urlopen(address, timeout=30) as answer:
                assert answer.status == 200
                page = answer.read().decode("utf-8")
            with urllib.request.urlopen(f"{address}belts?length=73+1/8+in&ribs=8", timeout=30) as answer:
                belts = answer.read().decode("utf-8")
        finally:
            process.send_signal(signal.SIGINT)
        # A shell that runs this in the background lets its children ignore Ctrl-C: then the server alone hears it.
        assert process.wait(timeout=30) in (0, 130)
        assert "Traceback" not in process.stderr.read()
    assert 'name="q"' in page
    assert "00123" in belts
