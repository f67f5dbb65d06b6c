"""Grip of a drive as it runs: spans walked by hand, ratios against design ratio and ceiling, and what is missing, said."""

from __future__ import annotations

import math

import pytest

from kb.errors import DriveError
from kb.sheets.drive import read_drive
from queries.drive_grip import GripAnswer, ask_grip
from queries.drive_running import run_drive

FAN_KW = "pulley_offset = -4.5\nload_kw = 8"


def grip(text: str) -> GripAnswer:
    return ask_grip(run_drive(read_drive(text, name="after.toml")))


def test_the_walk_by_hand(after_text) -> None:
    # belt speed: pi x 0.200 m x 2000/60 s = 20.944 m/s. Clockwise, the belt leaves the crank on the left, where the tensioner
    # sits: 500 N. The fan takes 8 kW: + 381.97 N; the pump 4 kW: + 190.99 N; the crank lets go of both.
    answer = grip(after_text.replace("pulley_offset = -4.5", FAN_KW))
    assert answer.belt_speed_m_s == pytest.approx(20.944, abs=5e-4)
    assert answer.centrifugal_n == pytest.approx(0.15 * 20.944**2, rel=1e-4)
    assert [(one.leaves, one.reaches) for one in answer.spans] == [
        ("crank", "tensioner"), ("tensioner", "fan"), ("fan", "pump"), ("pump", "crank"),
    ]  # fmt: skip
    assert [one.grip_low_n for one in answer.spans] == pytest.approx([500, 500, 881.97, 1072.96], abs=0.01)
    assert answer.spans[0].whole_low_n == pytest.approx(500 + 0.15 * 20.944**2, rel=1e-4)
    assert answer.tensioner_side == "slack side"


def test_ratios_against_the_wrap_by_hand(after_text) -> None:
    # wraps by hand: crank and fan each 180 degrees plus, on either side, the angle of the tangent to the pulley pushed in:
    # atan of sideways over upways, and asin((98 + r) / distance) for the crossed tangent (Machinery's Handbook, crossed belt)
    answer = grip(after_text.replace("pulley_offset = -4.5", FAN_KW))
    rows = {one.pulley: one for one in answer.pulleys}
    wrap = 0.0
    for across, radius in ((113.5, 38 + 2.5), (124.5, 49 + 2.5)):
        apart = math.hypot(across, 200)
        wrap += math.asin((98 + radius) / apart) - math.atan2(across, 200) + math.pi / 2
    assert math.radians(rows["crank"].wrap_deg) == pytest.approx(wrap, abs=1e-9)
    crank = rows["crank"]
    assert crank.ratio == pytest.approx(1072.96 / 500, rel=1e-5)
    assert crank.design_ratio == pytest.approx(5 ** (wrap / math.pi))
    # Euler-Eytelwein in a groove of 38 degrees, friction 0.4, both from the sheet
    assert crank.ceiling_ratio == pytest.approx(math.exp(0.4 * wrap / math.sin(math.radians(19))))
    assert crank.use == pytest.approx(math.log(crank.ratio) / math.log(crank.design_ratio))
    pump = rows["pump"]  # on the belt's back: no wedge, and the flat face's design ratio
    assert pump.ceiling_ratio == pytest.approx(math.exp(0.4 * math.radians(pump.wrap_deg)))
    assert pump.design_ratio == pytest.approx(2.5 ** (pump.wrap_deg / 180))
    uses = [one.use for one in answer.pulleys]
    assert uses == sorted(uses, reverse=True)


def test_a_spring_gives_a_band_and_the_low_end_is_judged(after_text) -> None:
    spring = "free_stop = 75\ntorque_nm = 20\ndamping = 0.25"
    answer = grip(
        after_text.replace("free_stop = 75", spring).replace("tension_n = 500", "").replace("-4.5", "-4.5\nload_kw = 8")
    )
    # at 90 degrees the arm moves straight sideways: 20 N m / 0.080 m = 250 N against both spans' sideways pulls. Upways the
    # pulley sits half way, so each pulls by the same share: that of the crossed tangent off the line between the centres.
    tangent = math.asin((98 + 40.5) / math.hypot(113.5, 200)) - math.atan2(113.5, 200)
    tension = 250 / (2 * math.sin(tangent))
    assert (answer.tension_low_n, answer.tension_high_n) == pytest.approx((0.75 * tension, 1.25 * tension))
    assert answer.held_by == "the tensioner's spring"
    crank = next(one for one in answer.pulleys if one.pulley == "crank")
    assert crank.slack_n == pytest.approx(0.75 * tension)
    beside = grip(after_text.replace("free_stop = 75", spring))
    outside = not 0.75 * tension <= 500 <= 1.25 * tension
    assert any("lies outside what the spring gives" in one for one in beside.cautions) == outside


