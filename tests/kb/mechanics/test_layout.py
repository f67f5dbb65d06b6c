"""Layouts against closed forms, an independent minimiser, and what must not change."""

from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from kb.mechanics.layout import (
    ImpossibleDistancesError,
    LayoutError,
    Survey,
    Tape,
    TooFewDistancesError,
    fit_layout,
    next_tape,
    order_turning,
)

TOP = Path(__file__).parents[3]
NAMES = ("crank", "pump", "fan", "generator", "idler", "compressor")
CENTRES = np.array([[0, 0], [300, 40], [330, 300], [150, 420], [60, 250], [-150, 200.0]])
NOWHERE = (None,) * 6
PLACES = tuple((float(x), float(y)) for x, y in CENTRES)


def distance(centres: np.ndarray, i: int, j: int) -> float:
    return float(np.hypot(*(centres[i] - centres[j])))


def taped(pairs, off=()) -> tuple[Tape, ...]:
    wrong = dict(off)
    return tuple(Tape(i, j, distance(CENTRES, i, j) + wrong.get((i, j), 0.0)) for i, j in pairs)


def all_pairs(count: int) -> list[tuple[int, int]]:
    return list(combinations(range(count), 2))


def floating(count: int, pairs=None, off=()) -> Survey:
    return Survey(NAMES[:count], NOWHERE[:count], taped(pairs or all_pairs(count), off))


def distances(centres: np.ndarray) -> np.ndarray:
    return np.array([distance(centres, i, j) for i, j in all_pairs(len(centres))])


def test_a_right_triangle_closes_where_pythagoras_says():
    tapes = (Tape(0, 1, 300), Tape(1, 2, 400), Tape(2, 0, 500))
    layout = fit_layout(Survey(NAMES[:3], NOWHERE[:3], tapes))
    assert layout.centres_mm == pytest.approx(np.array([[0, 0], [300, 0], [300, 400]]), abs=1e-9)
    assert layout.redundancy == 0
    assert layout.p_value is None
    assert layout.check.startswith("no check is possible")


def test_exact_distances_give_the_layout_back():
    layout = fit_layout(floating(6))
    assert distances(layout.centres_mm) == pytest.approx(distances(CENTRES), abs=1e-8)
    assert order_turning(layout.centres_mm) == pytest.approx(order_turning(CENTRES))
    assert layout.p_value == pytest.approx(1.0)
    assert layout.disagreement is None
    assert "agree within" in layout.check


def test_the_mirror_image_is_taken_when_told():
    layout = fit_layout(floating(6), turning=lambda centres: -order_turning(centres))
    assert order_turning(layout.centres_mm) == pytest.approx(-order_turning(CENTRES))
    assert layout.mirror_assumed


def test_an_independent_minimiser_finds_the_same_sum_of_squares():
    # scipy's Nelder-Mead and BFGS on a plain sum of squares: no derivatives, starts or gauge of ours
    chance = np.random.default_rng(5)
    tapes = tuple(replace(t, distance_mm=t.distance_mm + chance.normal(0, 1.5)) for t in taped(all_pairs(5)))
    layout = fit_layout(Survey(NAMES[:5], PLACES[:2] + NOWHERE[:3], tapes))

    def squares(flat: np.ndarray) -> float:
        centres = flat.reshape(-1, 2)
        misses = [(distance(centres, t.first, t.second) - t.distance_mm) / t.doubt_mm for t in tapes]
        misses += list((centres[:2] - CENTRES[:2]).ravel())
        return sum(miss**2 for miss in misses)

    found = minimize(squares, CENTRES[:5].ravel(), method="BFGS", options={"gtol": 1e-7})
    assert layout.chi_square == pytest.approx(found.fun, rel=1e-7)
    assert layout.centres_mm.ravel() == pytest.approx(found.x, abs=1e-4)
    # BFGS keeps no exact second derivatives: take them by finite differences of the same plain sum
    flat, step = layout.centres_mm.ravel(), 0.05
    unit = step * np.eye(10)
    hessian = np.array(
        [
            [
                (squares(flat + a + b) - squares(flat + a - b) - squares(flat - a + b) + squares(flat - a - b))
                / (4 * step**2)
                for b in unit
            ]
            for a in unit
        ]
    )
    # half the second derivatives are the normal equations up to residual / distance, a per cent here
    assert np.linalg.inv(hessian / 2) == pytest.approx(layout.covariance_mm2, rel=0.05, abs=0.05)


