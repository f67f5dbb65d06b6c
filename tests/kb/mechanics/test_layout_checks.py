"""Rigidity against Laman's theorem, and the search for wrong measurements on random drives."""

from __future__ import annotations

import importlib.util
import sys
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from kb.mechanics.layout_checks import (
    BLAME_WEIGHT,
    Blame,
    best_next_tape,
    blames,
    full_covariance,
    impossible_distances,
    measurements,
    redundancy_numbers,
    rigidity,
    suspects,
    unchecked,
    without,
)
from kb.mechanics.layout_fit import Fit, ScaleReading, Survey, Tape

BENCH = Path(__file__).parents[2] / "bench" / "bench_layout.py"


@pytest.fixture(scope="module")
def bench():
    spec = importlib.util.spec_from_file_location("bench_layout", BENCH)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def survey(count: int, pairs, places=None) -> Survey:
    names = tuple(f"p{k}" for k in range(count))
    return Survey(names, places or (None,) * count, tuple(Tape(i, j, 100.0) for i, j in pairs))


def laman(count: int, pairs) -> bool:
    """Laman (1970): rigid in the plane if and only if some 2n - 3 rods have, of any k points, at most 2k - 3."""
    for chosen in combinations(pairs, 2 * count - 3):
        if all(
            sum(set(pair) <= set(points) for pair in chosen) <= 2 * size - 3
            for size in range(2, count + 1)
            for points in combinations(range(count), size)
        ):
            return True
    return False


@pytest.mark.parametrize("seed", range(12))
def test_rigidity_is_lamans(seed):
    chance = np.random.default_rng(seed)
    count = int(chance.integers(3, 6))
    pairs = [pair for pair in combinations(range(count), 2) if chance.random() < 0.75]
    assert (rigidity(survey(count, pairs)).missing == 0) == laman(count, pairs)


def test_a_framework_that_no_triangle_builds_up_is_held():
    # three and three, each taped to each of the others: rigid in the plane though it holds no triangle (Laman)
    assert rigidity(survey(6, [(i, j) for i in range(3) for j in range(3, 6)])).missing == 0


def test_enough_distances_in_the_wrong_places_hold_nothing():
    # 9 = 2 * 6 - 3 distances, six of them among four pulleys: one too many there, one too few elsewhere
    pairs = [*combinations(range(4), 2), (0, 4), (1, 4), (0, 5)]
    answer = rigidity(survey(6, pairs))
    assert answer.missing == 1
    assert answer.body == (0, 1, 2, 3, 4)
    assert answer.loose == (5,)


def test_two_bodies_on_one_hinge_name_the_smaller_loose():
    pairs = [*combinations(range(4), 2), (3, 4), (4, 5), (3, 5)]
    answer = rigidity(survey(6, pairs))
    assert answer.missing == 1
    assert answer.loose == (4, 5)
    (asked,) = answer.to_tape
    assert {4, 5} & set(asked)
    assert set(asked) - {4, 5}


def test_places_hold_each_other():
    places = ((0.0, 0.0), (300.0, 0.0), None)
    assert rigidity(survey(3, [(0, 2)], places)).loose == (2,)
    assert rigidity(survey(3, [(0, 2), (1, 2)], places)).missing == 0


def test_a_photo_without_a_scale_is_loose_as_a_whole():
    places = ((0.0, 0.0), (300.0, 0.0), (0.0, 200.0))
    bare = Survey(("a", "b", "c"), places, (), scaled=True)
    assert rigidity(bare).missing == 1
    assert rigidity(Survey(("a", "b", "c"), places, (), 1.0, True, (ScaleReading(100, 50),))).missing == 0


def test_a_way_round_by_two_pulleys_is_seen():
    tapes = (Tape(0, 1, 100.0), Tape(1, 2, 100.0), Tape(2, 3, 100.0), Tape(0, 3, 320.0))
    (found,) = impossible_distances(Survey(("a", "b", "c", "d"), (None,) * 4, tapes))
    assert found.way_round == (1, 2)
    assert found.too_long_mm == pytest.approx(20.0)


def test_within_the_doubts_a_straight_line_is_possible():
    tapes = (Tape(0, 1, 100.0), Tape(1, 2, 100.0), Tape(0, 2, 203.0))
    assert impossible_distances(Survey(("a", "b", "c"), (None,) * 3, tapes)) == []


# Five pulleys at places of our own, and the whole of least squares by numpy: weighted slopes of every distance and place.
WHERE = np.array([[0, 0], [310, 40], [330, 300], [60, 330], [170, 180.0]])


