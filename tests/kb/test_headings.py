"""Headings: the right row, the right kind, the right column, and nothing matched in silence.

What a supplier's heading means is common practice, no source; expectations are worked out by hand.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.errors import HeadingError
from kb.fields import BELT, HOSE, JOB, SHEET_KINDS, TENSIONER, Kind
from kb.sheets.headings import ROWS_LOOKED_AT, SURE, WORTH_ASKING, Choices, Column, Matching, likeness, match, plain

BELT_HEADINGS = ["Part no", "Ribs", "Eff. length"]


def matched(
    *rows: list[str], kind: Kind | None = None, choices: Choices | None = None, name: str = "s.csv"
) -> Matching:
    """Match rows numbered from 1."""
    return match(rows, numbers=range(1, len(rows) + 1), name=name, kind=kind, choices=choices)


def fields(matching: Matching) -> list[str | None]:
    """Return the field name of every column, in order."""
    return [column.field.name if column.field else None for column in matching.columns]


def by_heading(matching: Matching, heading: str) -> Column:
    """Return the one column of that heading."""
    (found,) = [column for column in matching.columns if column.heading == heading]
    return found


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("Artikel-Nr. ", "artikel nr"),
        ("PART_NO", "part no"),
        ("Part #", "part no"),
        ("Part №", "part no"),
        ("O.D.", "od"),
        ("  Eff.   length\n", "eff length"),
        ("P/N", "p / n"),
        ("\uff30\uff21\uff32\uff34 no", "part no"),  # full-width letters, NFKC (Unicode Annex 15)
        ("---", ""),
        ("", ""),
    ],
)
def test_plain_words(heading: str, words: str) -> None:
    assert plain(heading) == words


def test_headings_under_title_rows() -> None:
    matching = matched(["Spring list"], [], ["printed", "2026-03-01"], BELT_HEADINGS, ["A", "8", "1800"])
    assert (matching.kind.name, matching.heading_row) == ("belt", 4)
    assert fields(matching) == ["part_no", "ribs", "effective_length_mm"]


def test_row_numbers_are_the_sheets_own() -> None:
    assert match([BELT_HEADINGS], numbers=[17], name="s.csv").heading_row == 17


def test_headings_too_far_down_are_not_found() -> None:
    title = [["a title", "of no use"]]
    assert matched(*title * (ROWS_LOOKED_AT - 1), BELT_HEADINGS).heading_row == ROWS_LOOKED_AT
    with pytest.raises(HeadingError):
        matched(*title * ROWS_LOOKED_AT, BELT_HEADINGS)


@pytest.mark.parametrize(
    ("headings", "kind", "expected"),
    [
        (["Artikel-Nr.", "Rippen", "Wirklänge"], "belt", ["part_no", "ribs", "effective_length_mm"]),
        (["SKU", "Outside diameter", "Grooves", "Bore"], "pulley", ["part_no", "outside_diameter_mm", "grooves", "bore_mm"]),
        (["Item", "Arm length", "Spring torque"], "tensioner", ["part_no", "arm_length_mm", "torque_nm"]),
        (["P/N", "Inside diameter", "Legs", "Bends"], "hose", ["part_no", "inside_diameter_mm", "legs_mm", "bends_deg"]),
        (["Part", "Thread 1", "Thread 2"], "fitting", ["part_no", "end_a_thread", "end_b_thread"]),
        (["Part no", "Min dia", "Max dia", "Band width"], "clamp", ["part_no", "smallest_mm", "largest_mm", "band_width_mm"]),
        (["Job", "Work", "Outcome", "Hours lost"], "job", ["id", "work", "outcome", "hours_lost"]),
        (["Company", "Can supply", "Lead time"], "supplier", ["name", "can_supply", "lead_time_hours"]),
    ],
)  # fmt: skip
def test_each_kind_is_told_by_its_headings(headings: list[str], kind: str, expected: list[str]) -> None:
    matching = matched(headings)
    assert matching.kind.name == kind
    assert fields(matching) == expected


@pytest.mark.parametrize(
    ("heading", "unit"), [("Eff. length (in)", "in"), ("Eff. length [mm]", "mm"), ("Eff. length", None)]
)
def test_the_unit_in_a_heading_is_kept(heading: str, unit: str | None) -> None:
    column = matched(["Part no", "Ribs", heading]).columns[2]
    assert column.field is BELT.field("effective_length_mm")
    assert column.unit == unit


def test_a_unit_of_another_quantity_is_not_taken() -> None:
    """A length in kPa is no length."""
    with pytest.raises(HeadingError, match="Effective length"):
        matched(["Part no", "Ribs", "Eff. length (kPa)"], kind=BELT)


def test_a_slip_of_the_pen_is_taken_and_said() -> None:
    column = matched(["Part no", "Ribs", "Effective lenght"], kind=BELT).columns[2]
    assert column.field is BELT.field("effective_length_mm")
    assert column.how == "alike"
    assert SURE <= column.likeness < 100


def test_a_doubtful_heading_is_asked_about_not_taken() -> None:
    column = by_heading(matched([*BELT_HEADINGS, "Warehouse description"], kind=BELT), "Warehouse description")
    assert column.field is None
    assert (column.how, column.could_be) == ("asked about", "description")
    assert WORTH_ASKING <= column.likeness < SURE


def test_unknown_empty_repeated_and_refusal_columns_are_said() -> None:
    matching = matched([*BELT_HEADINGS, "Quux", "", "RIBS", "refused: reason"], kind=BELT)
    assert [column.how for column in matching.columns[3:]] == ["not known", "no heading", "repeated", "left out"]
    assert [column.position for column in matching.columns] == list(range(7))
    assert [column.position for column in matching.used] == [0, 1, 2]


def test_the_likest_column_gets_the_field() -> None:
    matching = matched(["Part no", "Ribs", "Effective lenght", "Effective length"], kind=BELT)
    assert fields(matching) == ["part_no", "ribs", None, "effective_length_mm"]


def test_told_beats_remembered_beats_likeness() -> None:
    remembered = {"belt": {"quux": "outside_length_mm", "bin": ""}}
    headings = ["Part no", "Ribs", "Quux", "Bin"]
    matching = matched(headings, kind=BELT, choices=Choices(remembered=remembered))
    assert fields(matching) == ["part_no", "ribs", "outside_length_mm", None]
    assert [column.how for column in matching.columns[2:]] == ["remembered", "left out"]
    told = Choices(told={"quux": "effective_length_mm"}, remembered=remembered)
    assert fields(matched(headings, kind=BELT, choices=told))[2] == "effective_length_mm"
    left_out = Choices(told={"description": ""})
    assert fields(matched([*BELT_HEADINGS, "Description"], kind=BELT, choices=left_out))[3] is None


def test_what_was_remembered_for_another_kind_is_not_used() -> None:
    choices = Choices(remembered={"hose": {"quux": "effective_length_mm"}})
    with pytest.raises(HeadingError):
        matched(["Part no", "Ribs", "Quux"], kind=BELT, choices=choices)


def test_a_field_that_the_kind_lacks_is_refused_with_the_known_ones() -> None:
    with pytest.raises(HeadingError, match="no column `colour`") as told:
        matched([*BELT_HEADINGS, "Quux"], kind=BELT, choices=Choices(told={"quux": "colour"}))
    assert "effective_length_mm" in str(told.value)


@pytest.mark.parametrize(
    ("headings", "kind", "missing"),
    [
        (["Ribs", "Eff. length"], BELT, "Part number"),
        (["Part no", "Ribs"], BELT, "Effective length or Outside length or Pitch length"),
        (["Part no", "Eff. length"], BELT, "Ribs or Section or Top width"),
        (["Part no", "Length"], HOSE, "Inside diameter"),
        (["Job", "Outcome"], JOB, "Work"),
    ],
)
def test_a_missing_column_is_named(headings: list[str], kind: Kind, missing: str) -> None:
    with pytest.raises(HeadingError, match=missing) as told:
        matched(headings, kind=kind, name="spring.csv")
    assert "spring.csv" in str(told.value)
    assert "--map" in str(told.value)


def test_a_designation_stands_for_ribs_profile_and_length() -> None:
    """8PK1854 says eight ribs, profile PK, effective length 1854 mm (ISO 9981)."""
    assert fields(matched(["Part no", "Designation"], kind=BELT)) == ["part_no", "designation"]


def test_no_row_of_headings_at_all() -> None:
    with pytest.raises(HeadingError, match="no row has two cells"):
        matched(["only one"], ["", "  "])
    with pytest.raises(HeadingError, match="no row has two cells"):
        matched()


def test_two_kinds_equally_likely_are_asked_unless_the_name_tells() -> None:
    headings = ["Part no", "OD", "Width"]
    with pytest.raises(HeadingError, match=r"could be pulley or tensioner.*--as"):
        matched(headings, name="sheet.csv")
    assert matched(headings, name="tensioners.csv").kind.name == "tensioner"
    assert matched(headings, name="pulleys.csv").kind.name == "pulley"
    assert matched(headings, name="sheet.csv", kind=TENSIONER).kind.name == "tensioner"


@pytest.mark.parametrize("kind", SHEET_KINDS, ids=lambda kind: kind.name)
def test_a_field_is_known_by_its_own_label_and_name(kind: Kind) -> None:
    for one in kind.fields:
        assert likeness(plain(one.label), one) == 100
        assert likeness(plain(one.name), one) == 100


@given(rows=st.lists(st.lists(st.text(max_size=12), max_size=8), max_size=6))
def test_any_rows_are_matched_whole_or_refused_in_words(rows: list[list[str]]) -> None:
    refused = None
    try:
        matching = matched(*rows)
    except HeadingError as error:
        refused = error
    if refused:
        assert refused.where == "s.csv"
        assert refused.do
        return
    assert [column.heading for column in matching.columns] == rows[matching.heading_row - 1]
    taken = [name for name in fields(matching) if name]
    assert len(taken) == len(set(taken))
    assert matching.missing == ()


def test_comparing_stops_where_texts_are_too_many_and_long_ones_are_no_headings() -> None:
    import time

    heading = ["Part no", "Ribs", "Effective length", "x" * 30_000]
    noise = [[f"{'abcdefgh'[n % 8]} word {row} {n}" for n in range(400)] for row in range(30)]
    started = time.process_time()
    matching = matched(heading, *noise)
    assert time.process_time() - started < 30  # 2 s on a quiet machine; a minute without the bound
    assert fields(matching) == ["part_no", "ribs", "effective_length_mm", None]
    assert matching.columns[3].how == "not known"
    assert matching.columns[3].heading == "x" * 30_000


def test_a_single_row_of_headings_is_looked_at_however_wide() -> None:
    wide = ["Part no", "Ribs", "Effective length", *(f"Remark {n}" for n in range(1_990))]
    assert fields(matched(wide))[:3] == ["part_no", "ribs", "effective_length_mm"]