def test_the_covariance_is_what_repeated_taping_scatters():
    chance = np.random.default_rng(11)
    survey = floating(5)
    truth = fit_layout(survey)
    scatter = []
    for _ in range(120):
        tapes = tuple(replace(t, distance_mm=t.distance_mm + chance.normal(0, t.doubt_mm)) for t in survey.tapes)
        scatter.append(distances(fit_layout(replace(survey, tapes=tapes)).centres_mm))
    rows = []
    for i, j in all_pairs(5):
        row = np.zeros(10)
        ahead = (truth.centres_mm[j] - truth.centres_mm[i]) / distance(truth.centres_mm, i, j)
        row[2 * j : 2 * j + 2], row[2 * i : 2 * i + 2] = ahead, -ahead
        rows.append(row)
    stated = np.sqrt(np.diag(np.array(rows) @ truth.covariance_mm2 @ np.array(rows).T))
    # 120 draws know a standard deviation to 1 / sqrt(240) = 6.5 %: four of those for the worst of ten
    assert np.std(scatter, axis=0) == pytest.approx(stated, rel=0.26)


def test_coordinates_alone_come_back_with_their_own_doubt():
    layout = fit_layout(Survey(NAMES, PLACES))
    assert layout.centres_mm == pytest.approx(CENTRES)
    assert layout.covariance_mm2 == pytest.approx(np.eye(12))
    assert layout.oriented
    assert layout.p_value is None


