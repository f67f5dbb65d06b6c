"""Single cells read by their column: days as people write them, choices by their words, and what is refused."""

from __future__ import annotations

import calendar
import json
from datetime import date, timedelta

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.errors import MeasurementError
from kb.fields import Field
from kb.sheets.columns import read_date, reader

FORMS = ("%Y-%m-%d", "%d.%m.%Y", "%d %b %Y", "%d %B %Y", "%Y/%m/%d", "%Y%m%d", "%b %d %Y", "%B %d, %Y")


@given(st.dates(date(1990, 1, 1), date(2089, 12, 31)), st.sampled_from(FORMS), st.sampled_from(["", " ", "\n"]))
def test_a_day_in_every_form_is_that_day(day, form, around) -> None:
    assert read_date(f"{around}{day.strftime(form)}{around}", "Opened on") == day.isoformat()


@pytest.mark.parametrize("time", [" 00:00:00", "T00:00", " 17:30", "T17:30:00Z", " 00:00:00.000"])
def test_a_worksheets_time_of_day_is_left_out(time) -> None:
    assert read_date(f"2025-03-14{time}", "Opened on") == "2025-03-14"


@pytest.mark.parametrize(
    "text",
    [
        "03/04/2025",
        "2025-02-29",
        "2025-3",
        "31.04.2025",
        "soon",
        "2025-03-14x00:00",
        "2025-13-01 00:00:00",
        "20250314 1",
    ],
)
def test_what_is_no_day_is_refused_with_the_way_to_write_one(text) -> None:
    with pytest.raises(MeasurementError, match=r"Opened on: .* is no day; write year-month-day"):
        read_date(text, "Opened on")


def test_every_day_of_a_leap_year_is_there_and_nothing_is_none() -> None:
    days = [date(2024, 1, 1) + timedelta(n) for n in range(366)]
    assert [read_date(day.strftime("%d %B %Y"), "x") for day in days] == [day.isoformat() for day in days]
    assert sum(calendar.monthrange(2024, month)[1] for month in range(1, 13)) == 366
    assert read_date("  ", "x") is None


FACE = Field(
    "face",
    "choice",
    "Face",
    choices={"flat": "flat", "back": "flat", "v": "grooved", "rib": "grooved", "ribbed": "grooved"},
)


def _one(text: str) -> tuple[object, dict[str, str]]:
    column = reader(FACE, None)
    return column[text], column.bad


@pytest.mark.parametrize(
    ("text", "face"),
    [
        ("flat", "flat"),
        ("Back", "flat"),
        ("V", "grooved"),
        ("flat face", "flat"),
        ("a ribbed one", "grooved"),
        (" ", None),
    ],
)
def test_a_choice_is_told_by_its_words(text, face) -> None:
    assert _one(text) == (face, {})


@pytest.mark.parametrize(
    "text", ["a v one", "a rib one", "flat or ribbed", "smooth"]
)  # short words tell only alone; two tell nothing
def test_what_tells_no_choice_is_refused_with_those_there_are(text) -> None:
    value, bad = _one(text)
    assert value is None
    assert bad[text].endswith("is none of: flat, grooved.")


def test_a_bad_cell_in_an_optional_column_is_refused_alone_and_its_row_stays(tmp_path, run) -> None:
    book = openpyxl.Workbook()
    for row in [
        ["Part no", "Ribs", "Eff. length", "Tolerance", "Junk"],
        ["A-1", "8", "1800", "wide", "x"],
        ["A-2", "8", "1800", "4", ""],
        ["A-3", "eight", "1800", "wide", "x"],
    ]:
        book.active.append(row)
    book.save(tmp_path / "belts.xlsx")
    done = run(
        "load", str(tmp_path / "belts.xlsx"), "--supplier", "Anyone", "--as", "belts", "--json", shelf=tmp_path / "s.db"
    )
    (report,) = json.loads(done.stdout)
    assert (report["rows_read"], report["rows_stored"], report["rows_refused"]) == (3, 2, 1)
    assert [(one["row"], one["column"]) for one in report["refusals"]] == [(2, "Tolerance"), (4, "Ribs")]
    # twelve and two cells hold something besides the headings: seven of the stored rows' are stored, one refused, one ignored
    assert report["cells_read"] == 14
    assert report["cells_stored"] + report["cells_ignored"] + report["cells_refused"] == 14
    assert (report["cells_stored"], report["cells_ignored"], report["cells_refused"]) == (7, 1, 6)


@pytest.mark.parametrize("between", [";", " | ", "/", " x ", " + ", ", "])
def test_a_list_is_parted_by_whatever_stands_between(between) -> None:
    column = reader(Field("legs", "lengths", "Legs"), None)
    assert json.loads(column[between.join(["100", "82.5", "4 in"])]) == [100.0, 82.5, 101.6]
    assert column["-"] is column[""] is None
    assert column.bad == {}


def test_a_list_keeps_the_bounds_of_its_field_else_those_of_what_it_lists() -> None:
    bends = reader(Field("bends", "angles", "Bends"), None)
    assert json.loads(bends["0; 90; 360"]) == [0.0, 90.0, 360.0]
    assert bends["0; 361"] is bends["-1; 90"] is None
    assert set(bends.bad) == {"0; 361", "-1; 90"}
    legs = reader(Field("legs", "lengths", "Legs"), None)
    assert json.loads(legs["1; 100000"]) == [1.0, 100000.0]
    assert legs["0.5; 20"] is legs["20; 100001"] is None
    short = reader(Field("legs", "lengths", "Legs", low=0.25, high=2.0), None)
    assert json.loads(short["0.5; 2"]) == [0.5, 2.0]
    assert short["0.5; 3"] is short["0.1; 1"] is None
