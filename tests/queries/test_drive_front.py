"""The belts of a front, and what each part on them is taken for."""

from __future__ import annotations

import pytest

from kb.sheets.drive import read_drive
from queries.drive_front import read_front


@pytest.mark.parametrize(
    ("name", "drives", "idler", "fan"),
    [
        ("fan", "", False, True),
        ("Fan hub", "", False, True),
        ("upper pulley", "fan and water pump", False, True),
        ("fan idler", "", True, False),
        ("roller 2", "", True, False),
        ("infant", "", False, False),
        ("pump", "", False, False),
    ],
)
def test_fans_and_idlers_are_told_by_whole_words(before_text, name, drives, idler, fan) -> None:
    said = f'name = "{name}"' + (f'\ndrives = "{drives}"' if drives else "")
    part = read_front([read_drive(before_text.replace('name = "pump"', said.replace('"fan"', '"Fan"', 1)).replace(
        'name = "fan"', 'name = "other"'))]).parts[name if name != "fan" else "Fan"]  # fmt: skip
    assert (part.is_idler, part.is_fan) == (idler, fan)


def test_a_pulley_on_an_arm_is_an_idler_whatever_its_name(after_text) -> None:
    front = read_front([read_drive(after_text.replace('name = "tensioner"', 'name = "fan side"'))])
    assert front.parts["fan side"].is_idler
    assert front.driver == "crank"


def test_the_driver_may_stand_anywhere_in_its_list(before_text) -> None:
    # crank 200, fan 160: 5/4, whether the crank is listed first or last
    head, crank, pump, fan = before_text.split("[[pulley]]")
    last = read_front([read_drive("[[pulley]]".join([head, pump, fan, crank]))])
    assert last.parts["fan"].turned.ratio == pytest.approx(1.25)
    assert set(last.parts) == {"crank", "pump", "fan"}


def test_a_name_that_two_belts_turn_keeps_them_apart(before_text) -> None:
    second = before_text.replace('name = "Before"', 'name = "Second"').replace('"crank"', '"fan"', 1)
    second = second.replace('name = "fan"\neffective_diameter = 160', 'name = "blower"\neffective_diameter = 160')
    front = read_front([read_drive(before_text), read_drive(second)])
    assert set(front.parts) == {"crank", "pump", "fan", "pump (Second)", "blower"}
    assert front.parts["pump (Second)"].turned.ratio == pytest.approx(1.25 * 2)
    assert front.load_kw("pump") == 4
    assert front.load_kw("none") is None
