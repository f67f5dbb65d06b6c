"""Runs the benchmarks at growing sizes and prints one table of ours beside the peers, and how each grows.

usage: PYTHONPATH=. python tests/bench/table.py [--rows 10000,100000,1000000] [--only load,belts,search,pages,drive]

Each ratio is of one run, both sides in turn, in processes of their own; the catalogues are made up, messy and seeded. A
ratio says how many times faster ours is; after "of" it says how many times as long as a barer peer ours takes. The whole
takes about half an hour at a million rows, about five minutes at a hundred thousand. ``wrk`` and ``sqlite3`` (Debian's
packages) are needed.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import time
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

from lines import Line, read_lines

HERE = Path(__file__).parent
SIZED = {"load": "bench_load.py", "belts": "bench_belts.py", "search": "bench_search.py", "pages": "bench_pages.py"}
DRIVE = {"drive": "bench_drive_belts.py"}


def run(file: str, rows: int | None) -> list[Line]:
    """Run one benchmark and return its lines; what it prints for people goes to the error stream."""
    command = [sys.executable, str(HERE / file), "--lines"]
    if rows is not None:
        command += ["--rows", str(rows)]
    if file == "bench_pages.py":
        command += ["--seconds", "2"]
    begun = time.perf_counter()
    done = subprocess.run(
        command, stdout=subprocess.PIPE, text=True, check=True, env={**os.environ, "PYTHONPATH": str(HERE.parents[1])}
    )
    print(f"{file} at {rows or 'its'} rows: {time.perf_counter() - begun:.0f} s", file=sys.stderr, flush=True)
    return read_lines(done.stdout)


def as_table(lines: Sequence[Line]) -> str:
    """Return the lines as one Markdown table."""
    said = [
        "| subject | rows | ours | peer | peer's | ratio | goal | reached | peak MiB | file MiB | note |",
        "|" + " --- |" * 11,
    ]
    for one in lines:
        ratio = f"of {one.ratio:.2f}x" if one.at_most else f"{one.ratio:.3g}x"
        goal = "" if one.goal is None else f"{'<=' if one.at_most else '>='} {one.goal:g}x"
        theirs = f"{one.theirs:.3g} {one.unit}"
        sizes = ("" if size is None else f"{size:.0f}" for size in (one.peak_mib, one.file_mib))
        said.append(
            f"| {one.subject} | {one.rows:,} | {one.ours:.3g} {one.unit} | {one.peer} | {theirs} | "
            f"{ratio} | {goal} | {one.reached} | {' | '.join(sizes)} | {one.note} |"
        )
    return "\n".join(said)


def growth(lines: Iterable[Line]) -> str:
    """Return how each subject's own figure, memory and file grow from the smallest size to the largest."""
    said = ["| subject | rows | ours | peak memory | file |", "|" + " --- |" * 5]
    by_subject = sorted(
        {(one.subject, one.rows): one for one in lines}.values(), key=lambda one: (one.subject, one.rows)
    )
    for subject, some in groupby(by_subject, key=lambda one: one.subject):
        sized = list(some)
        if len(sized) > 1:
            first, last = sized[0], sized[-1]
            memory, file = (_times(getattr(first, name), getattr(last, name)) for name in ("peak_mib", "file_mib"))
            rows = f"{first.rows:,} to {last.rows:,}: {last.rows / first.rows:.0f}x"
            said.append(f"| {subject} | {rows} | {last.ours / first.ours:.1f}x | {memory} | {file} |")
    return "\n".join(said)


def _times(first: float | None, last: float | None) -> str:
    return "" if first is None or last is None else f"{last / first:.1f}x"


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", default="10000,100000,1000000")
    parser.add_argument("--only", default=",".join((*SIZED, *DRIVE)))
    options = parser.parse_args()
    wanted, sizes = options.only.split(","), [int(size) for size in options.rows.split(",")]
    if unknown := set(wanted) - set(SIZED) - set(DRIVE):
        parser.error(f"there is no benchmark {', '.join(sorted(unknown))}: use {', '.join((*SIZED, *DRIVE))}")
    lines = [line for name, file in DRIVE.items() if name in wanted for line in run(file, None)]
    for name, file in SIZED.items():
        if name in wanted:
            for rows in sizes:
                lines += run(file, rows)
    print(f"{time.strftime('%Y-%m-%d')}, {os.cpu_count()} cores, Python {platform.python_version()}\n")
    print(as_table(lines))
    print(f"\nFrom the smallest to the largest:\n\n{growth(lines)}")


if __name__ == "__main__":
    main()
