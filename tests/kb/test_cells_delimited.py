"""CSV and its relatives.

What a quoted cell means is RFC 4180's (sections 2.5 to 2.7); other expectations were written by hand.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.errors import SheetError
from kb.sheets.cells import Row, Worksheet, digest, read_worksheets
from kb.sheets.delimiter import find_layout

Save = Callable[..., Path]


@pytest.fixture
def save(tmp_path: Path) -> Save:
    def write(content: str | bytes, encoding: str = "utf-8", name: str = "prices.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return path

    return write


def sheet(path: Path) -> Worksheet:
    (only,) = read_worksheets(path)
    return only


def rows(path: Path) -> list[Row]:
    return list(sheet(path).rows)


def cells(path: Path) -> list[list[str]]:
    return [row.cells for row in rows(path)]


def test_a_plain_sheet(save: Save) -> None:
    path = save("Part,Length,Ribs\r\n00123,1857,8\r\n1E5, 73 1/8 ,8\r\n")
    assert sheet(path).name == "prices.csv"
    assert cells(path) == [["Part", "Length", "Ribs"], ["00123", "1857", "8"], ["1E5", " 73 1/8 ", "8"]]


def test_a_line_break_in_quotes_starts_no_row_and_a_blank_row_counts(save: Save) -> None:
    read = rows(save('Part,Text,Ribs\n\nA1,"two\nlines, ""both""",8\nA2,plain,8\n'))
    assert [(row.number, row.cells) for row in read if row.cells] == [
        (1, ["Part", "Text", "Ribs"]),
        (3, ["A1", 'two\nlines, "both"', "8"]),
        (4, ["A2", "plain", "8"]),
    ]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_line_endings(save: Save, ending: str) -> None:
    assert cells(save(ending.join(["Part,Ribs", "A1,8", "A2,6"]))) == [["Part", "Ribs"], ["A1", "8"], ["A2", "6"]]


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_each_delimiter(save: Save, mark: str) -> None:
    path = save(f"Part{mark}Length{mark}Text\nA1{mark}1857{mark}a b\n")
    assert cells(path)[1] == ["A1", "1857", "a b"]


@pytest.mark.parametrize(
    ("text", "delimiter"),
    [
        ("Part;Length;Price\nA1;1857,5;12,50\nA2;1900,0;13,10\n", ";"),
        ("Part;Length\n" + "".join(f"A{n};18{n},5\n" for n in range(10, 60)), ";"),
        ("Belts, hoses, and clamps\nas of March, all in mm\n\nPart;Length;Ribs\nA1;1857,5;8\nA2;1900,5;8\n", ";"),
        ("Part,Text,Ribs\nA1,black; ribbed; long,8\nA2,black; ribbed; long,8\n", ","),
        ('Part,Text,Ribs\nA1,"a; b; c; d",8\nA2,"a; b; c; d",8\n', ","),
        ("Part;Length;Ribs;Note\nA1\nA2\nA3;1857\n", ";"),
        ("Part,Length,Ribs\nA1 1857 8\nA2 1900 8\nA3 1950 8\n", ","),
        ("A1;1857,5;8\nA2;1900,0;6\nA3;1950,5;8\n", ";"),
        ("A1,1857,8\nA2,1900,6\n", ","),
        ("Part\tLength, mm\tRibs\nA1\t1857,5\t8\n", "\t"),
        ("Part number\n8PK1857\n8PK1900\n", None),
        ("Remarks\nlong, black\nshort\nwide\nthin\nplain\n", None),
        ("Part,Length\n", ","),
        ("8PK1857", None),
    ],
)
def test_the_delimiter_is_found(text: str, delimiter: str | None) -> None:
    assert find_layout(text).delimiter == delimiter


def test_a_single_column_keeps_its_commas(save: Save) -> None:
    path = save("Remarks\nlong, black\nshort\nwide\nthin\nplain\n")
    assert cells(path)[1] == ["long, black"]
    assert "single column" in sheet(path).notes[0]


def test_a_line_that_names_the_delimiter_is_no_row(save: Save) -> None:
    # Common practice of spreadsheets, no source: a first line "sep=;" is taken off before rows are counted.
    path = save("sep=;\nPart;Text\nA1;a,b,c\n")
    assert [(row.number, row.cells) for row in rows(path)] == [(1, ["Part", "Text"]), (2, ["A1", "a,b,c"])]


BODY = "".join(f"A{n},18{n},{n % 9}\n" for n in range(10, 30))


@pytest.mark.parametrize(
    "line",
    [
        'B1,"73 1/8,8',  # never closed: nothing else has a quote mark
        '"B1,1857,8',
        'B1,1857,"8',
    ],
)
@pytest.mark.parametrize("below", ["", 'C1,73 1/8",8\n', 'C1,"two\nlines",8\n', 'C1,1857,8"\n', 'C1,"73 1/8,8\n'])
def test_a_stray_quote_mark_swallows_nothing(save: Save, line: str, below: str) -> None:
    read = rows(save(f"Part,Length,Ribs\n{BODY}{line}\n{BODY}{below}{BODY}"))
    bad = [row for row in read if row.reason and row.number == 22]
    assert len(bad) == 1
    assert bad[0].cells == line.split(",")
    assert "quote mark" in (bad[0].reason or "")
    good = [row.cells for row in read if not row.reason]
    wanted = [each.split(",") for each in BODY.splitlines()]
    assert [row for row in good if row[0].startswith("A")] == wanted * 3


