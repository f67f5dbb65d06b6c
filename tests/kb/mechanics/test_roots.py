"""Roots against scipy's brentq, and how few looks they take: a step that is lost costs looks, not the root."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from kb.mechanics.roots import find_root

FUNCTIONS = [
    (lambda x: x * x - 2, lambda x: 2 * x, 0.0, 2.0),
    (lambda x: 2 - x * x, lambda x: -2 * x, 0.0, 2.0),
    (lambda x: math.exp(x) - 40, math.exp, 0.0, 5.0),
    (lambda x: math.cos(x) - x, lambda x: -math.sin(x) - 1, 0.0, 1.5),
    (lambda x: x**3 + 700.0, lambda x: 3 * x * x, -40.0, 20.0),
]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("value", "slope", "low", "high"), FUNCTIONS)
def test_newton_finds_brentqs_root_in_few_looks(value, slope, low, high, turned) -> None:
    looks = []

    def looked(x: float) -> float:
        looks.append(x)
        return value(x)

    ends = (high, low) if turned else (low, high)  # the places may come in either order
    assert find_root(looked, *ends, slope) == pytest.approx(brentq(value, low, high, xtol=1e-14), abs=1e-13)
    # Newton doubles its digits each step: a dozen looks, the two ends with them, where halving takes fifty
    assert len(looks) <= 13
    assert all(min(low, high) <= x <= max(low, high) for x in looks)


@pytest.mark.parametrize("root", [0.3, -0.7, 1e-9, 300.0])
@pytest.mark.parametrize("steepness", [0.01, -30.0])
def test_halving_takes_as_many_looks_as_there_are_digits(root, steepness) -> None:
    looks = []

    def looked(x: float) -> float:
        looks.append(x)
        return steepness * (x - root)

    low, high = root - 0.4, root + 0.7
    assert find_root(looked, low, high) == pytest.approx(root, abs=2e-15 * max(1.0, abs(root)))
    # each look halves 1.1 until 1e-15 of one, or of the root where that is larger, is left; two more for the ends
    assert len(looks) <= 3 + math.ceil(math.log2(1.1 / (1e-15 * max(1.0, abs(root)))))


def test_a_root_at_an_end_or_in_the_middle_is_given_as_it_is() -> None:
    assert find_root(lambda x: x - 1.0, 1.0, 3.0) == 1.0
    assert find_root(lambda x: x - 3.0, 1.0, 3.0) == 3.0
    looks = []
    assert find_root(lambda x: looks.append(x) or x - 2.0, 1.0, 3.0) == 2.0
    assert looks == [1.0, 3.0, 2.0]


@pytest.mark.parametrize("value", [lambda x: x * x + 1, lambda x: -x * x - 1])
def test_without_a_change_of_sign_there_is_nothing_to_find(value) -> None:
    with pytest.raises(ValueError, match="does not change sign"):
        find_root(value, -1.0, 2.0)


def test_a_slope_of_nothing_is_stepped_over_by_halving() -> None:
    # flat left of 1, where Newton has no step to take
    assert find_root(lambda x: max(x, 1.0) - 1.5, -4.0, 5.0, lambda x: float(x > 1.0)) == pytest.approx(1.5)
