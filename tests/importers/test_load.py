"""Loading: what goes in comes out, what cannot be stored is said, and the same again changes nothing."""

from __future__ import annotations

import csv
import gc
import json
import sqlite3
from pathlib import Path

import openpyxl
import pytest

HEADINGS = ["Part no", "Description", "Ribs", "Eff. length"]
GOOD = [
    ["1E5", "belt one", "8", '73 1/8"'],
    ["00123", "belt two", "8", "73⅛ in"],
    ["A-3", "belt three", "8", "6' 1-1/8\""],
    ["A-4", "belt four", "8", "1,857 mm"],
    ["A-5", "belt five", "8", "1857,5 mm"],
]
BAD = [
    ["A-6", "belt six", "8", "see drawing"],
    ["A-7", "belt seven", "eight", "1800"],
    ["", "belt eight", "8", "1800"],
    ["1E5", "belt nine", "8", "1800"],
]
# Worked out by hand: 73.125 x 25.4 = 1857.375; 6 ft 1 1/8 in is 73.125 in.
LENGTHS = {"1E5": 1857.375, "00123": 1857.375, "A-3": 1857.375, "A-4": 1857.0, "A-5": 1857.5}


def write(path: Path, rows: list[list[str]], *, encoding: str = "utf-8", delimiter: str = ",") -> Path:
    with path.open("w", encoding=encoding, newline="") as out:
        csv.writer(out, delimiter=delimiter).writerows(rows)
    return path


def belts(shelf: Path) -> dict[str, sqlite3.Row]:
    connection = sqlite3.connect(shelf)
    connection.row_factory = sqlite3.Row
    rows = {row["part_no"]: row for row in connection.execute("SELECT * FROM belt")}
    connection.close()
    return rows


def dump(shelf: Path) -> list[str]:
    connection = sqlite3.connect(shelf)
    lines = [line for line in connection.iterdump() if "_fts" not in line]
    connection.close()
    return lines


# Windows-1252 has no eighths: there the second belt is written with the half that it has, and with umlauts.
GOOD_1252 = [GOOD[0], ["00123", "Riemen für Lüfter", "8", "73½ in"], *GOOD[2:]]
LENGTHS_1252 = {**LENGTHS, "00123": 1866.9}  # 73.5 x 25.4


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_what_people_write_is_stored_and_found(tmp_path, run, encoding, delimiter) -> None:
    good, lengths = (GOOD_1252, LENGTHS_1252) if encoding == "cp1252" else (GOOD, LENGTHS)
    sheet = write(tmp_path / "belts.csv", [HEADINGS, *good, *BAD], encoding=encoding, delimiter=delimiter)
    shelf = tmp_path / "shelf.db"
    done = run("load", str(sheet), "--supplier", "Anyone", "--json", shelf=shelf)
    assert done.exit_code == 0, done.output
    (report,) = json.loads(done.stdout)
    assert (report["rows_stored"], report["rows_refused"]) == (5, 4)
    stored = belts(shelf)
    assert {part: row["effective_length_mm"] for part, row in stored.items()} == pytest.approx(lengths)
    assert [json.loads(stored[row[0]]["written"]) for row in good] == good
    told = {refusal["row"]: (refusal["column"], refusal["reason"]) for refusal in report["refusals"]}
    assert set(told) == {7, 8, 9, 10}
    assert told[7][0] == "Eff. length"
    assert "see drawing" in told[7][1]
    assert told[8][0] == "Ribs"
    assert "eight" in told[8][1]
    assert "Part number is missing" in told[9][1]
    assert told[10][0] == "Part no"
    assert "twice" in told[10][1]
    before = dump(shelf)
    again = json.loads(run("load", str(sheet), "--supplier", "Anyone", "--json", shelf=shelf).stdout)
    assert dump(shelf) == before
    assert again[0]["rows_stored"] == again[0]["rows_updated"] == 0
    for part_no in ("1E5", "00123"):
        assert json.loads(run("find", part_no, "--json", shelf=shelf).stdout)[0]["id"] == f"belt:Anyone:{part_no}"
    for part_no, length_mm in lengths.items():
        near = json.loads(run("belts", "--length", f"{length_mm} mm", "--ribs", "8", "--json", shelf=shelf).stdout)
        assert part_no in {row["part_no"] for row in near if abs(row["difference_mm"]) < 0.01}


def test_windows_1252_with_its_own_fractions(tmp_path, run) -> None:
    rows = [["Artikel-Nr.", "Bezeichnung", "Rippen", "Wirklänge (mm)"], ["R1", "Riemen, blau-grün", "6", "1407,5"]]
    shelf = tmp_path / "shelf.db"
    run("load", str(write(tmp_path / "riemen.csv", rows, encoding="cp1252", delimiter=";")), shelf=shelf)
    assert belts(shelf)["R1"]["effective_length_mm"] == 1407.5
    assert belts(shelf)["R1"]["description"] == "Riemen, blau-grün"


