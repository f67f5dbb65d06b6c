"""Speeds side by side, fan power and parts that turn the wrong way. Published rows: tests/published."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mechanics.speeds import (
    SpeedError,
    Turned,
    WrongWay,
    compare_speeds,
    fan_power_factor,
    speed_ratio,
    tip_speed_m_s,
    turns_clockwise,
    wrong_way,
)

BEFORE = [Turned("fan", 1.1), Turned("pump", 1.4), Turned("generator", 2.5)]
AFTER = [
    Turned("pump", 1.4, with_driver=False, by_belt_back=True),
    Turned("fan", 1.2),
    Turned("compressor", 1.3),
]
ENGINE = {"idle_rpm": (700.0, 700.0), "governed_rpm": (2100.0, 2100.0)}


def test_side_by_side():
    rows = {row.name: row for row in compare_speeds(BEFORE, AFTER, **ENGINE, flag_share=0.05)}
    assert list(rows) == ["fan", "pump", "generator", "compressor"]
    fan = rows["fan"]
    assert (fan.idle_before_rpm, fan.governed_after_rpm) == pytest.approx((770, 2520))
    assert fan.change == pytest.approx(12 / 11 - 1)
    assert fan.flagged
    assert not rows["pump"].flagged
    assert rows["generator"].governed_after_rpm is None
    assert rows["compressor"].change is None


def test_slower_is_flagged_too():
    (row,) = compare_speeds(BEFORE[:1], [Turned("fan", 0.9)], **ENGINE, flag_share=0.1)
    assert row.change == pytest.approx(9 / 11 - 1)
    assert row.flagged


def test_a_change_at_idle_alone_is_flagged():
    engine = {"idle_rpm": (700.0, 850.0), "governed_rpm": (2100.0, 2100.0)}
    (row,) = compare_speeds(BEFORE[:1], BEFORE[:1], **engine, flag_share=0.1)
    assert row.change == pytest.approx(0.0)
    assert row.flagged


def test_the_belts_back_turns_the_pump_the_wrong_way():
    must = turns_clockwise(BEFORE, driver_clockwise=True)
    (wrong,) = wrong_way(AFTER, must, driver_clockwise=True)
    assert wrong == WrongWay("pump", "it now turns anticlockwise, seen from the front: the belt's back drives it")


def test_a_reversed_driver_turns_all_that_mind_the_wrong_way():
    must = turns_clockwise(BEFORE, driver_clockwise=True)
    wrong = wrong_way(BEFORE, must, driver_clockwise=False)
    assert [one.name for one in wrong] == ["fan", "pump", "generator"]
    assert all("reversed" in one.why for one in wrong)


def test_a_pump_made_for_the_belts_back_must_stay_there():
    on_back = [Turned("pump", 1.4, with_driver=False, by_belt_back=True)]
    must = turns_clockwise(on_back, driver_clockwise=True)
    assert wrong_way(on_back, must, driver_clockwise=True) == []
    (wrong,) = wrong_way([Turned("pump", 1.4)], must, driver_clockwise=True)
    assert "turns clockwise" in wrong.why


def test_the_cause_is_the_belts_back_only_where_it_turns_the_part() -> None:
    must = {"a": True, "b": True, "c": False}
    parts = [Turned("a", 1.0, with_driver=False), Turned("b", 1.0, False, True), Turned("c", 1.0, True, True)]
    said = [one.why.rpartition(": ")[2] for one in wrong_way(parts, must, driver_clockwise=True)]
    reversed_ = "the driver or the route is reversed"
    assert said == [reversed_, "the belt's back drives it", reversed_]


def test_a_change_is_that_at_governed_speed_and_just_the_share_is_not_beyond_it() -> None:
    engine = {"idle_rpm": (1000.0, 1000.0), "governed_rpm": (2000.0, 2500.0)}
    (row,) = compare_speeds([Turned("fan", 1.0)], [Turned("fan", 1.0)], **engine, flag_share=0.25)
    assert (row.change, row.flagged) == (0.25, False)
    (row,) = compare_speeds([Turned("fan", 1.0)], [Turned("fan", 1.0)], **engine, flag_share=0.0)
    assert row.flagged


@given(st.floats(100, 5000), st.floats(100, 5000), st.floats(100, 5000))
def test_fan_power_factors_chain(one, two, three):
    chained = fan_power_factor(one, two) * fan_power_factor(two, three)
    assert chained == pytest.approx(fan_power_factor(one, three))


def test_ten_per_cent_faster_takes_a_third_more():
    assert fan_power_factor(2000, 2200) == pytest.approx(1.331)  # 1.1 cubed


@given(st.floats(20, 600), st.floats(20, 600), st.floats(0, 0.2))
def test_ratios_there_and_back(driver, other, slip):
    there_and_back = speed_ratio(driver, other, slip) * speed_ratio(other, driver, slip)
    assert there_and_back == pytest.approx((1 - slip) ** 2)


def test_tip_speed_by_pint():
    units = pint.UnitRegistry()
    turning = units.Quantity(1850, "revolution / minute")
    expected = (turning * units.Quantity(14, "inch")).to("radian * meter / second").magnitude  # radius 14 in
    assert tip_speed_m_s(28 * 25.4, 1850) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: speed_ratio(0.0, 50.0), "driver's pitch diameter"),
        (lambda: speed_ratio(50.0, 50.0, 1.0), "slip"),
        (lambda: compare_speeds(BEFORE, AFTER, idle_rpm=(0, 1), governed_rpm=(1, 1), flag_share=0.1), "engine speed"),
        (lambda: compare_speeds(BEFORE, AFTER, **ENGINE, flag_share=-0.1), "flagged cannot be"),
        (lambda: compare_speeds([*BEFORE, BEFORE[0]], AFTER, **ENGINE, flag_share=0.1), "same name"),
        (lambda: compare_speeds([Turned("fan", 0.0)], AFTER, **ENGINE, flag_share=0.1), "ratio of fan"),
        (lambda: speed_ratio(50.0, 0.0), "the pitch diameter"),
        (lambda: speed_ratio(50.0, 50.0, -0.1), "slip"),
        (lambda: fan_power_factor(0.0, 1.0), "before"),
        (lambda: fan_power_factor(1.0, 0.0), "after"),
        (lambda: tip_speed_m_s(0.0, 1.0), "diameter"),
        (lambda: tip_speed_m_s(10.0, -1.0), "speed"),
    ],
)
def test_what_cannot_be_is_refused(call, said):
    with pytest.raises(SpeedError, match=said):
        call()
