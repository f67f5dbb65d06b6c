"""Containers of coolant against trying every combination that could be bought."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.coolant import CoolantError, containers

SIZES = [0.946, 1.0, 3.785, 5.0, 10.0, 18.93, 20.0, 208.2]


def held_by(counts: list[int], sizes: list[float]) -> float:
    return sum(count * size for count, size in zip(counts, sizes, strict=True))


MILLILITRES = st.integers(0, 60_000).map(lambda count: count / 1000)  # less than that nobody measures


@given(MILLILITRES, st.lists(st.sampled_from(SIZES), min_size=1, max_size=2, unique=True))
def test_the_least_left_over_then_the_fewest(needed, sizes) -> None:
    counts = containers(needed, sizes)
    enough = [
        (round(held_by(list(each), sizes), 6), sum(each))
        for each in itertools.product(*(range(math.ceil(needed / size) + 1) for size in sizes))
        if held_by(list(each), sizes) >= needed - 1e-9
    ]
    litres, fewest = min(enough)
    assert held_by(counts, sizes) == pytest.approx(litres, abs=2e-6)
    assert sum(counts) == fewest or held_by(counts, sizes) < litres


def test_quarts_among_litres() -> None:
    # 13 x 0.946 + 1 x 1.0 = 13.298 L leaves 0.048 L over; 12 and 2 leave 0.102, 14 and none fall short by 0.006.
    assert containers(13.25, [0.946, 1.0]) == [13, 1]


def test_many_combinations_still_hold_enough() -> None:
    counts = containers(5000.0, [0.946, 1.0, 3.785, 18.93, 208.2])
    assert 0 <= held_by(counts, [0.946, 1.0, 3.785, 18.93, 208.2]) - 5000.0 < 0.946


def test_more_combinations_than_are_tried_one_by_one() -> None:
    # 1 and 2 and 100 L for 40,000 L: 100 L alone fills it, as the fewest; 99 L over cannot be, the small ones fill the rest
    assert containers(40_000.0, [1.0, 2.0, 100.0]) == [0, 0, 400]
    # nothing need be left over: 40,001 is 5 less than a multiple of 11, and so on; but only some counts are tried
    counts = containers(40_001.0, [5.0, 7.0, 11.0])
    assert held_by(counts, [5.0, 7.0, 11.0]) == 40_001.0


@pytest.mark.parametrize("sizes", [[], [0.0], [-1.0], [1.0] * 6, [5.0, 0.0], [-1.0, 5.0]])
def test_sizes_that_cannot_be(sizes) -> None:
    with pytest.raises(CoolantError):
        containers(10.0, sizes)