def test_a_tensioner_on_the_tight_side_is_said(after_text) -> None:
    turned = after_text.replace('rotation = "clockwise"', 'rotation = "anticlockwise"')
    answer = grip(turned.replace("pulley_offset = -4.5", FAN_KW))
    assert answer.tensioner_side == "tight side"
    assert any("tight side" in one for one in answer.cautions)
    assert [one.grip_low_n for one in answer.spans] == pytest.approx([-72.96, 118.03, 500, 500], abs=0.01)
    assert answer.pulleys[0].ratio is None  # a span hangs loose: no ratio, and said
    assert "goes slack" in " ".join(answer.cautions)


def test_fixed_centres_keep_the_mean_of_what_was_measured(after_text) -> None:
    arm = after_text[after_text.index("[pulley.arm]") : after_text.index('[[pulley]]\nname = "fan"')]
    fixed = after_text.replace(arm, "at = [-113.5, 200]\n").replace("pulley_offset = -4.5", FAN_KW)
    drive = run_drive(read_drive(fixed))
    answer = ask_grip(drive)
    assert answer.tensioner_side is None
    low = [one.whole_low_n for one in answer.spans]
    assert [low[k] - low[0] for k in range(4)] == pytest.approx([0, 0, 381.97, 572.96], abs=0.01)
    # Hooke: the mean along the belt, arcs at half the sum of their spans, stays 500 N; integrated here piece by piece
    route = drive.route
    listed = {(route.pulleys[k].name, route.pulleys[(k + 1) % 4].name): route.spans[k].length_mm for k in range(4)}
    total = stretched = 0.0
    for k, one in enumerate(answer.spans):
        length = listed.get((one.leaves, one.reaches)) or listed[one.reaches, one.leaves]
        place = next(p for p, each in enumerate(route.pulleys) if each.name == one.leaves)
        arc = route.pulleys[place].radius_mm * route.wraps_rad[place]
        total += length + arc
        stretched += length * one.whole_low_n + arc * (one.whole_low_n + answer.spans[k - 1].whole_low_n) / 2
    assert stretched / total == pytest.approx(500)
    assert total == pytest.approx(route.length_mm)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("tension_n = 500", "", "torque_nm, or tension_n"),
        ("governed_rpm = 2000", "", "add governed_rpm"),
        ('profile = "PK"\nribs = 8', 'profile = "XY"', "the mass of XY belts is not known"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_made_up(after_text, old, new, said) -> None:
    text = after_text.replace(old, new)
    if "mass" in said:
        text = text.replace("belt_mass_kg_per_m = 0.15\n", "")
    answer = grip(text)
    assert (answer.pulleys, answer.spans) == ((), ())
    assert any(said in one for one in answer.missing)


def test_power_on_the_tensioner_or_the_driver_is_refused(after_text) -> None:
    with pytest.raises(DriveError, match="'crank': it drives the belt, and load_kw says"):
        grip(after_text.replace("driver = true", "driver = true\nload_kw = 3"))
    with pytest.raises(DriveError, match="'tensioner': it is the tensioner"):
        grip(after_text.replace("outside_diameter = 76", "outside_diameter = 76\nload_kw = 3"))


def test_speed_and_tension_per_rib_caution_with_their_status(after_text) -> None:
    fast = grip(after_text.replace("governed_rpm = 2000", "governed_rpm = 5000"))
    assert any("m/s, over 50 m/s (common practice, no source, from memory)" in one for one in fast.cautions)
    weak = grip(after_text.replace("tension_n = 500", "tension_n = 100"))
    assert any("12 to 12 N of tension per rib; usual are 45 to 110" in one for one in weak.cautions)
