"""The chance that a belt fits: against sampling of the whole path, finite differences and scipy's normal integrals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from kb.mechanics.normal import both_below, normal_below
from kb.mechanics.path import find_route
from kb.mechanics.sampling import sampled_chance
from kb.mechanics.slots import Slot, slot_reach
from kb.mechanics.tensioner import Drive, find_window
from kb.mechanics.window import (
    DriveDoubts,
    Marks,
    arm_marks,
    chance_it_fits,
    fixed_marks,
    independent_centres,
    judge_belts,
)

Drives = Callable[..., Drive]
NEED_MM = 2.5
DEFAULTS = {"belt_over_rim_mm": 0.5, "arm_length_mm": 0.5, "angle_rad": math.radians(2.0), "belt_mm": 4.5}


def doubts_of(drive: Drive, centre_mm: float = 1.0, **more: float) -> DriveDoubts:
    """The drive sheet's defaults."""
    count = len(drive.fixed)
    return DriveDoubts(independent_centres(centre_mm, count), (0.18,) * count, **(DEFAULTS | more))


def taped(count: int) -> np.ndarray:
    """A full covariance, as tape distances give: centres that move together."""
    mixing = np.random.default_rng(5).normal(0.0, 1.0, (2 * count, 2 * count))
    return np.asarray(mixing @ mixing.T / (2 * count) * 2.0)


@pytest.mark.parametrize("first", [-2.5, -0.4, 0.0, 1.3])
@pytest.mark.parametrize("correlation", [-0.99, -0.6, 0.0, 0.3, 0.8, 0.97, 0.999])
def test_two_normal_quantities_against_scipy(first: float, correlation: float) -> None:
    seconds = np.array([-1.7, 0.0, 0.6, 2.2])
    peer = multivariate_normal([0.0, 0.0], [[1.0, correlation], [correlation, 1.0]])
    expected = [peer.cdf([first, one]) for one in seconds]
    found = both_below(np.full(4, first), seconds, correlation)
    assert found == pytest.approx(expected, abs=2e-4 if abs(correlation) > 0.98 else 1e-6)
    assert normal_below(seconds) == pytest.approx(norm.cdf(seconds), abs=1e-14)


def test_fully_related_quantities_close_to_each_other() -> None:
    # where both are nearly the same value an integral over the correlation is too coarse: there it is one quantity
    first, second = np.array([0.0, 1.0, 0.3]), np.array([0.02, 1.05, 0.31])
    assert both_below(first, second, 1.0) == pytest.approx(norm.cdf(first), abs=1e-12)
    assert both_below(first, -second, -1.0) == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)


def test_fully_related_quantities() -> None:
    h, k = np.array([0.3, -0.5]), np.array([1.0, 0.2])
    assert both_below(h, k, 1.0) == pytest.approx(norm.cdf([0.3, -0.5]))
    assert both_below(h, k, -1.0) == pytest.approx(np.maximum(norm.cdf(h) + norm.cdf(k) - 1.0, 0.0))


@pytest.mark.parametrize(
    "arm", [{}, {"work_from_rad": math.radians(230.0), "work_to_rad": math.radians(256.0)}], ids=["stops", "marks"]
)
@pytest.mark.parametrize("full", [False, True], ids=["each on its own", "full covariance"])
def test_the_chance_is_what_sampling_says(arm: dict[str, float], full: bool, seven_pulleys: Drives) -> None:
    drive = seven_pulleys(**arm)
    window = find_window(drive)
    doubts = doubts_of(drive)
    if full:
        doubts = replace(doubts, centre_covariance_mm2=taped(len(drive.fixed)))
    marks = arm_marks(drive, window, doubts)
    belts = np.array([
        window.work_low_mm - 5.0, window.work_low_mm, window.work_low_mm + 4.0, window.middle_mm,
        window.work_high_mm - 6.0, window.work_high_mm, window.work_high_mm + 5.0,
    ])  # fmt: skip
    chances = chance_it_fits(marks, belts, NEED_MM, doubts.belt_mm)
    sampled = [sampled_chance(drive, doubts, belt, NEED_MM, seed=seed) for seed, belt in enumerate(belts)]
    assert chances == pytest.approx(sampled, abs=0.02)
    assert max(sampled) - min(sampled) > 0.3  # belts near both stops and between were asked


