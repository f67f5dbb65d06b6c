"""Shapes of moulded hoses against geometry done another way: numpy's vectors, a finely cut path, and mirrors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.moulded import (
    Shape,
    ShapeError,
    angle_apart_deg,
    bend_radius_mm,
    corner_saving,
    corners,
    developed_length_mm,
    tangent_mm,
    without_straight_bends,
)
from kb.mechanics.moulded_search import Match, Miss, Tolerance, find_in

LEG = st.floats(60.0, 400.0)
BEND = st.floats(10.0, 150.0)
TWIST = st.floats(-179.0, 179.0)


@st.composite
def shapes(draw, fewest=1) -> Shape:
    count = draw(st.integers(fewest, 4))
    return Shape(
        tuple(draw(st.lists(LEG, min_size=count + 1, max_size=count + 1))),
        tuple(draw(st.lists(BEND, min_size=count, max_size=count))),
        tuple(draw(st.lists(TWIST, min_size=count - 1, max_size=count - 1))),
    )


def torsion(points: np.ndarray) -> float:
    """The torsion angle of four points by the sign rule of IUPAC's Gold Book: clockwise, seen along the middle, is plus."""
    first, middle, last = np.diff(points, axis=0)
    one, other = np.cross(first, middle), np.cross(middle, last)
    return math.degrees(math.atan2(np.linalg.norm(middle) * first @ other, one @ other))


@given(shapes())
def test_corners_have_the_legs_bends_and_twists_asked_for(shape) -> None:
    points = np.array(corners(shape))
    steps = np.diff(points, axis=0)
    assert np.linalg.norm(steps, axis=1) == pytest.approx(np.array(shape.legs_mm))
    for place, bend in enumerate(shape.bends_deg):
        one, other = steps[place], steps[place + 1]
        turned = math.degrees(math.atan2(np.linalg.norm(np.cross(one, other)), one @ other))
        assert turned == pytest.approx(bend, abs=1e-6)
    for place, twist in enumerate(shape.twists_deg):
        assert torsion(points[place : place + 4]) == pytest.approx(twist, abs=1e-6)


@given(shapes())
def test_a_hose_from_its_other_end_is_the_same_hose(shape) -> None:
    points = np.array(corners(shape))[::-1]
    turned = np.array(corners(shape.turned()))
    for place in range(len(points)):
        for other in range(place):
            assert np.linalg.norm(points[place] - points[other]) == pytest.approx(
                np.linalg.norm(turned[place] - turned[other])
            )
    for place, twist in enumerate(shape.turned().twists_deg):
        assert torsion(points[place : place + 4]) == pytest.approx(twist, abs=1e-6)


@given(shapes())
def test_a_mirror_keeps_every_distance_and_turns_the_twists(shape) -> None:
    points, mirrored = np.array(corners(shape)), np.array(corners(shape.mirrored()))
    assert mirrored * [1, 1, -1] == pytest.approx(points, abs=1e-6)


def test_developed_length_against_a_finely_cut_path() -> None:
    # Legs 200, 150 and 180, bends 90 and 60, radius 45: straight pieces less tangents, and each arc in 20,000 chords.
    shape, radius = Shape((200.0, 150.0, 180.0), (90.0, 60.0), (30.0,)), 45.0
    length = 0.0
    takes = [0.0, *(tangent_mm(bend, radius) for bend in shape.bends_deg), 0.0]
    for place, leg in enumerate(shape.legs_mm):
        length += leg - takes[place] - takes[place + 1]
    for bend in shape.bends_deg:
        angles = np.linspace(0, math.radians(bend), 20_001)
        arc = radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        length += np.linalg.norm(np.diff(arc, axis=0), axis=1).sum()
    assert developed_length_mm(shape, radius) == pytest.approx(length, abs=1e-5)


def test_the_saving_of_a_quarter_turn() -> None:
    # Two radii of tangent less a quarter circle: 2 - pi / 2.
    assert corner_saving(90.0) == pytest.approx(2 - math.pi / 2)


