"""Planes, straightedge readings and misalignment against three-dimensional vectors; published rows elsewhere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.planes import (
    BeltPlane,
    Plane,
    PlaneError,
    Span,
    align_span,
    fitting_order,
    misalignment_deg,
    offset_at_limit_mm,
    register,
    shim_mm,
    stack_z_mm,
    straightedge_plane,
    tilt_deg,
)

SLOPE = st.floats(-0.02, 0.02)
HEIGHT = st.floats(-5.0, 5.0)


@given(HEIGHT, SLOPE, SLOPE, st.floats(0.0, 360.0), st.floats(20.0, 150.0), st.floats(-150.0, 10.0))
def test_straightedge_readings_give_the_plane_back(z, slope_x, slope_y, along_deg, far, near):
    # readings made from a known plane z + s . p; what is found leans by the part of s along the straightedge
    along = np.array([math.cos(math.radians(along_deg)), math.sin(math.radians(along_deg))])
    slopes = np.array([slope_x, slope_y])

    def gap(at: float) -> float:
        return -(z + float(slopes @ (at * along)))

    found = straightedge_plane((near, gap(near)), (far, gap(far)), along_deg=along_deg)
    assert found == pytest.approx((z, *((slopes @ along) * along)), abs=1e-9)


def test_rim_to_groove_distances_are_taken_in():
    # equal rims flush with the straightedge: the pulley whose rim stands 2 mm further before its groove sits 2 mm back
    offset, *_ = straightedge_plane((-50, 0.0), (50, 0.0), along_deg=0, reference_edge_mm=3.0, edge_mm=5.0)
    assert offset == pytest.approx(-2.0)


@given(HEIGHT, HEIGHT, SLOPE, SLOPE, SLOPE, SLOPE, st.floats(0, 2 * math.pi), st.floats(100, 900))
def test_entry_angles_are_those_of_the_vectors(z0, z1, sx0, sy0, sx1, sy1, heading, length):
    start, ahead = np.array([12.0, 35.0]), length * np.array([math.cos(heading), math.sin(heading)])
    planes = [Plane("crank", z0, sx0, sy0), Plane("fan", z1, sx1, sy1)]
    centres = np.array([[0.0, 0.0], start + ahead + (20.0, -30.0)])
    span = Span(0, 1, tuple(start), tuple(start + ahead), tuple(centres[0]), tuple(centres[1]))
    answer = align_span(planes, span, 0.5)
    slopes = np.array([[sx0, sy0], [sx1, sy1]])
    ends = np.array([z0 + slopes[0] @ (start - centres[0]), z1 + slopes[1] @ (start + ahead - centres[1])])
    vector = np.array([*ahead, ends[1] - ends[0]])
    for entry, slope in zip((answer.leaving_deg, answer.reaching_deg), slopes, strict=True):
        normal = np.array([-slope[0], -slope[1], 1.0])
        sine = vector @ normal / np.linalg.norm(vector) / np.linalg.norm(normal)
        # the vectors' angle is shortened by the lean across the span: cos of 1.2 deg, 2 in 10,000
        assert entry == pytest.approx(math.degrees(math.asin(sine)), abs=2e-3)
    assert answer.offset_mm == pytest.approx(ends[1] - ends[0])
    assert answer.skew_deg == pytest.approx(math.degrees(math.atan2(ends[1] - ends[0], length)))
    assert answer.worst_deg == max(abs(answer.leaving_deg), abs(answer.reaching_deg))
    assert answer.within == (answer.worst_deg <= 0.5)


@given(HEIGHT, HEIGHT, SLOPE, SLOPE, st.floats(-50, 50))
def test_leaning_and_moving_the_whole_front_changes_no_angle(z0, z1, slope_x, slope_y, forward):
    centres = np.array([[0.0, 0.0], [400.0, 90.0]])
    span = Span(0, 1, (0.0, 80.0), (390.0, 140.0), tuple(centres[0]), tuple(centres[1]))
    flat = align_span([Plane("a", z0), Plane("b", z1)], span, 0.5)
    slope = np.array([slope_x, slope_y])
    leant = [
        Plane(name, z + forward + float(slope @ c), *slope) for name, z, c in zip("ab", (z0, z1), centres, strict=True)
    ]
    again = align_span(leant, span, 0.5)
    assert (again.leaving_deg, again.reaching_deg) == pytest.approx((flat.leaving_deg, flat.reaching_deg), abs=2e-3)


@given(st.floats(0.01, 3.0), st.floats(50, 1500))
def test_the_limit_there_and_back(limit, span):
    assert misalignment_deg(offset_at_limit_mm(limit, span), span) == pytest.approx(limit)


def test_stack_adds_and_doubts_add_in_squares():
    assert stack_z_mm((52.0, 0.3), (12.7, 0.0), (-8.2, 0.4)) == pytest.approx((56.5, 0.5))


def test_tilt_of_a_quarter_inch_in_a_foot():
    assert tilt_deg(0.25 / 12 * 0.6, 0.25 / 12 * 0.8) == pytest.approx(1.1935, abs=5e-5)  # atan(1/48), tables


@pytest.mark.parametrize("z", np.linspace(-3, 12, 31))
@pytest.mark.parametrize("grooves", [8, 10, 12])
def test_register_takes_the_nearest_of_the_grooves_that_hold_all_ribs(z, grooves):
    pitch = 3.56  # ISO 9981, PK
    offsets = [z - k * pitch for k in range(grooves) if k + 8 <= grooves]
    found = register(z, 0.0, grooves, 8, pitch)
    assert abs(found.offset_mm) == pytest.approx(min(map(abs, offsets)))
    assert found.offset_mm == pytest.approx(z - (found.first_groove - 1) * pitch)
    assert found.enough_grooves


@given(HEIGHT, HEIGHT)
def test_register_counts_from_where_the_belt_lies(z, belt_z):
    found, moved = register(z, belt_z, 12, 8, 3.56), register(z - belt_z, 0.0, 12, 8, 3.56)
    assert found.offset_mm == pytest.approx(moved.offset_mm, abs=1e-8)
    assert abs(found.offset_mm) <= abs(z - belt_z) + 1e-9


def test_one_rib_in_one_fine_groove_is_counted():
    found = register(0.25, 0.25, 1, 1, 0.5)
    assert (found.first_groove, found.offset_mm, found.enough_grooves) == (1, 0.0, True)


def test_short_spans_narrow_belts_and_readings_close_together_can_be():
    assert misalignment_deg(0.5, 0.5) == pytest.approx(45.0)
    assert offset_at_limit_mm(0.0, 300.0) == 0.0
    assert offset_at_limit_mm(45.0, 0.5) == pytest.approx(0.5)
    assert straightedge_plane((0.0, 1.0), (0.5, 1.0), along_deg=0.0) == pytest.approx((-1.0, 0.0, 0.0))
    short = align_span([Plane("a", 0), Plane("b", 0.5)], Span(0, 1, (0, 0), (0.5, 0), (0, 0), (0.5, 0)), 45.0)
    assert short.skew_deg == pytest.approx(45.0)
    at_limit = align_span([Plane("a", 0), Plane("b", 0)], Span(0, 1, (0, 0), (5, 0), (0, 0), (5, 0)), 0.0)
    assert at_limit.within  # just the limit keeps it
    told = fitting_order([BeltPlane("a", 0.0, 0.5), BeltPlane("b", 0.75, 0.5)])  # a quarter of a millimetre between
    assert "0.2 mm in front of a" in told[1][1]


def test_too_few_grooves_are_said():
    assert register(0.0, 0.0, 6, 8, 3.56).enough_grooves is False


def test_shims_bring_it_there():
    for z in (-2.0, 0.0, 1.3):
        thickness, what = shim_mm(z, 0.5)
        assert z + (thickness if "behind" in what else -thickness) == pytest.approx(0.5)
    assert shim_mm(1.0, 1.0) == (0.0, "none is needed")


def test_the_plane_nearest_the_engine_goes_on_first():
    told = fitting_order([BeltPlane("generator belt", 60.0, 21.36), BeltPlane("fan belt", 30.0, 28.48)])
    assert [name for name, _ in told] == ["fan belt", "generator belt"]
    assert "5.1 mm in front of fan belt" in told[1][1]  # 60 - 21.36 / 2 - (30 + 28.48 / 2) = 5.08


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: straightedge_plane((5.0, 1.0), (5.0, 2.0), along_deg=0), "two different places"),
        (stack_z_mm, "at least one part"),
        (lambda: misalignment_deg(1.0, 0.0), "longer than nothing"),
        (lambda: offset_at_limit_mm(90.0, 100.0), "below 90"),
        (lambda: offset_at_limit_mm(0.5, 0.0), "longer than nothing"),
        (lambda: register(0.0, 0.0, 0, 8, 3.56), "counted from one"),
        (lambda: register(0.0, 0.0, 8, 0, 3.56), "counted from one"),
        (lambda: register(0.0, 0.0, 8, 8, 0.0), "more than nothing"),
        (lambda: fitting_order([BeltPlane("a", 0, 20), BeltPlane("b", 20, 20)]), r"a and b overlap by -?0\.0 mm"),
        (lambda: fitting_order([BeltPlane("a", 0.0, 0.0)]), "a must be wider"),
        (lambda: fitting_order([BeltPlane("a", 0, 20), BeltPlane("b", 15, 20)]), "a and b overlap by 5.0 mm"),
        (lambda: align_span([Plane("a", 0), Plane("b", 0)], Span(0, 1, (1, 1), (1, 1), (0, 0), (2, 2)), 0.5), "a to b"),
    ],
)
def test_what_cannot_be_is_refused(call, said):
    with pytest.raises(PlaneError, match=said):
        call()
