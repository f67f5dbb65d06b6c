"""What a drive is judged by: the sheet's own number first, a table's with its status else."""

from __future__ import annotations

import pytest

from kb.reference.tables import table
from kb.sheets.drive import read_drive
from queries.drive_assumed import belt_mass, family, grip_limits, misalignment_limit, practice, was_given


def test_every_row_of_the_grip_table_names_source_and_status() -> None:
    for row in table("belt_grip"):
        assert float(row["value"]) > 0
        assert row["source"]
        assert row["status"] == "from memory" or row["status"].startswith("checked:")


def test_the_sheet_comes_first(after_text) -> None:
    sheet = read_drive(after_text)
    limits = grip_limits(sheet)
    given = [limits.friction, limits.groove_angle_deg, limits.design_ratio_grooved, limits.design_ratio_flat]
    assert [one.value for one in given] == [0.4, 38, 5, 2.5]
    mass = belt_mass(sheet)
    assert mass is not None
    assert all(was_given(one) for one in (*given, mass, misalignment_limit(sheet)))


@pytest.mark.parametrize(
    ("profile", "angle", "status", "mass"),
    # ISO 9982: 40 degrees for every ribbed profile. SAE J636: 36 for 0.500 in; 38 the widest of 11/16 in
    [
        ("PL", 40, "checked", 8 * 0.036),
        ("13A", 36, "checked", 0.110),
        ("15A", 38, "checked", None),
        ("XY", 36, "from memory", None),
    ],
)  # fmt: skip
def test_a_table_else(before_text, profile, angle, status, mass) -> None:
    sheet = read_drive(before_text.replace('"13A"', f'"{profile}"\nribs = 8\nbelt_over_rim = 2\nbelt_thickness = 5'))
    found = grip_limits(sheet).groove_angle_deg
    assert found.value == angle
    assert found.status.startswith(status)
    known = belt_mass(sheet)
    assert (None if known is None else known.value) == (None if mass is None else pytest.approx(mass))
    assert family(sheet) == ("V-ribbed" if profile == "PL" else "V-belt")


def test_practice_limits_have_two_ends() -> None:
    parameter = "static tension per rib, PK, automatic tensioner"
    assert (practice(parameter, upper=False).value, practice(parameter).value) == (45, 110)
    with pytest.raises(KeyError):
        practice("no such limit")
