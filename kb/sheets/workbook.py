"""Reading .xlsx workbooks: each worksheet as rows of the text that a person would read in it."""

from __future__ import annotations

import datetime
import posixpath
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from kb.errors import SheetError
from kb.sheets.cells import NO_FAULTS, Progress, Row, Worksheet, opened
from kb.sheets.package import Package, open_package
from kb.sheets.scan import Scan, Shared, ranges_in_words, scan_strings, scan_styles, scan_worksheet

_WORKBOOK = "xl/workbook.xml"
_RELATIONS = "xl/_rels/workbook.xml.rels"
_STRINGS = "xl/sharedStrings.xml"
_STYLES = "xl/styles.xml"
_OTHERS = (
    ("xl/workbook.bin", "is a binary workbook (.xlsb)."),
    ("content.xml", "is an OpenDocument file."),
    ("word/document.xml", "is a word processor's document."),
)
_SURE_DIGITS = 15
"""A spreadsheet keeps a number's first 15 digits (from memory: the common spreadsheets' own limit)."""
_UNSURE = 10.0**_SURE_DIGITS


def read_workbook(path: Path, progress: Progress | None = None) -> Iterator[Worksheet]:
    """Return a workbook's worksheets, hidden ones included; the whole file is looked at before this returns.

    Raises :class:`~kb.errors.SheetError` where it is damaged, encrypted, too big, made to exhaust its reader, or empty.
    """
    with opened(path) as file, open_package(path, file, progress) as package:
        contents = _contents(package)
    book = _parsed(package, lambda: _calamine().CalamineWorkbook.from_filelike(package.passed_on()))
    if not any(scan.last_row for scan in contents.scans.values()):
        raise SheetError("holds no cells.", where=path.name, do="Was the right file saved?")
    return _worksheets(package, book, contents)


@dataclass(slots=True)
class _Contents:
    """What a workbook lists: its worksheets' parts by name, and what each of them holds."""

    parts: dict[str, str] = field(default_factory=dict)
    """Relation id: the part's name."""
    sheets: list[tuple[str, str]] = field(default_factory=list)
    """Worksheet's name, relation id."""
    scans: dict[str, Scan] = field(default_factory=dict)


def _contents(package: Package) -> _Contents:
    if _WORKBOOK not in package:
        for other, what in _OTHERS:
            if other in package:
                raise package.refused(what, "Save it as .xlsx or CSV.")
        raise package.refused("is a ZIP archive without a workbook in it.", "Unpack it first, or save it as .xlsx.")
    contents = _Contents()
    _pass_on_lists(package, contents)
    shared = Shared()
    for name, scan in ((_STRINGS, scan_strings), (_STYLES, scan_styles)):
        if name in package:
            scan(package, name, shared)
    for _, relation in contents.sheets:
        part = contents.parts.get(relation)
        if part is not None and part in package:
            if part.lower() in contents.scans:
                raise package.damaged(f"{part[:80]} is used as two worksheets")
            contents.scans[part.lower()] = scan_worksheet(package, part, shared)
    return contents


def _pass_on_lists(package: Package, contents: _Contents) -> None:
    """Pass on what a workbook lists: which worksheets it has, and in which part each stands."""

    def relation(element: str, attributes: dict[str, str]) -> None:
        if element == "Relationship" and attributes.get("Type", "").endswith("/worksheet"):
            target = posixpath.normpath(posixpath.join("/xl", attributes.get("Target", "").replace("\\", "/")))
            contents.parts[attributes.get("Id", "")] = target.lstrip("/")

    def sheet(element: str, attributes: dict[str, str]) -> None:
        if element == "sheet":
            ids = [value for key, value in attributes.items() if key.rpartition(":")[2] == "id"]
            contents.sheets.append((attributes.get("name", ""), ids[0] if ids else ""))

    for name, started in (
        ("[Content_Types].xml", None),
        ("_rels/.rels", None),
        (_RELATIONS, relation),
        (_WORKBOOK, sheet),
    ):
        if name in package:
            package.pass_on(name, package.listen(started))


def _calamine() -> Any:
    import python_calamine

    return python_calamine


