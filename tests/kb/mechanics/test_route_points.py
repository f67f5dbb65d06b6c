"""Runs laid end to end and points put in order, against corners worked by hand."""

from __future__ import annotations

import math
import random

import pytest

from kb.mechanics import route as routes
from kb.mechanics.route import RouteError
from kb.mechanics.route_points import Run, in_order, laid

RIGHT, UP, FORWARD = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
QUARTER = math.pi / 2


def test_runs_by_direction_by_side_and_by_twist_are_the_same_route() -> None:
    corners = [(0, 0, 0), (200, 0, 0), (200, 250, 0), (200, 250, 300)]
    by_direction = laid([Run(200, toward=RIGHT), Run(250, toward=UP), Run(300, toward=FORWARD)])
    by_side = laid(
        [Run(200, toward=RIGHT), Run(250, bend_rad=QUARTER, turning=UP), Run(300, bend_rad=QUARTER, turning=FORWARD)]
    )
    # After the bend to the top the same side is the left (-x); looking up, clockwise goes z, x, -z, -x: from -x on to z
    # is 90.
    by_twist = laid(
        [Run(200, toward=RIGHT), Run(250, bend_rad=QUARTER, turning=UP), Run(300, bend_rad=QUARTER, twist_rad=QUARTER)]
    )
    for points in (by_direction, by_side, by_twist):
        assert points == [pytest.approx(corner, abs=1e-6) for corner in corners]


@pytest.mark.parametrize("twist_deg", [0, 30, 90, 135, 180, 270, 359])
def test_a_twist_laid_is_the_twist_read(twist_deg) -> None:
    runs = [
        Run(300, toward=(1, 2, 3)), Run(250, bend_rad=1.1, turning=UP),
        Run(280, bend_rad=0.7, twist_rad=math.radians(twist_deg)),
        Run(200, bend_rad=1.3, twist_rad=math.radians(40)),
    ]  # fmt: skip
    route = routes.rounded(laid(runs), 20)
    assert [bend.turn_rad for bend in route.bends] == pytest.approx([1.1, 0.7, 1.3])
    assert math.degrees(route.bends[1].twist_rad or 0) == pytest.approx(twist_deg, abs=1e-4)
    assert math.degrees(route.bends[2].twist_rad or 0) == pytest.approx(40, abs=1e-4)


def test_an_u_and_an_s() -> None:
    first = [Run(100, toward=RIGHT), Run(100, bend_rad=QUARTER, turning=UP)]
    assert laid([*first, Run(100, bend_rad=QUARTER, twist_rad=0)])[-1] == pytest.approx((0, 100, 0))
    assert laid([*first, Run(100, bend_rad=QUARTER, twist_rad=math.pi)])[-1] == pytest.approx((200, 100, 0))


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        ([Run(10)], "run 1 is the first"),
        ([Run(10, toward=RIGHT), Run(10)], "neither where it goes"),
        ([Run(10, toward=RIGHT), Run(10, bend_rad=1, turning=RIGHT)], "along the run before"),
        ([Run(10, toward=RIGHT), Run(10, bend_rad=1, twist_rad=1)], "no bend before it"),
    ],
)
def test_runs_that_lead_nowhere(runs, said) -> None:
    with pytest.raises(RouteError, match=said):
        laid(runs)


def test_points_in_any_order_come_back_in_theirs() -> None:
    chain = [(0, 0, 0), (300, 0, 0), (300, 250, 0), (300, 250, 400), (500, 250, 400), (500, 0, 400)]
    source = random.Random(4)
    for _ in range(20):
        order = source.sample(range(len(chain)), len(chain))
        shuffled = [chain[place] for place in order]
        found, lead = in_order(shuffled, order.index(0), order.index(len(chain) - 1))
        assert [shuffled[place] for place in found] == chain
        assert lead > 50


def test_how_much_longer_the_next_best_chain_is() -> None:
    # A square's corner each side: both ways round measure the same.
    order, lead = in_order([(0, 0, 0), (100, 100, 0), (100, 0, 0), (0, 100, 0)], 0, 1)
    assert sorted(order) == [0, 1, 2, 3]
    assert lead == pytest.approx(0, abs=1e-9)
    assert in_order([(0, 0, 0), (9, 0, 0)], 0, 1) == ([0, 1], math.inf)
    with pytest.raises(RouteError, match="too many orders"):
        in_order([(n, 0, 0) for n in range(10)], 0, 9)


def test_a_straight_run_between_two_bends_keeps_the_side_that_a_twist_counts_from() -> None:
    runs = [Run(100, toward=RIGHT), Run(100, bend_rad=QUARTER, turning=UP), Run(50, toward=UP)]
    # the bend went up from the right: past it, going up, the same side is the left; a quarter clockwise on is forward
    assert laid([*runs, Run(100, bend_rad=QUARTER, twist_rad=0.0)])[-1] == pytest.approx((0, 150, 0))
    assert laid([*runs, Run(100, bend_rad=QUARTER, twist_rad=QUARTER)])[-1] == pytest.approx((100, 150, 100))
    straight = [Run(100, toward=RIGHT), Run(50, toward=RIGHT), Run(10, bend_rad=1, twist_rad=1)]
    with pytest.raises(RouteError, match="run 3 has no bend before it"):
        laid(straight)


def test_a_route_begins_where_it_is_said_else_at_the_origin() -> None:
    assert laid([Run(10, toward=RIGHT)]) == [(0, 0, 0), (10, 0, 0)]
    assert laid([Run(10, toward=RIGHT)], (1.0, 2.0, 3.0)) == [(1, 2, 3), (11, 2, 3)]


def test_a_side_given_long_or_short_is_the_same_side() -> None:
    for size in (1e-6, 1e6):
        runs = [Run(100, toward=RIGHT), Run(50, bend_rad=QUARTER, turning=(size, size, 0.0))]
        assert laid(runs)[-1] == pytest.approx((100, 50, 0))
        with pytest.raises(RouteError, match="along the run before"):
            laid([Run(100, toward=RIGHT), Run(50, bend_rad=1.0, turning=(size, 0.0, 0.0))])


def test_nine_points_are_put_in_order_and_ten_are_not() -> None:
    chain = [(100.0 * n, 0.0, 0.0) for n in range(10)]
    assert in_order(chain[:9], 0, 8)[0] == list(range(9))
    with pytest.raises(RouteError, match="10 points have too many orders to try out: 9 at most"):
        in_order(chain, 0, 9)