def test_a_changed_row_updates_and_says_so(tmp_path, run) -> None:
    shelf = tmp_path / "shelf.db"
    sheet = write(tmp_path / "belts.csv", [HEADINGS, *GOOD])
    run("load", str(sheet), "--supplier", "Anyone", shelf=shelf)
    write(sheet, [HEADINGS, ["1E5", "belt renamed", "8", "1900 mm"], *GOOD[1:]])
    (report,) = json.loads(run("load", str(sheet), "--supplier", "Anyone", "--json", shelf=shelf).stdout)
    assert (report["rows_stored"], report["rows_updated"], report["rows_unchanged"]) == (0, 1, 4)
    assert belts(shelf)["1E5"]["effective_length_mm"] == 1900.0
    assert json.loads(run("find", "renamed", "--json", shelf=shelf).stdout)[0]["id"] == "belt:Anyone:1E5"
    assert json.loads(run("find", "one", "--json", shelf=shelf).stdout) == []


def test_dry_run_shows_all_and_writes_nothing(tmp_path, run) -> None:
    shelf = tmp_path / "shelf.db"
    sheet = write(tmp_path / "belts.csv", [HEADINGS, *GOOD, *BAD])
    done = run("load", str(sheet), "--dry-run", shelf=shelf)
    assert "5 would be stored" in done.stdout
    assert not shelf.exists()


def test_a_column_is_named_once_and_remembered(tmp_path, run) -> None:
    shelf = tmp_path / "shelf.db"
    headings = ["Part no", "Ribs", "Quux"]
    first = write(tmp_path / "one.csv", [headings, ["A", "8", "1800"]])
    refused = run("load", str(first), "--supplier", "Anyone", "--as", "belts", shelf=shelf)
    assert refused.exit_code == 1
    assert "--map" in refused.stderr
    told = ("--map", "Quux=effective_length_mm")
    assert run("load", str(first), "--supplier", "Anyone", "--as", "belts", *told, shelf=shelf).exit_code == 0
    second = write(tmp_path / "two.csv", [headings, ["B", "8", "1810"]])
    assert run("load", str(second), "--supplier", "Anyone", "--as", "belts", shelf=shelf).exit_code == 0
    assert set(belts(shelf)) == {"A", "B"}


def test_refused_rows_are_written_out_corrected_and_loaded(tmp_path, run) -> None:
    shelf = tmp_path / "shelf.db"
    out = tmp_path / "refused.csv"
    sheet = write(tmp_path / "belts.csv", [HEADINGS, *GOOD, ["A-6", "=1+1", "8", "see drawing"]])
    run("load", str(sheet), "--supplier", "Anyone", "--refusals", str(out), shelf=shelf)
    with out.open(encoding="utf-8-sig", newline="") as source:
        rows = list(csv.reader(source))
    assert rows[1][3] == "'=1+1"  # a spreadsheet will not run it
    rows[1][5] = "1801"
    write(out, rows)
    assert run("load", str(out), "--supplier", "Anyone", shelf=shelf).exit_code == 0
    assert belts(shelf)["A-6"]["effective_length_mm"] == 1801.0
    assert belts(shelf)["A-6"]["description"] == "=1+1"


def test_repeated_headings_and_ragged_rows_are_said(tmp_path, run) -> None:
    shelf = tmp_path / "shelf.db"
    rows = [
        ["Part no", "Ribs", "Eff. length", "Ribs"],
        ["A", "8", "1800", "9"],
        ["B", "8", "1801", "", "x"],
        ["C", "8", "1802"],
    ]
    done = run("load", str(write(tmp_path / "belts.csv", rows)), "--json", shelf=shelf)
    (report,) = json.loads(done.stdout)
    assert [column["how"] for column in report["columns"]] == ["same words", "same words", "same words", "repeated"]
    assert belts(shelf)["A"]["ribs"] == 8
    assert set(belts(shelf)) == {"A", "C"}
    assert report["refusals"][0]["row"] == 3


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04\x00", b"\x89PNG\r\n\x1a\n\x00\x00", b"\n\n\n"])
def test_what_is_no_sheet_is_told_and_stores_nothing(tmp_path, run, content) -> None:
    path = tmp_path / "odd.csv"
    path.write_bytes(content)
    shelf = tmp_path / "shelf.db"
    done = run("load", str(path), shelf=shelf)
    assert done.exit_code == 1
    assert "odd.csv" in done.stderr
    connection = sqlite3.connect(shelf)
    assert connection.execute("SELECT count(*) FROM load").fetchone()[0] == 0
    connection.close()


