"""Which pulley the belt goes over last: the upper bound against whole paths round the rims, and the words."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from kb.mechanics.last_pulley import CAUTION, default_need_mm, last_pulleys, slack_needed_mm
from kb.mechanics.path import Pulley, Route, find_route, follow, path_length_mm

FIVE = (
    Pulley("crank", 0.0, 0.0, 95.0),
    Pulley("pump", 310.0, 60.0, 60.0),
    Pulley("idler", 200.0, 185.0, 35.0, flat=True),
    Pulley("alternator", 330.0, 300.0, 30.0),
    Pulley("fan", 40.0, 310.0, 75.0),
)


@pytest.fixture(name="route")
def _route() -> Route:
    return find_route(FIVE)


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 4, 6])  # drives with room for pulleys 2.1 mm larger
def test_the_climb_is_what_the_path_round_the_rim_takes(seed: int, random_drive: Callable) -> None:
    # Without a belt's width only the climb is left: the path round a pulley larger by the climb, to first order, which
    # for a climb of a hundredth is all there is. The bound for 2.1 mm is below the whole path by its second order only.
    pulleys = random_drive(seed)
    route = find_route(pulleys)
    for place, one in enumerate(pulleys):
        for climb, near in ((0.01, 1e-4), (2.1, 0.25)):
            larger = (*pulleys[:place], replace(one, radius_mm=one.radius_mm + climb), *pulleys[place + 1 :])
            over = path_length_mm(larger, route.grooved_sense) - route.length_mm
            assert slack_needed_mm(route, place, climb, 0.0) == pytest.approx(over, abs=near)


def test_spans_run_aslant_by_the_belts_width(route: Route) -> None:
    # Pythagoras on both spans: with no climb, that is all
    expected = sum(math.sqrt(route.spans[at].length_mm ** 2 + 28.48**2) - route.spans[at].length_mm for at in (0, 1))
    assert slack_needed_mm(route, 1, 0.0, 28.48) == pytest.approx(expected)


def test_the_easiest_stands_first_and_says_why(route: Route) -> None:
    lasts = last_pulleys(route, 5.0, 28.48, 2.1)
    assert [one.needs_high_mm for one in lasts] == sorted(one.needs_high_mm for one in lasts)
    by_name = {one.pulley: one for one in lasts}
    assert set(by_name) == {one.name for one in FIVE}
    assert "no flange" in by_name["idler"].why
    wrap = math.degrees(route.wraps_rad[0])
    assert f"climbs 2.1 mm over the rim along {wrap:.0f} degrees" in by_name["crank"].why
    assert default_need_mm(lasts) == pytest.approx(lasts[0].needs_high_mm / 2)
    assert all(one.needs_low_mm == 0.0 for one in lasts)


@pytest.mark.parametrize(
    ("slack", "verdict", "why"),
    [
        (60.0, "slides on", "of slack to spare"),
        (0.5, "has to be rolled on", "of slack are missing to lift it over"),
        (0.0, "does not go on", "shorter than the path"),
        (-3.2, "does not go on", "the belt is 3.2 mm shorter than the path with the arm at its slack stop"),
    ],
)
def test_the_verdict_goes_by_the_slack_there_is(route: Route, slack: float, verdict: str, why: str) -> None:
    for one in last_pulleys(route, slack, 28.48, 2.1):
        assert one.verdict == verdict
        assert why in one.why
        assert one.slack_mm == slack


def test_just_the_slack_that_is_needed_slides_on_with_nothing_to_spare(route: Route) -> None:
    need = slack_needed_mm(route, 0, 2.1, 28.48)
    (crank,) = last_pulleys(route, need, 28.48, 2.1, reachable=["crank"])
    assert crank.verdict == "slides on"
    assert "0.0 mm of slack to spare" in crank.why
    (crank,) = last_pulleys(route, need + 0.5, 28.48, 2.1, reachable=["crank"])
    assert "0.5 mm of slack to spare" in crank.why


def test_a_low_rim_is_still_climbed(route: Route) -> None:
    (crank,) = last_pulleys(route, 5.0, 28.48, 0.4, reachable=["crank"])
    assert "climbs 0.4 mm over the rim" in crank.why


def test_a_flange_makes_a_flat_pulley_harder(route: Route) -> None:
    plain, flanged = (
        next(one for one in last_pulleys(route, 5.0, 28.48, 2.1, flanges) if one.pulley == "idler")
        for flanges in (None, {"idler": 2.0})
    )
    assert flanged.needs_high_mm - plain.needs_high_mm == pytest.approx(2.0 * route.wraps_rad[2])
    assert "over the flange" in flanged.why


def test_only_pulleys_that_can_be_reached_are_asked(route: Route) -> None:
    assert {one.pulley for one in last_pulleys(route, 5.0, 28.48, 2.1, reachable=["fan", "pump"])} == {"fan", "pump"}
    with pytest.raises(ValueError, match="No pulley can be reached"):
        default_need_mm(last_pulleys(route, 5.0, 28.48, 2.1, reachable=[]))


def test_a_pulley_that_the_belt_passes_by_needs_no_climb() -> None:
    missed = follow([Pulley("a", 0, 0, 90), Pulley("b", 600, 0, 90), Pulley("c", 300, 40, 30)], +1)
    assert missed.wraps_rad[2] < 0
    assert slack_needed_mm(missed, 2, 2.1, 0.0) == 0.0


def test_the_usual_caution_is_there() -> None:
    assert "fingers" in CAUTION
    assert "by hand only" in CAUTION
