"""Grooves: what a ball, a caliper and a ruler tell, by plane geometry; the standards' rows are held in tests/published."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics import grooves
from kb.mechanics.grooves import GrooveError

WHOLE = math.radians(40.0)


@given(st.floats(1.0, 20.0), st.floats(0.3, 2.6), st.floats(0.5, 15.0), st.floats(0.0, 1.0))
def test_ball_and_tip_touch_what_they_should(pitch, angle, ball, tip) -> None:
    """A circle touches a line where its centre is a radius away: the flank, through the crossing, half the angle aslant."""
    half = angle / 2
    centre = ball / 2 / math.sin(half)  # of the ball over the crossing of the flanks below
    corner = pitch / 2 / math.tan(half)  # where neighbouring flanks meet above
    over = grooves.over_balls_minus_corner_mm(pitch, angle, ball)
    assert over == pytest.approx(2 * (centre + ball / 2 - corner), abs=1e-9)
    rounded = corner - (tip / math.sin(half) - tip)  # the tip's circle hangs tip / sin(half) below the corner
    assert grooves.tip_over_crossing_mm(pitch, angle, tip) == pytest.approx(rounded, abs=1e-9)
    to_effective = grooves.over_balls_minus_effective_mm(pitch, angle, ball, tip)
    assert grooves.effective_line_over_crossing_mm(angle, ball, to_effective) == pytest.approx(rounded, abs=1e-9)


def test_a_caliper_over_balls_takes_off_two_x() -> None:
    # 2X of PK is 0.99 mm (ISO 9982)
    assert grooves.effective_diameter_over_balls_mm(100.99) == pytest.approx(100.0)
    assert grooves.effective_diameter_over_balls_mm(101.0, 1.5) == pytest.approx(99.5)


@pytest.mark.parametrize(("width", "ribs"), [(8.39, 8), (7.61, 8), (1.4, 1), (0.6, 1)])
def test_a_width_just_near_enough_still_counts(width, ribs) -> None:
    assert grooves.ribs_from_width(width, 1.0) == ribs


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: grooves.ribs_from_width(8.45, 1.0),
        lambda: grooves.ribs_from_width(0.2, 1.0),
        lambda: grooves.belt_width_mm(0, 3.56),
        lambda: grooves.over_balls_minus_corner_mm(3.56, 0.0, 2.5),
        lambda: grooves.over_balls_minus_corner_mm(3.56, math.pi, 2.5),
        lambda: grooves.over_balls_minus_corner_mm(0.0, WHOLE, 2.5),
        lambda: grooves.over_balls_minus_corner_mm(3.56, WHOLE, 0.0),
        lambda: grooves.over_balls_minus_effective_mm(3.56, WHOLE, 2.5, -0.1),
        lambda: grooves.effective_line_over_crossing_mm(WHOLE, 0.0, 0.99),
        lambda: grooves.tip_over_crossing_mm(0.0, WHOLE, 0.25),
    ],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(GrooveError):
        wrong()
