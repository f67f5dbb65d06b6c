"""Routes in space: three worked on paper, and any route against a finely followed path and turned, moved or read backwards.

The reference frame is the double reflection method (W. Wang, B. Juettler, D. Zheng, Y. Liu, "Computation of rotation
minimizing frames", ACM Transactions on Graphics 27, 2008), on thousands of small chords: another way than ours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from kb.mechanics import route as routes
from kb.mechanics.route import RouteError


@dataclass(frozen=True)
class Worked:
    """A route worked on paper: corners in mm, centre-line radius, both elbows' faces, and what comes out."""

    points: tuple[tuple[float, float, float], ...]
    radius_mm: float
    near: tuple[float, float, float]
    far: tuple[float, float, float]
    length_mm: float
    clock_deg: float


WORKED = (
    # One bend, in the plane of the paper:            B faces left (-x)
    #   A (0,0,0) --300--> (300,0,0)                  |  400
    #                          up to (300,400,0)      A's elbow faces the reader (+z)
    # Length 300 + 400 - 2 x 100 + 100 pi/2 = 657.08. The bend turns about +z, so +z stays +z. Looking up along +y with +z at
    # 12 o'clock, +x is at 3 (y x z = x) and -x at 9: 270 degrees.
    Worked(((0, 0, 0), (300, 0, 0), (300, 400, 0)), 100, (0, 0, 1), (-1, 0, 0), 657.0796, 270),
    # Two bends, right, then up, then forward: (0,0,0) 200 right, 250 up, 300 forward.
    # Length 750 - 2 (2 x 80 - 80 pi/2) = 750 - 320 + 251.33 = 681.33. A's elbow faces up: the first bend (x to y) turns +y to
    # -x, the second (y to z, about x) leaves it. Looking forward along +z clockwise goes x, y, -x, -y: from -x 45 degrees
    # on lies (-1, -1, 0).
    Worked(((0, 0, 0), (200, 0, 0), (200, 250, 0), (200, 250, 300)), 80, (0, 1, 0), (-1, -1, 0), 681.3274, 45),
    # A bend of 45 and one of 90, in two planes: 300 forward, then 200 right and 200 forward at once, then 300 up.
    # Legs 300, 282.843, 300; tan 22.5 = 0.41421: 882.843 - 2 x 60 (0.41421 + 1) + 60 (pi/4 + pi/2) = 854.509.
    # A's 45-degree elbow faces up and back: square to the hose that is +y. The first bend turns about y: +y stays. The
    # second, from d = (1,0,1)/sqrt 2 to +y, turns +y to -d. Looking up, clockwise goes z, x, -z, -x: -d is at 225, -z at
    # 180: 315.
    Worked(((0, 0, 0), (0, 0, 300), (200, 0, 500), (200, 300, 500)), 60, (0, 1, -1), (0, 0, -1), 854.5092, 315),
)


@pytest.mark.parametrize("one", WORKED)
def test_worked_on_paper(one: Worked) -> None:
    route = routes.rounded(one.points, one.radius_mm)
    assert route.possible
    assert route.length_mm == pytest.approx(one.length_mm, abs=0.001)
    assert math.degrees(routes.clock_angle_rad(one.points, one.near, one.far)) == pytest.approx(one.clock_deg, abs=1e-6)
    back = one.points[::-1]
    assert routes.rounded(back, one.radius_mm).length_mm == pytest.approx(one.length_mm, abs=0.001)
    assert math.degrees(routes.clock_angle_rad(back, one.far, one.near)) == pytest.approx(one.clock_deg, abs=1e-6)


def reference_path(points, radius: float, chords: int = 600) -> np.ndarray:
    """The rounded path with each arc cut by slerp between its tangents: built from the tangents, not from our centre."""
    points = np.array(points, float)
    path = [points[0]]
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        u = (corner - before) / np.linalg.norm(corner - before)
        v = (after - corner) / np.linalg.norm(after - corner)
        turn = math.acos(np.clip(u @ v, -1, 1))
        if turn < 1e-6:
            continue
        at = corner - u * radius * math.tan(turn / 2)
        step = turn / chords
        for number in range(chords):
            middle = (number + 0.5) * step
            heading = (math.sin(turn - middle) * u + math.sin(middle) * v) / math.sin(turn)
            path.append(at)
            at = at + heading * 2 * radius * math.sin(step / 2)
        path.append(at)
    path.append(points[-1])
    return np.array(path)


