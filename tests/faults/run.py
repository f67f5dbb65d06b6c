"""Run the fault suite and print one table.

usage: PYTHONPATH=. python tests/faults/run.py [--full]

Without ``--full`` a few of each fault, as in CI; with it every system call of every command, hundreds of kills and flips.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

from tests.faults import suite, together
from tests.faults.harness import Commands, Tally, stage

HEADINGS = ("fault", "command", "times", "as before", "as after", "told in words", "failures")


def main() -> int:
    """Run it; return 1 where anything failed."""
    parser = argparse.ArgumentParser(description="Run the fault suite and print one table.")
    parser.add_argument("--full", action="store_true", help="every call, hundreds of kills and flips; half an hour")
    parser.add_argument("--only", default="", metavar="WORD", help="only the groups whose name holds this word")
    asked = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="bayshelf-faults-"))
    began, failures, injected = time.time(), [], 0
    widths = (38, 36, 6, 10, 9, 14, 9)
    print(_line(HEADINGS, widths), flush=True)
    try:
        with stage(folder) as commands:
            for tally in _all(commands, folder, asked.full, asked.only):
                failures += tally.failures
                injected += tally.times
                print("\n".join([_line(tally.cells(), widths), *(f"    {one}" for one in tally.failures)]), flush=True)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    print(f"\n{injected} faults, {len(failures)} failures, {time.time() - began:.0f} s.")
    return 1 if failures else 0


def _line(cells: Iterable[str], widths: Iterable[int]) -> str:
    return " ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()


def _all(commands: Commands, folder: Path, full: bool, only: str) -> Iterable[Tally]:
    for group, run in (
        ("moments", lambda name: suite.at_moments(commands, folder, name, 200 if full else 8)),
        ("room", lambda name: suite.on_full_disks(commands, folder, name, 60 if full else 5)),
        ("calls", lambda name: suite.at_calls(commands, folder, name, None if full else 1)),
    ):
        for name in (*suite.WRITING, *suite.OLD):
            if only in f"{group} {name}":
                yield from run(name)
    yield from _others(commands, folder, full, only)


def _others(commands: Commands, folder: Path, full: bool, only: str) -> Iterable[Tally]:
    if only in "leftovers":
        yield from suite.leftovers(commands, folder)
    if only in "once":
        yield from suite.at_once(commands, folder, 20 if full else 1)
    if only in "clocks":
        yield together.wrong_clocks(commands, folder)
    if only in "damage":
        yield from suite.on_damage(commands, folder, 300 if full else 12)
    if only in "flips":
        tally, flips = suite.on_flips(commands, folder, 400 if full else 16)
        yield tally
        print(f"    {flips}")


if __name__ == "__main__":
    sys.exit(main())