def test_prices_and_customers_stay_in_tables_of_their_own(tmp_path, run) -> None:
    shelf = tmp_path / "shelf.db"
    rows = [
        [*HEADINGS, "Net price", "Dealer margin"],
        [*GOOD[0], "PRICE-77", "MARGIN-66"],
        ["X", "bad", "8", "n/a", "PRICE-55", "MARGIN-44"],
    ]
    run("load", str(write(tmp_path / "belts.csv", rows)), shelf=shelf)
    jobs = [["Job", "Work", "Customer"], ["J-1", "belt in", "CUSTOMER-33"]]
    run("load", str(write(tmp_path / "jobs.csv", jobs)), shelf=shelf)
    connection = sqlite3.connect(shelf)
    tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    secret = ("PRICE-", "MARGIN-", "CUSTOMER-")
    for table in tables:
        if not table.startswith("private_") and "_fts" not in table and "_word" not in table:
            text = repr(connection.execute(f"SELECT * FROM {table}").fetchall())
            assert not any(word in text for word in secret), table
    assert connection.execute("SELECT price FROM private_price").fetchall() == [("PRICE-77",)]
    assert connection.execute("SELECT customer FROM private_job").fetchall() == [("CUSTOMER-33",)]
    connection.close()


def test_a_single_job_and_its_correction(tmp_path, run) -> None:
    shelf = tmp_path / "shelf.db"
    sheet = tmp_path / "job.toml"
    sheet.write_text('job = "N-9"\nwork = "belt in"\n[[part]]\npart_no = "00123"\n', encoding="utf-8")
    run("load", str(sheet), shelf=shelf)
    sheet.write_text('job = "N-9"\nwork = "belt in"\noutcome = "worked"\n', encoding="utf-8")
    run("load", str(sheet), shelf=shelf)
    connection = sqlite3.connect(shelf)
    assert connection.execute("SELECT count(*) FROM job_revision").fetchone()[0] == 2
    assert connection.execute("SELECT outcome FROM job").fetchall() == [("worked",)]
    assert connection.execute("SELECT count(*) FROM job_part").fetchone()[0] == 0
    connection.close()


def test_whose_sheet_it_is_is_asked_for_only_where_nobody_says(tmp_path, run) -> None:
    plain = write(tmp_path / "belts.csv", [HEADINGS, *GOOD])
    with_column = write(tmp_path / "both.csv", [[*HEADINGS, "Supplier"], *[[*row, "Column and Sons"] for row in GOOD]])

    def told(*asked: str) -> tuple[str, bool]:
        (report,) = json.loads(run("load", *asked, "--json", "--dry-run", shelf=tmp_path / "none.db").stdout)
        return report["supplier"], any("No supplier was named" in note for note in report["notes"])

    assert told(str(plain)) == ("belts", True)
    assert told(str(plain), "--supplier", "Anyone") == ("Anyone", False)
    assert told(str(with_column))[1] is False


def test_a_worksheet_that_nobody_can_tell_is_counted_whole_and_the_others_load(tmp_path, run) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in [HEADINGS, *GOOD]:
        sheet.append(row)
    other = book.create_sheet("Notes")
    for row in (["call back"], ["ask about", "the wash bay"]):
        other.append(row)
    book.save(tmp_path / "book.xlsx")
    done = run("load", str(tmp_path / "book.xlsx"), "--supplier", "Anyone", "--json", shelf=tmp_path / "shelf.db")
    belts_report, notes_report = json.loads(done.stdout)
    assert belts_report["rows_stored"] == len(GOOD)
    assert notes_report["rows_read"] == notes_report["rows_refused"] == 2
    assert notes_report["cells_read"] == notes_report["cells_refused"] == 3


def test_a_job_without_its_name_is_still_told_for_a_job(tmp_path, run) -> None:
    (tmp_path / "one.toml").write_text('work = "belt"', encoding="utf-8")
    done = run("load", str(tmp_path / "one.toml"), shelf=tmp_path / "shelf.db")
    assert done.exit_code == 1
    assert "`job` is missing" in done.stderr


def test_loading_leaves_the_collector_as_it_was(tmp_path, run) -> None:
    sheet = write(tmp_path / "belts.csv", [HEADINGS, *GOOD])
    assert gc.isenabled()
    run("load", str(sheet), "--supplier", "Anyone", shelf=tmp_path / "one.db")
    assert gc.isenabled()
    gc.disable()
    try:
        run("load", str(sheet), "--supplier", "Anyone", shelf=tmp_path / "other.db")
        assert not gc.isenabled()
    finally:
        gc.enable()