def reference_carry(path: np.ndarray, direction: np.ndarray) -> np.ndarray:
    """Carry a direction along a chain of chords by double reflection."""
    tangents = np.gradient(path, axis=0)
    tangents /= np.linalg.norm(tangents, axis=1)[:, None]
    tangents[0] = (path[1] - path[0]) / np.linalg.norm(path[1] - path[0])
    tangents[-1] = (path[-1] - path[-2]) / np.linalg.norm(path[-1] - path[-2])
    for place in range(len(path) - 1):
        chord = path[place + 1] - path[place]
        square = chord @ chord
        if square < 1e-18:
            continue
        reflected = direction - 2 / square * (chord @ direction) * chord
        tangent = tangents[place] - 2 / square * (chord @ tangents[place]) * chord
        second = tangents[place + 1] - tangent
        if second @ second > 1e-18:
            reflected = reflected - 2 / (second @ second) * (second @ reflected) * second
        direction = reflected
    return direction


COORDINATES = st.floats(-1500, 1500)
POINTS = st.lists(st.tuples(COORDINATES, COORDINATES, COORDINATES), min_size=2, max_size=6)
FACES = st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)).filter(lambda v: math.hypot(*v) > 0.2)


def sound(points) -> bool:
    """Whether the legs have some length and no corner turns back sharply."""
    legs = [np.subtract(b, a) for a, b in pairwise(points)]
    sizes = [np.linalg.norm(leg) for leg in legs]
    if min(sizes) < 20:
        return False
    return all(a @ b / np.linalg.norm(a) / np.linalg.norm(b) > -0.95 for a, b in pairwise(legs))


def roomy_radius(points) -> float:
    """A radius for which every leg has room."""
    largest = [bend.largest_radius_mm for bend in routes.rounded(points, 1.0).bends]
    return 0.8 * min([*largest, 500.0])


def fair_faces(points, near, far) -> bool:
    """Whether neither elbow points nearly along its hose."""
    ends = (np.subtract(points[1], points[0]), np.subtract(points[-1], points[-2]))
    return all(np.linalg.norm(np.cross(a, b)) > 0.1 * np.linalg.norm(a) for a, b in zip(ends, (near, far), strict=True))


def apart_deg(a: float, b: float) -> float:
    return abs(math.remainder(math.degrees(a) - math.degrees(b), 360))


@given(POINTS.filter(sound))
@settings(max_examples=50)
def test_length_is_that_of_the_path_followed_in_small_steps(points) -> None:
    radius = roomy_radius(points)
    path = reference_path(points, radius)
    followed = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
    route = routes.rounded(points, radius)
    assert route.possible
    assert route.length_mm == pytest.approx(followed, abs=0.02)
    ours = np.array(routes.followed(route, 1e-4))
    assert float(np.linalg.norm(np.diff(ours, axis=0), axis=1).sum()) == pytest.approx(route.length_mm, abs=0.05)
    gap = np.linalg.norm(path[:, None, :] - ours[None, ::7, :], axis=2).min(axis=0)
    nearest_step = max(np.linalg.norm(np.diff(path, axis=0), axis=1))
    assert float(gap.max()) < nearest_step / 2 + 0.01


@given(POINTS.filter(sound), FACES, FACES)
@settings(max_examples=50, deadline=None)
def test_clock_angle_is_that_of_a_double_reflected_frame(points, near, far) -> None:
    assume(fair_faces(points, near, far))
    path = reference_path(points, roomy_radius(points), chords=400)
    start = (path[1] - path[0]) / np.linalg.norm(path[1] - path[0])
    end = (path[-1] - path[-2]) / np.linalg.norm(path[-1] - path[-2])
    carried = reference_carry(path, np.array(near) - (np.array(near) @ start) * start)
    seat = np.array(far) - (np.array(far) @ end) * end
    expected = math.atan2(end @ np.cross(carried, seat), carried @ seat)
    assert apart_deg(routes.clock_angle_rad(points, near, far), expected) < 0.1


