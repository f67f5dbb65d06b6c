"""Hoses as drawn: the path's length and the cut marks are measured off the points and held to the arithmetic on paper."""

from __future__ import annotations

import math
import xml.etree.ElementTree as Tree
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.moulded import Shape, developed_length_mm
from queries.drawings.hoses import Marks, cut_apart, draw_hose, middle

FLAT = Shape((200.0, 150.0, 180.0), (90.0, 45.0), (0.0,))
TWISTED = Shape((200.0, 150.0, 180.0), (90.0, 45.0), (90.0,))


def length(points) -> float:
    return math.fsum(math.dist(one, other) for one, other in pairwise(points))


@pytest.mark.parametrize("shape", [FLAT, TWISTED])
def test_the_middle_is_as_long_as_legs_less_what_the_bends_save(shape) -> None:
    assert length(middle(shape, 40.0)) == pytest.approx(developed_length_mm(shape, 40.0), rel=1e-3)


def test_every_point_of_an_arc_is_a_radius_from_its_centre() -> None:
    # The first bend, 90 degrees at (200, 0), R 40: its centre is at (160, 40).
    arc = list(middle(FLAT, 40.0)[1:18])
    for x, y, z in arc:
        assert math.hypot(x - 160.0, y - 40.0) == pytest.approx(40.0)
        assert z == pytest.approx(0.0)


@given(st.floats(0.0, 230.0), st.floats(0.0, 230.0))
def test_cuts_part_the_path_where_they_are_said_to(first_mm, second_mm) -> None:
    points = middle(TWISTED, 40.0)
    first, kept, second = cut_apart(points, Marks(first_mm, second_mm))
    assert length(first) == pytest.approx(first_mm, abs=1e-5)
    assert length(second) == pytest.approx(second_mm, abs=1e-5)
    assert length(kept) == pytest.approx(length(points) - first_mm - second_mm, abs=1e-5)


def test_a_flat_hose_is_drawn_once_a_twisted_one_twice() -> None:
    assert len(draw_hose(FLAT, 40.0, 48.0, Marks(0.0, 0.0))) == 1
    assert len(draw_hose(TWISTED, 40.0, 48.0, Marks(0.0, 0.0))) == 2
    unknown = Shape(FLAT.legs_mm, FLAT.bends_deg)
    ((_, said),) = draw_hose(unknown, 40.0, 48.0, Marks(0.0, 0.0))
    assert "not listed" in said


@pytest.mark.parametrize("shape", [FLAT, TWISTED, Shape((400.0,), ()), Shape((100.0, 100.0), (90.0,))])
@pytest.mark.parametrize("marks", [Marks(0.0, 0.0), Marks(50.0, 0.0), Marks(20.0, 60.0)])
def test_drawings_are_whole_and_keep_within_their_frame(shape, marks) -> None:
    for svg, _ in draw_hose(shape, 30.0, 48.0, marks):
        tree = Tree.fromstring(svg)
        left, top, width, height = map(float, tree.get("viewBox", "").split())
        for line in tree.iter("{http://www.w3.org/2000/svg}polyline"):
            for pair in line.get("points", "").split():
                x, y = map(float, pair.split(","))
                assert left <= x <= left + width
                assert top <= y <= top + height
        bars = list(tree.iter("{http://www.w3.org/2000/svg}line"))
        assert len(bars) == (marks.first_mm > 0) + (marks.second_mm > 0)
        assert "style=" not in svg
        words = [each.text for each in tree.iter("{http://www.w3.org/2000/svg}text")]
        assert words[0] == (f"A: cut {marks.first_mm:.0f} mm off" if marks.first_mm else "A: as it is")


def test_the_view_from_above_is_no_mirror_image() -> None:
    # x to the right and y up, z comes toward the eye (right-handed); tipped forward to be seen from above, z points down the
    # paper. With a twist of +90 the third leg runs toward the eye (the corners of kb.mechanics.moulded have it so).
    (_, (above, _)) = draw_hose(Shape((200.0, 150.0, 180.0), (90.0, 90.0), (90.0,)), 40.0, 48.0, Marks(0.0, 0.0))
    line = next(Tree.fromstring(above).iter("{http://www.w3.org/2000/svg}polyline"))
    points = [tuple(map(float, pair.split(","))) for pair in line.get("points", "").split()]
    assert points[-1][1] - points[0][1] == pytest.approx(180.0, abs=0.1)


def test_a_hose_of_which_nothing_is_left_has_no_drawing() -> None:
    """Asked for legs of a billionth of a millimetre, every hose is cut away whole."""
    straight = Shape((200.0,), ())
    assert draw_hose(straight, 40.0, 48.0, Marks(0.0, 200.0)) == []
    assert draw_hose(straight, 40.0, 48.0, Marks(200.0, 0.0)) == []
    assert len(draw_hose(straight, 40.0, 48.0, Marks(0.0, 199.0))) == 1
