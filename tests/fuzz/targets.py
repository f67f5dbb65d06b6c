"""What is fuzzed: each target takes any bytes and holds what must be true of whatever comes of them.

A reader returns, or raises one of our own errors (``kb/errors.py``) in words; numbers that come back are finite, and
texts can be written as UTF-8. Anything else raised here is a finding.
"""

from __future__ import annotations

import atexit
import dataclasses
import io
import math
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from kb.errors import BayshelfError, DriveError, HeadingError, MeasurementError, SheetError

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_db"
LONGEST_QUERY = 300


def hold_finite(value: Any, where: str = "", depth: int = 0) -> None:
    """Fail where a number in a returned value is not finite, or a text cannot be written."""
    if depth > 12 or value is None or isinstance(value, (bool, bytes)):
        return
    if isinstance(value, (int, float)):
        assert math.isfinite(value), f"{where} is {value}"
    elif isinstance(value, str):
        value.encode()
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for one in dataclasses.fields(value):
            hold_finite(getattr(value, one.name), f"{where}.{one.name}", depth + 1)
    elif isinstance(value, Mapping):
        for key, each in value.items():
            hold_finite(each, f"{where}[{key!r}]", depth + 1)
    elif isinstance(value, (Sequence, frozenset, set)):
        for each in value:
            hold_finite(each, f"{where}[]", depth + 1)


def hold_words(error: BayshelfError) -> None:
    """Fail where an error says nothing, cannot be written, or grows with what was read."""
    said = str(error)
    said.encode()
    assert error.what.strip()
    assert len(said) < 3_000, f"an error of {len(said)} characters"


@cache
def workplace() -> Path:
    """A folder, in memory where there is one: a target writes its file there once per run; taken away at the end."""
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    folder = tempfile.mkdtemp(prefix="bayshelf-fuzz-", dir=os.environ.get("BAYSHELF_FUZZ_FOLDER", memory))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


def fuzz_measure(data: bytes) -> None:
    """The first byte chooses the quantity, the second the unit that is meant; the rest is the text."""
    from kb.measure import LENGTH, QUANTITIES, both_text, found_in, read

    names = sorted(QUANTITIES)
    quantity = QUANTITIES[names[data[0] % len(names)]] if data else LENGTH
    units = [None, *quantity.written]
    unit = units[data[1] % len(units)] if len(data) > 1 else None
    text = data[2:].decode("utf-8", "surrogateescape")
    for call in (lambda: read(text, quantity, unit=unit), lambda: read(text, quantity)):
        try:
            number = call()
        except MeasurementError as error:
            hold_words_of_any_text(error)
            continue
        assert math.isfinite(number)
        if quantity is LENGTH:
            both_text(number)
    last = 0
    for one in found_in(text[:LONGEST_QUERY], quantity, unit=unit):
        assert math.isfinite(one.value)
        assert last <= one.start < one.end <= len(text)
        assert text[one.start : one.end] == one.written
        last = one.end


def hold_words_of_any_text(error: BayshelfError) -> None:
    """As ``hold_words``, for texts that came with characters that are none: errors show them escaped."""
    assert error.what.strip()
    assert len(str(error)) < 3_000


def fuzz_headings(data: bytes) -> None:
    """Rows are parted by line breaks, cells by tabs; the first byte chooses the kind that was named, or none."""
    from kb.fields import SHEET_KINDS
    from kb.sheets.headings import match

    kinds = [None, *SHEET_KINDS]
    kind = kinds[data[0] % len(kinds)] if data else None
    rows = [line.split("\t") for line in data[1:].decode("utf-8", "replace").split("\n")][:60]
    try:
        found = match(rows, numbers=range(1, len(rows) + 1), name="prices", kind=kind)
    except HeadingError as error:
        hold_words(error)
        return
    assert math.isfinite(found.score)
    cells = rows[found.heading_row - 1]
    assert all(0 <= column.position < len(cells) for column in found.columns)
    used = [column.field.name for column in found.used if column.field]
    assert len(used) == len(set(used)), used
    assert not found.missing


@cache
def demo_shelf() -> sqlite3.Connection:
    """The demo's shelf, filled by a process of its own: filling it is no part of what is fuzzed."""
    from kb.shelf import open_to_read

    path = workplace() / "shelf.db"
    run = "import sys; from kb.cli import main; sys.exit(main())"
    command = [sys.executable, "-c", run, "--shelf", str(path), "demo"]
    subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    return open_to_read(path)


def fuzz_query(data: bytes) -> None:
    """The one box: any text, as a page or a command hands it on."""
    from queries.explorer.switches import other_meanings
    from queries.find import ask_find
    from queries.understanding import understand

    text = data.decode("utf-8", "replace").strip()
    if not text:
        return
    try:
        answer = ask_find(demo_shelf(), text, 20)
        hold_finite(answer, "answer")
        hold_finite(other_meanings(understand(text)), "switches")
    except BayshelfError as error:
        hold_words(error)