def _parsed(package: Package, call: Callable[[], Any]) -> Any:
    """Call the workbook parser; whatever it makes of a damaged file is an error in words."""
    try:
        return call()
    except SheetError:
        raise
    except Exception as error:
        raise package.damaged(error) from error
    except BaseException as error:
        # A panic of the parser's is no Exception, so that nobody takes it for one; here it is a damaged file.
        if type(error).__name__ != "PanicException":
            raise
        raise package.damaged("its parser gave up") from error


def _worksheets(package: Package, book: Any, contents: _Contents) -> Iterator[Worksheet]:
    relations = dict(contents.sheets)
    for sheet in book.sheets_metadata:
        scan = contents.scans.get(contents.parts.get(relations.get(sheet.name, ""), "").lower())
        if scan is None:
            continue
        notes = _notes(scan, hidden=not str(sheet.visible).endswith("Visible"))
        yield Worksheet(f"{package.path.name}: {sheet.name}", _rows(package, book, sheet.name, scan), notes)


def _notes(scan: Scan, *, hidden: bool) -> list[str]:
    notes = []
    if hidden:
        notes.append("The worksheet is hidden; it is read all the same.")
    if not scan.last_row:
        notes.append("The worksheet is empty.")
    if scan.merged:
        places = ranges_in_words(scan.merged)
        notes.append(f"Merged cells ({places}): their text stands in the top left cell only, the others are empty.")
    if scan.formulas:
        notes.append(f"Cells with a formula: {scan.formulas:,}. Their stored values are read.")
    return notes


def _rows(package: Package, book: Any, name: str, scan: Scan) -> Iterator[Row]:
    if not scan.last_row:
        return
    sheet = _parsed(package, lambda: book.get_sheet_by_name(name))
    values = sheet.iter_rows()
    before = [""] * (sheet.start[1] if sheet.start else 0)
    for number in range(1, scan.last_row + 1):
        cells = before + _parsed(package, lambda: next(values, []))
        texts = [cell if type(cell) is str else text_of(cell) for cell in cells]
        faults = {**_lost_digits(cells, texts), **scan.faults.get(number, {})}
        if "\0" in "".join(texts):
            texts = [text.replace("\0", "\ufffd") for text in texts]  # XML cannot hold it, but _x0000_ stands for it
        padded = scan.padded.get(number)
        if faults or padded:
            yield _row_with(number, texts, faults, padded or [])
        else:
            yield Row(number, texts, NO_FAULTS, None)


def _lost_digits(cells: list[object], texts: list[str]) -> dict[int, tuple[str, str]]:
    """Find numbers longer than a spreadsheet keeps: part numbers, most likely, whose last digits are gone."""
    return {
        place + 1: (
            texts[place],
            f"it is stored as a number, of which a spreadsheet keeps {_SURE_DIGITS} digits: the last ones may be lost. "
            "Format the column as text and enter it again.",
        )
        for place, cell in enumerate(cells)
        if type(cell) is float and (cell >= _UNSURE or cell <= -_UNSURE)
    }


def _row_with(number: int, texts: list[str], faults: dict[int, tuple[str, str]], padded: list[tuple[int, int]]) -> Row:
    """Return a row with its faults, which may stand beyond the last cell that holds a text."""
    texts += [""] * (max(faults, default=0) - len(texts))
    for column, digits in padded:
        if column <= len(texts) and texts[column - 1].isdigit():
            texts[column - 1] = texts[column - 1].zfill(digits)
    for column, (shown, _) in faults.items():
        texts[column - 1] = texts[column - 1] or shown
    return Row(number, texts, {column - 1: why for column, (_, why) in faults.items()}, None)


def text_of(value: object) -> str:
    """Return what a person reads in a cell that holds no text.

    >>> text_of(1857.0), text_of(0.1 + 0.2), text_of(1e5), text_of(True)
    ('1857', '0.3', '100000', 'TRUE')
    >>> text_of(datetime.datetime(2031, 3, 1)), text_of(datetime.datetime(2031, 3, 1, 13, 30))
    ('2031-03-01', '2031-03-01 13:30:00')
    """
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    if isinstance(value, datetime.timedelta):
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"
    return "" if value is None else str(value)


def _number(value: float) -> str:
    if isinstance(value, int) or (value.is_integer() and abs(value) < _UNSURE):
        return str(int(value))
    text = f"{value:.{_SURE_DIGITS}g}"
    return text if "e" not in text else f"{Decimal(text):f}"
