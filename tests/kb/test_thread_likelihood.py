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


# ISO 965-1, grade 6, tables of Td and TD1 in micrometres, from memory: the standard rounds its formulas to preferred numbers.
@pytest.mark.parametrize(
    ("pitch", "outside", "inside"),
    [
        (0.5, 106, 140),
        (0.75, 140, 190),
        (1.0, 180, 236),
        (1.25, 212, 265),
        (1.5, 236, 300),
        (2.0, 280, 375),
        (3.0, 375, 500),
    ],
)
def test_tolerances_of_crests_are_the_standards_rounded(pitch, outside, inside) -> None:
    assert model.made_small_mm(pitch, inside=False) * 1000 == pytest.approx(outside, rel=0.04)
    assert model.made_small_mm(pitch, inside=True) * 1000 == pytest.approx(inside, rel=0.04)


def bell(off: float, doubt: float) -> float:
    return float(stats.norm.pdf(off, scale=doubt) / stats.norm.pdf(0.0, scale=doubt))


def test_each_reading_falls_off_as_a_normal_distribution_to_what_a_slip_leaves() -> None:
    assert model.seat_likelihood(37, 74, 39) == pytest.approx(0.01 + 0.99 * bell(2, model.SEAT_DOUBT_DEG))
    assert model.seat_likelihood(37, 74, 76) == pytest.approx(0.01 + 0.99 * bell(1, model.SEAT_DOUBT_DEG))
    assert model.seat_likelihood(37, None, 76) == model.seat_likelihood(37, 74, 76)
    assert model.seat_likelihood(37, 74, 20) == pytest.approx(0.01)
    assert model.tube_likelihood(12.0, 12.2) == pytest.approx(0.01 + 0.99 * bell(0.2, model.TUBE_DOUBT_MM))
    assert model.tube_likelihood(12.0, 16.0) == pytest.approx(0.01)
    off = math.log(1.55 / 1.5)
    slip = model.GROSS_SLIP
    assert model.pitch_likelihood(1.5, 1.55) == pytest.approx(slip + (1 - slip) * bell(off, model.PITCH_DOUBT))
    doubt = math.hypot(0.005, model.RULER_DOUBT_MM / 20.0)
    assert model.pitch_likelihood(1.5, 1.55, 20.0) == pytest.approx(slip + (1 - slip) * bell(off, doubt))


def test_what_was_not_looked_at_tells_nothing() -> None:
    assert model.seat_likelihood(37, 74, None) == model.tube_likelihood(12.0, None) == 1.0
    assert model.pitch_likelihood(1.5, None) == model.form_likelihood(60.0, None) == 1.0
    assert (
        model.taper_likelihood(True, None)
        == model.taper_likelihood(True, True)
        == model.taper_likelihood(False, False)
        == 1
    )
    assert model.reading_density(PARALLEL, Seen(None, pitch_mm=1.5)) == 1.0


def test_no_cone_no_tube_and_the_other_form_are_unlikely_but_not_impossible() -> None:
    assert model.seat_likelihood(None, None, 0) == 1.0
    for unlikely in (
        model.seat_likelihood(None, None, 37),
        model.seat_likelihood(37, 74, 0),
        model.taper_likelihood(True, False),
    ):
        assert 0.0 < unlikely <= 0.05
    assert model.tube_likelihood(None, 12.0) < model.tube_likelihood(12.0, 12.0)
    for form, seen in ((60.0, 60.0), (60.0, 58.0), (55.0, 57.0)):
        assert model.form_likelihood(form, seen) == 0.9
    for form, seen in ((60.0, 55.0), (60.0, 57.5), (55.0, 60.0)):
        assert model.form_likelihood(form, seen) == pytest.approx(0.1)


