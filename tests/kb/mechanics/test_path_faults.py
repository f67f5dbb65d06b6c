"""Faults and near misses at their edges, by plane geometry; spans against shapely's lines."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Point

from kb.mechanics.path import BlockedError, OrderError, OverlapError, PathError, Pulley, Route, Span, find_route, follow
from kb.mechanics.path_cautions import WrapLimit, path_cautions
from kb.mechanics.path_faults import (
    overlaps,
    point_to_span_mm,
    route_faults,
    span_to_span_mm,
    spans_cross,
)

WHERE = st.tuples(st.integers(-40, 40), st.integers(-40, 40))


def span(one: tuple[float, float], other: tuple[float, float]) -> Span:
    return Span(one, other, math.dist(one, other), math.atan2(other[1] - one[1], other[0] - one[0]))


@given(WHERE, WHERE, WHERE)
def test_a_point_from_a_span_is_shapelys(point, one, other) -> None:
    assume(one != other)
    assert point_to_span_mm(point, span(one, other)) == pytest.approx(Point(point).distance(LineString([one, other])))


@given(WHERE, WHERE, WHERE, WHERE)
def test_two_spans_cross_and_stand_off_as_shapelys_lines(a, b, c, d) -> None:
    assume(a != b and c != d)
    first, second = LineString([a, b]), LineString([c, d])
    assert spans_cross(span(a, b), span(c, d)) == first.crosses(second)
    # touching at an end, or lying along each other, is not crossing, and is no distance either way
    assert span_to_span_mm(span(a, b), span(c, d)) == pytest.approx(first.distance(second), abs=1e-9)


def row(*apart: float, radius: float = 10.0) -> list[Pulley]:
    return [Pulley(f"p{at}", x, 0.0, radius) for at, x in enumerate(apart)]


def test_overlaps_are_told_worst_first_and_of_one_pulley_where_asked() -> None:
    found = overlaps(row(0.0, 15.0, 31.0, 100.0))
    assert [error.pulleys for error in found] == [("p0", "p1"), ("p1", "p2")]
    assert "overlap by 5.0 mm: their centres are 15.0 mm apart" in str(found[0])
    assert [error.pulleys for error in overlaps(row(0.0, 16.0, 31.0))] == [("p1", "p2"), ("p0", "p1")]
    assert [error.pulleys for error in overlaps(row(0.0, 15.0, 31.0), about=2)] == [("p1", "p2")]
    assert [error.pulleys for error in overlaps(row(0.0, 15.0, 31.0), about=0)] == [("p0", "p1")]
    assert overlaps(row(0.0, 20.0, 40.0)) == []  # touching is not yet in the way
    assert overlaps([replace(one, body_radius_mm=12.0) for one in row(0.0, 20.0)]) != []


def test_a_pulley_that_the_span_just_touches_is_neither_missed_nor_run_through() -> None:
    # between two pulleys of 90, a third of 30 inside the belt touches the upper span where its centre is 60 up
    for up, fair in ((60.0, True), (59.9, False)):
        pulleys = [Pulley("a", 0, 0, 90), Pulley("b", 600, 0, 90), Pulley("c", 300, up, 30)]
        found = route_faults(follow(pulleys, +1))
        assert (found == []) is fair
    assert isinstance(found[0], OrderError)
    assert str(found[0]).startswith("The belt from b to a passes c without touching it, by ")


# A square of belt with a post inside, 25 mm deep in the span from a to b, which none of the corners has to do with.
SQUARE = [Pulley(name, x, y, 40.0) for name, x, y in [("a", 0, 0), ("b", 300, 0), ("c", 300, 300), ("d", 0, 300)]]


@pytest.mark.parametrize(("depth", "blocked"), [(25.0, True), (0.5, True), (0.0, False), (-3.0, False)])
def test_a_post_in_the_way_is_told_by_how_deep_it_stands(depth, blocked) -> None:
    pulleys = [*SQUARE[:3], Pulley("post", 150.0, depth - 40.0 + 30.0 - 2 * depth, 30.0, flat=True), SQUARE[3]]
    found = [one for one in route_faults(follow(pulleys, +1)) if isinstance(one, BlockedError)]
    assert bool(found) is blocked
    if blocked:
        assert found[0].pulleys == ("a", "b", "post")
        assert f"({depth:.1f} mm deep)" in str(found[0])


def test_faults_about_one_pulley_are_those_it_has_to_do_with() -> None:
    pulleys = [*SQUARE[:3], Pulley("post", 150.0, -35.0, 30.0, flat=True), SQUARE[3]]
    route = follow(pulleys, +1)
    whole = {str(one) for one in route_faults(route)}
    for about, told in enumerate([True, True, False, True, False]):  # a and b hold the span, the post is in its way
        found = route_faults(route, about)
        assert any(isinstance(one, BlockedError) for one in found) is told, pulleys[about].name
        assert {str(one) for one in found} <= whole
    crossed = follow([SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]], +1)
    words = [str(one) for one in route_faults(crossed)]
    assert any("would cross" in one for one in words)
    for about in range(4):  # each of a bow tie's pulleys is at an end of a span that crosses
        assert any("would cross" in str(one) for one in route_faults(crossed, about))


def test_a_belt_that_winds_twice_is_told_by_where_it_winds_most() -> None:
    # a spiral that cannot lie flat without crossing: two turns in all
    star = [
        Pulley(f"s{at}", 300 * math.cos(at * 4 * math.pi / 5), 300 * math.sin(at * 4 * math.pi / 5), 20.0)
        for at in range(5)
    ]
    route = follow(star, +1)
    assert route.turns == 2
    words = [str(one) for one in route_faults(route)]
    assert sum("would cross" in one for one in words) == 5  # a pentagram's spans cross five times
    assert words[-1].endswith("and 2 times round in all instead of once: check the order.")
    assert "144 degrees" in words[-1]  # an outer angle of 180 - 36
    assert not any("times round" in str(one) for one in route_faults(route, 0))


@pytest.mark.parametrize(("gap", "told"), [(4.25, True), (4.5, False), (4.75, False), (0.0, True)])
def test_a_pulley_beside_a_span_is_near_where_the_belt_has_no_room(gap, told) -> None:
    idler = Pulley("idler", 150.0, gap, 40.0, flat=True)
    pressed = [*SQUARE[:3], idler, SQUARE[3]]
    near = [one for one in path_cautions(find_route(pressed), belt_thickness_mm=4.5) if one.kind == "span near pulley"]
    assert [one.pulleys for one in near] == ([("a", "b", "idler")] if told else [])
    assert [one.value for one in near] == pytest.approx([gap] if told else [], abs=1e-9)


def test_neighbours_that_no_belt_runs_between_are_not_near() -> None:
    # equal pulleys 2 mm apart on one line: the open belt runs above and below, not between
    two = [Pulley("a", 0, 0, 50), Pulley("b", 102, 0, 50)]
    assert path_cautions(find_route(two), belt_thickness_mm=4.6) == []


@pytest.mark.parametrize("gap", [0.0, 2.0, 4.25, 4.5, 4.75])
def test_neighbours_are_near_where_the_belt_that_lies_between_them_has_no_room(gap) -> None:
    # two idlers on the belt's back, which pinch its two runs between them: the belt lies on both where they face
    pinched = [
        Pulley("crank", 0, 0, 90),
        Pulley("lower", 300, -40 - gap / 2, 40, flat=True),
        Pulley("pump", 600, 0, 90),
        Pulley("upper", 300, 40 + gap / 2, 40, flat=True),
    ]
    found = path_cautions(find_route(pinched), belt_thickness_mm=4.5)
    near = [one for one in found if one.kind == "pulleys near"]
    assert [one.pulleys for one in near] == ([("lower", "upper")] if gap < 4.5 else [])
    assert [one.value for one in near] == pytest.approx([gap] if gap < 4.5 else [], abs=1e-9)


def test_a_wrap_or_a_diameter_just_as_large_as_is_asked_is_none_too_small() -> None:
    route = find_route(SQUARE)
    exact = {"a": WrapLimit(route.wraps_rad[0], "", "")}
    assert path_cautions(route, wrap_limits=exact, least_effective_diameter_mm=80.0) == []
    assert len(path_cautions(route, least_effective_diameter_mm=80.5)) == 4
    assert path_cautions(route) == []


@pytest.mark.parametrize(("apart", "fits"), [(30.0, False), (30.5, True)])
def test_a_pulley_inside_anothers_line_leaves_no_tangent(apart, fits) -> None:
    # circles of 90 and 60 have an outer tangent while their centres are more than 30 apart
    pair = [Pulley("a", 0, 0, 90, body_radius_mm=1.0), Pulley("b", apart, 0, 60, body_radius_mm=1.0)]
    if fits:
        assert isinstance(follow(pair, +1), Route)
        return
    with pytest.raises(OverlapError, match=r"\(0\.0 mm short\)"):
        follow(pair, +1)


def test_a_small_pulley_is_one() -> None:
    assert find_route([Pulley("a", 0, 0, 0.5), Pulley("b", 100, 0, 0.5)]).length_mm == pytest.approx(200 + math.pi)
    with pytest.raises(PathError, match="radius of -1 mm"):
        find_route([Pulley("a", 0, 0, 50), Pulley("b", 100, 0, -1.0)])


def arc_line(route: Route, place: int, steps: int = 720) -> LineString:
    """The belt on one pulley as shapely's line: from where the span before arrives to where the span behind leaves."""
    one, sense = route.pulleys[place], route.senses[place]
    start = route.spans[place - 1].arrives
    begin = math.atan2(start[1] - one.y_mm, start[0] - one.x_mm)
    turned = [begin + sense * route.wraps_rad[place] * step / steps for step in range(steps + 1)]
    return LineString(
        [(one.x_mm + one.radius_mm * math.cos(a), one.y_mm + one.radius_mm * math.sin(a)) for a in turned]
    )


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("thickness", [6.0, 45.0, 130.0])
def test_what_is_near_is_what_shapely_finds_near(seed: int, thickness: float, random_drive: Callable) -> None:
    """Lines and circles by shapely; what counts is that of the words: a belt may meet itself beyond a pulley."""
    route = find_route(random_drive(seed))
    pulleys, count = route.pulleys, len(route.pulleys)
    lines = [LineString([one.leaves, one.arrives]) for one in route.spans]
    found = path_cautions(route, belt_thickness_mm=thickness)
    told = {
        kind: {(one.pulleys, round(one.value, 6)) for one in found if one.kind == kind}
        for kind in ("span near pulley", "spans near", "pulleys near")
    }
    name = [one.name for one in pulleys] * 2
    beside, along, between = set(), set(), set()
    for at, line in enumerate(lines):
        for other, one in enumerate(pulleys):
            gap = max(line.distance(Point(one.x_mm, one.y_mm)) - one.radius_mm, 0.0)
            if other not in (at, (at + 1) % count) and gap < thickness:
                beside.add(((name[at], name[at + 1], one.name), round(gap, 6)))
        for later in range(at + 1, count):
            shared = {at, (at + 1) % count} & {later, (later + 1) % count}
            gap = line.distance(lines[later])
            if gap < thickness and all(route.wraps_rad[one] > math.pi for one in shared):
                along.add(((name[at], name[at + 1], name[later], name[later + 1]), round(gap, 6)))
    for at, one in enumerate(pulleys):
        for later, other in list(enumerate(pulleys))[at + 1 :]:
            middles = Point(one.x_mm, one.y_mm), Point(other.x_mm, other.y_mm)
            gap = max(middles[0].distance(middles[1]) - one.radius_mm - other.radius_mm, 0.0)
            between_centres = LineString(middles)
            if gap < thickness and any(arc_line(route, here).distance(between_centres) < 1e-9 for here in (at, later)):
                between.add(((one.name, other.name), round(gap, 6)))
    assert told == {"span near pulley": beside, "spans near": along, "pulleys near": between}


