"""How honest the layout's doubts are: random drives, taped with known errors, against the truth.

Run from the top of the project: ``python tests/bench/bench_layout.py [LAYOUTS]``. The tests run a small share of it.
The belt's length here is computed from tangent lines by a function of its own, and shares nothing with the project's.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from kb.mechanics.layout import ImpossibleDistancesError, Layout, Survey, Tape, fit_layout

TAPE_DOUBT_MM = 1.5
WRONG_BY_MM = 15.0


@dataclass(frozen=True)
class Drive:
    """The truth: centres (n, 2) mm in anticlockwise belt order, effective radii, and +1 inside, -1 on the back."""

    centres: np.ndarray
    radii: np.ndarray
    senses: np.ndarray


def belt_length_and_wraps(centres: np.ndarray, radii: np.ndarray, senses: np.ndarray) -> tuple[float, np.ndarray]:
    """Belt length and wraps round signed circles, each span the tangent that keeps +r on its left, -r on its right."""
    signed = radii * senses
    following = np.roll(np.arange(len(radii)), -1)
    ahead = centres[following] - centres
    apart_squared = (ahead**2).sum(axis=1)
    step = signed[following] - signed
    spans = np.sqrt(apart_squared - step**2)
    headings = np.arctan2(ahead[:, 1], ahead[:, 0]) + np.arctan2(step, spans)
    wraps = (senses * (headings - np.roll(headings, 1))) % (2 * math.pi)
    return float(spans.sum() + (radii * wraps).sum()), wraps


def random_drive(chance: np.random.Generator, count: int) -> Drive:
    """A belt route that can be: pulleys round a ring, from five on sometimes one or two idlers pressing in."""
    while True:
        angles = np.sort(chance.uniform(0, 2 * math.pi, count))
        out = chance.uniform(170, 380, count)
        senses = np.ones(count)
        for k in chance.permutation(np.arange(1, count))[: int(chance.integers(0, 1 + max(0, (count - 3) // 2)))]:
            senses[k], out[k] = -1.0, out[k] * 0.6
        centres = np.column_stack([out * np.cos(angles), out * np.sin(angles)])
        radii = np.where(senses > 0, chance.uniform(28, 95, count), chance.uniform(30, 42, count))
        if _can_be(centres, radii, senses):
            return Drive(centres, radii, senses)


def _can_be(centres: np.ndarray, radii: np.ndarray, senses: np.ndarray) -> bool:
    for i, j in combinations(range(len(radii)), 2):
        if np.hypot(*(centres[i] - centres[j])) < radii[i] + radii[j] + 10:
            return False
    _, wraps = belt_length_and_wraps(centres, radii, senses)
    return bool(abs((senses * wraps).sum() - 2 * math.pi) < 1e-6 and (wraps > 0.15).all() and (wraps < 5.0).all())


def taped(chance: np.random.Generator, drive: Drive, wrong_by_mm: float = 0.0) -> tuple[Survey, int]:
    """Every pair taped with its error; one of them, whose number is returned, off by more."""
    count = len(drive.radii)
    pairs = list(combinations(range(count), 2))
    wrong = int(chance.integers(len(pairs)))
    tapes = []
    for k, (i, j) in enumerate(pairs):
        off = chance.normal(0.0, TAPE_DOUBT_MM) + (wrong_by_mm * chance.choice([-1, 1]) if k == wrong else 0.0)
        tapes.append(Tape(i, j, float(np.hypot(*(drive.centres[i] - drive.centres[j]))) + off, TAPE_DOUBT_MM))
    return Survey(tuple(f"pulley {k}" for k in range(count)), (None,) * count, tuple(tapes)), wrong


def length_error_in_doubts(drive: Drive, layout: Layout) -> float:
    """(fitted - true belt length) / its stated doubt, the derivatives by central differences."""

    def length(flat: np.ndarray) -> float:
        return belt_length_and_wraps(flat.reshape(-1, 2), drive.radii, drive.senses)[0]

    flat = layout.centres_mm.ravel()
    steps = 1e-3 * np.eye(flat.size)
    gradient = np.array([(length(flat + step) - length(flat - step)) / 2e-3 for step in steps])
    doubt = math.sqrt(gradient @ layout.covariance_mm2 @ gradient)
    return (length(flat) - belt_length_and_wraps(drive.centres, drive.radii, drive.senses)[0]) / doubt


def share_within_two_doubts(layouts: int, seed: int) -> float:
    """Share of random drives whose true belt length lies within two stated doubts of the fitted one."""
    chance = np.random.default_rng(seed)
    within = 0
    for k in range(layouts):
        drive = random_drive(chance, 3 + k % 6)
        survey, _ = taped(chance, drive)
        within += abs(length_error_in_doubts(drive, fit_layout(survey))) <= 2
    return within / layouts


@dataclass
class Found:
    """What became of one wrong distance in each of many layouts."""

    layouts: int = 0
    reported: int = 0
    named_right: int = 0
    named_wrong: int = 0
    among_first_two: int = 0
    among_suspects: int = 0
    suspects: int = 0


def wrong_distance_found(layouts: int, count: int, seed: int) -> Found:
    """Tape ``layouts`` drives of ``count`` pulleys with one distance 15 mm off and see what is said."""
    chance = np.random.default_rng(seed)
    found = Found(layouts)
    for _ in range(layouts):
        survey, wrong = taped(chance, random_drive(chance, count), WRONG_BY_MM)
        try:
            said = fit_layout(survey).disagreement
        except ImpossibleDistancesError:  # a triangle that cannot close: reported, no one side of it named
            found.reported += 1
            continue
        if said is None:
            continue
        blamed = [suspect.index for suspect in said.suspects]
        found.reported += 1
        found.named_right += said.named is not None and said.named.index == wrong
        found.named_wrong += said.named is not None and said.named.index != wrong
        found.among_first_two += wrong in blamed[:2]
        found.among_suspects += wrong in blamed
        found.suspects += len(blamed)
    return found


def main() -> None:
    """Print the whole of it, and fail where it does not hold."""
    layouts = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    begun = time.perf_counter()
    share = share_within_two_doubts(layouts, seed=1)
    each = (time.perf_counter() - begun) / layouts * 1000
    print(f"{layouts} layouts of 3 to 8 pulleys: belt length within two doubts in {share:.1%} ({each:.0f} ms each)")
    assert 0.93 <= share <= 0.98, share
    for count in (4, 5, 6, 7, 8):
        found = wrong_distance_found(layouts, count, seed=count)
        print(f"{count} pulleys, one distance 15 mm off: {found}")
        if count >= 6:
            assert found.named_right >= 0.9 * layouts, count
        if count == 5:
            assert found.among_suspects >= 0.9 * layouts
        if count == 4:
            assert found.suspects == found.named_right == found.named_wrong == 0


if __name__ == "__main__":
    main()
