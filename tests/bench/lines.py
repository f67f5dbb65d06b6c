"""One line of the benchmarks' table, and how a benchmark hands its lines on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

MARK = "line: "


@dataclass(frozen=True, slots=True)
class Line:
    """What was measured beside what, in one run; ``ratio`` says how many times better ours is, so that more is better.

    Where ``at_most`` is set the ratio is ours over the peer's instead, and less is better.
    """

    subject: str
    rows: int
    ours: float
    unit: str
    peer: str
    theirs: float
    ratio: float
    goal: float | None = None
    at_most: bool = False
    peak_mib: float | None = None
    file_mib: float | None = None
    note: str = ""

    @property
    def reached(self) -> str:
        """Say whether the goal is reached; nothing where there is none."""
        if self.goal is None:
            return ""
        return "yes" if (self.ratio <= self.goal if self.at_most else self.ratio >= self.goal) else "no"


def faster(
    subject: str, rows: int, ours: float, unit: str, peer: str, theirs: float, goal: float | None = None
) -> Line:
    """Return a line on how many times faster ours is than a peer that takes longer."""
    return Line(subject, rows, ours, unit, peer, theirs, theirs / ours, goal)


def within(
    subject: str, rows: int, ours: float, unit: str, peer: str, theirs: float, goal: float | None = None
) -> Line:
    """Return a line on how many times as long ours takes as a barer peer."""
    return Line(subject, rows, ours, unit, peer, theirs, ours / theirs, goal, at_most=True)


def hand_on(lines: Sequence[Line]) -> None:
    """Print lines for ``table.py``, beside what the benchmark prints for people."""
    for line in lines:
        print(MARK + json.dumps(asdict(line)), flush=True)


def read_lines(text: str) -> list[Line]:
    """Read what :func:`hand_on` printed."""
    return [Line(**json.loads(line.removeprefix(MARK))) for line in text.splitlines() if line.startswith(MARK)]


def own_peak_mib(process_id: int | str = "self") -> float:
    """Return the largest size a running process has had."""
    status = Path(f"/proc/{process_id}/status").read_text(encoding="utf-8")
    return int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))) / 1024