def test_a_likelihood_is_the_product_of_all_that_was_seen_by_the_family_that_fits_best() -> None:
    coned = replace(USE, family="coned", seat_half_deg=37.0, tube_outside_mm=12.0, checked=False)
    thread = replace(PARALLEL, uses=(USE, coned))
    seen = Seen(19.9, pitch_mm=1.52, seat_deg=36.0, taper=True, tube_outside_mm=12.1, form_deg=55.0)
    (one,) = model.identify([thread], seen)
    product = (
        model.reading_density(thread, seen)
        * model.pitch_likelihood(1.5, 1.52)
        * model.taper_likelihood(False, True)
        * model.form_likelihood(60.0, 55.0)
    )
    by_family = {
        "coned": product * model.seat_likelihood(37, 74, 36) * model.tube_likelihood(12.0, 12.1) * model.FROM_MEMORY,
        "invented": product * model.seat_likelihood(None, None, 36) * model.tube_likelihood(None, 12.1),
    }
    assert [(use.family, weight) for use, weight in one.uses] == [
        (name, pytest.approx(by_family[name])) for name in ("coned", "invented")
    ]
    assert (one.likelihood, one.fit, one.share) == (pytest.approx(by_family["coned"]), 100.0, 1.0)
    best = model.reading_density(thread, Seen(20.0 - model.WEAR_MM / 2))
    assert one.plausible == pytest.approx(by_family["coned"] / best)


@pytest.mark.parametrize("inside", [False, True])
def test_the_best_reading_is_half_worn_from_the_middle(inside) -> None:
    small, large = model.ends_mm(TAPER, inside)
    half_worn = (small + large) / 2 + (model.WEAR_MM / 2 if inside else -model.WEAR_MM / 2)
    (one,) = model.identify([TAPER], Seen(half_worn, inside, doubt_mm=0.2))
    assert one.plausible == pytest.approx(1.0)
    for off in (-0.3, 0.3):  # off the middle of a spread that is even on both sides it can only fall
        (one,) = model.identify([TAPER], Seen(half_worn + off, inside, doubt_mm=0.2))
        assert one.plausible < 1.0


def candidate(fit: float, plausible: float) -> model.Candidate:
    return model.Candidate(PARALLEL, ((USE, 1.0),), 1.0, fit, 1.0, plausible)


def test_what_is_shown_is_two_in_a_hundred_or_more_of_something_that_can_be() -> None:
    told = (candidate(100.0, model.HARDLY), candidate(2.0, 0.0), candidate(1.9, 1e-9))
    assert model.shown(told) == told[:2]
    assert model.shown(told, fit=1.5) == told
    assert model.shown((candidate(100.0, model.HARDLY * 0.99), candidate(50.0, 0.0))) == ()


def test_threads_by_name_need_nothing_measured_and_none_at_all_gives_none() -> None:
    (one,) = model.identify([PARALLEL], Seen(None), named=True)
    assert (one.fit, one.share, one.plausible) == (100.0, 1.0, 1.0)
    assert model.identify([], Seen(20.0)) == ()
    far = model.identify([PARALLEL, TAPER], Seen(1e6))
    assert [(one.fit, one.share) for one in far] == [(0.0, 0.0)] * 2
    for seen in (
        Seen(None, pitch_mm=0.5),
        Seen(None, tube_outside_mm=0.5),
        Seen(None, seat_deg=0.0),
        Seen(None, seat_deg=179.0),
    ):
        assert len(model.identify([PARALLEL], seen)) == 1
    for wrong in (Seen(None, seat_deg=180.0), Seen(None, seat_deg=-1.0), Seen(None, tube_outside_mm=0.0)):
        with pytest.raises(ThreadError):
            model.identify([PARALLEL], wrong)


def test_of_equals_the_checked_thread_stands_first() -> None:
    # as likely to the last digit: two families from memory, one of which lends its thread a checked one too
    memory = replace(USE, checked=False)
    two = replace(PARALLEL, name="two", uses=(replace(memory, seat_half_deg=37.0), replace(USE, seat_half_deg=10.0)))
    one = replace(PARALLEL, name="one", uses=(replace(memory, seat_half_deg=37.0),))
    told = model.identify([one, two], Seen(20.0, seat_deg=37.0))
    assert [each.thread.name for each in told] == ["two", "one"]
    assert told[0].likelihood == told[1].likelihood
    assert two.checked
    assert not one.checked


def test_sizes_of_tapers_from_their_formulas() -> None:
    # E0 = D - (0.05 D + 1.1) P in inches (ASME B1.20.1): 1/2: 0.840 - 1.142 / 14 = 0.75843; crest 0.8 P over
    assert model.small_end_npt_mm(0.840 * 25.4, 25.4 / 14) / 25.4 == pytest.approx(0.75843 + 0.8 / 14, abs=1e-5)
    assert model.large_end_r_mm(16.0, 1.6) == pytest.approx(16.275)  # 2.75 turns of 1.6 mm at 1:16
    assert PARALLEL.threads_per_inch == pytest.approx(25.4 / 1.5)
