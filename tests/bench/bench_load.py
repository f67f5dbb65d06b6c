"""Loading a messy price list, side by side with ``sqlite-utils insert --csv`` on the same file; prints one table.

python tests/bench/bench_load.py --rows 100000

Processor time stands beside the time on the clock: it says more where the machine is busy with something else. Both
commands start with their compiled modules at hand, as installed ones do (see bench_belts.py).
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


def main() -> None:
    """Run the rounds in turn and print medians, and the medians of each round's ratios."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    bayshelf = [sys.executable, "-c", "from kb.cli import main; main()"]
    tool = str(Path(sys.executable).parent / "sqlite-utils")
    names = ("bayshelf load", "the same sheet again", "sqlite-utils insert --csv")
    rounds: list[tuple[Took, ...]] = []
    with tempfile.TemporaryDirectory() as folder:
        sheet, compiled = Path(folder) / "belts.csv", Path(folder) / "compiled"
        write_messy(sheet, options.rows)
        for turn in range(-1, options.rounds):
            shelf, database = Path(folder) / "shelf.db", Path(folder) / "utils.db"
            load = [*bayshelf, "--shelf", str(shelf), "load", str(sheet), "--supplier", "Anyone"]
            insert = [tool, "insert", str(database), "belts", str(sheet), "--csv"]
            took = tuple(timed(command, compiled) for command in (load, load, insert))
            if turn >= 0:  # the first round only compiles
                rounds.append(took)
            shelf.unlink()
            database.unlink()
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
