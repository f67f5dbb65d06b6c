"""Belts by length on a big shelf against the bare indexed range query, and the command's start against a bare click one.

python tests/bench/bench_belts.py --rows 100000

Every command starts with its compiled modules at hand, as an installed one does: they are kept in a folder of their own,
so that a checkout that may not write them (PYTHONDONTWRITEBYTECODE) is not measured compiling.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from lines import hand_on, own_peak_mib, within
from messy import write_messy

from importers.load import Settings, load_file
from kb.shelf import open_to_read, open_to_write
from queries.belts import BeltQuestion, ask_belts

BARE = (
    "SELECT id, effective_length_mm FROM belt WHERE profile = 'PK' AND ribs = 8 "
    "AND effective_length_mm BETWEEN ? AND ? ORDER BY effective_length_mm"
)
CLICK = """import click, sqlite3
@click.command()
@click.argument("path")
def show(path):
    print(sqlite3.connect(path).execute("SELECT count(*) FROM belt").fetchone())
show()"""


def main() -> None:
    """Print medians, 95th percentiles and ratios, all from this run."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--lines", action="store_true", help="Print lines for table.py as well.")
    options = parser.parse_args()
    rows = options.rows
    with tempfile.TemporaryDirectory() as folder:
        sheet, shelf = Path(folder) / "belts.csv", Path(folder) / "shelf.db"
        connection = open_to_write(shelf)
        for seed, supplier in enumerate(
            ("First", "Second", "Third", "Fourth")
        ):  # equivalents among them are looked for
            write_messy(sheet, rows // 4, seed)
            load_file(connection, shelf, sheet, Settings(supplier=supplier))
        connection.close()
        size_mib = shelf.stat().st_size / 2**20
        bare, ours, worst = _query(shelf)
        started = _start(shelf, Path(folder) / "compiled")
    if options.lines:
        click, look_up = started["bare click + sqlite3"], started["bayshelf belts"]
        one = within("belts by length, in process", rows, ours, "us", "bare indexed range", bare, 1.5)
        note = f"95th percentile {worst:.0f} us (goal 100); four suppliers, equivalents looked up"
        hand_on([
            replace(one, note=note, peak_mib=own_peak_mib(), file_mib=size_mib),
            within("belts by length, from cold", rows, look_up, "ms", "bare click + sqlite3", click, 1.2),
        ])  # fmt: skip


def _query(shelf: Path) -> tuple[float, float, float]:
    """Print both, and return the bare query's median, ours, and ours at the 95th percentile, in us."""
    connection = open_to_read(shelf)
    chance = random.Random(3)
    bare, ours = [], []
    for _ in range(2000):
        length = chance.uniform(700, 3000)
        start = time.perf_counter()
        connection.execute(BARE, (length - 3, length + 3)).fetchall()
        middle = time.perf_counter()
        ask_belts(connection, BeltQuestion(length_mm=length, ribs=8))
        bare.append(middle - start)
        ours.append(time.perf_counter() - middle)
    for name, took in (("bare indexed range, +-3 mm", bare), ("ask_belts, whole answer", ours)):
        took.sort()
        print(
            f"{name:28} median {took[1000] * 1e6:7.0f} us  p95 {took[1900] * 1e6:7.0f} us  {took[1000] / bare[1000]:5.1f}x"
        )
    return bare[1000] * 1e6, ours[1000] * 1e6, ours[1900] * 1e6


def _start(shelf: Path, compiled: Path) -> dict[str, float]:
    """Print how long each command takes, and return it in ms."""
    bayshelf = [sys.executable, "-c", "from kb.cli import main; main()", "--shelf", str(shelf)]
    commands = {
        "bare click + sqlite3": [sys.executable, "-c", CLICK, str(shelf)],
        "bayshelf belts": [*bayshelf, "belts", "--length", "73 1/8 in", "--ribs", "8"],
        "bayshelf --help": [*bayshelf, "--help"],
    }
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(compiled)
    for command in commands.values():
        subprocess.run(command, check=True, capture_output=True, env=environment)
    took: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(15):
        for name, command in commands.items():
            start = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True, env=environment)
            took[name].append(time.perf_counter() - start)
    base = statistics.median(took["bare click + sqlite3"])
    for name, times in took.items():
        print(f"{name:28} median {statistics.median(times) * 1e3:7.0f} ms  {statistics.median(times) / base:5.2f}x")
    return {name: statistics.median(times) * 1e3 for name, times in took.items()}


if __name__ == "__main__":
    main()
