"""Belt lengths: round trips, what the doubts promise against drawn samples, and designations."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics import belt_lengths as bl
from kb.mechanics.grooves import GrooveError, belt_width_mm, effective_diameter_over_balls_mm, ribs_from_width

LENGTHS = st.floats(300.0, 5000.0)


@given(LENGTHS, st.floats(0.5, 6.0))
def test_outside_and_pitch_lengths_come_back(length, over) -> None:
    assert bl.effective_from_outside(bl.outside_from_effective(length, over), over) == pytest.approx(length)
    assert bl.effective_from_pitch(bl.pitch_from_effective(length, over), over) == pytest.approx(length)


@given(st.floats(100.0, 400.0), st.floats(60.0, 120.0), st.floats(0.5, 4.0))
def test_a_string_round_two_grooved_pulleys_is_that_much_longer(centres, radius, thickness) -> None:
    # Two equal pulleys: belt 2E + 2 pi r along its effective line; the string's middle runs at r + t/2 (plane geometry).
    belt = 2 * centres + 2 * math.pi * radius
    string = 2 * centres + 2 * math.pi * (radius + thickness / 2)
    assert bl.effective_length(string, "string", thickness, flat_wrap_rad=0.0) == pytest.approx(belt)


@given(st.floats(0.1, 6.0), st.floats(0.5, 4.0), st.floats(1.5, 4.0))
def test_a_string_over_flat_pulleys_changes_with_the_radii_it_runs_on(flat, thickness, over) -> None:
    # A route's length changes by wrap times the change of running radius, whichever side the pulley is on.
    string = 1854.0
    grooved = 2 * math.pi + flat
    from_string_to_belt = -grooved * thickness / 2 + flat * (over - thickness / 2)
    got = bl.effective_length(string, "string", thickness, flat_wrap_rad=flat, belt_over_rim_mm=over)
    assert got == pytest.approx(string + from_string_to_belt)


def test_the_doubt_of_a_tape_is_what_samples_show() -> None:
    chance = random.Random(5)
    drawn = [
        bl.effective_from_outside(
            1900.0 + chance.gauss(0, bl.TAPE_DOUBT_MM),
            bl.BELT_OVER_RIM_MM + chance.gauss(0, bl.BELT_OVER_RIM_DOUBT_MM),
        )
        for _ in range(20_000)
    ]
    assert bl.doubt_mm("outside") == pytest.approx(statistics.stdev(drawn), rel=0.03)


@pytest.mark.parametrize("thickness", [0.5, 1.0, 2.0, 3.0])
def test_the_doubt_of_a_string_with_unknown_flat_wraps_is_what_samples_show(thickness) -> None:
    chance = random.Random(6)
    told = bl.effective_length(1860.0, "string", thickness)
    off = []
    for _ in range(20_000):
        flat = chance.uniform(0.0, bl.FLAT_WRAP_MAX_RAD)
        over = bl.BELT_OVER_RIM_MM + chance.gauss(0, bl.BELT_OVER_RIM_DOUBT_MM)
        read = 1860.0 + chance.gauss(0, bl.STRING_DOUBT_MM)
        off.append(bl.effective_from_string(read, thickness, flat, over) - told)
    assert bl.doubt_mm("string", thickness) == pytest.approx(math.sqrt(statistics.fmean(x * x for x in off)), rel=0.03)


@given(LENGTHS)
def test_each_way_of_measuring_comes_back_to_the_effective_length(length) -> None:
    assert bl.effective_length(length, "effective") == length
    # a circle larger by h all round is 2 pi h longer: the back stands 2.5 mm over the effective line, PK's cord 2.0 mm
    assert bl.effective_length(length + 2 * math.pi * 2.5, "outside") == pytest.approx(length)
    assert bl.effective_length(length + 2 * math.pi * 1.7, "outside", belt_over_rim_mm=1.7) == pytest.approx(length)
    assert bl.effective_length(length + 2 * math.pi * 2.0, "pitch") == pytest.approx(length)
    assert bl.effective_from_string(length + math.pi * 2.0, 2.0) == pytest.approx(length)  # no flat pulleys unless said


def test_a_way_s_own_doubt_is_what_is_worked_out_for_it() -> None:
    assert bl.WAYS["outside"].doubt_mm == pytest.approx(bl.doubt_mm("outside"), abs=0.05)
    assert bl.WAYS["outside"].doubt_mm == round(bl.WAYS["outside"].doubt_mm, 1)  # a figure that people are shown
    for way in ("effective", "pitch"):
        assert bl.doubt_mm(way) == bl.WAYS[way].doubt_mm
    assert bl.window_mm("effective") == 2 * bl.doubt_mm("effective")
    assert bl.window_mm("effective", 0.0, 3.0) == 6.0
    assert bl.window_mm("effective", 8.0, 3.0) == 10.0  # 3-4-5


def test_a_step_of_tolerance_goes_over_and_up_to() -> None:
    steps = [bl.LengthTolerance(0, 1000, 5, False, "invented"), bl.LengthTolerance(1000, 1200, 6, False, "invented")]
    told = [bl.tolerance_for(length, steps[::-1]) for length in (0.0, 1000.0, 1000.5, 1200.0, 1200.5)]
    assert [step and step.tolerance_mm for step in told] == [None, 5, 6, 6, None]


def test_fit_falls_as_a_normal_distribution_does() -> None:
    peer = statistics.NormalDist(0.0, 2.0)
    for off in (0.5, 2.0, 5.0):
        assert bl.fit(off, 2.0) == pytest.approx(100 * peer.pdf(off) / peer.pdf(0.0))


def test_short_belts_and_thick_strings_can_be() -> None:
    assert bl.effective_length(0.5, "effective") == 0.5
    assert bl.effective_length(100.0, "string", 20.0, flat_wrap_rad=0.0) == pytest.approx(100 - 20 * math.pi)
    with pytest.raises(bl.BeltLengthError, match="up to 20 mm"):
        bl.effective_length(100.0, "string", 20.5)


def test_flat_wraps_that_are_known_narrow_the_doubt() -> None:
    assert bl.doubt_mm("string", 1.0, flat_wrap_rad=1.0) < bl.doubt_mm("string", 1.0)


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: bl.effective_length(1854.0, "cubit"), "cubit"),
        (lambda: bl.effective_length(1854.0, "string"), "thickness"),
        (lambda: bl.effective_length(1854.0, "string", 0.0), "thick"),
        (lambda: bl.effective_length(0.0, "outside"), "more than nothing"),
        (lambda: bl.effective_length(math.nan, "effective"), "more than nothing"),
        (lambda: bl.doubt_mm("cubit"), "cubit"),
        (lambda: bl.window_mm("cubit"), "cubit"),
        (lambda: bl.format_designation(0, "PK", 1854.0), "designation"),
        (lambda: bl.format_designation(8, "QQ", 1854.0), "designation"),
    ],
)
def test_what_cannot_be_is_refused_in_words(ask, says) -> None:
    with pytest.raises(bl.BeltLengthError, match=says):
        ask()


@given(st.integers(1, bl.MOST_RIBS), st.sampled_from(["PH", "PJ", "PK", "PL", "PM"]), st.integers(100, 99_999))
def test_designations_come_back(ribs, profile, length) -> None:
    assert bl.parse_designation(bl.format_designation(ribs, profile, float(length))) == (ribs, profile, float(length))


@pytest.mark.parametrize("text", ["8PK1854", "8 PK 1854", "8-PK-1854", "8pk1854", " 8PK 1854 ", "8.PK.1854"])
def test_designations_are_read_as_people_write_them(text) -> None:
    assert bl.parse_designation(text) == (8, "PK", 1854.0)


@pytest.mark.parametrize("text", ["", "8PK", "PK1854", "0PK1854", "41PK1854", "8PK18", "8PK1854mm", "8QK1854", "00123"])
def test_other_texts_are_no_designations(text) -> None:
    assert bl.parse_designation(text) is None


@pytest.mark.parametrize("text", ["AV1 x 1000", "AV10", "V10 x 1000", "AV10 1000", "8PK1854"])
def test_other_texts_are_no_v_designations(text) -> None:
    assert bl.parse_v_designation(text) is None


@given(st.integers(1, 20), st.floats(-0.35, 0.35))
def test_ribs_are_told_from_a_width(ribs, off_pitches) -> None:
    assert ribs_from_width(belt_width_mm(ribs, 3.56) + off_pitches * 3.56, 3.56) == ribs


def test_a_width_between_two_rib_counts_is_refused() -> None:
    with pytest.raises(GrooveError, match="count them"):
        ribs_from_width(7.5 * 3.56, 3.56)
    assert effective_diameter_over_balls_mm(100.0) == pytest.approx(99.01)


@given(st.sampled_from(list(bl.WAYS)), st.floats(0.0, 20.0))
def test_a_tolerance_only_widens_the_window(way, tolerance) -> None:
    assert bl.window_mm(way) <= bl.window_mm(way, tolerance) <= bl.window_mm(way) + tolerance + 1e-9


@given(st.floats(-20.0, 20.0), st.floats(0.1, 10.0))
def test_fit_is_best_at_nothing_and_the_same_either_way(difference, doubt) -> None:
    assert bl.fit(0.0, doubt) == 100.0
    assert 0.0 <= bl.fit(difference, doubt) == bl.fit(-difference, doubt) <= 100.0
