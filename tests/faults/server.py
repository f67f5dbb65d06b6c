"""A process with the command's modules loaded, which forks one child per command: a real process without the start-up.

Reads one JSON object per line on standard input and answers each with one on standard output: ``start`` makes a child that
waits, ``go`` lets it run the command, ``wait`` says how it ended. What is done to it meanwhile is the caller's.
"""

from __future__ import annotations

import contextlib
import datetime
import importlib
import json
import os
import resource
import signal
import sys
import traceback
from typing import Any

OPENERS: dict[int, int] = {}
"""The pipe's end that holds each child back."""


def load_modules() -> None:
    """Import what the commands import when they run, sqlite-utils and pandas with it."""
    from kb.cli import COMMANDS

    for dotted, _ in COMMANDS.values():
        importlib.import_module(dotted.split(":")[0])
    for name in (
        "kb.shelf", "kb.new_shelf", "kb.migrations", "kb.publish", "kb.conflicts", "kb.closing_checks", "kb.sheets.job",
        "kb.sheets.job_form", "importers.load", "importers.merge", "importers.record", "importers.jobs", "importers.drives",
        "importers.lines", "importers.settle", "importers.report", "rapidfuzz", "rapidfuzz.process",
    ):  # fmt: skip
        importlib.import_module(name)


def turn_clock(seconds: float) -> None:
    """Let the shelf's two makers of times, ``now`` and ``new_id``, read a clock that is so far off."""
    import kb.shelf

    class Clock(datetime.datetime):
        @classmethod
        def now(cls, tz: datetime.tzinfo | None = None) -> datetime.datetime:
            return datetime.datetime.now(tz) + datetime.timedelta(seconds=seconds)

    kb.shelf.datetime = Clock


def child(asked: dict[str, Any], gate: int, ready: int) -> int:
    """Be the command: say that it is ready, wait to be let go, then run it as ``bayshelf`` would; return its exit code."""
    for number, name in ((1, asked.get("out_to", asked["out"])), (2, asked["err"])):
        descriptor = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(descriptor, number)
        os.close(descriptor)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.environ.update(asked.get("environment", {}))
    import tempfile

    tempfile.tempdir = None
    if "clock_off_s" in asked:
        turn_clock(asked["clock_off_s"])
    if "largest_file" in asked:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (asked["largest_file"],) * 2)
    from kb.cli import main

    os.close(ready)
    os.read(gate, 1)

    try:
        main(asked["arguments"])
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0
    except BaseException:
        traceback.print_exc()
        return 70
    return 0


def start(asked: dict[str, Any]) -> int:
    """Fork a child that waits at its gate; return its process id."""
    gate, opener = os.pipe()
    waits, ready = os.pipe()
    pid = os.fork()
    if pid:
        os.close(gate)
        os.close(ready)
        os.read(waits, 1)  # what is done to the command must not meet it while it opens its own outputs
        os.close(waits)
        OPENERS[pid] = opener
        return pid
    code = 70
    try:
        os.close(opener)
        os.close(waits)
        for other in OPENERS.values():
            os.close(other)
        code = child(asked, gate, ready)
    finally:
        with contextlib.suppress(OSError, ValueError):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)


def main() -> None:
    """Answer until the caller closes the line."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    load_modules()
    answers.write("{}\n")
    answers.flush()
    for line in sys.stdin:
        asked = json.loads(line)
        if asked["do"] == "start":
            answer: dict[str, Any] = {"pid": start(asked)}
        elif asked["do"] == "go":
            os.close(OPENERS.pop(asked["pid"]))
            answer = {}
        else:
            answer = {"code": os.waitstatus_to_exitcode(os.waitpid(asked["pid"], 0)[1])}
        answers.write(json.dumps(answer) + "\n")
        answers.flush()


if __name__ == "__main__":
    main()