def test_two_pulleys_of_which_one_is_tiny_are_no_near_miss() -> None:
    # its two runs are 6 mm apart where they leave the tiny one, round which the belt turns by less than half
    assert path_cautions(find_route([Pulley("a", 0, 0, 90), Pulley("b", 400, 0, 3)]), belt_thickness_mm=8.0) == []


def test_a_lightly_touched_idler_is_no_near_miss_of_its_own_two_spans() -> None:
    light = [SQUARE[0], Pulley("idler", 150.0, -3.0, 38.0), *SQUARE[1:]]
    assert 0 < find_route(light).wraps_rad[1] < math.radians(20)
    assert path_cautions(find_route(light), belt_thickness_mm=20.0) == []


def test_a_missed_pulley_is_told_about_itself_and_its_two_neighbours() -> None:
    # six on a ring, of which the third stands 20 mm too far in to be touched (a negative wrap between its neighbours)
    ring = [
        Pulley(f"r{at}", 300 * math.cos(at * math.pi / 3), 300 * math.sin(at * math.pi / 3), 30.0) for at in range(6)
    ]
    inner = [
        replace(one, x_mm=one.x_mm * 0.45, y_mm=one.y_mm * 0.45) if at == 2 else one for at, one in enumerate(ring)
    ]
    route = follow(inner, +1)
    assert [wrap < 0 for wrap in route.wraps_rad] == [False, False, True, False, False, False]
    missed = f"The belt from r1 to r3 passes r2 without touching it, by {-math.degrees(route.wraps_rad[2]):.1f} degrees"
    for about in range(6):
        told = [str(one) for one in route_faults(route, about) if "without touching" in str(one)]
        assert [one.startswith(missed) for one in told] == ([True] if about in (1, 2, 3) else [])


