"""Rows written out.

What a spreadsheet would run begins with a character of OWASP's page on CSV injection (from memory).
"""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.errors import BayshelfError
from kb.sheets.cells import read_worksheets
from kb.sheets.written import csv_text, guarded, unguarded, write_csv

HEADINGS = ("Part number", "Length in mm", "Remark")
texts = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=10),
    st.text("'=+-@\t\r\n,;\"a1. ", max_size=8),
)


def parsed(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def test_a_table_is_rfc_4180(tmp_path: Path) -> None:
    # RFC 4180, 2.1, 2.5 and 2.7, written by hand.
    wanted = 'Part number,Length in mm,Remark\r\n00123,1857.5,"73 1/8"" long, black"\r\n'
    assert csv_text(HEADINGS, [("00123", 1857.5, '73 1/8" long, black')]) == wanted


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-A1", "@SUM(A1)", "\t=1", "\r=1", '=cmd|" /C calc"!A0', "-", "+-1"])
def test_what_a_spreadsheet_would_run_is_guarded(text: str) -> None:
    assert parsed(csv_text(["A", "B"], [(text, 1)]))[1] == [f"'{text}", "1"]


@pytest.mark.parametrize("text", ["-12.5", "+8", "-1,5", "-1E5", "8PK1857", "'tis", "a=b", "", " "])
def test_numbers_and_texts_are_left_as_they_are(text: str) -> None:
    assert parsed(csv_text(["A", "B"], [(text, 1)]))[1] == [text, "1"]


def test_numbers_are_written_plainly() -> None:
    assert parsed(csv_text(["A", "B", "C"], [(-5, None, 0.1)]))[1] == ["-5", "", "0.1"]


@given(texts)
def test_the_guard_comes_off_again(text: str) -> None:
    assert unguarded(guarded(text)) == text


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=300)
@given(st.lists(st.tuples(texts, texts, texts), max_size=8))
def test_every_text_comes_back(tmp_path: Path, table: list[tuple[str, str, str]]) -> None:
    path = tmp_path / "refusals.csv"
    write_csv(path, HEADINGS, table)
    (sheet,) = read_worksheets(path)
    read = list(sheet.rows)
    assert [row.cells for row in read[1:]] == [list(row) for row in table]
    assert not any(row.reason or row.faults for row in read)


def test_what_no_text_file_can_hold_is_marked(tmp_path: Path) -> None:
    path = tmp_path / "refusals.csv"
    write_csv(path, ["A", "B"], [("a\0b", "\ud800")])
    assert path.read_bytes() == b"\xef\xbb\xbfA,B\r\n" + "a�b,�\r\n".encode()


def test_a_failed_write_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "refusals.csv"
    path.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BayshelfError, match="No space left"):
        write_csv(path, ["A"], [("1",)])
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["refusals.csv"]


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(BayshelfError, match="cannot be written"):
        write_csv(tmp_path / "none" / "refusals.csv", ["A"], [])


def test_a_new_file_is_as_open_as_any_other(tmp_path: Path) -> None:
    (tmp_path / "other.csv").write_text("")
    write_csv(tmp_path / "refusals.csv", ["A"], [])
    assert (tmp_path / "refusals.csv").stat().st_mode == (tmp_path / "other.csv").stat().st_mode
