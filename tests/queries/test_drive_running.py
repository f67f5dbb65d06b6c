"""A drive as it runs: the order in which the belt meets its pulleys, and where the arm rests."""

from __future__ import annotations

import math

import pytest

from kb.errors import DriveError
from kb.mechanics.grip import GripError
from kb.sheets.drive import read_drive
from queries.drive_laid import laid_out, said_of
from queries.drive_running import run_drive


@pytest.mark.parametrize(
    ("rotation", "order"),
    # seen from the front, a clockwise crank sends the belt up on its left, where the tensioner sits
    [("clockwise", ["crank", "tensioner", "fan", "pump"]), ("anticlockwise", ["crank", "pump", "fan", "tensioner"])],
)
def test_the_belt_is_followed_from_the_driver_on(after_text, rotation, order) -> None:
    drive = run_drive(read_drive(after_text.replace('"clockwise"', f'"{rotation}"')))
    assert [one.name for one in drive.pulleys] == order
    names = [one.name for one in drive.route.pulleys]
    for step in range(4):
        place = drive.span_place(step)
        ends = {names[place], names[(place + 1) % 4]}
        assert ends == {order[step], order[(step + 1) % 4]}


def test_a_driver_on_the_belts_back_sends_it_the_other_way(after_text) -> None:
    back = after_text.replace("driver = true\n", "").replace("load_kw = 4", "driver = true")
    drive = run_drive(read_drive(back))
    assert [one.name for one in drive.pulleys] == ["pump", "fan", "tensioner", "crank"]


def test_a_rotation_that_is_not_given_is_assumed_and_said(after_text) -> None:
    drive = run_drive(read_drive(after_text.replace('rotation = "clockwise"', "")))
    assert drive.driver_clockwise
    assert any(note.startswith("rotation: clockwise") for note in drive.notes)


def test_the_arm_rests_on_the_belt(after_text) -> None:
    sheet = read_drive(after_text)
    length = laid_out(sheet).drive.length_at_mm(math.radians(86.0))
    assert run_drive(sheet, length).arm_deg == pytest.approx(86.0, abs=1e-6)
    with pytest.raises(DriveError, match="does not hold the arm between its stops"):
        run_drive(sheet, length + 500)


def test_fixed_centres_have_no_arm_and_say_that_a_length_changes_nothing(before_text) -> None:
    drive = run_drive(read_drive(before_text), 1300.0)
    assert (drive.arm_rad, drive.arm_deg) == (None, None)
    assert any("changes nothing" in note for note in drive.notes)


def test_what_mechanics_refuse_is_told_of_the_sheet(before_text) -> None:
    sheet = read_drive(before_text, name="before.toml")
    with pytest.raises(DriveError, match=r"^before\.toml: no grip\.$"), said_of(sheet):
        raise GripError("no grip")
    with pytest.raises(DriveError, match=r"^elsewhere: x"), said_of(sheet):
        raise DriveError("x", where="elsewhere")