def test_coordinates_alone_do_not_wait_for_scipy():
    code = (
        "import sys; from kb.mechanics.layout import Survey, fit_layout;"
        "fit_layout(Survey(('crank', 'fan'), ((0, 0), (9, 9)))); print('scipy' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=TOP)
    assert said.stdout.strip() == "False"


def test_a_distance_taped_twice_counts_twice():
    # the mean of two equal measurements: variance halved
    survey = Survey(("crank", "fan"), (None, None), (Tape(0, 1, 400.0), Tape(0, 1, 402.0)))
    layout = fit_layout(survey)
    along = np.array([-1.0, 0.0, 1.0, 0.0])
    assert distance(layout.centres_mm, 0, 1) == pytest.approx(401.0)
    assert along @ layout.covariance_mm2 @ along == pytest.approx(1.5**2 / 2)


def test_the_driver_stands_at_its_place_and_the_next_pulley_to_its_right():
    survey = replace(floating(4), places=(None, (50.0, 70.0), None, None), driver=1)
    layout = fit_layout(survey)
    assert layout.centres_mm[1] == pytest.approx([50, 70])
    assert layout.centres_mm[2, 1] == pytest.approx(70)
    assert layout.centres_mm[2, 0] > 50
    assert not layout.oriented


def test_places_and_tapes_together():
    pairs = [(0, 3), (1, 3), (2, 3), (3, 4), (0, 4), (3, 5), (0, 5), (4, 5)]
    layout = fit_layout(Survey(NAMES, PLACES[:3] + NOWHERE[:3], taped(pairs)))
    assert layout.centres_mm == pytest.approx(CENTRES, abs=1e-6)
    assert layout.doubts_mm[0] == pytest.approx([1, 1], abs=0.25)
    assert not layout.mirror_assumed


def test_a_pulley_on_two_tapes_may_sit_on_either_side():
    pairs = [*all_pairs(3), (0, 3), (1, 3)]
    layout = fit_layout(floating(4, pairs))
    assert len(layout.alternatives) == 1
    assert layout.tells_apart == ("fan", "generator")
    settled = fit_layout(floating(4, [*pairs, (2, 3)]))
    assert settled.alternatives == ()


def test_an_impossible_side_is_dropped_by_the_belt_order():
    pairs = [*all_pairs(3), (0, 3), (1, 3)]

    def turning(centres: np.ndarray) -> float:
        return order_turning(centres) if distance(centres, 2, 3) < 300 else math.nan

    layout = fit_layout(floating(4, pairs), turning)
    assert layout.alternatives == ()
    assert distance(layout.centres_mm, 2, 3) == pytest.approx(distance(CENTRES, 2, 3))


def test_two_places_leave_the_mirror_image_to_the_belt_order():
    survey = Survey(NAMES[:4], PLACES[:2] + NOWHERE[:2], taped([(0, 2), (1, 2), (0, 3), (1, 3), (2, 3)]))
    assert fit_layout(survey).centres_mm == pytest.approx(CENTRES[:4], abs=1e-6)
    other = fit_layout(survey, turning=lambda centres: -order_turning(centres))
    assert order_turning(other.centres_mm) < 0
    assert distances(other.centres_mm) == pytest.approx(distances(CENTRES[:4]), abs=1e-6)
    assert other.mirror_assumed


def test_pulleys_in_line_say_that_they_are_hardly_held():
    tapes = (Tape(0, 1, 100.0), Tape(1, 2, 200.0), Tape(0, 2, 300.0))
    layout = fit_layout(Survey(NAMES[:3], NOWHERE[:3], tapes))
    assert "pump" in layout.hardly_held
    assert np.isfinite(layout.covariance_mm2).all()


def test_too_few_distances_name_the_loose_pulley_and_what_to_tape():
    with pytest.raises(TooFewDistancesError, match=r"generator is not held .* tape (pump|fan) to generator") as error:
        fit_layout(floating(4, [*all_pairs(3), (0, 3)]))
    assert error.value.loose == ("generator",)
    assert len(error.value.to_tape) == 1


def test_taping_what_was_asked_for_holds_it():
    survey = floating(6, [(0, 1), (1, 2), (2, 3), (3, 4), (4, 5)])
    with pytest.raises(TooFewDistancesError) as error:
        fit_layout(survey)
    asked = [(NAMES.index(one), NAMES.index(other)) for one, other in error.value.to_tape]
    assert len(survey.tapes) + len(asked) == 2 * 6 - 3  # Laman's count
    assert fit_layout(replace(survey, tapes=survey.tapes + taped(asked))).redundancy == 0


def test_one_wrong_of_six_is_named_with_how_much():
    layout = fit_layout(floating(6, off={(1, 4): 15.0}.items()))
    named = layout.disagreement.named
    assert named.names == ("pump", "idler")
    assert len(layout.disagreement.suspects) == 1
    assert named.off_mm == pytest.approx((15.0,), abs=1e-6)
    assert distances(named.layout.centres_mm) == pytest.approx(distances(CENTRES), abs=1e-6)


def test_one_wrong_of_five_leaves_two_and_of_four_none():
    five = fit_layout(floating(5, off={(1, 3): 20.0}.items())).disagreement
    assert five.named is None
    assert ("pump", "generator") in [suspect.names for suspect in five.suspects[:2]]
    four = fit_layout(floating(4, off={(1, 3): 30.0}.items())).disagreement
    assert four.named is None
    assert four.suspects == ()
    assert fit_layout(floating(4, off={(1, 3): 30.0}.items())).check == "the measurements disagree"


def test_a_gross_slip_does_not_hide_itself():
    # 14 3/8 in read as 14 3/8 ft: the fit is folded, and refitting without it starts afresh
    slip = distance(CENTRES, 0, 2) * 11
    layout = fit_layout(floating(6, off={(0, 2): slip}.items()))
    assert layout.disagreement.named.names == ("crank", "fan")
    assert layout.disagreement.named.off_mm == pytest.approx((slip,), abs=1e-4)
    assert any("crank to fan" in text for text in layout.disagreement.impossible)


def test_a_wrong_place_is_blamed_as_a_place():
    survey = Survey(NAMES, (*PLACES[:2], (345.0, 320.0), *PLACES[3:]), taped([(0, 2), (1, 2), (2, 3), (2, 5), (0, 3)]))
    named = fit_layout(survey).disagreement.named
    assert (named.kind, named.names) == ("place", ("fan",))
    assert named.off_mm == pytest.approx((15.0, 20.0), abs=1e-6)


def test_a_triangle_that_cannot_close_is_named():
    tapes = (Tape(0, 1, 100.0), Tape(1, 2, 200.0), Tape(0, 2, 310.0))
    with pytest.raises(ImpossibleDistancesError, match=r"crank to fan .* 10\.0 mm longer than the way round by pump"):
        fit_layout(Survey(NAMES[:3], NOWHERE[:3], tapes))


def test_the_next_tape_lowers_the_doubt_by_as_much_as_it_said():
    pairs = [(0, 1), (1, 2), (0, 2), (2, 3), (1, 3), (3, 4), (0, 4), (0, 5), (4, 5)]
    survey = floating(6, pairs)
    names, before, after = next_tape(survey, fit_layout(survey))
    best = {}
    for pair in set(all_pairs(6)) - set(pairs):
        more = floating(6, [*pairs, pair])
        best[pair] = next_tape(more, fit_layout(more))[1]
    assert after == pytest.approx(min(best.values()), rel=1e-6)
    assert best[NAMES.index(names[0]), NAMES.index(names[1])] == pytest.approx(after, rel=1e-6)
    assert after < before
    assert next_tape(floating(6), fit_layout(floating(6))) is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"names": ("crank", "crank", *NAMES[2:])}, "a name of its own"),
        ({"driver": 9}, "the driver"),
        ({"tapes": (Tape(0, 0, 10.0),)}, "two different pulleys"),
        ({"tapes": (Tape(0, 1, -5.0),)}, "crank to pump must be more than nothing, not -5"),
        ({"tapes": (Tape(0, 1, math.nan),)}, "crank to pump"),
        ({"tapes": (Tape(0, 1, 5.0, 0.0),)}, "the doubt of the distance"),
        ({"places": ((math.inf, 0.0), *PLACES[1:])}, "place of crank"),
        ({"place_doubt": 0.0}, "doubt of the places"),
    ],
)
def test_what_is_no_measurement_is_refused(change, said):
    with pytest.raises(LayoutError, match=said):
        fit_layout(replace(Survey(NAMES, PLACES), **change))


