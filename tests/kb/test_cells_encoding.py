"""Encodings, and files that are no tables.

The marks are those of the Unicode standard (chapter 23.8, byte order mark).
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from kb.errors import SheetError
from kb.sheets.cells import Row, Worksheet, read_worksheets

TEXT = "Part,Größe,Note\r\nA1,73⅛″,süß\r\n"
TABLE = [["Part", "Größe", "Note"], ["A1", "73⅛″", "süß"]]


def sheet(path: Path, content: bytes) -> Worksheet:
    path.write_bytes(content)
    (only,) = read_worksheets(path)
    return only


def rows(path: Path, content: bytes) -> list[Row]:
    return list(sheet(path, content).rows)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "prices.csv"


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"], ids=str)
def test_unicode_with_and_without_its_mark(path: Path, codec: str) -> None:
    assert [row.cells for row in rows(path, TEXT.encode(codec))] == TABLE


def test_utf_16_with_the_marks_of_both_orders(path: Path) -> None:
    assert [row.cells for row in rows(path, b"\xff\xfe" + TEXT.encode("utf-16-le"))] == TABLE
    assert [row.cells for row in rows(path, b"\xfe\xff" + TEXT.encode("utf-16-be"))] == TABLE


def test_windows_1252_is_said(path: Path) -> None:
    # In CP1252 (Unicode consortium's mapping table CP1252.TXT) 0x94 is the right double quotation mark, 0xBD one half.
    table = sheet(path, b"Part,Size\r\nA1,3\xbd\x94\r\n")
    assert [row.cells for row in table.rows] == [["Part", "Size"], ["A1", "3½”"]]
    assert "Windows-1252" in table.notes[0]


def test_plain_utf_8_needs_no_note(path: Path) -> None:
    assert sheet(path, TEXT.encode()).notes == []


def test_one_foreign_byte_at_the_end_of_a_long_file_decides_for_the_whole(path: Path) -> None:
    table = sheet(path, b"Part,Size\r\n" + b"A1,1857\r\n" * 200_000 + b"B1,3\xbd\r\n")
    assert "Windows-1252" in table.notes[0]
    last = list(table.rows)[-1]
    assert (last.number, last.cells) == (200_002, ["B1", "3½"])


def test_a_damaged_byte_in_utf_8_costs_its_cell_and_no_other(path: Path) -> None:
    read = rows(path, "Part,Size\r\nA1,73⅛\r\nA2,74⅛\r\n".encode() + b"A3,7\xe2\x85\r\n" + "A4,75⅛\r\n".encode())
    good = [row.cells for row in read if not row.faults]
    assert good == [["Part", "Size"], ["A1", "73⅛"], ["A2", "74⅛"], ["A4", "75⅛"]]
    (bad,) = (row for row in read if row.faults)
    assert (bad.number, list(bad.faults)) == (4, [1])
    assert bad.cells[0] == "A3"


def test_bytes_that_windows_1252_leaves_undefined_cost_their_cell(path: Path) -> None:
    read = rows(path, b"Part,Size\r\nA1,3\xbd\r\nA2,\x81\r\n")
    assert [list(row.faults) for row in read] == [[], [], [1]]


def test_half_a_character_at_the_end_of_utf_16(path: Path) -> None:
    read = rows(path, "Part,Size\r\nA1,1857".encode("utf-16") + b"\x00")
    assert read[0].cells == ["Part", "Size"]
    assert list(read[1].faults) == [1]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"\n\r\n , , \n;;\n", "only blank rows"),
        (b"\xef\xbb\xbf\r\n", "only blank rows"),
        (b"Part,Size\nA1,\x001857\n", "line 2: holds a NUL byte"),
        (b"%PDF-1.7\n1 0 obj\n", "is a PDF"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, r"\.xlsx"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "picture"),
        (b"\x7fELF\x02\x01\x01\0", "program"),
        (b"MZ\x90\0\x03\0\0\0\x04\0\0\0\xff\xff", "NUL byte"),
        (b"\x1f\x8b\x08\0", "gzip"),
        (b"<html><table><tr><td>1</td></tr></table></html>", "web page"),
        (bytes(range(1, 32)) * 20, "not text"),
        (b"x" * (3 << 20), "line of more than 1 MB"),
        (b"Part,Size\n" + b"x," * (2 << 20), "line of more than 1 MB"),
        (("x" * (3 << 20)).encode("utf-16"), "line of more than 1 MB"),
    ],
)
def test_files_that_are_no_tables_are_refused_in_words(path: Path, content: bytes, said: str) -> None:
    path.write_bytes(content)
    with pytest.raises(SheetError, match=said) as caught:
        list(read_worksheets(path))
    assert str(caught.value).startswith("prices.csv")
    assert caught.value.do


def test_folders_missing_and_closed_files(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="folder"):
        read_worksheets(tmp_path)
    with pytest.raises(SheetError, match="no such file"):
        read_worksheets(tmp_path / "nothing.csv")
    with pytest.raises(SheetError, match="cannot be read"):
        read_worksheets(tmp_path / "nul\0.csv")
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    with pytest.raises(SheetError, match="no regular file"):
        read_worksheets(pipe)


def test_a_file_that_may_not_be_read(path: Path) -> None:
    path.write_text("Part\n")
    path.chmod(0)
    code = (
        "import sys; from pathlib import Path; from kb.sheets.cells import read_worksheets\n"
        "try: read_worksheets(Path(sys.argv[1]))\n"
        "except Exception as error: print(type(error).__name__, error)"
    )
    command = [sys.executable, "-c", code, str(path)]
    if os.geteuid() == 0:  # root may read every file: take the power away from the reader, not from the test
        command = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-all", *command]
    done = subprocess.run(command, cwd=Path(__file__).parents[2], capture_output=True, text=True, check=True)
    assert "SheetError" in done.stdout
    assert "Permission denied" in done.stdout


def test_a_file_that_changes_between_the_passes_is_an_error_in_words(path: Path) -> None:
    table = sheet(path, b"Part,Size\nA1,1857\n")
    path.write_bytes(b"Part,Size\nA1,\xff\n")
    with pytest.raises(SheetError, match="cannot be read"):
        list(table.rows)
