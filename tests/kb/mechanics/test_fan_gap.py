"""Gaps of an off-centre fan, against shapely's distance from a tip to the ring."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing, Point

from kb.mechanics.fan_gap import DIRECTIONS, FanGapError, from_gaps, gaps, tip_speed_m_s

SHIFT = st.floats(-12, 12)


@settings(deadline=None, max_examples=40)
@given(st.floats(300, 900), st.floats(36, 80), SHIFT, SHIFT)
def test_gaps_against_shapely(fan, wider, x, y) -> None:
    ring = fan + wider
    found = gaps(ring, fan, (x, y))
    drawn = LinearRing(Point(0, 0).buffer(ring / 2, quad_segs=2000).exterior.coords)
    for name, direction in DIRECTIONS.items():
        turn = math.radians(direction)
        tip = Point(x + fan / 2 * math.cos(turn), y + fan / 2 * math.sin(turn))
        assert getattr(found, name) == pytest.approx(drawn.distance(tip), abs=0.002)
    tips = Point(x, y).buffer(fan / 2, quad_segs=2000)
    assert found.smallest == pytest.approx(drawn.distance(tips), abs=0.002)
    even = gaps(ring, fan, (x - found.ring_shift[0], y - found.ring_shift[1]))
    assert even.smallest == pytest.approx(even.largest, abs=1e-9)


@given(st.floats(300, 900), st.floats(36, 80), SHIFT, SHIFT)
def test_from_gaps_and_back(fan, wider, x, y) -> None:
    found = gaps(fan + wider, fan, (x, y))
    placed = from_gaps(fan, found.top, found.right, found.bottom, found.left)
    assert placed.ring_mm == pytest.approx(fan + wider, abs=0.01)
    assert placed.offset == pytest.approx((x, y), abs=0.02)
    assert placed.disagree_mm < 0.01


def test_a_fan_that_cuts_in_and_an_oval_ring() -> None:
    assert gaps(800.0, 780.0, (12.0, 0.0)).smallest == pytest.approx(-2.0)
    assert from_gaps(760.0, 15.0, 25.0, 15.0, 25.0).disagree_mm == pytest.approx(20.0, abs=0.1)


@pytest.mark.parametrize(
    ("offset", "at_deg"), [((5, 0), 0), ((3, 3), 45), ((0, 2), 90), ((-4, 0), 180), ((2, -2), 315)]
)
def test_the_smallest_gap_is_where_the_fan_sits_and_the_largest_opposite(offset, at_deg) -> None:
    found = gaps(800.0, 760.0, offset)
    assert found.at_deg == pytest.approx(at_deg)
    off = math.hypot(*offset)
    assert (found.smallest, found.largest) == pytest.approx((20.0 - off, 20.0 + off))
    assert found.ring_shift == offset


def test_even_has_no_direction() -> None:
    assert gaps(800.0, 760.0).at_deg is None
    assert gaps(800.0, 760.0, (0.04, 0.0)).at_deg is None
    assert gaps(800.0, 760.0, (0.05, 0.0)).at_deg == 0.0


def test_a_small_fan_and_a_gap_of_nothing_can_be() -> None:
    assert gaps(1.0, 0.5).smallest == 0.25
    assert from_gaps(0.5, 0.25, 0.25, 0.25, 0.25).ring_mm == pytest.approx(1.0)
    touching = gaps(780.0, 760.0, (10.0, 0.0))
    assert touching.right == 0.0
    placed = from_gaps(760.0, touching.top, 0.0, touching.bottom, touching.left)
    assert placed.offset == pytest.approx((10.0, 0.0), abs=0.01)


def test_tip_speed() -> None:
    """32 in at 2200 rpm: pi x 32/12 ft x 2200 = 18,431 ft/min, by hand."""
    assert tip_speed_m_s(812.8, 2200.0) == pytest.approx(18431 * 0.3048 / 60, rel=1e-4)


@pytest.mark.parametrize("wrong", [(100, 120), (100, 100), (100, 0), (float("inf"), 100)])
def test_refusals(wrong) -> None:
    with pytest.raises(FanGapError):
        gaps(*wrong)
    with pytest.raises(FanGapError):
        from_gaps(0.0, 1, 1, 1, 1)
    for at in range(4):
        with pytest.raises(FanGapError):
            from_gaps(760.0, *(-0.5 if at == place else 20.0 for place in range(4)))