def taped(pairs, places=(), *, doubts=1.5, off=None) -> Survey:
    off = off or {}
    return Survey(
        tuple("abcde"),
        tuple(tuple(WHERE[k]) if k in places else None for k in range(5)),
        tuple(Tape(i, j, float(np.hypot(*(WHERE[i] - WHERE[j]))) + off.get((i, j), 0.0), doubts) for i, j in pairs),
        2.0,
    )


def exact(survey: Survey) -> Fit:
    return Fit(WHERE.ravel().copy(), 0.0, 0.0)


def slopes(survey: Survey) -> np.ndarray:
    """d(fitted / doubt) by central differences, a step of a thousandth: knows no formula of ours."""

    def values(flat: np.ndarray) -> np.ndarray:
        at = flat.reshape(-1, 2)
        lengths = [np.hypot(*(at[tape.first] - at[tape.second])) / tape.doubt_mm for tape in survey.tapes]
        fixed = [] if survey.floating else [x / survey.place_doubt for k in survey.placed for x in at[k]]
        return np.array([*lengths, *fixed])

    base, step = WHERE.ravel(), 1e-3
    columns = [(values(base + step * unit) - values(base - step * unit)) / (2 * step) for unit in np.eye(base.size)]
    return np.array(columns).T


EVERY = list(combinations(range(5), 2))


@pytest.mark.parametrize("places", [(), (0, 1, 2, 3, 4), (0, 2)])
@pytest.mark.parametrize("pairs", [EVERY, EVERY[:8], EVERY[1:9]])
def test_covariance_and_redundancy_are_least_squares_by_numpy(pairs, places):
    given = taped(pairs, places)
    design = slopes(given)
    pseudo = np.linalg.pinv(design.T @ design, rcond=1e-9)  # inner constraints: the inverse of least norm
    found = full_covariance(given, exact(given))
    assert found == pytest.approx(pseudo, rel=1e-4, abs=1e-5)
    shares = redundancy_numbers(given, exact(given))
    assert shares == pytest.approx(1 - np.diag(design @ pseudo @ design.T), abs=1e-4)
    beyond = len(design) - np.linalg.matrix_rank(design, tol=1e-5)
    assert shares.sum() == pytest.approx(beyond, abs=1e-3)  # redundancy numbers add up to the redundancy
    told = unchecked(given, exact(given))
    assert told == [(kind, at) for kind, at, lines in measurements(given) if min(shares[k] for k in lines) < 0.01]


def test_each_measurement_with_its_own_equations():
    given = taped(EVERY[:2], (0, 3))
    assert measurements(given) == [("tape", 0, [0]), ("tape", 1, [1]), ("place", 0, [2, 3]), ("place", 3, [4, 5])]
    assert measurements(taped(EVERY[:2], (0,))) == [("tape", 0, [0]), ("tape", 1, [1])]
    photo = Survey(("a", "b"), ((0.0, 0.0), (1.0, 0.0)), (Tape(0, 1, 1.0),), 1.0, True, (ScaleReading(1.0, 1.0),) * 2)
    assert measurements(photo)[-2:] == [("scale", 0, [5]), ("scale", 1, [6])]


@pytest.mark.parametrize("pairs", [EVERY[:7], EVERY[2:9]])
@pytest.mark.parametrize("of_one", [False, True])
def test_the_next_tape_is_the_one_that_settles_most_of_all_that_could_be_taped(pairs, of_one):
    # peer: add each untaped distance to the design and invert again
    given = taped(pairs)
    lengths = slopes(taped(EVERY, doubts=1.0))
    wanted = lengths[:1] if of_one else lengths

    def doubt(asked: Survey) -> float:
        design = slopes(asked)
        pseudo = np.linalg.pinv(design.T @ design, rcond=1e-9)
        return float(np.sqrt(np.einsum("ij,jk,ik->i", wanted, pseudo, wanted).mean()))

    then = {pair: doubt(taped([*pairs, pair])) for pair in EVERY if pair not in pairs}
    pair, now, after = best_next_tape(given, exact(given), gradient=wanted[0] if of_one else None)
    assert now == pytest.approx(doubt(given), rel=1e-3)
    assert after == pytest.approx(min(then.values()), rel=1e-3)
    assert then[pair] == pytest.approx(min(then.values()), rel=1e-3)
    assert best_next_tape(taped(EVERY), exact(given)) is None