@given(shapes(), st.floats(5.0, 15.0))
def test_the_radius_comes_back_from_the_length(shape, radius) -> None:
    takes = [0.0, *(tangent_mm(bend, radius) for bend in shape.bends_deg), 0.0]
    fits = all(leg >= takes[place] + takes[place + 1] for place, leg in enumerate(shape.legs_mm))
    told = bend_radius_mm(shape, developed_length_mm(shape, radius))
    assert told is None or told == pytest.approx(radius, rel=1e-6, abs=1e-6)
    assert (told is not None) or not fits or sum(map(corner_saving, shape.bends_deg)) < 1e-6


def test_no_radius_where_the_length_is_the_legs_own_or_too_short() -> None:
    shape = Shape((100.0, 100.0), (90.0,))
    assert bend_radius_mm(shape, 200.0) is None
    assert bend_radius_mm(shape, 100.0) is None  # the arc would need legs of 233 mm
    assert bend_radius_mm(shape, None) is None


def test_bends_of_nothing_are_none() -> None:
    assert without_straight_bends([100, 50, 80], [90, 0], [30]) == Shape((100, 130), (90,), ())
    assert without_straight_bends([100, 50, 80, 60], [90, 0, 45], [30, 40]) == Shape((100, 130, 60), (90, 45), (70,))
    assert without_straight_bends([], [90, 45], None) == Shape(None, (90, 45), None)


@pytest.mark.parametrize(
    ("legs", "bends", "twists", "says"),
    [
        ((100, 100), (90, 45), None, "3 legs"), ((100, 100, 100), (90, 45), (1, 2), "1 twists"),
        ((100, 100), (200,), None, "200"),
        ((100, 100), (180,), None, "two"), ((100, 0), (90,), None, "leg"), (None, None, None, "neither"),
        ((100, 100), (-5,), None, "-5"),
    ],
)  # fmt: skip
def test_what_is_no_hose_is_said(legs, bends, twists, says) -> None:
    with pytest.raises(ShapeError, match=says):
        Shape(legs, bends, twists)


@st.composite
def lists_with_straight_bends(draw) -> tuple[list[float], list[float], list[float]]:
    count = draw(st.integers(1, 5))
    bends = draw(st.lists(st.one_of(st.just(0.0), BEND), min_size=count, max_size=count))
    legs = draw(st.lists(LEG, min_size=count + 1, max_size=count + 1))
    return legs, bends, draw(st.lists(TWIST, min_size=count - 1, max_size=count - 1))


