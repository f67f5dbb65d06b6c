"""A vacuum fill against Boyle's law followed in small sips."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.vacuum_fill import VacuumFillError, drawn_share, head_kpa, vacuum_fill


@given(st.floats(1, 60), st.floats(75, 105), st.floats(0, 12))
def test_share_against_sips(residual, air, column) -> None:
    if air - column <= residual:
        with pytest.raises(VacuumFillError, match="lifts"):
            drawn_share(residual, air, column)
        return
    share = drawn_share(residual, air, column)
    # What is left of the space is squeezed at one temperature: its pressure there balances the air less the column.
    assert residual / (1 - share) + column == pytest.approx(air)
    assert 0 < share < 1


def test_what_stands_ready() -> None:
    found = vacuum_fill(40.0, 20.0, 100.0, 0.0, 0.5, 1.5)
    assert (found.drawn_l, found.stand_ready_l, found.top_up_l) == pytest.approx((32.0, 34.0, 8.0))


@pytest.mark.parametrize("asked", [(0, 20, 100, 0, 0, 0), (40, 20, 100, 0, -1, 0), (40, 20, 100, 0, 0, -1)])
def test_what_cannot_be(asked) -> None:
    with pytest.raises(VacuumFillError):
        vacuum_fill(*map(float, asked))


def test_a_column_of_two_metres_is_twice_one() -> None:
    # 1095 kg/m3 x 9.80665 m/s2 x 2 m, by hand 21.4766 kPa; water, 1000 kg/m3, 10 m: 98.0665 kPa
    assert head_kpa(2.0) == pytest.approx(21.47656, abs=1e-4)
    assert head_kpa(10.0, 1000.0) == pytest.approx(98.0665)


def test_a_vacuum_that_just_lifts_the_column_fills_nothing() -> None:
    with pytest.raises(VacuumFillError, match=r"lifts 20\.0 kPa, and the column of coolant needs 20\.0 kPa"):
        drawn_share(80.0, 100.0, 20.0)


def test_a_small_space_with_no_hose_and_nothing_left_over() -> None:
    found = vacuum_fill(0.5, 50.0, 100.0, 0.0, 0.0, 0.0)
    assert (found.drawn_l, found.stand_ready_l, found.top_up_l) == (0.25, 0.25, 0.25)
    assert vacuum_fill(0.5, 50.0, 100.0, 0.0, 0.5, 0.25).stand_ready_l == 1.0