@given(POINTS.filter(sound), FACES, FACES, st.integers(0, 10_000), st.tuples(COORDINATES, COORDINATES, COORDINATES))
def test_turned_moved_or_read_backwards_it_is_the_same(points, near, far, seed, move) -> None:
    assume(fair_faces(points, near, far))
    radius = roomy_radius(points)
    rotation = Rotation.random(random_state=seed)
    elsewhere = [tuple(point) for point in rotation.apply(points) + np.array(move)]
    length, clock = routes.rounded(points, radius).length_mm, routes.clock_angle_rad(points, near, far)
    assert routes.rounded(elsewhere, radius).length_mm == pytest.approx(length, abs=1e-6)
    assert apart_deg(routes.clock_angle_rad(elsewhere, rotation.apply(near), rotation.apply(far)), clock) < 1e-6
    back = points[::-1]
    assert routes.rounded(back, radius).length_mm == pytest.approx(length, abs=1e-9 * length)
    assert apart_deg(routes.clock_angle_rad(back, far, near), clock) < 1e-6
    mirrored = [(-x, y, z) for x, y, z in points]
    mirror_clock = routes.clock_angle_rad(mirrored, (-near[0], *near[1:]), (-far[0], *far[1:]))
    assert apart_deg(mirror_clock, -clock) < 1e-6


def test_twist_between_bends_tells_mirror_images_apart() -> None:
    # Right, up, forward: looking up along the middle leg, the first bend came off to the left (its outside), the last
    # goes forward. The bends' axes are z and x; looking along +y, z to x is 90 clockwise (z, x, -z, -x as above).
    right = routes.rounded(((0, 0, 0), (200, 0, 0), (200, 250, 0), (200, 250, 300)), 50)
    left = routes.rounded(((0, 0, 0), (-200, 0, 0), (-200, 250, 0), (-200, 250, 300)), 50)
    assert right.bends[1].twist_rad == pytest.approx(math.radians(90))
    assert left.bends[1].twist_rad == pytest.approx(math.radians(270))


def test_a_leg_too_short_says_what_there_is_room_for() -> None:
    # The middle leg of 100 must hold two tangents of R tan 45: room for 50; the last of 60, less a fitting of 20: for 40.
    points = ((0, 0, 0), (300, 0, 0), (300, 100, 0), (300, 100, 60))
    route = routes.rounded(points, 45, far_rigid_mm=20)
    assert not route.possible
    assert [bend.possible for bend in route.bends] == [True, False]
    assert [bend.largest_radius_mm for bend in route.bends] == pytest.approx([50, 40])
    assert routes.rounded(points, 40, far_rigid_mm=20).possible
    assert routes.followed(route)[-2] == (300, 100, 0)  # the corner that cannot be is left sharp


def test_what_is_left_straight_is_the_leg_less_its_fittings_and_both_arcs() -> None:
    # quarter turns of 30 take 30 of each leg: 300 - 12 - 30, 100 - 30 - 30, 200 - 30 - 30, 160 - 30 - 20
    points = ((0, 0, 0), (300, 0, 0), (300, 100, 0), (300, 100, 200), (140, 100, 200))
    route = routes.rounded(points, 30, near_rigid_mm=12, far_rigid_mm=20)
    assert [leg.length_mm for leg in route.legs] == [300, 100, 200, 160]
    assert [leg.straight_mm for leg in route.legs] == pytest.approx([258, 40, 140, 110])
    assert [bend.largest_radius_mm for bend in route.bends] == pytest.approx([50, 50, 100])
    assert [leg.straight_mm for leg in routes.rounded(points, 30).legs] == pytest.approx([270, 40, 140, 130])
    tight = routes.rounded(((0, 0, 0), (50, 0, 0), (50, 100, 0)), 30, near_rigid_mm=20)
    assert tight.bends[0].largest_radius_mm == pytest.approx(30)
    assert tight.possible  # just room enough is enough ...
    assert tight.bends[0].possible
    for radius, room in ((30.5, 30.0), (30.0 + 1e-6, 30.0)):  # ... and half a millimetre less is not
        short = routes.rounded(((0, 0, 0), (50, 0, 0), (50, 100, 0)), radius, near_rigid_mm=20)
        assert not short.possible
        assert not short.bends[0].possible
        assert short.bends[0].largest_radius_mm == pytest.approx(room)
    none_left = routes.rounded(((0, 0, 0), (50, 0, 0), (50, 100, 0)), 30, near_rigid_mm=60)
    assert none_left.bends[0].largest_radius_mm == 0.0


