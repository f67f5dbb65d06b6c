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


@given(st.floats(0, 60), st.lists(st.sampled_from(SIZES), min_size=1, max_size=2, unique=True))
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


@pytest.mark.parametrize("sizes", [[], [0.0], [-1.0], [1.0] * 6])
def test_sizes_that_cannot_be(sizes) -> None:
    with pytest.raises(CoolantError):
        containers(10.0, sizes)
