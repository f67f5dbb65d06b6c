"""The belt's path against a rubber band, convex hulls, finite differences and what may not change it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiPoint

from kb.mechanics.path import (
    BlockedError,
    OrderError,
    OverlapError,
    PathError,
    Pulley,
    find_route,
    follow,
    path_length_mm,
)
from kb.mechanics.path_arrays import lengths_at_mm, path_lengths_mm
from kb.mechanics.path_cautions import WrapLimit, path_cautions

CRANK, PUMP = Pulley("crank", 0.0, 0.0, 90.0), Pulley("pump", 300.0, 0.0, 60.0)
SQUARE = [
    Pulley(name, x, y, 40.0)
    for name, x, y in [("a", 0.0, 0.0), ("b", 300.0, 0.0), ("c", 300.0, 300.0), ("d", 0.0, 300.0)]
]
FIVE = (
    Pulley("crank", 0.0, 0.0, 95.0),
    Pulley("pump", 310.0, 60.0, 60.0),
    Pulley("idler", 200.0, 185.0, 35.0, flat=True),
    Pulley("alternator", 330.0, 300.0, 30.0),
    Pulley("fan", 40.0, 310.0, 75.0),
)
Drives = Callable[..., tuple[Pulley, ...]]


@pytest.mark.parametrize("seed", range(20))
def test_mixed_drives_lie_where_a_rubber_band_does(seed: int, random_drive: Drives, rubber_band: Callable) -> None:
    pulleys = random_drive(seed)
    route = find_route(pulleys)
    band = rubber_band(pulleys, route.senses)
    assert route.length_mm == pytest.approx(band.length_mm, abs=1e-6)
    assert route.wraps_rad == pytest.approx(band.wraps_rad, abs=1e-6)
    assert [span.length_mm for span in route.spans] == pytest.approx(band.spans_mm, abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_drives_with_all_pulleys_inside_lie_along_the_convex_hull(seed: int, random_drive: Drives) -> None:
    # shapely: the hull of polygons inside the circles is too short, of polygons round them too long
    pulleys = random_drive(100 + seed, flat=False)
    sides = 4000
    angles = np.arange(sides) * 2 * math.pi / sides

    def hull_mm(stretch: float) -> float:
        return float(
            MultiPoint(
                [
                    (
                        one.x_mm + stretch * one.radius_mm * math.cos(at),
                        one.y_mm + stretch * one.radius_mm * math.sin(at),
                    )
                    for one in pulleys
                    for at in angles
                ]
            ).convex_hull.length
        )

    length = find_route(pulleys).length_mm
    short, long = hull_mm(1.0), hull_mm(1.0 / math.cos(math.pi / sides))
    assert long - short < 2e-3
    assert short <= length <= long


@pytest.mark.parametrize("seed", range(8))
def test_gradients_are_finite_differences(seed: int, random_drive: Drives) -> None:
    pulleys = random_drive(seed)
    route = find_route(pulleys)
    step = 1e-4
    for place, one in enumerate(pulleys):

        def length(changed: Pulley, place: int = place) -> float:
            return path_length_mm((*pulleys[:place], changed, *pulleys[place + 1 :]), route.grooved_sense)

        x, y, radius = one.x_mm, one.y_mm, one.radius_mm
        for (fewer, more), expected in zip(
            [
                (one.at(x - step, y), one.at(x + step, y)),
                (one.at(x, y - step), one.at(x, y + step)),
                (replace(one, radius_mm=radius - step), replace(one, radius_mm=radius + step)),
            ],
            [*route.centre_gradients[place], route.radius_gradients[place]],
            strict=True,
        ):
            assert (length(more) - length(fewer)) / (2 * step) == pytest.approx(expected, abs=1e-6)


@given(
    seed=st.integers(0, 15),
    turn=st.floats(0.0, 2 * math.pi),
    scale=st.floats(0.1, 10.0),
    shift=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    begin=st.integers(0, 8),
    mirrored=st.booleans(),
    backwards=st.booleans(),
)
def test_only_scaling_changes_a_path(
    seed: int,
    turn: float,
    scale: float,
    shift: tuple[float, float],
    begin: int,
    mirrored: bool,
    backwards: bool,
    random_drive: Drives,
) -> None:
    pulleys = random_drive(seed)
    route = find_route(pulleys)
    cosine, sine, flip = math.cos(turn), math.sin(turn), -1.0 if mirrored else 1.0
    moved = [
        replace(
            one,
            x_mm=scale * (flip * one.x_mm * cosine - one.y_mm * sine) + shift[0],
            y_mm=scale * (flip * one.x_mm * sine + one.y_mm * cosine) + shift[1],
            radius_mm=scale * one.radius_mm,
        )
        for one in pulleys
    ]
    begin %= len(moved)
    listed = moved[begin:] + moved[:begin]
    listed = listed[::-1] if backwards else listed
    again = find_route(listed)
    assert again.length_mm == pytest.approx(scale * route.length_mm, rel=1e-10)
    wraps = {one.name: wrap for one, wrap in zip(again.pulleys, again.wraps_rad, strict=True)}
    assert [wraps[one.name] for one in pulleys] == pytest.approx(route.wraps_rad, abs=1e-9)
    assert abs(again.turns) == 1
    assert abs(
        sum(sense * wrap for sense, wrap in zip(again.senses, again.wraps_rad, strict=True))
    ) == pytest.approx(2 * math.pi)  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_the_short_ways_to_the_length_agree(seed: int, random_drive: Drives, seven_pulleys: Callable) -> None:
    pulleys = random_drive(seed)
    route = find_route(pulleys)
    assert path_length_mm(pulleys, route.grooved_sense) == pytest.approx(route.length_mm, abs=1e-9)
    columns = [[getattr(one, name) for one in pulleys] for name in ("x_mm", "y_mm", "radius_mm")]
    assert path_lengths_mm(*columns, route.senses) == pytest.approx(route.length_mm, abs=1e-9)
    drive = seven_pulleys()
    angles = np.linspace(drive.arm.slack_rad, drive.arm.free_rad, 9)
    assert lengths_at_mm(drive, angles) == pytest.approx([drive.length_at_mm(one) for one in angles], abs=1e-9)


def test_spans_touch_their_circles() -> None:
    route = find_route(FIVE)
    for place, span in enumerate(route.spans):
        for point, one in ((span.leaves, FIVE[place]), (span.arrives, FIVE[(place + 1) % 5])):
            radius = (point[0] - one.x_mm, point[1] - one.y_mm)
            assert math.hypot(*radius) == pytest.approx(one.radius_mm)
            assert radius[0] * span.unit[0] + radius[1] * span.unit[1] == pytest.approx(0.0, abs=1e-9)
        assert math.dist(span.leaves, span.arrives) == pytest.approx(span.length_mm)


def test_of_two_directions_the_one_that_does_not_cross_itself() -> None:
    # The five, listed clockwise: the grooved pulleys turn clockwise then, and the idler against them.
    clockwise = find_route(FIVE[::-1])
    assert clockwise.grooved_sense == -1
    assert find_route(FIVE).grooved_sense == +1
    assert list(clockwise.senses) == [-1, -1, +1, -1, -1]


@pytest.mark.parametrize(
    ("pulleys", "kind", "words", "named"),
    [
        ([CRANK, Pulley("pump", 120.0, 0.0, 60.0)], OverlapError, "crank and pump overlap by 30.0 mm", {"crank", "pump"}),
        ([CRANK, replace(PUMP, flat=True)], OrderError, "would cross the belt from pump to crank", {"crank", "pump"}),
        (
            [FIVE[0], FIVE[3], FIVE[1], FIVE[2], FIVE[4]],
            OrderError, "The belt from crank to alternator would cross", {"crank", "alternator", "pump"},
        ),
        (
            [CRANK, Pulley("pump", 600.0, 0.0, 90.0), Pulley("idler", 300.0, 40.0, 30.0)],
            OrderError, "from pump to crank passes idler without touching it", {"pump", "idler", "crank"},
        ),
        (
            [CRANK, Pulley("pump", 600.0, 0.0, 90.0), Pulley("fan", 300.0, 260.0, 30.0),
             Pulley("idler", 300.0, -120.0, 60.0)],
            OrderError, "The belt from crank to pump would cross the belt from pump to fan", {"crank", "pump", "fan"},
        ),
        (
            [*SQUARE, Pulley("post", 150.0, -35.0, 30.0, flat=True)],
            BlockedError, "The belt from a to b would run through post (25.0 mm deep)", {"a", "b", "post"},
        ),
        ([CRANK], PathError, "two pulleys or more, not 1", set()),
        ([CRANK, replace(PUMP, radius_mm=0.0)], PathError, "pump has a radius of 0 mm", {"pump"}),
        ([CRANK, replace(PUMP, x_mm=math.nan)], PathError, "pump has no place", {"pump"}),
        (
            [replace(CRANK, radius_mm=92.5, body_radius_mm=90.0), Pulley("idler", 150.5, 0.0, 62.5, True, 60.0),
             Pulley("fan", 0.0, 400.0, 60.0)],
            OverlapError, "crank and idler leave no room for the belt between them (4.5 mm short)", {"crank", "idler"},
        ),
    ],
)  # fmt: skip
def test_what_no_belt_can_follow_is_refused_by_name(
    pulleys: list[Pulley], kind: type[PathError], words: str, named: set[str]
) -> None:
    with pytest.raises(kind) as caught:
        find_route(pulleys)
    assert words in str(caught.value)
    assert named == set(caught.value.pulleys)
    for name in caught.value.pulleys:
        assert name in str(caught.value)


def test_a_span_through_a_pulley_is_refused() -> None:
    # The big back-side idler stands in the way of the straight run from the fan to the crank.
    pulleys = [
        Pulley("crank", 0.0, 0.0, 60.0),
        Pulley("pump", 400.0, 0.0, 60.0),
        Pulley("idler", 215.0, 215.0, 100.0, flat=True),
        Pulley("fan", 0.0, 400.0, 60.0),
    ]
    assert find_route(pulleys)  # it may press on the belt from outside
    # Its centre 10 mm off and its radius 80 mm: 70 mm off the crank's line of centres, whose span runs 60 mm off it.
    pulleys[2] = replace(pulleys[2], x_mm=10.0, y_mm=200.0, radius_mm=80.0)
    with pytest.raises(BlockedError, match=r"from fan to crank would run through idler \(10.0 mm deep\)"):
        find_route(pulleys)


def test_near_misses_are_cautioned() -> None:
    assert path_cautions(find_route(SQUARE), belt_thickness_mm=4.6) == []
    # An idler on the belt's back, let down between c and d until it is 3 mm off the span from a to b, at y = -40
    pressed = find_route([*SQUARE[:3], Pulley("idler", 150.0, -40.0 + 3.0 + 40.0, 40.0, flat=True), SQUARE[3]])
    (near,) = [one for one in path_cautions(pressed, belt_thickness_mm=4.6) if one.kind == "span near pulley"]
    assert near.pulleys == ("a", "b", "idler")
    assert near.value == pytest.approx(3.0)
    assert near.words() == "The belt from a to b passes idler at 3.0 mm; the belt is 4.6 mm thick."
    assert "1/8" in near.words(lambda mm: "1/8 in")


def test_spans_that_run_together_are_cautioned() -> None:
    # Two back-side idlers pinch the belt in the middle until its two runs are 2 mm apart: 2 x (41 - 40) by construction.
    pinched = [
        CRANK,
        Pulley("lower", 300.0, -41.0, 40.0, flat=True),
        Pulley("pump", 600.0, 0.0, 90.0),
        Pulley("upper", 300.0, 41.0, 40.0, flat=True),
    ]
    found = path_cautions(find_route(pinched), belt_thickness_mm=4.6)
    assert {one.kind for one in found} >= {"pulleys near"}
    (near,) = [one for one in found if one.kind == "pulleys near"]
    assert near.value == pytest.approx(2.0)
    # A big pulley beside a small one turned almost all the way round: its two runs leave close together.
    squeezed = [
        Pulley("a", 0.0, 0.0, 60.0),
        Pulley("left", 100.0, -52.0, 50.0, flat=True),
        Pulley("b", 400.0, 0.0, 80.0),
        Pulley("right", 100.0, 52.0, 50.0, flat=True),
    ]
    found = find_route(squeezed)
    (near,) = [one for one in path_cautions(found, belt_thickness_mm=10.0) if one.kind == "spans near"]
    lines = {place: LineString([found.spans[place].leaves, found.spans[place].arrives]) for place in (1, 2)}
    assert near.pulleys == ("left", "b", "b", "right")
    assert near.value == pytest.approx(lines[1].distance(lines[2]), abs=1e-9)
    assert "passes the belt from b to right at 7.6 mm" in near.words()


def test_small_wraps_and_small_pulleys_are_cautioned_with_their_source() -> None:
    route = find_route(FIVE)
    wraps = dict(zip([one.name for one in FIVE], route.wraps_rad, strict=True))
    limits = {
        "fan": WrapLimit(wraps["fan"] + 0.1, "usual for: fan", "common practice, no source"),
        "pump": WrapLimit(wraps["pump"] - 0.1, "usual for: pump", "common practice, no source"),
    }
    found = path_cautions(
        route, wrap_limits=limits, least_effective_diameter_mm=65.0, diameter_source="ISO 9981:2020 5.2"
    )
    # of the grooved pulleys only the alternator, 60 mm, is smaller than 65 mm; the flat idler of 70 mm is not asked
    assert [(one.kind, one.pulleys) for one in found] == [
        ("small pulley", ("alternator",)), ("small wrap", ("fan",)),
    ]  # fmt: skip
    assert "effective diameter 60.0 mm, less than 65.0 mm (ISO 9981:2020 5.2)" in found[0].words()
    assert "common practice, no source" in found[1].words()


def test_crossed_belts_are_followed_but_not_found() -> None:
    crossed = follow([CRANK, replace(PUMP, flat=True)], +1)
    assert crossed.turns == 0
    assert crossed.wraps_rad[0] == pytest.approx(crossed.wraps_rad[1])
