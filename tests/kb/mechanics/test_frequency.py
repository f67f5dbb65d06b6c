"""Span frequency: round trips, invariants, and what is refused. Published rows: tests/published."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.frequency import FrequencyError, span_frequency_hz, tension_doubt_n, tension_from_frequency_n

TENSION = st.floats(20.0, 5000.0)
MASS = st.floats(0.02, 1.0)
SPAN = st.floats(50.0, 2000.0)


@given(TENSION, MASS, SPAN, st.floats(0.0, 0.95))
def test_there_and_back(tension_n, mass, span_mm, share):
    speed = share * math.sqrt(tension_n / mass)
    frequency = span_frequency_hz(tension_n, mass, span_mm, speed)
    assert tension_from_frequency_n(frequency, mass, span_mm, speed) == pytest.approx(tension_n, rel=1e-9)


@given(TENSION, MASS, SPAN, st.floats(1.1, 5.0))
def test_scaling(tension_n, mass, span_mm, factor):
    here = span_frequency_hz(tension_n, mass, span_mm)
    assert span_frequency_hz(tension_n, mass, span_mm * factor) == pytest.approx(here / factor)
    assert span_frequency_hz(tension_n * factor**2, mass, span_mm) == pytest.approx(here * factor)
    assert span_frequency_hz(tension_n, mass * factor, span_mm) < here


def test_the_doubt_is_what_a_sample_scatters():
    chance = np.random.default_rng(2)
    frequency, mass, span = (chance.normal(m, s, 40_000) for m, s in ((92, 1.0), (0.105, 0.002), (340, 2.0)))
    sampled = [tension_from_frequency_n(f, m, s) for f, m, s in zip(frequency, mass, span, strict=True)]
    # 40,000 draws know a standard deviation to 0.35 %; the formula's curvature adds less than that
    assert tension_doubt_n(92, 1.0, 0.105, 0.002, 340, 2.0) == pytest.approx(np.std(sampled), rel=0.015)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: span_frequency_hz(0.0, 0.1, 300), "tension"),
        (lambda: span_frequency_hz(400, -0.1, 300), "mass"),
        (lambda: span_frequency_hz(400, 0.1, math.inf), "span"),
        (lambda: span_frequency_hz(400, 0.1, 300, -1.0), "speed"),
        (lambda: span_frequency_hz(400, 0.1, 300, 64.0), "centrifugal"),
        (lambda: tension_from_frequency_n(0.0, 0.1, 300), "frequency"),
        (lambda: span_frequency_hz(-400.0, 0.1, 300), "tension"),
        (lambda: span_frequency_hz(400.0, 0.25, 300, 40.0), "centrifugal"),  # 40 m/s is the waves' own speed
        (lambda: tension_from_frequency_n(90.0, -0.1, 300), "mass"),
        (lambda: tension_from_frequency_n(90.0, 0.1, 0.0), "span"),
        (lambda: tension_from_frequency_n(90.0, 0.1, 300, -1.0), "speed"),
        (lambda: tension_doubt_n(90, -1, 0.1, 0, 300, 0), "doubt"),
    ],
)
def test_what_cannot_be_is_refused(call, said):
    with pytest.raises(FrequencyError, match=said):
        call()
