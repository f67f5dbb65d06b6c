"""The Wilson interval against scipy.stats, every count of up to thirty and some larger ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from kb.mechanics.proportion import ProportionError, wilson_interval


def scipys(count: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """scipy.stats' own interval, without continuity correction."""
    interval = binomtest(count, of).proportion_ci(confidence_level=confidence, method="wilson")
    return float(interval.low), float(interval.high)


def test_three_of_seven_is_sixteen_to_seventy_five_per_cent() -> None:
    # binomtest(3, 7).proportion_ci(method="wilson") is (0.15822, 0.74954)
    assert wilson_interval(3, 7) == pytest.approx(scipys(3, 7), abs=1e-12)
    assert [round(100 * end) for end in wilson_interval(3, 7)] == [16, 75]


@pytest.mark.parametrize("of", range(1, 31))
def test_small_counts(of) -> None:
    for count in range(of + 1):
        assert wilson_interval(count, of) == pytest.approx(scipys(count, of), abs=1e-9)


@given(of=st.integers(1, 5000), share=st.floats(0, 1), confidence=st.sampled_from([0.5, 0.8, 0.9, 0.99]))
def test_any_count_and_confidence(of, share, confidence) -> None:
    count = round(of * share)
    low, high = wilson_interval(count, of, confidence)
    assert (low, high) == pytest.approx(scipys(count, of, confidence), abs=1e-9)
    assert 0.0 <= low <= count / of <= high <= 1.0


def test_nothing_of_nothing_says_nothing() -> None:
    assert wilson_interval(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize(("count", "of", "confidence"), [(3, 2, 0.95), (-1, 2, 0.95), (1, 2, 1.0), (1, 2, 0.0)])
def test_what_cannot_be_counted_is_refused(count, of, confidence) -> None:
    with pytest.raises(ProportionError):
        wilson_interval(count, of, confidence)
