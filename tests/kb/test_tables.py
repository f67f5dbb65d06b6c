"""The standard tables: every row says where it comes from, and typed rows hold what the file holds."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from kb.reference import tables

TABLES = sorted(path.stem for path in Path(str(files("kb.reference"))).glob("*.csv"))


@pytest.mark.parametrize("name", TABLES)
def test_every_row_names_its_source_and_status(name) -> None:
    rows = tables.table(name)
    assert rows
    for number, row in enumerate(rows, 2):
        assert row["source"].strip(), f"{name}.csv row {number} names no source"
        status = row["status"]
        of_its_limit = status == "see the limit" and row.get("topic")
        assert status == "from memory" or of_its_limit or (status.startswith("checked:") and status[8:].strip()), (
            f"{name}.csv row {number}"
        )
        assert None not in row, f"{name}.csv row {number} has more cells than headings"


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("threads", tables.threads),
        ("belt_profiles", tables.belt_profiles),
        ("hose_sizes", tables.hose_sizes),
        ("practice_limits", tables.practice_limits),
        ("coolant_freeze", tables.coolant_freeze),
    ],
)
def test_typed_rows_stand_for_all_rows_in_order(name, read) -> None:
    typed = read()
    assert [(row.source, row.status, row.checked) for row in typed] == [
        (row["source"], row["status"], tables.is_checked(row)) for row in tables.table(name)
    ]


def test_pitch_and_threads_per_inch_agree() -> None:
    # 25.4 mm to the inch is exact (NIST SP 811); the file rounds both.
    for row in tables.threads():
        assert row.pitch_mm * row.threads_per_inch == pytest.approx(25.4, rel=1e-4), row.thread


def test_words_and_formulas_are_no_numbers() -> None:
    with pytest.raises(LookupError, match="no number"):
        tables.profile_value("PK", "minimum pulley face width for n grooves")
    with pytest.raises(LookupError, match="has no"):
        tables.profile_value("PK", "colour")
    assert tables.profile_value("SAE 3/4 (17A)", "nominal top width (size name)") == 0.75


def test_length_tolerance_steps_join_and_say_that_they_are_from_memory() -> None:
    steps = tables.length_tolerances("PK")
    assert len(steps) == 5
    assert [step.up_to_mm for step in steps[:-1]] == [step.over_mm for step in steps[1:]]
    assert not any(step.checked for step in steps)
    assert tables.length_tolerances("AV10") == ()