def test_blame_is_weighed_by_what_remains_and_says_how_far_off():
    wrong = taped(EVERY, off={(1, 3): 12.0})
    ranked = blames(wrong, exact(wrong))
    first = ranked[0]
    assert (first.kind, EVERY[first.index]) == ("tape", (1, 3))
    assert first.off_mm == pytest.approx((12.0,), abs=1e-6)
    # its own doubt and that of the distance the nine others give, by numpy
    rest = slopes(taped([pair for pair in EVERY if pair != (1, 3)]))
    row = slopes(taped([(1, 3)], doubts=1.0))[0]
    variance = row @ np.linalg.pinv(rest.T @ rest, rcond=1e-9) @ row
    assert first.doubt_mm == pytest.approx((1.5**2 + variance) ** 0.5, rel=1e-4)
    likely = np.exp([-one.chi_square / 2 for one in ranked])
    assert [one.weight for one in ranked] == pytest.approx(likely / likely.sum())
    assert [one.weight for one in ranked] == sorted((one.weight for one in ranked), reverse=True)


def blamed(*weights: float) -> list[Blame]:
    fit = Fit(np.zeros(0), 0.0, 0.0)
    return [Blame("tape", at, 0.0, 1, (0.0,), 1.0, fit, weight) for at, weight in enumerate(weights)]


@pytest.mark.parametrize(
    ("weights", "redundancy", "named"),
    [
        ((0.96, 0.02, 0.02), 4, 1),
        ((BLAME_WEIGHT, 0.03, 0.02), 4, 1),
        ((0.9, 0.06, 0.04), 4, 2),
        ((0.96, 0.02, 0.02), 3, 2),
        ((0.96, 0.02, 0.02), 2, 2),
        ((0.96, 0.02, 0.02), 1, 0),
        ((0.4, 0.3, 0.3), 4, 0),  # all of them is none
    ],
)
def test_as_many_are_suspected_as_the_data_can_carry(weights, redundancy, named):
    assert len(suspects(blamed(*weights), redundancy)) == named


def test_just_three_doubts_too_long_is_still_possible():
    # 3-4-5: doubts of 3 and 4 together are 5, and three of them 15
    for far, found in ((215.0, False), (215.5, True)):
        tapes = (Tape(0, 1, 100.0, 3.0), Tape(1, 2, 100.0, 4.0), Tape(0, 2, far, 0.0))
        told = impossible_distances(Survey(("a", "b", "c"), (None,) * 3, tapes))
        assert bool(told) is found
    assert (told[0].tape, told[0].way_round, told[0].too_long_mm) == (2, (1,), 15.5)


def test_leaving_out():
    whole = Survey(("a", "b"), ((0.0, 0.0), (1.0, 0.0)), (Tape(0, 1, 1.0),), 1.0, True, (ScaleReading(1.0, 1.0),))
    assert without(whole, "tape", 0).tapes == ()
    assert without(whole, "place", 1).places == ((0.0, 0.0), None)
    assert without(whole, "scale", 0).scale_readings == ()
    assert suspects([], 5) == ()


def test_belt_lengths_lie_within_the_stated_doubt(bench):
    # 60 of the benchmark's 500: a normal law's 95.4 % is 57.3 +- 1.6 of 60, here four standard deviations of it
    assert 0.85 <= bench.share_within_two_doubts(60, seed=3) <= 1.0


def test_belt_lengths_are_not_hedged(bench):
    # doubts that were twice too large would pass the test above: the errors' own spread must be about one doubt
    chance = np.random.default_rng(4)
    errors = []
    for k in range(90):
        drive = bench.random_drive(chance, 3 + k % 6)
        errors.append(bench.length_error_in_doubts(drive, bench.fit_layout(bench.taped(chance, drive)[0])))
    assert np.std(errors) == pytest.approx(1.0, abs=0.3)  # four times 1 / sqrt(180)
    assert np.mean(errors) == pytest.approx(0.0, abs=0.42)  # four times 1 / sqrt(90)


@pytest.mark.parametrize("count", [6, 7])
def test_a_distance_15_mm_off_is_named_from_six_pulleys_on(bench, count):
    found = bench.wrong_distance_found(40, count, seed=count)
    assert found.named_right >= 34  # 90 % of 40, less two standard deviations


def test_five_pulleys_leave_two_and_four_none(bench):
    five = bench.wrong_distance_found(40, 5, seed=50)
    assert five.among_first_two >= 0.9 * five.reported
    assert five.reported >= 32
    assert five.named_right == five.named_wrong == 0
    four = bench.wrong_distance_found(40, 4, seed=40)
    assert four.reported >= 20
    assert four.suspects == 0


def test_good_tapes_are_rarely_doubted(bench):
    chance = np.random.default_rng(8)
    doubted = sum(
        bench.fit_layout(bench.taped(chance, bench.random_drive(chance, 6))[0]).disagreement is not None
        for _ in range(60)
    )
    assert doubted <= 4  # one in a hundred is the stated rate; five of 60 has a chance of 1 in 2,000
