"""Mixing coolant, against mixing it step by step with litres of glycol and of water."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.mechanics.coolant import (
    CoolantError,
    containers,
    drain_volume_l,
    freeze_point_c,
    parts_for_fill,
    percent_after_swaps,
    percent_for_freeze_point,
    swaps,
)

PERCENT = st.floats(0, 100)


def mixed(system_l: float, percent: float, with_percent: float, drained: list[float]) -> float:
    """Return the percentage after draining and refilling, keeping account of the litres of glycol."""
    glycol = system_l * percent / 100
    for litres in drained:
        glycol -= glycol * litres / system_l
        glycol += litres * with_percent / 100
    return 100 * glycol / system_l


@given(st.floats(1, 500), PERCENT, PERCENT, PERCENT)
def test_one_drain_against_the_litres(system_l, now, want, strength) -> None:
    low, high = sorted((now, strength))
    possible = low <= want <= high
    if not low - 1e-6 <= want <= high + 1e-6:  # what is nearer to an end than that may be answered either way
        with pytest.raises(CoolantError, match=r"cannot (raise|lower)"):
            drain_volume_l(system_l, now, want, strength)
    elif abs(strength - now) > 0.01 and possible:
        drain = drain_volume_l(system_l, now, want, strength)
        assert 0 <= drain <= system_l * (1 + 1e-12)
        assert mixed(system_l, now, strength, [drain]) == pytest.approx(want, abs=1e-6)


@given(PERCENT, PERCENT, st.floats(0.01, 0.9), st.integers(0, 12))
def test_repeated_swaps_against_the_litres(now, strength, share, count) -> None:
    assert percent_after_swaps(now, strength, share, count) == pytest.approx(
        mixed(40, now, strength, [40 * share] * count)
    )


def test_swaps_end_at_what_is_wanted_and_no_swap_takes_more_than_comes_out() -> None:
    done = swaps(40.0, 30.0, 50.0, 60.0, 8.0)
    assert len(done) == 5
    assert max(one.drain_l for one in done) <= 8.0
    assert mixed(40.0, 30.0, 60.0, [one.drain_l for one in done]) == pytest.approx(50.0, abs=1e-6)
    # One swap fewer does not get there: 60 + (30 - 60) 0.8^4 = 47.7 %.
    assert done[3].percent_after == pytest.approx(60 - 30 * 0.8**4)


@pytest.mark.parametrize(
    "asked", [(40, 30, 50, 49, 8), (40, 30, 59.9999999, 60, 0.1), (40, 30, 50, 100, 0), (40, 30, 50, 100, 41)]
)
def test_swaps_that_cannot_be(asked) -> None:
    with pytest.raises(CoolantError):
        swaps(*map(float, asked))


def test_nothing_to_do() -> None:
    assert swaps(40.0, 50.0, 50.0, 100.0, 8.0) == []


@pytest.mark.parametrize("percent", [-1.0, 120.0])
def test_a_share_that_is_none(percent) -> None:
    with pytest.raises(CoolantError, match="between 0 and 100"):
        drain_volume_l(40.0, percent, 50.0, 100.0)


def test_parts_for_an_empty_system() -> None:
    assert parts_for_fill(40.0, 50.0, 50.0) == (40.0, 0.0)
    with pytest.raises(CoolantError, match="cannot make"):
        parts_for_fill(40.0, 60.0, 50.0)


def test_outside_the_table() -> None:
    with pytest.raises(CoolantError, match="outside the table"):
        freeze_point_c(61.0, (10, 60), (-3, -52))
    with pytest.raises(CoolantError, match="outside the table"):
        percent_for_freeze_point(-60.0, (10, 60), (-3, -52))


@settings(deadline=None)
@given(
    st.integers(100, 30_000).map(lambda count: count / 1000),
    st.lists(st.sampled_from([1.0, 2.5, 3.785, 5.0, 18.93]), min_size=1, max_size=3, unique=True),
)
def test_containers_against_trying_them_all(needed, sizes) -> None:
    counts = containers(needed, sizes)
    held = sum(count * size for count, size in zip(counts, sizes, strict=True))
    assert held >= needed - 1e-6
    tried = [range(int(needed / size) + 2) for size in sizes]
    least = min(
        total
        for each in product(*tried)
        if (total := sum(count * size for count, size in zip(each, sizes, strict=True))) >= needed - 1e-9
    )
    assert held == pytest.approx(least, abs=1e-6)


TABLE = ((10.0, 20.0, 40.0, 60.0), (-3.0, -8.0, -24.0, -52.0))  # invented, rising by whole numbers


@pytest.mark.parametrize(
    ("percent", "freezes"),
    [(10.0, -3.0), (12.0, -4.0), (20.0, -8.0), (25.0, -12.0), (40.0, -24.0), (55.0, -45.0), (60.0, -52.0)],
)
def test_between_the_rows_it_runs_straight_both_ways(percent, freezes) -> None:
    assert freeze_point_c(percent, *TABLE) == pytest.approx(freezes)
    assert percent_for_freeze_point(freezes, *TABLE) == pytest.approx(percent)


def test_outside_the_table_its_ends_are_told() -> None:
    for percent in (9.9, 60.1):
        with pytest.raises(CoolantError, match="the table, 10 to 60 %"):
            freeze_point_c(percent, *TABLE)
    for celsius in (-2.9, -52.1):
        with pytest.raises(CoolantError, match="the table, -52 to -3 degC"):
            percent_for_freeze_point(celsius, *TABLE)


def test_all_or_nothing_drained() -> None:
    assert drain_volume_l(0.5, 30.0, 30.0, 100.0) == 0.0
    assert drain_volume_l(0.5, 30.0, 30.0 + 5e-10, 30.0) == 0.0  # nearer than a table has digits: nothing to do
    assert drain_volume_l(0.5, 0.0, 100.0, 100.0) == 0.5
    assert drain_volume_l(0.5, 100.0, 0.0, 0.0) == 0.5
    assert percent_after_swaps(20.0, 60.0, 0.0, 3) == 20.0
    assert percent_after_swaps(20.0, 60.0, 1.0, 1) == 60.0
    assert [one.drain_l for one in swaps(8.0, 0.0, 50.0, 50.0, 8.0)] == [8.0]
    assert [one.drain_l for one in swaps(1.0, 0.0, 25.0, 50.0, 0.5)] == [0.5]
    assert swaps(1.0, 30.0, 30.5, 50.0, 0.5) != []  # half a per cent is worth a swap


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: drain_volume_l(0.0, 30.0, 50.0, 100.0), "holds nothing"),
        (lambda: drain_volume_l(float("inf"), 30.0, 50.0, 100.0), "holds nothing"),
        (lambda: drain_volume_l(40.0, 30.0, 100.5, 100.5), "between 0 and 100"),
        (lambda: drain_volume_l(40.0, 30.0, 50.0, 20.0), "20 % cannot raise 30 % to 50 %"),
        (lambda: drain_volume_l(40.0, 30.0, 10.0, 40.0), "40 % cannot lower 30 % to 10 %"),
        (lambda: drain_volume_l(40.0, 30.0, 50.0, 30.0), "30 % cannot raise"),
        (lambda: percent_after_swaps(20.0, 60.0, 1.01, 1), "cannot be drained"),
        (lambda: percent_after_swaps(20.0, 60.0, -0.01, 1), "cannot be drained"),
        (lambda: swaps(40.0, 30.0, 30.0, 60.0, 0.0), "0 L cannot be drained"),
        (lambda: parts_for_fill(0.0, 50.0, 100.0), "holds nothing"),
        (lambda: parts_for_fill(40.0, 50.0, 100.5), "cannot make"),
        (lambda: parts_for_fill(40.0, 0.0, 0.0), "cannot make"),
    ],
)
def test_what_cannot_be_mixed_is_refused(call, said) -> None:
    with pytest.raises(CoolantError, match=said):
        call()


def test_water_alone_and_weak_coolant_fill_a_system_too() -> None:
    assert parts_for_fill(40.0, 0.0, 100.0) == (0.0, 40.0)
    assert parts_for_fill(40.0, 0.5, 1.0) == (20.0, 20.0)


def test_sixty_swaps_are_tried_and_no_more() -> None:
    # a fiftieth at a time towards 100 %: after n swaps 100 (1 - 0.98^n) per cent, 69.8 after 59, 70.2 after 60, 70.8 after 61
    assert len(swaps(50.0, 0.0, 70.0, 100.0, 1.0)) == 60
    assert 100 * (1 - 0.98**59) < 70.0 < 100 * (1 - 0.98**60) < 70.5 < 100 * (1 - 0.98**61)
    with pytest.raises(CoolantError, match="more than 60 swaps"):
        swaps(50.0, 0.0, 70.5, 100.0, 1.0)