@given(lists_with_straight_bends())
def test_leaving_out_bends_of_nothing_leaves_the_hose_where_it_was(lists) -> None:
    """Corners laid out by numpy's rotations, a frame carried along, straight bends and all: both ends and every bend stay."""
    legs, bends, twists = lists
    shape = without_straight_bends(legs, bends, twists)
    frame, at = np.eye(3), np.zeros(3)  # columns: along, the side of the bend, and square to both
    kept = [at]
    for place, leg in enumerate(legs):
        at = at + leg * frame[:, 0]
        if place == len(bends) or bends[place]:
            kept.append(at)
        if place < len(bends):
            if place:
                turn = math.radians(twists[place - 1])
                frame = frame @ [[1, 0, 0], [0, math.cos(turn), -math.sin(turn)], [0, math.sin(turn), math.cos(turn)]]
            turn = math.radians(bends[place])
            frame = frame @ [[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [0, 0, 1]]
    assert shape.bends_deg == tuple(bend for bend in bends if bend)
    ours, peers = np.array(corners(shape)), np.array(kept)
    assert len(ours) == len(peers)
    for one in range(len(ours)):
        for other in range(one):
            assert np.linalg.norm(ours[one] - ours[other]) == pytest.approx(np.linalg.norm(peers[one] - peers[other]))
    if len(ours) > 3:  # and not its mirror image
        told = (np.cross(ours[1] - ours[0], ours[2] - ours[1]) @ (ours[-1] - ours[0]),)
        peer = np.cross(peers[1] - peers[0], peers[2] - peers[1]) @ (peers[-1] - peers[0])
        assert told[0] == pytest.approx(peer, rel=1e-6, abs=1.0)


def test_bends_alone_and_legs_alone_lose_their_straight_ones_too() -> None:
    assert without_straight_bends([], [90, 0, 45], None) == Shape(None, (90, 45))
    assert without_straight_bends([], [0, 90, 45], [10, 20]) == Shape(None, (90, 45), (20,))
    assert without_straight_bends([], [90, 45, 0], [10, 20]) == Shape(None, (90, 45), (10,))
    assert without_straight_bends([], [90, 0, 45], [10, 20]) == Shape(None, (90, 45), (30,))
    assert without_straight_bends([100, 50], [0, 0], None) == Shape((150,), ())


def test_the_edges_of_what_a_hose_can_be() -> None:
    assert Shape((0.5, 0.5), (170.0,)).bend_count == 1
    assert Shape(None, (0.5,)).bend_count == 1
    assert Shape((0.5,), None).bend_count == 0
    assert Shape((0.5,), (), ()).bend_count == 0
    with pytest.raises(ShapeError, match="0 bends have 0 twists between them, not 1"):
        Shape((0.5,), (), (30.0,))
    for one, other, apart in ((10.0, 370.0, 0.0), (0.0, 725.0, 5.0), (-170.0, 170.0, 20.0), (0.0, 180.0, 180.0)):
        assert angle_apart_deg(one, other) == angle_apart_deg(other, one) == apart
    for wrong in (lambda: Shape(None, (170.5,)), lambda: Shape((1.0, 0.0), (90.0,)), lambda: Shape(None, (0.0,))):
        with pytest.raises(ShapeError):
            wrong()


def test_arcs_that_just_fit_have_a_radius() -> None:
    # quarter turns of 50 take all of a leg of 100 between them, and half of each end leg of 100
    shape = Shape((100.0, 100.0, 100.0), (90.0, 90.0), (0.0,))
    assert bend_radius_mm(shape, developed_length_mm(shape, 50.0)) == pytest.approx(50.0)
    assert bend_radius_mm(shape, developed_length_mm(shape, 50.1)) is None
    assert bend_radius_mm(shape, developed_length_mm(shape, 0.5)) == pytest.approx(0.5)
    ends = Shape((40.0, 100.0, 45.0), (90.0, 90.0), (0.0,))  # here the first end leg is the tightest
    assert bend_radius_mm(ends, developed_length_mm(ends, 40.0)) == pytest.approx(40.0)
    assert bend_radius_mm(ends, developed_length_mm(ends, 40.1)) is None
    back = ends.turned()  # and here the last
    assert bend_radius_mm(back, developed_length_mm(back, 40.0)) == pytest.approx(40.0)
    assert bend_radius_mm(back, developed_length_mm(back, 40.1)) is None
    assert bend_radius_mm(Shape((100.0,), ()), 90.0) is None
    assert bend_radius_mm(Shape(None, (90.0,)), 90.0) is None


# Where a shape lies in a hose ---------------------------------------------------------------------------------------------


@st.composite
def pieces_of_hoses(draw) -> tuple[Shape, Shape, int, float]:
    """A hose, a piece of its middle with legs that can be cut, where it begins, and the radius of the bends."""
    hose = draw(shapes(2))
    first = draw(st.integers(0, hose.bend_count - 1))
    count = draw(st.integers(1, hose.bend_count - first))
    radius = 2.0
    before = tangent_mm(hose.bends_deg[first - 1], radius) if first else 0.0
    last = first + count
    after = tangent_mm(hose.bends_deg[last], radius) if last < hose.bend_count else 0.0
    share = draw(st.floats(0.3, 1.0))
    legs = (
        (hose.legs_mm[first] - before) * share, *hose.legs_mm[first + 1 : last], (hose.legs_mm[last] - after) * share
    )  # fmt: skip
    return hose, Shape(legs, hose.bends_deg[first:last], hose.twists_deg[first : last - 1]), first, radius


@given(pieces_of_hoses(), st.booleans())
def test_every_piece_of_a_hose_is_found_in_it(piece, turned) -> None:
    hose, wanted, first, radius = piece
    found = find_in(hose, wanted.turned() if turned else wanted, radius, Tolerance())
    assert isinstance(found, list)
    places = {(one.turned, one.first_bend) for one in found}
    assert (turned, hose.bend_count - first - wanted.bend_count if turned else first) in places
    for one in found:
        assert one.near.off_mm + one.kept_mm + one.far.off_mm == pytest.approx(developed_length_mm(hose, radius))
        assert min(one.near.off_mm, one.far.off_mm) >= 0
    exact = next(one for one in found if one.turned is turned and one.worst_bend_deg < 1e-9)
    assert exact.kept_mm == pytest.approx(developed_length_mm(wanted, radius), abs=2 * Tolerance().short_mm + 20)


def test_cut_marks_of_a_hose_worked_on_paper() -> None:
    # Legs 200, 150, 180; bends 90, 45; R 40. Wanted 100 and 100 about the 45: off the first end come 200 + (150 - 100) less
    # the 90's saving of 40 x 0.4292 = 17.17, so 232.83; off the second end 180 - 100 = 80.
    # Kept: 200 less 40 x (0.8284 - 0.7854).
    hose = Shape((200.0, 150.0, 180.0), (90.0, 45.0), (0.0,))
    found = find_in(hose, Shape((100.0, 100.0), (45.0,)), 40.0, Tolerance())
    assert isinstance(found, list)
    one = found[0]
    assert (one.turned, one.first_bend) == (False, 1)
    assert one.near.off_mm == pytest.approx(232.83, abs=0.01)
    assert one.near.bends_deg == (90.0,)
    assert one.far.off_mm == pytest.approx(80.0)
    assert one.kept_mm == pytest.approx(200 - 40 * (0.82843 - 0.78540), abs=0.01)
    assert one.far_end_off_mm == pytest.approx(0.0, abs=1e-9)


def test_mirror_images_are_told_apart() -> None:
    hose = Shape((150.0, 120.0, 150.0), (90.0, 90.0), (60.0,))
    same = find_in(hose, Shape((100.0, 120.0, 100.0), (90.0, 90.0), (62.0,)), 30.0, Tolerance())
    assert isinstance(same, list)
    assert same[0].worst_twist_deg == pytest.approx(2.0)
    mirror = find_in(hose, Shape((100.0, 120.0, 100.0), (90.0, 90.0), (-60.0,)), 30.0, Tolerance())
    assert isinstance(mirror, Miss)
    assert mirror.kind == "mirror"


@pytest.mark.parametrize("twist", [0.0, 180.0])
def test_a_flat_hose_is_its_own_mirror_image(twist) -> None:
    hose = Shape((150.0, 120.0, 150.0), (90.0, 90.0), (twist,))
    assert isinstance(find_in(hose, hose.mirrored(), 30.0, Tolerance()), list)


def test_a_cut_stays_out_of_the_next_arc() -> None:
    # 150 mm between corners, the next bend's arc takes 40 of it at R 40: 110 are there to be had, and 3 of tape.
    hose = Shape((200.0, 150.0, 200.0), (90.0, 90.0), (0.0,))
    for wanted, found in ((112.9, True), (113.1, False)):
        one = find_in(hose, Shape((150.0, wanted), (90.0,)), 40.0, Tolerance())
        assert isinstance(one, list) is found
        if isinstance(one, Miss):
            assert one.kind == "end leg"


@pytest.mark.parametrize(
    ("wanted", "kind"),
    [
        (Shape((50.0, 120.0, 50.0), (90.0, 80.0), None), "bend"),
        (Shape((50.0, 130.0, 50.0), (90.0, 90.0), None), "inner leg"),
        (Shape((50.0, 120.0, 50.0), (90.0, 90.0), (90.0,)), "twist"),
        (Shape((300.0, 120.0, 50.0), (90.0, 90.0), None), "end leg"),
        (Shape((50.0,) * 4, (90.0,) * 3, None), "fewer bends"),
    ],
)  # fmt: skip
def test_why_it_does_not_lie_in_it(wanted, kind) -> None:
    hose = Shape((150.0, 120.0, 150.0), (90.0, 90.0), (30.0,))
    miss = find_in(hose, wanted, 30.0, Tolerance())
    assert isinstance(miss, Miss)
    assert miss.kind == kind


def test_a_straight_piece_out_of_a_bent_hose_with_one_cut() -> None:
    hose = Shape((200.0, 150.0), (90.0,), ())
    found = find_in(hose, Shape((120.0,), ()), 40.0, Tolerance())
    assert isinstance(found, list)
    best: Match = found[0]
    assert best.near.off_mm == 0.0
    assert best.far.off_mm == pytest.approx(developed_length_mm(hose, 40.0) - 120.0)
    # 200 less the arc's 40 is the longest straight piece, and 3 of tape.
    assert isinstance(find_in(hose, Shape((164.0,), ()), 40.0, Tolerance()), Miss)


@given(pieces_of_hoses(), st.floats(-5.0, 5.0), st.floats(-5.0, 5.0))
def test_the_far_end_comes_out_where_numpy_puts_it(piece, bend_off, leg_off) -> None:
    hose, wanted, _, radius = piece
    bends = tuple(min(160.0, max(5.0, bend + bend_off * 0.99)) for bend in wanted.bends_deg)
    legs = (wanted.legs_mm[0], *(leg + leg_off for leg in wanted.legs_mm[1:-1]), wanted.legs_mm[-1])
    asked = Shape(legs, bends, wanted.twists_deg)
    found = find_in(hose, asked, radius, Tolerance())
    assert isinstance(found, list)
    for one in found:
        way = hose.turned() if one.turned else hose
        count = asked.bend_count
        inner = way.legs_mm[one.first_bend + 1 : one.first_bend + count]
        has = Shape(
            (legs[0], *inner, legs[-1]),
            way.bends_deg[one.first_bend : one.first_bend + count],
            way.twists_deg[one.first_bend : one.first_bend + count - 1],
        )
        gap = np.linalg.norm(np.array(corners(has))[-1] - np.array(corners(asked))[-1])
        assert one.far_end_off_mm == pytest.approx(gap, abs=1e-6)


HOSE = Shape((150.0, 120.0, 130.0, 150.0), (90.0, 60.0, 45.0), (30.0, -40.0))


@pytest.mark.parametrize(
    ("wanted", "kind", "amount", "place"),
    [
        (Shape(None, (90.0, 66.0, 45.0)), "bend", 6.0, 0),
        (Shape((60.0, 120.0, 123.5, 60.0), (90.0, 60.0, 45.0)), "inner leg", 6.5, 2),
        (Shape((60.0, 126.5, 130.0, 60.0), (90.0, 60.0, 45.0)), "inner leg", -6.5, 1),
        (Shape(None, (90.0, 60.0, 45.0), (30.0, -51.0)), "twist", 11.0, 0),
        (Shape(None, (90.0, 60.0, 45.0), (-30.0, 40.0)), "mirror", 80.0, 0),
        (Shape((153.5, 120.0, 130.0, 60.0), (90.0, 60.0, 45.0)), "end leg", 3.5, 1),
        (Shape((60.0, 120.0, 130.0, 153.5), (90.0, 60.0, 45.0)), "end leg", 3.5, 4),
    ],
)
def test_how_much_and_where_it_misses(wanted, kind, amount, place) -> None:
    miss = find_in(HOSE, wanted, 20.0, Tolerance())
    assert isinstance(miss, Miss)
    assert (miss.kind, miss.place) == (kind, place)
    assert miss.amount == pytest.approx(amount)


@pytest.mark.parametrize(
    ("wanted", "worst"),
    [
        (Shape(None, (90.0, 65.0, 45.0)), (5.0, 0.0, None)),
        (Shape((60.0, 126.0, 129.0, 60.0), (90.0, 60.0, 45.0)), (0.0, 6.0, None)),
        (Shape(None, (90.0, 60.0, 45.0), (30.0, -50.0)), (0.0, 0.0, 10.0)),
        (Shape((153.0, 120.0, 130.0, 153.0), (90.0, 60.0, 45.0)), (0.0, 0.0, None)),
        (Shape((60.0, 60.0), (90.0,), ()), (0.0, 0.0, 0.0)),
        (Shape((100.0,), ()), (0.0, 0.0, None)),
    ],
)
def test_just_within_the_tolerance_it_lies_in_it(wanted, worst) -> None:
    found = find_in(HOSE, wanted, 20.0, Tolerance())
    assert isinstance(found, list)
    one = next(one for one in found if (one.turned, one.first_bend) == (False, 0))
    assert (one.worst_bend_deg, one.worst_leg_mm, one.worst_twist_deg) == worst
    if wanted.legs_mm is None:
        assert (one.near, one.far, one.kept_mm, one.far_end_off_mm) == (None, None, None, None)


@pytest.mark.parametrize(("twists", "kind"), [((-40.0, 50.0), "mirror"), ((-40.5, 50.0), "twist")])
def test_a_mirror_image_may_be_as_far_off_as_any_twist(twists, kind) -> None:
    miss = find_in(HOSE, Shape(None, (90.0, 60.0, 45.0), twists), 20.0, Tolerance())
    assert isinstance(miss, Miss)
    assert miss.kind == kind


def test_the_more_agreed_the_nearer_the_miss() -> None:
    legs, bends = (60.0, 120.0, 130.0, 60.0), (90.0, 60.0, 45.0)
    wanted = [
        Shape(None, (*bends, 30.0)),
        Shape(legs, (90.0, 70.0, 45.0)),
        Shape((60.0, 100.0, 130.0, 60.0), bends),
        Shape(legs, bends, (30.0, 90.0)),
        Shape(legs, bends, (-30.0, 40.0)),
        Shape((160.0, *legs[1:]), bends, (30.0, -40.0)),
    ]
    misses = [find_in(HOSE, one, 20.0, Tolerance()) for one in wanted]
    assert [one.kind for one in misses] == ["fewer bends", "bend", "inner leg", "twist", "mirror", "end leg"]
    assert [one.nearness for one in misses] == sorted({one.nearness for one in misses})


@pytest.mark.parametrize(
    ("longest", "place"),
    # from the corner of the 45 to the arcs beside it, R 30: 130 less 30 tan 30 back, 150 less 30 tan 40 on
    [((130 - 30 * math.tan(math.pi / 6), 60.0), 1), ((60.0, 150 - 30 * math.tan(math.pi * 40 / 180)), 2)],
)
def test_a_piece_may_reach_up_to_the_arcs_of_the_bends_beside_it(longest, place) -> None:
    hose = Shape((150.0, 120.0, 130.0, 150.0, 90.0), (90.0, 60.0, 45.0, 80.0))
    for more, fits in ((2.9, True), (3.1, False)):
        legs = tuple(leg + (more if at == place - 1 else 0.0) for at, leg in enumerate(longest))
        found = find_in(hose, Shape(legs, (45.0,)), 30.0, Tolerance())
        places = [(one.turned, one.first_bend) for one in found] if isinstance(found, list) else []
        assert ((False, 2) in places) is fits
        if isinstance(found, Miss):
            assert (found.kind, found.place) == ("end leg", place)


def test_half_a_millimetre_comes_off_as_half_a_millimetre() -> None:
    straight = find_in(Shape((100.5,), ()), Shape((100.0,), ()), 30.0, Tolerance())
    assert [one.far.off_mm for one in straight] == [0.5, 0.5]
    long = find_in(Shape((100.5,), ()), Shape((102.0,), ()), 30.0, Tolerance())
    assert [(one.near.off_mm, one.far.off_mm) for one in long] == [(0.0, 0.0)] * 2
    bent = find_in(Shape((100.0, 100.5), (90.0,), ()), Shape((99.5, 100.0), (90.0,), ()), 30.0, Tolerance())
    # of as much cut off, one cut comes before two: the other way round all of it comes off one end
    assert [one.turned for one in bent] == [True, False]
    assert (bent[0].near.off_mm, bent[0].far.off_mm) == (1.0, 0.0)
    assert (bent[1].near.off_mm, bent[1].far.off_mm) == (0.5, 0.5)
    assert isinstance(find_in(Shape((100.0,), ()), Shape((103.1,), ()), 30.0, Tolerance()), Miss)
    assert find_in(Shape((100.0,), ()), Shape((103.1,), ()), 30.0, Tolerance()).place == 1


def test_where_the_far_end_comes_out_is_told_only_where_all_is_known() -> None:
    two = Shape((150.0, 120.0, 150.0), (90.0, 60.0), (30.0,))
    assert find_in(two, Shape((60.0, 120.0, 60.0), (90.0, 60.0)), 20.0, Tolerance())[0].far_end_off_mm is None
    bare = Shape(two.legs_mm, two.bends_deg)
    assert find_in(bare, Shape((60.0, 120.0, 60.0), (90.0, 60.0), (30.0,)), 20.0, Tolerance())[0].far_end_off_mm is None
    assert find_in(bare, Shape((60.0, 60.0), (90.0,)), 20.0, Tolerance())[0].far_end_off_mm == pytest.approx(0.0)
    legs_only = find_in(two, Shape((60.0, 120.0, 60.0), None), 20.0, Tolerance())
    assert [one.far_end_off_mm for one in legs_only] == [None, None]
    one_bend = find_in(two, Shape((60.0, 60.0), None), 20.0, Tolerance())
    assert {one.far_end_off_mm for one in one_bend} == {None}


def test_a_leg_shorter_than_wanted_within_its_tolerance_loses_nothing() -> None:
    found = find_in(HOSE, Shape((153.0, 120.0, 130.0, 140.0), (90.0, 60.0, 45.0)), 20.0, Tolerance())
    assert isinstance(found, list)
    assert (found[0].near.off_mm, found[0].far.off_mm) == (0.0, pytest.approx(10.0))
    assert (found[0].near.past_corner_mm, found[0].far.past_corner_mm) == (153.0, 140.0)


def test_a_straight_piece_from_the_middle_lies_between_two_arcs() -> None:
    # between quarter turns of 40 a leg of 200 is 120 straight; to the cut it is 150 - 40 and one arc of 40 pi / 2
    hose = Shape((150.0, 200.0, 90.0), (90.0, 90.0), (0.0,))
    found = find_in(hose, Shape((115.0,), ()), 40.0, Tolerance())
    assert isinstance(found, list)
    middle = next(one for one in found if not one.turned and one.first_bend == 1)
    assert middle.near.off_mm == pytest.approx(110 + 20 * math.pi)
    assert middle.far.off_mm == pytest.approx(5 + 20 * math.pi + 50)
    assert (middle.near.bends_deg, middle.far.bends_deg) == ((90.0,), (90.0,))
    assert (middle.near.past_corner_mm, middle.far.past_corner_mm) == (0.0, 0.0)
    assert middle.far_end_off_mm == 0.0
    assert {one.first_bend for one in found} == {1}  # the end legs have 110 and 50
    shorter = find_in(hose, Shape((109.0,), ()), 40.0, Tolerance())
    assert [(one.turned, one.first_bend) for one in shorter] == [(False, 0), (False, 1), (True, 1), (True, 2)]


def test_tolerances_of_ones_own_and_twice_as_much_for_twists() -> None:
    assert Tolerance.within(None, None) == Tolerance(6.0, 5.0, 10.0, 3.0)
    assert Tolerance.within(2.0, 3.0) == Tolerance(2.0, 3.0, 6.0, 3.0)


def test_the_nearest_miss_is_told() -> None:
    # as listed the bends are 5.5 off, the other way round 39.5
    miss = find_in(Shape(None, (90.0, 50.0)), Shape(None, (90.0, 55.5)), 20.0, Tolerance())
    assert isinstance(miss, Miss)
    assert miss.amount == pytest.approx(5.5)
    few = find_in(Shape(None, (90.0,)), Shape(None, (90.0, 55.5)), 20.0, Tolerance())
    assert (few.kind, few.amount) == ("fewer bends", 1)
