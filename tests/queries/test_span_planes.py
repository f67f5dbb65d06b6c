"""Planes of a drive: grooves in register, shims, and each span's angle, by plane geometry worked out by hand."""

from __future__ import annotations

import math

import pytest

from kb.sheets.drive import read_drive
from queries.drive_planes import PlanesAnswer, ask_planes, belt_plane_mm, belt_width_mm
from queries.drive_running import run_drive

PUMP = 'name = "pump"\noutside_diameter = 98\nface = "flat"'


def planes(text: str) -> PlanesAnswer:
    return ask_planes(run_drive(read_drive(text, name="after.toml")))


def test_a_flat_pulley_carries_the_belt_on_and_the_next_span_takes_the_offset(after_text) -> None:
    # stacks: crank 50 + 10 = 60 is the belt plane, fan 52 + 12 - 4.5 = 59.5: half a millimetre behind. The crossed tangent
    # from the tensioner (38 + 2.5) to the fan (98), 113.5 across and 200 up, is sqrt(113.5^2 + 200^2 - 138.5^2) = 183.58 mm.
    answer = planes(after_text)
    spans = {(one.leaves, one.reaches): one for one in answer.spans}
    assert spans["crank", "tensioner"].offset_mm == 0
    last = spans["tensioner", "fan"]
    assert last.span_mm == pytest.approx(math.sqrt(113.5**2 + 200**2 - 138.5**2))
    assert last.offset_mm == pytest.approx(-0.5)
    assert last.entry_deg == pytest.approx(math.degrees(math.atan(0.5 / 183.58)), rel=1e-4)
    assert any("carries the belt on" in note for note in answer.notes)
    fan = next(one for one in answer.pulleys if one.name == "fan")
    assert (fan.shim_mm, fan.shim_do) == (pytest.approx(0.5), "put it behind the pulley")
    # six readings of 0.5 mm: two on the crank, three on the fan
    assert fan.doubt_mm == pytest.approx(0.5 * math.sqrt(5))
    assert not fan.shim_needed
    # the pump carries the belt on from the fan: no doubt where it arrives, the fan's and none of the crank's where it leaves
    assert spans["fan", "pump"].doubt_deg == 0
    assert spans["pump", "crank"].doubt_deg == pytest.approx(
        math.degrees(math.atan(fan.doubt_mm / spans["pump", "crank"].span_mm))
    )
    assert answer.not_read == ()


def test_a_doubt_smaller_than_what_is_left_decides(after_text) -> None:
    sure = after_text + '[doubt]\nplane = "0.01 mm"\n'
    assert {one.state for one in planes(sure).spans} == {"within"}
    off = planes(sure.replace("-4.5", "-6.5"))  # 2.5 mm in 183.58: 0.78 degrees, over the sheet's 0.4
    assert {one.state for one in off.spans if one.reaches == "fan"} == {"over"}
    assert next(one for one in off.pulleys if one.name == "fan").shim_needed
    assert any("(limit 0.4): over" in one for one in off.cautions)
    unsure = after_text.replace("-4.5", "-5.8") + '[doubt]\nplane = "1 mm"\n'
    assert {one.state for one in planes(unsure).spans if one.reaches == "fan"} == {"too close to tell"}


def test_the_checked_limit_serves_where_the_sheet_gives_none(after_text) -> None:
    limit = planes(after_text.replace("misalignment_limit = 0.4", "")).limit
    assert (limit.value, limit.status.split(":")[0]) == (0.5, "checked")


def test_spare_grooves_bring_the_belt_into_register(after_text) -> None:
    # ISO 9981 pitch 3.56 mm: a pulley 3.4 mm forward with two to spare takes the belt in its second groove, 0.16 mm off
    spare = after_text.replace(
        "grooves = 8\nat = [0, 400]\nhub_face = 52\nspacer = 12\npulley_offset = -4.5",
        "grooves = 10\nat = [0, 400]\nplane = 3.4",
    )
    fan = next(one for one in planes(spare).pulleys if one.name == "fan")
    assert (fan.first_groove, fan.enough_grooves) == (2, True)
    assert fan.register_mm == pytest.approx(3.4 - 3.56)
    few = planes(spare.replace("grooves = 10", "grooves = 7"))
    assert next(one for one in few.pulleys if one.name == "fan").enough_grooves is False
    assert any("fan has 7 grooves, and the belt 8 ribs" in one for one in few.cautions)


def test_a_tilt_of_unknown_direction_counts_at_both_its_spans(after_text) -> None:
    level = {(s.leaves, s.reaches): s.entry_deg for s in planes(after_text).spans}
    tilted = planes(after_text.replace("pulley_offset = -4.5", "pulley_offset = -4.5\ntilt = 0.3"))
    for one in tilted.spans:
        extra = 0.3 if "fan" in (one.leaves, one.reaches) else 0.0
        assert one.entry_deg == pytest.approx(level[one.leaves, one.reaches] + extra, abs=1e-9)


def test_a_tilt_towards_the_span_climbs_with_it(after_text) -> None:
    # leaning forward upwards by 1 degree, the fan's rim at the tangent point is forward by tan(1) x its height above
    tilted = planes(after_text.replace("pulley_offset = -4.5", "pulley_offset = -4.5\ntilt = 1\ntilt_towards = 90"))
    route = run_drive(read_drive(after_text)).route
    place = [one.name for one in route.pulleys].index("fan")
    arrives = route.spans[place - 1].arrives
    offset = next(one.offset_mm for one in tilted.spans if one.reaches == "fan")
    assert offset == pytest.approx(-0.5 + math.tan(math.radians(1)) * (arrives[1] - 400))


def test_a_flat_pulley_that_was_read_is_judged_as_read(after_text) -> None:
    read = planes(after_text.replace(PUMP, f"{PUMP}\nplane = 2"))
    spans = {(one.leaves, one.reaches): one.offset_mm for one in read.spans}
    assert spans["fan", "pump"] == pytest.approx(2.5)
    assert spans["pump", "crank"] == pytest.approx(-2)
    assert (
        next(one for one in read.pulleys if one.name == "pump").shim_mm == 0
    )  # a flat face has no groove to shim into line


def test_unread_pulleys_are_named_and_their_spans_not_judged(after_text) -> None:
    bare = after_text.replace("hub_face = 52\nspacer = 12\npulley_offset = -4.5", "")
    answer = planes(bare)
    assert answer.not_read == ("fan",)
    assert all("fan" not in (one.leaves, one.reaches) for one in answer.spans)
    nothing = planes(bare.replace("hub_face = 50\npulley_offset = 10", ""))
    assert (nothing.pulleys, nothing.spans) == ((), ())


def test_a_quiet_angle_only_cautions(after_text) -> None:
    sure = after_text.replace("-4.5", "-5.1") + '[doubt]\nplane = "0.01 mm"\n'  # 1.1 mm: 0.34 degrees
    answer = planes(sure)
    assert {one.state for one in answer.spans} == {"within"}
    assert any("may chirp over 0.3 (common practice, no source, from memory)" in one for one in answer.cautions)


def test_where_the_belt_runs_and_how_wide_it_is(before_text, after_text) -> None:
    after, before = read_drive(after_text), read_drive(before_text)
    assert (belt_plane_mm(after), belt_plane_mm(before)) == (60, 80)
    assert belt_width_mm(after) == pytest.approx(8 * 3.56)  # ISO 9982
    assert belt_width_mm(before) == pytest.approx(12.7)  # SAE J636, 0.500 in
    assert belt_width_mm(read_drive(before_text.replace("belt_plane = 80", "belt_width = 13.1"))) == 13.1
