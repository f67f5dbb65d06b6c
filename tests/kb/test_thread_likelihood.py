"""The likelihood of a reading against numerical integration and drawn samples, and what cannot be."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from kb.mechanics import threads as model
from kb.mechanics.threads import Seen, Thread, ThreadError, Use
from kb.reference.threads import thread_candidates

USE = Use("invented", "parallel", "", "x", None, "nothing", None, "none", "", True)
PARALLEL = Thread("invented parallel", 60.0, 20.0, 1.5, False, 20.0, 20.0, 18.376, 18.376, 0.032, (USE,))
TAPER = Thread("invented taper", 60.0, 21.0, 1.5, True, 20.4, 21.0, 18.2, 18.8, 0.0, (USE,))


@pytest.mark.parametrize("thread", [PARALLEL, TAPER], ids=["parallel", "taper"])
@pytest.mark.parametrize("inside", [False, True])
def test_a_density_sums_to_one(thread, inside) -> None:
    small, large = model.ends_mm(thread, inside)
    total, _ = integrate.quad(
        lambda x: model.reading_density(thread, Seen(x, inside)), small - 2, large + 2, points=[small, large], limit=200
    )
    assert total == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("inside", [False, True])
@pytest.mark.parametrize("off", [-0.3, -0.1, 0.0, 0.1, 0.4, 0.7])
def test_a_tapers_density_is_the_integral_over_wear_and_place(inside, off) -> None:
    # Independent: scipy's double integral of the normal density over wear and the place of the caliper.
    small, large = model.ends_mm(TAPER, inside)
    reading = small + off
    sign = 1 if inside else -1

    def density(wear: float, place: float) -> float:
        return float(stats.norm.pdf(reading, place + sign * wear, 0.08)) / model.WEAR_MM / (large - small)

    expected, _ = integrate.dblquad(density, small, large, 0.0, model.WEAR_MM)
    assert model.reading_density(TAPER, Seen(reading, inside)) == pytest.approx(expected, rel=1e-5, abs=1e-12)


@pytest.mark.parametrize("inside", [False, True])
def test_a_parallel_threads_density_is_what_samples_show(inside) -> None:
    chance = random.Random(3)
    sign = 1 if inside else -1
    made = model.made_small_mm(1.5, inside) + (0.0 if inside else PARALLEL.allowance_mm)
    edges = [sign * (0.1 * step - 0.1) for step in range(6)]
    nominal = model.ends_mm(PARALLEL, inside)[0]
    drawn = []
    for _ in range(40_000):
        small = chance.uniform(0.0, made) if chance.random() > model.MADE_TO_SIZE_SHARE else 0.0
        drawn.append(sign * (chance.uniform(0.0, model.WEAR_MM) + small) + chance.gauss(0, 0.08))
    for low, high in pairwise(edges):
        low, high = sorted((low, high))
        share = sum(low <= value < high for value in drawn) / len(drawn)
        expected, _ = integrate.quad(lambda x: model.reading_density(PARALLEL, Seen(nominal + x, inside)), low, high)
        assert share == pytest.approx(expected, abs=0.012)


@given(st.sampled_from(thread_candidates()), st.booleans(), st.floats(-1.0, 1.0))
def test_no_thread_is_more_plausible_than_its_best_reading(thread, inside, off) -> None:
    seen = Seen(model.ends_mm(thread, inside)[1] + off, inside)
    for one in model.identify([thread], seen):
        assert 0.0 <= one.plausible <= 1.0


@given(st.floats(5.0, 65.0), st.booleans(), st.sampled_from([None, 1.5, 25.4 / 14, 25.4 / 11]))
def test_fits_and_shares_fall_and_add_up(diameter, inside, pitch) -> None:
    told = model.identify(thread_candidates(), Seen(diameter, inside, pitch))
    if told[0].likelihood == 0:
        assert model.shown(told) == ()
        return
    assert told[0].fit == 100.0
    assert [one.fit for one in told] == sorted((one.fit for one in told), reverse=True)
    assert sum(one.share for one in told) == pytest.approx(1.0)


def test_a_thread_from_memory_never_comes_before_its_checked_equal() -> None:
    memory = replace(PARALLEL, name="from memory", uses=(replace(USE, checked=False),))
    for diameter in (19.5, 19.9, 20.0):
        told = model.identify([memory, PARALLEL], Seen(diameter))
        assert told[0].thread is PARALLEL
        assert told[1].fit == pytest.approx(90.0)


def test_a_seat_that_was_seen_puts_its_family_first_and_no_cone_the_others() -> None:
    coned, flat = replace(USE, family="coned", seat_half_deg=37.0), replace(USE, family="flat")
    thread = replace(PARALLEL, uses=(flat, coned))
    for seat, family in ((37, "coned"), (74, "coned"), (36, "coned"), (0, "flat")):
        assert model.identify([thread], Seen(19.95, seat_deg=seat))[0].uses[0][0].family == family


def test_a_tube_that_was_measured_tells_light_from_heavy() -> None:
    best = model.identify(thread_candidates(), Seen(21.95, pitch_mm=1.5, seat_deg=24, tube_outside_mm=14.05))[0]
    assert (best.thread.name, best.uses[0][0].dash) == ("M22x1.5", "14S")
    best = model.identify(thread_candidates(), Seen(21.95, pitch_mm=1.5, seat_deg=24, tube_outside_mm=15.0))[0]
    assert best.uses[0][0].dash == "15L"


def test_pitch_by_gauge_by_inch_and_by_counting() -> None:
    assert model.pitch_counted(14, 25.4) == pytest.approx(model.pitch_from_threads_per_inch(14))
    # Counted over a short length a neighbour stays likely, over a long one it does not.
    right, wrong = 25.4 / 14, 25.4 / 16
    short = model.pitch_likelihood(wrong, right, counted_over_mm=5.0)
    long = model.pitch_likelihood(wrong, right, counted_over_mm=25.4)
    assert short > 0.3 > 0.001 > long
    assert model.pitch_likelihood(25.4 / 18, 25.4 / 19) > 0.0
    assert model.pitch_likelihood(25.4 / 18, 25.4 / 8) == pytest.approx(model.GROSS_SLIP)


def test_nothing_near_is_said_as_nothing() -> None:
    assert model.shown(model.identify(thread_candidates(), Seen(24.6, pitch_mm=1.0))) == ()
    assert model.shown(model.identify(thread_candidates(), Seen(150.0))) == ()
    assert model.shown(()) == ()


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: model.identify(thread_candidates(), Seen(None)), "nothing was measured"),
        (lambda: model.identify(thread_candidates(), Seen(0.0)), "diameter"),
        (lambda: model.identify(thread_candidates(), Seen(math.nan)), "diameter"),
        (lambda: model.identify(thread_candidates(), Seen(20.0, pitch_mm=-1.0)), "pitch"),
        (lambda: model.identify(thread_candidates(), Seen(20.0, seat_deg=190.0)), "seat"),
        (lambda: model.identify(thread_candidates(), Seen(20.0, doubt_mm=0.0)), "doubt"),
        (lambda: model.identify(thread_candidates(), Seen(20.0, pitch_mm=1.5, counted_over_mm=0.0)), "length"),
        (lambda: model.pitch_from_threads_per_inch(0), "per inch"),
        (lambda: model.pitch_counted(0, 10.0), "count"),
    ],
)
def test_what_cannot_be_is_refused_in_words(ask, says) -> None:
    with pytest.raises(ThreadError, match=says):
        ask()
