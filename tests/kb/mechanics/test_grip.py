"""Span tensions and grip: power and forces balance, and integrals agree; published rows in tests/published."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from kb.mechanics.grip import (
    Assumption,
    GripError,
    Limits,
    Load,
    belt_speed_m_s,
    capstan_ratio,
    hub_load_n,
    judge_grip,
    travel_order,
    walk_tensions,
)

# invented for these tests; the numbers are no recommendation
INVENTED = ("invented for this test", "from memory")
MASS = Assumption("belt mass", 0.12, "kg/m", *INVENTED)
LIMITS = Limits(
    Assumption("friction", 0.3, "-", *INVENTED),
    Assumption("groove angle", 40.0, "deg", *INVENTED),
    Assumption("design ratio, ribs", 4.0, "-", *INVENTED),
    Assumption("design ratio, back", 2.0, "-", *INVENTED),
)
HALF = math.pi
DRIVE = [  # in the direction of travel, the tensioner in the slack span
    Load("crank", HALF, True, driver=True),
    Load("tensioner", 1.0, False),
    Load("generator", 2.0, True, 5.0),
    Load("pump", 1.5, False, 2.0),
    Load("fan", 3.0, True, 18.0),
]


def walk(pulleys=DRIVE, tensioner=1, tension_n=(400.0, 480.0), sprung=True, speed=20.0):
    return walk_tensions(
        pulleys, tensioner=tensioner, tension_n=tension_n, sprung=sprung, belt_speed_m_s=speed, mass_kg_per_m=MASS
    )


def test_tensions_step_up_by_power_over_speed_and_the_driver_lets_go_of_all():
    tensions = walk()
    # P / v by hand: 5 kW at 20 m/s is 250 N, 2 kW 100 N, 18 kW 900 N
    assert [low for low, _ in tensions.gripping_n] == pytest.approx([400, 400, 650, 750, 1650])
    assert [high for _, high in tensions.gripping_n] == pytest.approx([480, 480, 730, 830, 1730])
    assert tensions.centrifugal_n == pytest.approx(48.0)
    assert tensions.whole_n[4] == pytest.approx((1698, 1778))
    assert tensions.tensioner_side == "slack side"


@given(st.lists(st.floats(0.0, 30.0), min_size=2, max_size=7), st.floats(5.0, 50.0), st.booleans(), st.data())
def test_power_balances_wherever_the_tensioner_sits(powers, speed, sprung, data):
    pulleys = [Load("crank", HALF, True, driver=True)] + [Load(f"p{k}", 2.0, True, kw) for k, kw in enumerate(powers)]
    tensioner = data.draw(st.integers(1, len(pulleys)))
    pulleys.insert(tensioner, Load("tensioner", 1.0, False))
    tensions = walk(pulleys, tensioner, (3000.0, 3000.0), sprung, speed)
    spans = [low for low, _ in tensions.whole_n]
    for k, pulley in enumerate(pulleys):
        given_kw = (spans[k] - spans[k - 1]) * speed / 1000  # what the belt gives to this pulley
        assert given_kw == pytest.approx(-sum(powers) if pulley.driver else pulley.takes_kw, abs=1e-9)
    assert spans[tensioner] == pytest.approx(3000.0 + (tensions.centrifugal_n if sprung else 0.0))
    assert spans[tensioner - 1] == pytest.approx(spans[tensioner])


def test_a_moving_belt_presses_with_the_gripping_tension_only():
    # numeric integral over the arc of a freely turning pulley: pressure (T - m v^2) per radian (textbook belt friction)
    speed, wrap = 30.0, 1.8
    tensions = walk(tension_n=(500.0, 500.0), sprung=False, speed=speed)
    whole = tensions.whole_n[1][0]
    assert whole == pytest.approx(500.0)  # fixed centres: the whole tension stays
    pressed = quad(lambda a: (whole - MASS.value * speed**2) * math.cos(a - wrap / 2), 0, wrap)[0]
    gripping = tensions.gripping_n[1][0]
    assert hub_load_n(gripping, gripping, wrap) == pytest.approx(pressed)


def test_a_spring_keeps_the_grip_at_speed_and_fixed_centres_lose_it():
    assert walk(sprung=True, speed=40.0).gripping_n[1][0] == pytest.approx(400.0)
    assert walk(sprung=False, speed=40.0).gripping_n[1] == pytest.approx((400.0 - 0.12 * 40**2, 480.0 - 0.12 * 40**2))
    assert walk(sprung=False, speed=40.0).whole_n[1] == pytest.approx((400.0, 480.0))


def test_a_tensioner_before_the_driver_is_on_the_tight_side():
    pulleys = [DRIVE[0], *DRIVE[2:], DRIVE[1]]
    tensions = walk(pulleys, tensioner=4, tension_n=(1500.0, 1600.0))
    assert tensions.tensioner_side == "tight side"
    assert tensions.gripping_n[0][0] == pytest.approx(1500 - 1250)
    report = judge_grip(pulleys, tensions, LIMITS)
    assert any("tight side" in caution for caution in report.cautions)
    middle = [DRIVE[0], DRIVE[2], DRIVE[1], *DRIVE[3:]]
    between = judge_grip(middle, walk(middle, tensioner=2), LIMITS)
    assert between.tensions.tensioner_side == "between"
    assert any("5.0 of 25.0 kW" in caution for caution in between.cautions)


def test_ratios_limits_and_worst_first():
    report = judge_grip(DRIVE, walk(), LIMITS)
    assert [one.name for one in report.pulleys] == sorted(
        ["crank", "fan", "generator", "pump"], key=lambda name: -{one.name: one.use for one in report.pulleys}[name]
    )
    assert all(one.use >= other.use for one, other in pairwise(report.pulleys))
    by_name = {one.name: one for one in report.pulleys}
    fan, crank, pump = by_name["fan"], by_name["crank"], by_name["pump"]
    assert fan.ratio == pytest.approx(1650 / 750)
    assert fan.design_ratio == pytest.approx(4 ** (3.0 / math.pi))
    assert fan.use == pytest.approx(math.log(2.2) / (3.0 / math.pi * math.log(4)))
    assert crank.ratio == pytest.approx(1650 / 400)
    assert crank.verdict == "beyond the design ratio"  # 4.125 against 4 at half a turn
    assert report.pulleys[0] is crank
    assert pump.ceiling_ratio == pytest.approx(math.exp(0.3 * 1.5))
    assert crank.ceiling_ratio == pytest.approx(math.exp(0.3 * math.pi / math.sin(math.radians(20))))
    assert "tensioner" not in by_name
    assert report.assumed == (MASS, LIMITS.friction, LIMITS.groove_angle_deg, *[LIMITS.design_ratio_grooved],
                              LIMITS.design_ratio_flat)  # fmt: skip


def test_use_is_one_exactly_at_the_design_ratio():
    pulleys = [DRIVE[0], DRIVE[1], Load("fan", HALF, True, 9.0)]
    slack = 9.0 * 1000 / 20.0 / (4.0 - 1)
    report = judge_grip(pulleys, walk(pulleys, tension_n=(slack, slack)), LIMITS)
    assert [one.use for one in report.pulleys] == pytest.approx([1.0, 1.0])


def test_slipping_and_hanging_loose_are_said():
    pulleys = [DRIVE[0], DRIVE[1], Load("pump", 1.0, False, 4.0)]
    slips = {one.name: one for one in judge_grip(pulleys, walk(pulleys, tension_n=(90.0, 95.0)), LIMITS).pulleys}
    assert slips["pump"].verdict.startswith("slips")
    loose = judge_grip(pulleys, walk(pulleys, tension_n=(30.0, 60.0), sprung=False), LIMITS)
    assert all(one.verdict == "its slack span hangs loose" for one in loose.pulleys)
    assert all(math.isinf(one.ratio) for one in loose.pulleys)
    assert any("crank to tensioner goes slack" in caution for caution in loose.cautions)


def judged(pulleys, **band):
    report = judge_grip(pulleys, walk(pulleys, **band), LIMITS)
    return {one.name: one for one in report.pulleys}, report


def test_a_span_of_next_to_nothing_still_grips_and_one_of_nothing_hangs_loose():
    # 0.01 kW at 20 m/s is 0.5 N: half a newton before the pump, one behind it
    pulleys = [DRIVE[0], DRIVE[1], Load("pump", HALF, True, 0.01)]
    by_name, report = judged(pulleys, tension_n=(0.5, 1.0))
    assert by_name["pump"].ratio == pytest.approx(2.0)
    assert by_name["pump"].verdict == "holds"
    assert report.cautions == ()
    assert report.tensions.tensioner_side == "slack side"
    by_name, report = judged(pulleys, tension_n=(0.0, 1.0))
    assert math.isinf(by_name["pump"].ratio)
    assert [caution for caution in report.cautions if "goes slack" in caution] == [
        "the span from crank to tensioner goes slack at the low end",
        "the span from tensioner to pump goes slack at the low end",
    ]


def test_at_the_design_ratio_it_holds_and_at_what_friction_carries_it_does_not_slip_yet():
    # half a turn on ribs is designed for 4: 100 N before, 400 behind; 6 kW at 20 m/s are the 300 between
    by_name, _ = judged([DRIVE[0], DRIVE[1], Load("fan", HALF, True, 6.0)], tension_n=(100.0, 100.0))
    assert (by_name["fan"].use, by_name["fan"].verdict) == (pytest.approx(1.0), "holds")
    # no wrap at all carries nothing, and nothing is designed for
    by_name, _ = judged([DRIVE[0], DRIVE[1], Load("fan", 0.0, True, 6.0)], tension_n=(100.0, 100.0))
    assert math.isinf(by_name["fan"].use)
    assert by_name["fan"].verdict.startswith("slips")
    idle = [replace(DRIVE[0], wrap_rad=0.0), DRIVE[1]]  # as tight before as behind: friction need carry nothing
    assert judged(idle, tension_n=(100.0, 100.0))[0]["crank"].verdict == "holds"


def test_wraps_grooves_and_pulls_at_the_ends_of_what_can_be():
    assert capstan_ratio(0.3, 0.0) == 1.0
    assert capstan_ratio(0.3, 2 * math.pi) == pytest.approx(math.exp(0.6 * math.pi))
    assert capstan_ratio(0.01, 1.0, 0.5) == pytest.approx(math.exp(0.01 / math.sin(math.radians(0.25))))
    assert hub_load_n(0.25, 0.25, math.pi) == pytest.approx(0.5)
    assert hub_load_n(1e8, 1e8, 1e-20) == 0.0  # rounding must not leave less than nothing under the root
    assert travel_order(3, listed_anticlockwise=True, driver_anticlockwise=True) == (0, 1, 2)
    assert walk([DRIVE[1], DRIVE[0], *DRIVE[2:]], tensioner=0).tensioner_side == "tight side"


def test_a_drive_without_loads_says_so():
    idle = [replace(pulley, takes_kw=0.0) for pulley in DRIVE]
    report = judge_grip(idle, walk(idle), LIMITS)
    assert report.tensions.tensioner_side == "no load"
    assert any("no load was given" in caution for caution in report.cautions)
    assert report.pulleys[0].use == pytest.approx(0.0)


@given(st.floats(0.05, 0.8), st.floats(0.1, 3.0), st.floats(0.1, 3.0), st.sampled_from([None, 34.0, 40.0]))
def test_wraps_in_a_row_multiply(friction, one, other, groove):
    both = capstan_ratio(friction, one + other, groove)
    assert both == pytest.approx(capstan_ratio(friction, one, groove) * capstan_ratio(friction, other, groove))


def test_a_groove_opened_flat_is_a_flat_face():
    assert capstan_ratio(0.4, 2.0, 180.0) == pytest.approx(capstan_ratio(0.4, 2.0))


def test_the_belt_runs_the_way_its_driver_turns():
    # listed clockwise and turning clockwise, or both the other way: the belt meets the pulleys as listed
    for way in (True, False):
        assert travel_order(3, listed_anticlockwise=way, driver_anticlockwise=way) == (0, 1, 2)
        assert travel_order(3, listed_anticlockwise=way, driver_anticlockwise=not way) == (2, 1, 0)
        assert travel_order(3, listed_anticlockwise=way, driver_anticlockwise=way, driver_on_back=True) == (2, 1, 0)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: walk(DRIVE[1:]), "one pulley drives the belt, not 0"),
        (lambda: walk([*DRIVE, DRIVE[0]]), "not 2"),
        (lambda: walk(tensioner=2), "take no power"),
        (lambda: walk(tensioner=0), "not be the driver"),
        (lambda: walk(tension_n=(500.0, 400.0)), "from low to high"),
        (lambda: walk(tension_n=(-1.0, 400.0)), "from low to high"),
        (lambda: walk(tension_n=(400.0, math.inf)), "from low to high"),
        (lambda: walk(tensioner=-4), "one of the pulleys"),
        (lambda: walk(tensioner=5), "one of the pulleys"),
        (
            lambda: walk_tensions(
                DRIVE,
                tensioner=1,
                tension_n=(1, 2),
                sprung=True,
                belt_speed_m_s=20.0,
                mass_kg_per_m=replace(MASS, value=0.0),
            ),
            "belt's mass",
        ),
        (lambda: walk([*DRIVE[:-1], Load("fan", 3.0, True, math.inf)]), "fan cannot take inf kW"),
        (lambda: capstan_ratio(0.3, -0.1), "one turn"),
        (lambda: capstan_ratio(0.3, 1.0, 180.5), "groove"),
        (
            lambda: judge_grip(DRIVE, walk(), replace(LIMITS, design_ratio_grooved=replace(MASS, value=1.0))),
            "more than 1",
        ),
        (lambda: walk(speed=0.0), "belt's speed"),
        (lambda: walk([*DRIVE[:-1], Load("fan", 3.0, True, -1.0)]), "fan cannot take -1 kW"),
        (lambda: capstan_ratio(0.0, 1.0), "friction"),
        (lambda: capstan_ratio(0.3, 7.0), "one turn"),
        (lambda: capstan_ratio(0.3, 1.0, 0.0), "groove"),
        (lambda: belt_speed_m_s(0.0, 100.0), "driver's speed"),
        (
            lambda: judge_grip(DRIVE, walk(), replace(LIMITS, design_ratio_flat=MASS)),
            "design ratio must be more than 1",
        ),
    ],
)
def test_what_cannot_be_is_refused(call, said):
    with pytest.raises(GripError, match=said):
        call()