def _read_sheet(data: bytes, name: str) -> None:
    from kb.sheets.cells import MOST_CHARACTERS, read_worksheets

    path = workplace() / name
    path.write_bytes(data)
    try:
        for sheet in read_worksheets(path):
            before = 0
            for row in sheet.rows:
                assert row.number > before
                before = row.number
                assert all(type(cell) is str and len(cell) <= MOST_CHARACTERS for cell in row.cells)
                assert all(0 <= place < len(row.cells) for place in row.faults)
                "".join(row.cells).encode()
            hold_finite(sheet.notes)
    except SheetError as error:
        hold_words(error)
        if not str(error).startswith(name):
            raise AssertionError(f"an error that does not name its file: {error}") from error


def fuzz_csv(data: bytes) -> None:
    """A text file's bytes, or whatever else they turn out to be."""
    _read_sheet(data, "prices.csv")


PARTS = (
    "xl/worksheets/sheet1.xml",
    "xl/sharedStrings.xml",
    "xl/styles.xml",
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
)


@cache
def _plain_workbook() -> tuple[tuple[str, bytes], ...]:
    with zipfile.ZipFile(DEMO / "sheets" / "harrowfen_list.xlsx") as archive:
        return tuple((name, archive.read(name)) for name in archive.namelist())


def fuzz_xlsx(data: bytes) -> None:
    """A whole archive's bytes, else the first byte chooses the part that the rest stands in for."""
    if not data.startswith(b"PK"):
        part = PARTS[data[0] % len(PARTS)] if data else PARTS[0]
        file = io.BytesIO()
        with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
            for name, content in _plain_workbook():
                archive.writestr(name, data[1:] if name == part else content)
        data = file.getvalue()
    _read_sheet(data, "prices.xlsx")


def fuzz_toml(data: bytes) -> None:
    """The reader that all sheets written in TOML share."""
    from kb.sheets.toml_text import read_toml

    path = workplace() / "sheet.toml"
    path.write_bytes(data)
    with suppress_in_words():
        read_toml(path, None, "drive", DriveError)


@dataclass
class suppress_in_words:  # noqa: N801 -- reads as contextlib.suppress does
    """Let our own errors pass that say what they should, and nothing else."""

    def __enter__(self) -> None:
        return None

    def __exit__(self, _kind: object, error: BaseException | None, _trace: object) -> bool:
        if isinstance(error, BayshelfError):
            hold_words(error)
            return True
        return False


def fuzz_drive(data: bytes) -> None:
    """A drive sheet: read, laid out, followed round, and the belt that would fit."""
    from kb.sheets.drive import read_drive
    from queries.drive_path import ask_path
    from queries.drives import known_drive

    text = data.decode("utf-8", "replace") + "\n"
    with suppress_in_words():
        sheet = read_drive(text, name="drive sheet")
        hold_finite(sheet, "sheet")
        known = known_drive(sheet)
        hold_finite(ask_path(known, None, None, ()).as_json(), "path")
        middle = known.marks.middle_mm
        if math.isfinite(middle):
            hold_finite(ask_path(known, middle, None, (1.0,)).as_json(), "path with a belt")


def fuzz_line(data: bytes) -> None:
    """A line sheet: read, worked out, ordered."""
    from kb.sheets.line import read_line
    from queries.lines import ask_line

    text = data.decode("utf-8", "replace") + "\n"
    with suppress_in_words():
        sheet = read_line(text, name="line sheet")
        hold_finite(sheet, "sheet")
        hold_finite(ask_line(sheet).as_json(), "line")


def fuzz_job(data: bytes) -> None:
    """A job sheet, and the same text as a form that adds to a job."""
    from kb.sheets.job import read_job
    from kb.sheets.job_form import read_form
    from kb.sheets.job_sheet import job_of_content

    path = workplace() / "job.toml"
    path.write_bytes(data)
    with suppress_in_words():
        job = read_job(path)
        hold_finite(job, "job")
        assert job_of_content(job.content()).content() == job.content()
    with suppress_in_words():
        hold_finite(read_form(path), "form")


@cache
def _form_cells() -> tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]:
    """A job's form as the spreadsheet shows it: each worksheet's name and cells."""
    from kb.sheets.cells import read_worksheets
    from kb.sheets.job import read_job
    from kb.sheets.job_form_written import Choices, write_form

    path = workplace() / "form.xlsx"
    write_form(path, read_job(DEMO / "jobs" / "W-016.toml"), "a-revision", Choices())
    return tuple(
        (sheet.name.partition(": ")[2], tuple(tuple(row.cells) for row in sheet.rows))
        for sheet in read_worksheets(path)
    )