def test_the_angles_doubt_is_the_largest_of_all_and_counts(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    window = find_window(drive)
    with_it, without = (arm_marks(drive, window, doubts_of(drive, angle_rad=angle)) for angle in (math.radians(2), 0.0))
    expected = (drive.take_up_mm_per_rad(window.work_high_rad) * math.radians(2)) ** 2
    assert with_it.covariance_mm2[2, 2] - without.covariance_mm2[2, 2] == pytest.approx(expected)
    # each stop is read on its own: the two have no share in common
    assert with_it.covariance_mm2[0, 2] == pytest.approx(without.covariance_mm2[0, 2])


def test_covariances_are_those_of_finite_differences(seven_pulleys: Drives) -> None:
    drive = seven_pulleys(work_from_rad=math.radians(230.0), work_to_rad=math.radians(256.0))
    window = find_window(drive)
    doubts = replace(doubts_of(drive), centre_covariance_mm2=taped(7))
    arm, step = drive.arm, 1e-5

    def marks_mm(changed: Drive, slack: float = 0.0, begin: float = 0.0, end: float = 0.0) -> np.ndarray:
        changed.__dict__["grooved_sense"] = drive.grooved_sense
        return np.array([
            changed.length_at_mm(arm.slack_rad + slack), changed.length_at_mm(math.radians(230.0) + begin),
            changed.length_at_mm(math.radians(256.0) + end),
        ])  # fmt: skip

    def pulley(place: int, **change: float) -> Drive:
        one = drive.fixed[place]
        changed = replace(one, **{name: getattr(one, name) + by for name, by in change.items()})
        return replace(drive, fixed=(*drive.fixed[:place], changed, *drive.fixed[place + 1 :]))

    changes = [(lambda by, p=p, a=a: marks_mm(pulley(p, **{a: by}))) for p in range(7) for a in ("x_mm", "y_mm")]
    changes += [(lambda by, p=p: marks_mm(pulley(p, radius_mm=by))) for p in range(7)]
    flats = [replace(one, radius_mm=one.radius_mm + 0.0) for one in drive.fixed]
    changes.append(
        lambda by: marks_mm(
            replace(
                drive, fixed=tuple(replace(one, radius_mm=one.radius_mm + by) if one.flat else one for one in flats)
            )
        )
    )
    changes.append(lambda by: marks_mm(replace(drive, arm=replace(arm, length_mm=arm.length_mm + by))))
    changes += [(lambda by, mark=mark: marks_mm(drive, **{mark: by})) for mark in ("slack", "begin", "end")]
    jacobian = np.array([(change(step) - change(-step)) / (2 * step) for change in changes]).T
    spread = np.zeros((len(changes),) * 2)
    spread[:14, :14] = doubts.centre_covariance_mm2
    spread[14:, 14:] = np.diag(np.square([*[0.18] * 7, 0.5, 0.5, *[math.radians(2.0)] * 3]))
    expected = jacobian @ spread @ jacobian.T
    assert arm_marks(drive, window, doubts).covariance_mm2 == pytest.approx(expected, rel=1e-5)


def test_a_narrow_belt_between_wide_marks_is_certain() -> None:
    marks = Marks(1800.0, 1810.0, 1850.0, np.zeros((3, 3)), 1830.0)
    belts = np.array([1805.0, 1809.9, 1810.1, 1849.9, 1850.1])
    assert chance_it_fits(marks, belts, 2.0, 0.0) == pytest.approx([0.0, 0.0, 1.0, 1.0, 0.0])


def test_need_moves_the_lower_end_only() -> None:
    marks = Marks(1800.0, 1800.0, 1860.0, np.zeros((3, 3)), 1830.0, bounds_low=False)
    belts = np.array([1805.0, 1860.0])
    # single normal conditions, belt doubt 4.5 mm: (belt - slack - need) / 4.5 below, (high - belt) / 4.5 above
    expected = [norm.cdf((5.0 - 4.0) / 4.5), norm.cdf(0.0)]
    assert chance_it_fits(marks, belts, 4.0, 4.5) == pytest.approx(expected, abs=1e-9)


def test_one_pass_says_of_each_belt_what_it_says_alone(seven_pulleys: Drives) -> None:
    drive = seven_pulleys()
    window, doubts = find_window(drive), doubts_of(drive)
    marks = arm_marks(drive, window, doubts)
    belts = np.random.default_rng(2).uniform(window.low_mm - 40.0, window.high_mm + 40.0, 3000)
    tolerances = np.where(np.arange(3000) % 3 == 0, 2.0, 4.5)
    judged = judge_belts(drive, window, marks, belts, NEED_MM, tolerances)
    for tolerance in (2.0, 4.5):
        of_it = tolerances == tolerance
        alone = chance_it_fits(marks, belts[of_it], NEED_MM, tolerance)
        assert judged.chance_it_fits[of_it] == pytest.approx(alone, abs=1e-4)
    assert judged.slack_at_stop_mm == pytest.approx(belts - window.slack_stop_mm)
    assert judged.difference_mm == pytest.approx(belts - window.middle_mm)
    inside = (belts >= window.low_mm) & (belts <= window.high_mm)
    assert (np.isnan(judged.arm_rad) == ~inside).all()
    used = judged.travel_used[inside]
    assert used.min() >= 0.0
    assert used.max() <= 1.0
    assert (np.diff(used[np.argsort(belts[inside])]) > 0.0).all()
    few = judge_belts(drive, window, marks, belts[:5], NEED_MM, 4.5)
    assert few.chance_it_fits == pytest.approx(chance_it_fits(marks, belts[:5], NEED_MM, 4.5), abs=1e-12)


def test_a_slot_stands_for_the_arm(random_drive: Callable) -> None:
    drive = Drive(random_drive(105, flat=False))
    away = math.atan2(drive.fixed[0].y_mm, drive.fixed[0].x_mm)
    reach = slot_reach(drive, {0: Slot(away, 20.0)})
    assert reach is not None
    slackest, tightest = reach
    assert slackest.length_at_mm() == pytest.approx(find_route(drive.fixed).length_mm)
    assert tightest.length_at_mm() > slackest.length_at_mm() + 10.0
    doubts = replace(doubts_of(drive), arm_length_mm=0.0)
    marks = fixed_marks(slackest, tightest, doubts)
    belts = np.array([slackest.length_at_mm() - 30.0, marks.middle_mm, tightest.length_at_mm() + 30.0])
    judged = judge_belts(drive, None, marks, belts, NEED_MM, 1.0)
    assert np.isnan(judged.arm_rad).all()
    assert judged.chance_it_fits[1] > max(judged.chance_it_fits[0], judged.chance_it_fits[2])
    # Nothing takes up belt: then only going on counts, and a belt too long still goes on.
    assert slot_reach(drive, {0: Slot(away)}) is None
    alone = fixed_marks(drive, None, doubts)
    assert chance_it_fits(alone, belts[2:], NEED_MM, 1.0) == pytest.approx([1.0], abs=1e-3)