def test_a_stray_quote_mark_that_an_inch_mark_closes_on_the_next_line(save: Save) -> None:
    read = rows(save('Part,Length,Ribs\nA1,"73 1/8,8\nA2,73 1/8",8\nA3,1857,8\n'))
    assert [(row.cells, bool(row.reason)) for row in read[1:]] == [
        (["A1", '"73 1/8', "8"], True),
        (["A2", '73 1/8"', "8"], False),
        (["A3", "1857", "8"], False),
    ]


def test_a_stray_quote_mark_whose_row_would_not_fit_the_sheet(save: Save) -> None:
    read = rows(save('Part,Length,Ribs\n"A1,1857,8\nA2,8,73 1/8",PK\nA3,1857,8\n'))
    assert [bool(row.reason) for row in read] == [False, True, False, False]
    assert [row.cells[0] for row in read] == ["Part", '"A1', "A2", "A3"]


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ('A1,73 1/8",8', ["A1", '73 1/8"', "8"]),  # RFC 4180 2.5 forbids it; everyone writes it
        ('A1,"73 1/8""",8', ["A1", '73 1/8"', "8"]),  # RFC 4180 2.7
        ('A1,"73 1/8"",8', ["A1", '73 1/8"', "8"]),
        ('A1,"5" hose",8', ["A1", '5" hose', "8"]),
        ('"A1","73 1/8"","8"', ["A1", '73 1/8"', "8"]),
        ('A1,"a, b",8', ["A1", "a, b", "8"]),
        ("A1,6' 1-1/8\",8", ["A1", "6' 1-1/8\"", "8"]),
    ],
)
def test_inch_marks(save: Save, line: str, wanted: list[str]) -> None:
    read = rows(save(f"Part,Length,Ribs\n{line}\nA2,1857,8\n"))
    assert read[1].cells == wanted
    assert read[1].reason is None
    assert read[2].cells == ["A2", "1857", "8"]


@pytest.mark.parametrize("line", ['A1,"5" hose,8', 'A1,"a, 5" b",8', '"A1"x,1,8'])
def test_quote_marks_that_cannot_be_paired_are_reported_with_all_their_text(save: Save, line: str) -> None:
    read = rows(save(f"Part,Length,Ribs\n{line}\nA2,1857,8\n"))
    assert read[1].reason is not None
    assert ",".join(read[1].cells) == line
    assert read[2].cells == ["A2", "1857", "8"]


def test_many_stray_marks_take_linear_time(save: Save) -> None:
    lines = "".join(f'A{n},"73 1/8,8\n' for n in range(20_000))
    read = rows(save("Part,Length,Ribs\n" + lines))
    assert len(read) == 20_001
    assert all(row.reason for row in read[1:])


def test_a_cell_of_many_lines_is_kept_and_one_of_too_many_is_reported(save: Save) -> None:
    long = "\n".join(["word"] * 400)
    assert cells(save(f'Part,Text\nA1,"{long}"\nA2,b\n'))[1:] == [["A1", long], ["A2", "b"]]
    longer = "\n".join(["word"] * 1_500)
    read = rows(save(f'Part,Text\nA1,"{longer}"\nA2,b\n'))
    assert read[1].reason
    assert read[-1].cells == ["A2", "b"]
    assert len(read) == 1 + 1_500 + 1


def test_more_columns_than_are_read(save: Save) -> None:
    read = rows(save("Part,Length,Ribs\n" + ",".join(["1"] * 2_001) + "\nA2,1,1\n"))
    assert "2,001 cells" in (read[1].reason or "")
    assert read[2].reason is None


def test_a_cell_that_is_too_long_is_reported_and_reading_goes_on(save: Save) -> None:
    long = "x" * 1_000_001
    read = rows(save(f"Part,Length,Ribs\nA1,{long},8\nA2,1857,8\n"))
    assert "characters" in (read[1].reason or "")
    assert read[2].cells == ["A2", "1857", "8"]


def test_progress_reaches_the_size_of_the_file(save: Save) -> None:
    path = save("Part,Length\n" + "A1,1857\n" * 20_000)
    seen: list[int] = []
    (table,) = read_worksheets(path, seen.append)
    assert sum(1 for _ in table.rows) == 20_001
    assert seen == sorted(seen)
    assert seen[-1] == path.stat().st_size


def test_digest(save: Save) -> None:
    # FIPS 180-4's own example: "abc".
    assert digest(save("abc")) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    with pytest.raises(SheetError, match="no such file"):
        digest(Path("nowhere/prices.csv"))


characters = st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"], include_characters="\t\r\n")
words = st.text(characters, max_size=12).filter(lambda text: not text.startswith("'"))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(st.lists(words, min_size=3, max_size=3), min_size=1, max_size=20))
def test_what_the_csv_module_writes_comes_back(save: Save, table: list[list[str]]) -> None:
    out = io.StringIO(newline="")
    csv.writer(out, quoting=csv.QUOTE_ALL).writerows([["Part", "Length", "Ribs"], *table])
    assert cells(save(out.getvalue()))[1:] == table


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.text('ab1,"\n', max_size=60))
def test_no_character_is_lost_whatever_the_quotes(save: Save, body: str) -> None:
    read = rows(save("Part,Length,Ribs\n" + body))
    kept = "".join("".join(row.cells) for row in read[1:])
    for character in "ab1":
        assert kept.count(character) == body.count(character)
    assert [row.number for row in read] == list(range(1, len(read) + 1))
