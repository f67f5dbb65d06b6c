"""Judge a hundred thousand belts for a seven-pulley drive, beside scipy's brentq once per belt over the same path.

usage: PYTHONPATH=. python tests/bench/bench_drive_belts.py [--belts 100000] [--sample 400] [--rounds 5]

Both in one run, on the same drive and belts; the peer is timed on a sample and scaled up. What is timed of ours is all
that an answer needs: building the table, arm angle, travel used, slack at the stop and the chance that each belt fits.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import sys
import time
from pathlib import Path
from types import ModuleType

import numpy as np
from lines import faster, hand_on
from scipy.optimize import brentq

from kb.mechanics.tensioner import find_window
from kb.mechanics.window import DriveDoubts, arm_marks, independent_centres, judge_belts


def _drives() -> ModuleType:
    place = Path(__file__).parent.parent / "kb" / "mechanics" / "conftest.py"
    spec = importlib.util.spec_from_file_location("drives", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up
    spec.loader.exec_module(module)
    return module


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--belts", type=int, default=100_000)
    arguments.add_argument("--sample", type=int, default=400)
    arguments.add_argument("--rounds", type=int, default=5)
    arguments.add_argument("--lines", action="store_true", help="Print lines for table.py as well.")
    asked = arguments.parse_args()
    drive = _drives().seven_pulleys()
    window = find_window(drive)
    count = len(drive.fixed)
    doubts = DriveDoubts(independent_centres(1.0, count), (0.18,) * count, 0.5, 0.5, math.radians(2.0), 4.5)
    marks = arm_marks(drive, window, doubts)
    belts = np.random.default_rng(1).uniform(window.low_mm, window.high_mm, asked.belts)
    sample = belts[: asked.sample]
    ours, theirs = [], []
    for _ in range(asked.rounds):
        begun = time.perf_counter()
        judged = judge_belts(drive, window, marks, belts, 2.5, doubts.belt_mm)
        ours.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        angles = [
            brentq(lambda at, belt=belt: drive.length_at_mm(at) - belt, window.low_rad, window.high_rad, xtol=1e-9)
            for belt in sample
        ]
        theirs.append((time.perf_counter() - begun) / len(sample) * len(belts))
        apart = float(np.abs(judged.arm_rad[: len(sample)] - angles).max())
        assert apart < 1e-6, apart
    best, peer = float(np.median(ours)), float(np.median(theirs))
    print(
        f"ours {best * 1e3:.2f} ms for {len(belts)} belts (fastest {min(ours) * 1e3:.2f}); brentq {peer * 1e3:.0f} ms"
    )
    if asked.lines:
        hand_on([faster("belts for a drive", len(belts), best * 1e3, "ms", "scipy brentq a belt", peer * 1e3, 1000.0)])
    print(f"ratio {peer / best:.0f}; angles at most {apart:.1e} rad apart")


if __name__ == "__main__":
    main()