@settings(max_examples=25, deadline=None)
@given(st.floats(-math.pi, math.pi), st.floats(-500, 500), st.floats(-500, 500), st.integers(0, 2**32 - 1))
def test_moving_the_whole_drawing_changes_nothing_else(angle, right, up, seed):
    chance = np.random.default_rng(seed)
    given_centres = CENTRES + chance.normal(0, 1, CENTRES.shape)
    tapes = tuple(replace(t, distance_mm=t.distance_mm + chance.normal(0, 1.5)) for t in taped(all_pairs(6)[::2]))
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    moved = given_centres @ turn.T + (right, up)
    here = fit_layout(Survey(NAMES, tuple(map(tuple, given_centres)), tapes))
    there = fit_layout(Survey(NAMES, tuple(map(tuple, moved)), tapes))
    assert there.centres_mm == pytest.approx(here.centres_mm @ turn.T + (right, up), abs=1e-5)
    assert there.chi_square == pytest.approx(here.chi_square, abs=1e-7)
    spread = np.kron(np.eye(6), turn)
    assert there.covariance_mm2 == pytest.approx(spread @ here.covariance_mm2 @ spread.T, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.permutations(range(6)), st.floats(0.2, 5.0), st.integers(0, 2**32 - 1))
def test_neither_order_nor_size_changes_the_shape(order, scale, seed):
    chance = np.random.default_rng(seed)
    tapes = tuple(replace(t, distance_mm=t.distance_mm + chance.normal(0, 1.5)) for t in taped(all_pairs(6)))
    here = fit_layout(Survey(NAMES, NOWHERE, tapes))
    again = [
        Tape(order.index(t.first), order.index(t.second), t.distance_mm * scale, t.doubt_mm * scale) for t in tapes
    ]
    there = fit_layout(Survey(tuple(NAMES[k] for k in order), NOWHERE, tuple(again)))
    back = there.centres_mm[[order.index(k) for k in range(6)]]
    assert distances(back) == pytest.approx(scale * distances(here.centres_mm), rel=1e-7)
    assert there.chi_square == pytest.approx(here.chi_square, abs=1e-6)
