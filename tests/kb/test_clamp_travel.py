"""Clamps in their travel, by the bands of the table of sizes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.clamps import ClampBand, ClampError, clamp_fit
from kb.reference.sizes import clamp_bands

DIAMETERS = st.floats(12.0, 177.0)


@given(DIAMETERS, st.sampled_from(clamp_bands()))
def test_it_fits_inside_its_band_and_nowhere_else(around, band) -> None:
    one = clamp_fit(band, around)
    assert (one.fit > 0) is (band.smallest_mm <= around <= band.largest_mm)
    assert 0.0 <= one.fit <= 100.0
    assert band.largest_mm - one.travel * (band.largest_mm - band.smallest_mm) == pytest.approx(around)


@given(DIAMETERS, st.sampled_from(clamp_bands()), st.sampled_from(clamp_bands()))
def test_the_last_of_the_travel_comes_after_all_that_have_travel_left(around, first, second) -> None:
    one, other = clamp_fit(first, around), clamp_fit(second, around)
    if one.near_an_end and other.fit and not other.near_an_end:
        assert one.fit < other.fit


def test_open_is_nought_and_closed_is_one() -> None:
    band = ClampBand("x", 40.0, 60.0)
    assert clamp_fit(band, 60.0).travel == 0.0
    assert clamp_fit(band, 40.0).travel == 1.0
    assert clamp_fit(band, 59.0).near_an_end
    assert not clamp_fit(band, 57.0).near_an_end
    assert clamp_fit(band, 61.0).outside_mm == pytest.approx(1.0)
    assert clamp_fit(band, 61.0).fit == 0.0
    assert not clamp_fit(band, 61.0).near_an_end


@pytest.mark.parametrize("around", [0.0, -1.0, math.nan, math.inf])
def test_no_diameter_is_refused(around) -> None:
    with pytest.raises(ClampError, match="diameter"):
        clamp_fit(ClampBand("x", 40.0, 60.0), around)
    with pytest.raises(ClampError, match="no clamp"):
        clamp_fit(ClampBand("x", 60.0, 40.0), 50.0)


@pytest.mark.parametrize(
    ("around", "near"),
    # a band of 40 to 60: a tenth of its 20 mm of travel is 2 mm from either end, and exactly there is still inside
    [
        (60.0, True),
        (58.1, True),
        (58.0, False),
        (42.0, False),
        (57.9, False),
        (50.0, False),
        (42.1, False),
        (41.9, True),
        (40.0, True),
    ],
)
def test_the_last_tenth_at_either_end_is_told_and_halves_the_fit(around, near) -> None:
    one = clamp_fit(ClampBand("x", 40.0, 60.0), around)
    assert one.near_an_end is near
    # by hand: 100 in the middle, 50 at an end, evenly between; half of that in the last tenth
    evenly = 100.0 - 50.0 * abs(around - 50.0) / 10.0
    assert one.fit == pytest.approx(evenly / 2 if near else evenly)


def test_a_clamp_that_closes_wholly_and_a_thin_tube_can_be() -> None:
    assert clamp_fit(ClampBand("x", 0.0, 1.0), 0.5).fit == 100.0
    assert clamp_fit(ClampBand("x", 0.4, 1.0), 0.7).travel == pytest.approx(0.5)
    for smallest in (60.0, -0.5):  # a band of no width would divide by nothing
        with pytest.raises(ClampError, match="no clamp"):
            clamp_fit(ClampBand("x", smallest, 60.0 if smallest > 0 else 1.0), 50.0)
