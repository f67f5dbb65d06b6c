"""Workbooks, written with openpyxl or by hand after ECMA-376 part 1, section 18.3, and read back."""

from __future__ import annotations

import datetime
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pandas
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.errors import SheetError
from kb.sheets.cells import Row, Worksheet, read_worksheets
from kb.sheets.workbook import text_of

CONTENT_TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/></Types>'
)
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def by_hand(path: Path, sheet_data: str, **parts: str) -> Path:
    """Write a workbook of one worksheet, "Belts", around the XML of its rows."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", CONTENT_TYPES)
        archive.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{RELATIONS}"><Relationship Id="rId1" Type="{OFFICE}/officeDocument" '
            'Target="xl/workbook.xml"/></Relationships>',
        )
        archive.writestr(
            "xl/_rels/workbook.xml.rels",
            f'<Relationships xmlns="{RELATIONS}"><Relationship Id="rId1" Type="{OFFICE}/worksheet" '
            'Target="worksheets/sheet1.xml"/></Relationships>',
        )
        archive.writestr(
            "xl/workbook.xml",
            f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>'
            '<sheet name="Belts" sheetId="1" r:id="rId1"/></sheets></workbook>',
        )
        archive.writestr(
            "xl/worksheets/sheet1.xml", f'<worksheet xmlns="{MAIN}"><sheetData>{sheet_data}</sheetData></worksheet>'
        )
        for name, content in parts.items():
            archive.writestr(f"xl/{name}.xml", content)
    return path


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "prices.xlsx"


@pytest.fixture
def saved(path: Path) -> Callable[[Callable[[Any], None]], Path]:
    """Save a workbook whose only worksheet, "Belts", a function fills."""

    def save(fill: Callable[[Any], None]) -> Path:
        book = openpyxl.Workbook()
        book.active.title = "Belts"
        fill(book.active)
        book.save(path)
        return path

    return save


def sheet(path: Path) -> Worksheet:
    (only,) = read_worksheets(path)
    return only


def rows(path: Path) -> list[Row]:
    return list(sheet(path).rows)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("00123", "00123"),
        ("1E5", "1E5"),
        (" 73 1/8 ", " 73 1/8 "),
        ("two\nlines", "two\nlines"),
        ("=not a formula?", None),
        (123, "123"),
        (1857, "1857"),
        (1857.5, "1857.5"),
        (1e5, "100000"),
        (0.1 + 0.2, "0.3"),
        (1.1 * 3, "3.3"),
        (1e-7, "0.0000001"),
        (-4.75, "-4.75"),
        (0, "0"),
        (True, "TRUE"),
        (False, "FALSE"),
        (datetime.date(2031, 3, 4), "2031-03-04"),
        (datetime.datetime(2031, 3, 4, 13, 30), "2031-03-04 13:30:00"),
        (datetime.time(7, 30), "07:30:00"),
        (datetime.timedelta(hours=30), "30:00:00"),
    ],
)
def test_a_cell_is_what_a_person_reads_in_it(saved: Any, value: object, text: str | None) -> None:
    (row,) = rows(saved(lambda sheet: sheet.append(["A1", value, "end"])))
    if text is None:
        assert "=not a formula?" in row.faults[1]
    else:
        assert row.cells == ["A1", text, "end"]
        assert not row.faults


def test_a_number_shown_with_zeros_in_front_keeps_them(saved: Any) -> None:
    def fill(sheet: Any) -> None:
        sheet.append([123, 123, 1234567, "x"])
        sheet["A1"].number_format = "00000"
        sheet["C1"].number_format = "00000"

    assert rows(saved(fill))[0].cells == ["00123", "123", "1234567", "x"]


def test_a_number_whose_last_digits_are_gone_is_not_trusted(saved: Any) -> None:
    (row,) = rows(saved(lambda sheet: sheet.append([12345678901234567, 123456789012345])))
    assert list(row.faults) == [0]
    assert "15 digits" in row.faults[0]
    assert row.cells[1] == "123456789012345"


def test_rows_and_columns_are_numbered_as_the_spreadsheet_shows_them(saved: Any) -> None:
    def fill(sheet: Any) -> None:
        sheet["C4"] = "Part"
        sheet["D4"] = "Ribs"
        sheet["C7"] = "A1"

    read = [(row.number, row.cells) for row in rows(saved(fill)) if any(row.cells)]
    assert read == [(4, ["", "", "Part", "Ribs"]), (7, ["", "", "A1", ""])]


def test_several_worksheets_hidden_and_empty_ones_and_charts(path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "Belts"
    book.active.append(["Part"])
    hidden = book.create_sheet("Old & gone")
    hidden.sheet_state = "hidden"
    hidden.append(["Was"])
    book.create_chartsheet("Chart")
    book.create_sheet("Empty")
    book.save(path)
    read = [(sheet.name, [row.cells for row in sheet.rows], sheet.notes) for sheet in read_worksheets(path)]
    assert read == [
        ("prices.xlsx: Belts", [["Part"]], []),
        ("prices.xlsx: Old & gone", [["Was"]], ["The worksheet is hidden; it is read all the same."]),
        ("prices.xlsx: Empty", [], ["The worksheet is empty."]),
    ]


def test_merged_cells_are_said_and_stay_empty(saved: Any) -> None:
    def fill(sheet: Any) -> None:
        sheet.append(["Alder Fork prices", None])
        sheet.append(["A1", 8])
        sheet.append([None, 6])
        sheet.merge_cells("A1:B1")
        sheet.merge_cells("A2:A3")

    table = sheet(saved(fill))
    assert [row.cells for row in table.rows] == [["Alder Fork prices", ""], ["A1", "8"], ["", "6"]]
    (note,) = table.notes
    assert "A1:B1" in note
    assert "A2:A3" in note


@pytest.mark.parametrize("error", ["#N/A", "#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!"])
def test_an_error_is_a_fault(path: Path, error: str) -> None:
    # The error texts are those of ECMA-376 part 1, 18.17.3.
    read = rows(by_hand(path, f'<row r="1"><c r="A1"><v>1</v></c><c r="B1" t="e"><v>{error}</v></c></row>'))
    assert read[0].cells == ["1", error]
    assert list(read[0].faults) == [1]
    assert error in read[0].faults[1]


def test_formulas_give_their_stored_value_and_without_one_a_fault(path: Path) -> None:
    table = sheet(
        by_hand(
            path,
            '<row r="2"><c r="A2"><f>B2*2</f><v>16</v></c><c r="B2" t="str"><f>"8"&amp;"PK"</f><v>8PK</v></c>'
            '<c r="C2" t="str"><f>""</f><v></v></c><c r="D2"><f>A2&gt;1</f></c><c r="E2"><f>A2+1</f><v/></c>'
            '<c r="F2" t="e"><f>1/0</f><v>#DIV/0!</v></c><c r="G2"><f t="shared" si="0"/></c></row>',
        )
    )
    row = list(table.rows)[-1]
    assert row.cells == ["16", "8PK", "", "=A2>1", "=A2+1", "#DIV/0!", "=…"]
    assert sorted(row.faults) == [3, 4, 5, 6]
    assert "=A2>1" in row.faults[3]
    assert table.notes == ["Cells with a formula: 7. Their stored values are read."]


def test_a_fault_beyond_the_last_value_is_not_lost(path: Path) -> None:
    xml = '<row r="1"><c r="A1"><v>1</v></c></row><row r="3"><c r="D3"><f>A1</f></c></row>'
    read = rows(by_hand(path, xml))
    assert [(row.number, row.cells, list(row.faults)) for row in read if any(row.cells)] == [
        (1, ["1"], []),
        (3, ["", "", "", "=A1"], [3]),
    ]


def test_rows_and_cells_without_references(path: Path) -> None:
    # ECMA-376 part 1, 18.3.1.4 and 18.3.1.73: `r` may be left out, the place then follows from the order.
    xml = '<row><c><v>1</v></c><c t="e"><v>#N/A</v></c></row><row><c><v>3</v></c></row>'
    read = rows(by_hand(path, xml))
    assert [row.cells for row in read] == [["1", "#N/A"], ["3", ""]]
    assert list(read[0].faults) == [1]


def test_shared_texts_with_parts_of_their_own_look(path: Path) -> None:
    mixed = '<si><r><t xml:space="preserve">73 </t></r><r><t>1/8</t></r></si>'
    strings = f'<sst xmlns="{MAIN}"><si><t>8PK1857</t></si>{mixed}</sst>'
    xml = '<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c></row>'
    assert rows(by_hand(path, xml, sharedStrings=strings))[0].cells == ["8PK1857", "73 1/8"]


def test_elements_with_a_prefix(path: Path) -> None:
    by_hand(path, "")
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts["xl/worksheets/sheet1.xml"] = (
        f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData><x:row r="1"><x:c r="A1"><x:v>1</x:v></x:c>'
        '<x:c r="B1" t="e"><x:v>#N/A</x:v></x:c></x:row></x:sheetData></x:worksheet>'
    ).encode()
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    read = rows(path)
    assert (read[0].cells, list(read[0].faults)) == (["1", "#N/A"], [1])


def test_the_name_does_not_matter(saved: Any, tmp_path: Path) -> None:
    moved = saved(lambda sheet: sheet.append(["Part", 1])).rename(tmp_path / "prices.csv")
    assert sheet(moved).name == "prices.csv: Belts"


def test_a_workbook_without_a_cell_is_refused(saved: Any) -> None:
    with pytest.raises(SheetError, match="holds no cells"):
        read_worksheets(saved(lambda sheet: None))


def test_progress_is_told(saved: Any) -> None:
    seen: list[int] = []
    path = saved(lambda sheet: sheet.append(["Part", 1]))
    list(read_worksheets(path, seen.append))
    assert seen
    assert max(seen) <= path.stat().st_size


values = st.one_of(
    st.none(),
    st.integers(-(10**14), 10**14),
    st.floats(-1e14, 1e14).map(lambda number: float(f"{number:.12g}")),
    st.booleans(),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12).filter(
        lambda text: not text.startswith("=") and not text.startswith("#") and "_x" not in text
    ),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(st.lists(st.lists(values, min_size=1, max_size=5), min_size=1, max_size=8))
def test_every_value_comes_back(saved: Any, table: list[list[object]]) -> None:
    def fill(sheet: Any) -> None:
        for row in [["heading"], *table]:
            sheet.append(row)

    read = rows(saved(fill))[1:]
    for row, wanted in zip(read, table, strict=False):
        assert not row.faults
        for cell, value in zip(row.cells, wanted, strict=False):
            if isinstance(value, int | float) and not isinstance(value, bool):
                assert float(cell) == pytest.approx(value, rel=1e-14)
            elif isinstance(value, str) and not value.strip():
                assert not cell.strip()  # nothing but spaces is an empty cell, whichever way it comes back
            else:
                assert cell == text_of(value) if not isinstance(value, str) else cell == value


def test_pandas_reads_the_same_texts(saved: Any) -> None:
    table = [["Part", "Length", "Note"], ["00123", "73 1/8", "a"], ["1E5", " x", "=="], ["A", "", "b"]]

    def fill(sheet: Any) -> None:
        for row in table:
            sheet.append([cell or None for cell in row])
        sheet["C3"].data_type = "s"

    path = saved(fill)
    frame = pandas.read_excel(path, header=None, dtype=object, na_filter=False, engine="openpyxl")
    assert [row.cells for row in rows(path)] == frame.values.tolist() == table