def test_a_straight_leg_with_a_point_on_it_gives_up_nothing_to_it() -> None:
    route = routes.rounded(((0, 0, 0), (100, 0, 0), (250, 0, 0), (250, 90, 0)), 40)
    assert [leg.straight_mm for leg in route.legs] == pytest.approx([100, 110, 50])
    assert route.bends[0].largest_radius_mm == pytest.approx(90)


@pytest.mark.parametrize(("radius", "flattest"), [(100.0, 0.01), (100.0, 1.0), (0.5, 0.01), (8.0, 0.5)])
def test_chords_stand_off_their_arc_by_what_is_asked_and_hardly_less(radius, flattest) -> None:
    # the middle of a chord of half angle a is r (1 - cos a) off its arc (plane geometry); one chord fewer would be too flat
    route = routes.rounded(((0, 0, 0), (300, 0, 0), (300, 300, 0)), radius)
    chain = routes.followed(route) if flattest == 0.01 else routes.followed(route, flattest)
    chords = len(chain) - 3  # both ends, and as many points on the arc as chords and one
    assert radius * (1 - math.cos(math.pi / 4 / chords)) <= flattest
    assert chords == 1 or radius * (1 - math.cos(math.pi / 4 / (chords - 1))) > flattest
    assert all(math.dist(point, (300 - radius, radius, 0)) == pytest.approx(radius) for point in chain[1:-1])
    assert chain[1] == pytest.approx((300 - radius, 0, 0))
    assert chain[-2] == pytest.approx((300, radius, 0))
    assert (chain[0], chain[-1]) == ((0, 0, 0), (300, 300, 0))


def test_a_slight_bend_is_one_chord_and_a_corner_of_no_radius_a_corner() -> None:
    slight = routes.rounded(((0, 0, 0), (300, 0, 0), (600, 0.3, 0)), 50)
    assert len(routes.followed(slight)) == 4
    sharp = routes.followed(routes.rounded(((0, 0, 0), (300, 0, 0), (300, 300, 0)), 0.0))
    assert all(point == pytest.approx((300, 0, 0)) for point in sharp[1:-1])


def test_a_clock_angle_is_told_however_short_the_faces_are_given() -> None:
    for size in (1e-3, 1.0, 1e6):
        found = routes.signed_angle_rad((size, 0, 0), (0, 0, size), (0, 1, 0))
        assert math.degrees(found) == pytest.approx(270)
    with pytest.raises(RouteError, match="no clock angle"):
        routes.signed_angle_rad((1e6, 1e-4, 0), (0, 0, 1), (1, 0, 0))  # a ten-thousandth in a million is along the hose


def test_a_hair_under_a_whole_turn_is_none() -> None:
    assert routes.signed_angle_rad((1, 0, 0), (math.cos(1e-10), math.sin(1e-10), 0), (0, 0, -1)) == 0.0


def test_a_point_on_a_straight_leg_is_no_bend() -> None:
    route = routes.rounded(((0, 0, 0), (100, 0, 0), (250, 0, 0)), 100)
    assert route.possible
    assert route.bends == ()
    assert route.length_mm == 250


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ((), "here are none"), (((0, 0, 0),), "here is one"),
        (((0, 0, 0), (0, 0, 0)), "points 1 and 2 of the route are in one"),
        (((0, 0, 0), (100, 0, 0), (50, 0, 0)), "at point 2 the route turns back on itself"),
    ],
)  # fmt: skip
def test_routes_that_cannot_be_followed(points, said) -> None:
    with pytest.raises(RouteError, match=said):
        routes.rounded(points, 10)


def test_an_elbow_along_its_hose_has_no_clock_angle() -> None:
    with pytest.raises(RouteError, match="no clock angle"):
        routes.clock_angle_rad(((0, 0, 0), (100, 0, 0)), (1, 0, 0), (0, 1, 0))