def test_a_crossing_is_told_about_the_pulleys_whose_spans_cross() -> None:
    # eight on a ring, two of them listed the wrong way round: the spans 2-3 and 4-5 of the list cross
    ring = [
        Pulley(f"r{at}", 300 * math.cos(at * math.pi / 4), 300 * math.sin(at * math.pi / 4), 20.0) for at in range(8)
    ]
    listed = [*ring[:3], ring[4], ring[3], *ring[5:]]
    route = follow(listed, +1)
    crossed = [str(one) for one in route_faults(route) if "would cross" in str(one)]
    assert any(one.startswith("The belt from r2 to r4 would cross the belt from r3 to r5") for one in crossed)
    names = [one.name for one in listed]
    lines = [LineString([one.leaves, one.arrives]) for one in route.spans]
    pairs = [(names[at], names[to]) for at in range(8) for to in range(at + 1, 8) if lines[at].crosses(lines[to])]
    assert [(one.split()[3], one.split()[11]) for one in crossed] == pairs
    for about in range(8):  # a pulley's own spans are the one that arrives and the one that leaves
        own = {names[about - 1], names[about]}
        told = [str(one) for one in route_faults(route, about) if "would cross" in str(one)]
        assert told == [one for one in crossed if own & {one.split()[3], one.split()[11]}], about


def test_the_winding_is_told_by_the_pulley_with_most_of_it() -> None:
    # a pentagram with one tip drawn in: the belt turns least at the blunt tip, most at one of the tips beside it
    star = [
        Pulley(f"s{at}", far * 300 * math.cos(at * 4 * math.pi / 5), far * 300 * math.sin(at * 4 * math.pi / 5), 20.0)
        for at, far in enumerate([1.0, 1.0, 0.5, 0.9, 1.0])
    ]
    route = follow(star, +1)
    most = max(range(5), key=lambda at: route.wraps_rad[at])
    assert most in (1, 3)
    words = str(route_faults(route)[-1])
    around = f"Between s{most - 1} and s{most + 1} the belt would have to wind "
    assert words.startswith(f"{around}{math.degrees(route.wraps_rad[most]):.0f} degrees round s{most}, and 2 times")