def fuzz_form(data: bytes) -> None:
    """A job's form as a workbook: each line of the text changes one cell, named by three numbers and a tab."""
    import openpyxl

    from kb.sheets.job_form import read_form

    sheets = [(name, [list(row) for row in rows]) for name, rows in _form_cells()]
    for line in data.decode("utf-8", "replace").split("\n")[:8]:
        place, _, text = line.partition("\t")
        numbers = [ord(one) for one in place[:3]]
        if len(numbers) == 3:
            rows = sheets[numbers[0] % len(sheets)][1]
            row = rows[numbers[1] % len(rows)]
            row[numbers[2] % len(row)] = "".join(one for one in text if one.isprintable() or one in "\t\r")
    book = openpyxl.Workbook(write_only=True)
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([None if cell == "" or cell.startswith("=") else cell for cell in row])
    path = workplace() / "changed.xlsx"
    book.save(path)
    with suppress_in_words():
        hold_finite(read_form(path), "form")


def _form_seeds() -> Iterator[bytes]:
    texts = ("²", "1E5", "yes", "9" * 20, "2026-02-30", "73 1/8 in", "parts; clear", "-1", "nan", "#N/A")
    for place, text in enumerate(texts):
        for sheet in range(5):
            yield f"{chr(48 + sheet)}{chr(49 + place)}{chr(49 + place)}\t{text}\n{chr(48 + sheet)}22\t{text}".encode()


def fuzz_load(data: bytes) -> None:
    """A whole load into an empty shelf: the first byte chooses what the file is called, and so what it is."""
    from importers.load import Settings, load_file
    from kb.shelf import open_to_write

    suffix = (".csv", ".toml")[data[0] % 2 if data else 0]
    source, path = workplace() / f"sheet{suffix}", workplace() / "empty.db"
    source.write_bytes(data[1:])
    connection = open_to_write(path)
    try:
        with suppress_in_words():
            for report in load_file(connection, path, source, Settings(supplier="Dry Creek", dry_run=True)):
                hold_finite(report.as_json(), "report")
        assert connection.execute("SELECT count(*) FROM load").fetchone()[0] == 0
    finally:
        connection.close()


def _texts(pattern: str) -> Iterator[bytes]:
    for path in sorted(DEMO.glob(pattern)):
        yield path.read_bytes()[:6_000]


MEASURES = (
    "1857", "1857 mm", "185.7 cm", "73 1/8 in", '73-1/8"', '73⅛"', "6 ft 1 1/8 in", "6' 1-1/8\"", "1,857 mm", "1857,5 mm",
    "1.857,5 mm", "1 857 mm", "14 tpi", "-40 °F", "25 inHg", "¹⁄₈ in", "5/4", "8 rib belt 73 1/8 in", "1/min", "Ø 20 mm",
)  # fmt: skip
QUERIES = (
    "8 rib 73 1/8 in", "8PK1854", "hose 1 1/2 in 90 deg", "7/8-14", "M22x1,5", "belt too short", "00123", "1E5", "clamp 2 in",
    "coolant hose", "idler 3 in", "silicoen hose", 'thread G 1/2"', "W-015",
)  # fmt: skip


def _measure_seeds() -> Iterator[bytes]:
    for place, text in enumerate(MEASURES):
        yield bytes([place, 0]) + text.encode()


def _heading_seeds() -> Iterator[bytes]:
    for text in _texts("sheets/*.csv"):
        lines = text.decode("utf-8", "replace").splitlines()[:6]
        yield b"\x00" + "\n".join(lines).replace(";", "\t").replace(",", "\t").encode()


def _xlsx_seeds() -> Iterator[bytes]:
    for name, content in _plain_workbook():
        if name in PARTS:
            yield bytes([PARTS.index(name)]) + content[:20_000]
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
        for name, content in _plain_workbook():
            archive.writestr(name, content)
    yield file.getvalue()


def _all_toml() -> Iterator[bytes]:
    return (text for room in ("drives", "lines", "jobs") for text in _texts(f"{room}/*.toml"))


def _load_seeds() -> Iterator[bytes]:
    yield from (b"\x00" + text[:1_500] for text in _texts("sheets/*.csv"))
    yield from (b"\x01" + text for text in _all_toml())


@dataclass(frozen=True)
class Target:
    """One thing to fuzz: what runs, what it starts from, and whether its bytes are TOML (then tables are changed, too)."""

    run: Callable[[bytes], None]
    seeds: Callable[[], Iterator[bytes]]
    is_toml: bool = False
    longest: int = 8_000


TARGETS = {
    "measure": Target(fuzz_measure, _measure_seeds, longest=200),
    "headings": Target(fuzz_headings, _heading_seeds, longest=2_000),
    "query": Target(fuzz_query, lambda: (text.encode() for text in QUERIES), longest=400),
    "csv": Target(fuzz_csv, lambda: _texts("sheets/*.csv")),
    "xlsx": Target(fuzz_xlsx, _xlsx_seeds, longest=30_000),
    "toml": Target(fuzz_toml, _all_toml, is_toml=True),
    "drive": Target(fuzz_drive, lambda: _texts("drives/*.toml"), is_toml=True),
    "line": Target(fuzz_line, lambda: _texts("lines/*.toml"), is_toml=True),
    "job": Target(fuzz_job, lambda: _texts("jobs/*.toml"), is_toml=True),
    "form": Target(fuzz_form, _form_seeds, longest=400),
    "load": Target(fuzz_load, _load_seeds),
}
