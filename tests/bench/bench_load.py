"""Loading a messy price list, side by side with ``sqlite-utils insert --csv`` on the same file; prints one table.

python tests/bench/bench_load.py --rows 100000
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from messy import write_messy

ROUNDS = 3


def timed(command: list[str]) -> float:
    """Return the seconds that a command took."""
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def main() -> None:
    """Run the rounds in turn and print medians and the ratio of each round."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=100_000)
    rows = parser.parse_args().rows
    bayshelf = [sys.executable, "-c", "from kb.cli import main; main()"]
    ours, again, theirs = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        sheet = Path(folder) / "belts.csv"
        write_messy(sheet, rows)
        for turn in range(ROUNDS):
            shelf, database = Path(folder) / f"s{turn}.db", Path(folder) / f"u{turn}.db"
            load = [*bayshelf, "--shelf", str(shelf), "load", str(sheet), "--supplier", "Anyone"]
            ours.append(timed(load))
            again.append(timed(load))
            tool = str(Path(sys.executable).parent / "sqlite-utils")
            theirs.append(timed([tool, "insert", str(database), "belts", str(sheet), "--csv"]))
    for name, took in (("bayshelf load", ours), ("the same sheet again", again), ("sqlite-utils insert --csv", theirs)):
        ratio = statistics.median(other / one for one, other in zip(took, theirs, strict=True))
        print(
            f"{name:28} {statistics.median(took):7.2f} s  {rows / statistics.median(took):9.0f} rows/s  {ratio:5.1f}x"
        )
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"largest peak memory of any process {peak:.0f} MiB")


if __name__ == "__main__":
    main()
