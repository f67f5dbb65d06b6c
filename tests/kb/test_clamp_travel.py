"""Clamps in their travel, and dash sizes as people write them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.clamps import ClampBand, ClampError, clamp_fit, clamps_that_close_on, nearest_clamps
from kb.mechanics.dash_sizes import DashError, dash_mm, dash_number, nearest_dash
from kb.reference.sizes import clamp_bands, hose_bore

DIAMETERS = st.floats(12.0, 177.0)


@given(DIAMETERS)
def test_all_that_hold_are_found_best_first(around) -> None:
    found = clamps_that_close_on(clamp_bands(), around)
    assert {one.band.size for one in found} == {
        band.size for band in clamp_bands() if band.smallest_mm <= around <= band.largest_mm
    }
    assert [one.fit for one in found] == sorted((one.fit for one in found), reverse=True)
    for one in found:
        assert 0.0 < one.fit <= 100.0
        closed = one.band.largest_mm - one.travel * (one.band.largest_mm - one.band.smallest_mm)
        assert closed == pytest.approx(around)


@given(DIAMETERS)
def test_the_last_of_the_travel_comes_after_all_that_have_travel_left(around) -> None:
    found = clamps_that_close_on(clamp_bands(), around)
    ends = [one.near_an_end for one in found]
    assert ends == sorted(ends)


def test_open_is_nought_and_closed_is_one() -> None:
    band = ClampBand("x", 40.0, 60.0)
    assert clamp_fit(band, 60.0).travel == 0.0
    assert clamp_fit(band, 40.0).travel == 1.0
    assert clamp_fit(band, 59.0).near_an_end
    assert not clamp_fit(band, 57.0).near_an_end
    assert clamp_fit(band, 61.0).outside_mm == pytest.approx(1.0)
    assert clamp_fit(band, 61.0).fit == 0.0
    assert not clamp_fit(band, 61.0).near_an_end


def test_what_no_clamp_holds_has_nearest_misses() -> None:
    assert clamps_that_close_on(clamp_bands(), 200.0) == ()
    assert nearest_clamps(clamp_bands(), 200.0)[0].band.size == "104"
    assert nearest_clamps(clamp_bands(), 5.0, limit=1)[0].band.size == "6"


@pytest.mark.parametrize("around", [0.0, -1.0, math.nan, math.inf])
def test_no_diameter_is_refused(around) -> None:
    with pytest.raises(ClampError, match="diameter"):
        clamps_that_close_on(clamp_bands(), around)
    with pytest.raises(ClampError, match="no clamp"):
        clamp_fit(ClampBand("x", 60.0, 40.0), 50.0)


@given(st.integers(1, 64), st.sampled_from(["-{}", "{}", "#{}", " – {} "]), st.floats(-0.79, 0.79))
def test_dash_sizes_come_back(dash, form, off) -> None:
    assert dash_number(form.format(dash)) == dash
    number, larger = nearest_dash(dash_mm(dash) + off)
    assert number == dash
    assert larger == pytest.approx(off)


@pytest.mark.parametrize("text", ["", "-", "-0", "-65", "8S", "1/2", "٨", "8.5"])
def test_other_texts_are_no_dash_sizes(text) -> None:
    with pytest.raises(DashError, match="no dash size"):
        dash_number(text)


@pytest.mark.parametrize(
    ("ask", "error", "says"),
    [
        (lambda: dash_mm(0), DashError, "no dash size"),
        (lambda: nearest_dash(0.1), DashError, "no dash size"),
        (lambda: nearest_dash(500.0), DashError, "no dash size"),
        (lambda: hose_bore(7), LookupError, "no size -7"),
        (lambda: hose_bore(8, "guess"), LookupError, "not 'guess'"),
    ],
)
def test_sizes_that_are_not_there_are_said(ask, error, says) -> None:
    with pytest.raises(error, match=says):
        ask()
