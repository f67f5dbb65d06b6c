"""Loading a messy price list, side by side with general tools on the same file; prints one table.

python tests/bench/bench_load.py --rows 100000

Processor time stands beside the time on the clock: it says more where the machine is busy with something else. Both
commands start with their compiled modules at hand, as installed ones do (see bench_belts.py). The peers store the texts as
they stand or guess types; ours also reads fractions and units, refuses what cannot be, remembers where each row came from,
keeps the rows unique and makes two search indexes. sqlite-utils imports pandas where it is installed, as here, which costs
it a part of its start.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from lines import Line, hand_on
from messy import write_messy


class Took(NamedTuple):
    """What a command took: seconds on the clock and of the processors, and its largest size in MiB."""

    clock_s: float
    processor_s: float
    peak_mib: float


def timed(command: list[str], compiled: Path) -> Took:
    """Run a command."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(compiled)
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment)
    _, status, usage = os.wait4(process.pid, 0)
    took = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, command
    return Took(took, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


PANDAS = """
import sqlite3, sys
import pandas
frame = pandas.read_csv(sys.argv[1])
with sqlite3.connect(sys.argv[2]) as connection:
    frame.to_sql("belts", connection, index=False)
"""


def _lines(rounds: list[tuple[Took, ...]], names: tuple[str, ...], rows: int, size_mib: float) -> list[Line]:
    """Return what the table shows: each of ours on the clock beside each peer, the ratios those of the rounds."""
    found = []
    for place, goal in ((0, 3.0), (1, 5.0)):
        for peer in range(2, len(names)):
            ours, theirs, ratio = (
                statistics.median(each)
                for each in zip(
                    *((r[place].clock_s, r[peer].clock_s, r[peer].clock_s / r[place].clock_s) for r in rounds),
                    strict=True,
                )
            )
            work = statistics.median(r[peer].processor_s / r[place].processor_s for r in rounds)
            peak = statistics.median(r[place].peak_mib for r in rounds)
            found.append(
                Line(
                    names[place], rows, ours, "s", names[peer], theirs, ratio, goal if peer == 2 else None,
                    peak_mib=peak, file_mib=size_mib, note=f"by processor time {work:.2f}x",
                )
            )  # fmt: skip
    return found


def main() -> None:
    """Run the rounds in turn and print medians, and the medians of each round's ratios."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--lines", action="store_true", help="Print lines for table.py as well.")
    options = parser.parse_args()
    bayshelf = [sys.executable, "-c", "from kb.cli import main; main()"]
    tool = str(Path(sys.executable).parent / "sqlite-utils")
    names = ("bayshelf load", "the same sheet again", "sqlite-utils insert --csv", "pandas to_sql", "sqlite3 .import")
    rounds: list[tuple[Took, ...]] = []
    with tempfile.TemporaryDirectory() as folder:
        sheet, compiled = Path(folder) / "belts.csv", Path(folder) / "compiled"
        write_messy(sheet, options.rows)
        for turn in range(-1, options.rounds):
            shelf, database = Path(folder) / "shelf.db", Path(folder) / "utils.db"
            load = [*bayshelf, "--shelf", str(shelf), "load", str(sheet), "--supplier", "Anyone"]
            insert = [tool, "insert", str(database), "belts", str(sheet), "--csv"]
            plain = [sys.executable, "-c", PANDAS, str(sheet), str(Path(folder) / "pandas.db")]
            shell = ["sqlite3", str(Path(folder) / "shell.db"), "-cmd", ".mode csv", f".import {sheet} belts"]
            took = tuple(timed(command, compiled) for command in (load, load, insert, plain, shell))
            if turn >= 0:  # the first round only compiles
                rounds.append(took)
            size_mib = shelf.stat().st_size / 2**20
            for path in Path(folder).glob("*.db*"):
                path.unlink()
    if options.lines:
        hand_on(_lines(rounds, names, options.rows, size_mib))
    print(f"{'':28}{'s':>8}{'ratio':>7}{'processor s':>13}{'ratio':>7}{'rows/s':>10}{'peak MiB':>10}")
    for place, name in enumerate(names):
        clock, processor, peak = (
            statistics.median(each) for each in zip(*(took[place] for took in rounds), strict=True)
        )
        faster = [statistics.median(took[2][part] / took[place][part] for took in rounds) for part in (0, 1)]
        print(
            f"{name:28}{clock:8.2f}{faster[0]:6.2f}x{processor:13.2f}{faster[1]:6.2f}x"
            f"{options.rows / clock:10,.0f}{peak:10.0f}"
        )


if __name__ == "__main__":
    main()
