"""A job's form: a TOML or XLSX file that says what is known so far, and what of it is to be taken out again.

A form adds to its job: what it leaves empty stays as it is. Beside a job sheet's keys it may have ``revision`` (the state
that it was written from), ``clear`` (a list of fields to empty), in each list's tables ``take_out = true`` and ``row`` (which
entry of that state it corrects).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from kb.errors import SheetError
from kb.sheets.cells import Row, read_worksheets
from kb.sheets.job import job_from_tables, tables_of
from kb.sheets.job_sheet import JobSheet
from kb.sheets.toml_text import file_text

LISTS = {"part": "parts", "trouble": "troubles", "measurement": "measurements", "later": "later"}
"""Of each list the name of its tables, and of the job's field."""

CLEARED = (
    "opened_on", "closed_on", "bay", "machine", "engine", "outcome", "notes", "accessories", "profile", "ribs",
    "belt_length_mm", "drive", "hours_worked", "customer", "private_note",
)  # fmt: skip
_SPELT = {"belt_length": "belt_length_mm", "note": "private_note"}

JOB_ROWS: tuple[tuple[str, str, str], ...] = (
    ("job", "Job", "A name of its own, such as N-101. It cannot change later."),
    ("opened_on", "Opened on", "2026-05-25"),
    ("closed_on", "Closed on", "Only once nothing is left to be looked at again."),
    ("bay", "Bay", ""),
    ("machine", "Machine", "Plow truck 7"),
    ("engine", "Engine", "inline six 7.6 L diesel, 1994"),
    ("work", "Work", "V-belts out, ribbed belt in"),
    ("outcome", "Outcome", "Choose from the list once it is known."),
    ("notes", "Notes", ""),
    ("accessories", "Drives", "What the belt drives, parted by semicolons: alternator; compressor; fan"),
    ("profile", "Belt profile", "PK"),
    ("ribs", "Ribs", "8"),
    ("belt_length", "Belt length", 'With its unit: 1854 mm, 73 1/8 in'),
    ("drive", "Drive", "The name of its drive sheet on the shelf."),
    ("hours_worked", "Hours worked", "All hours so far, such as 6.5"),
    ("customer", "Customer (private)", "Never leaves the shop."),
    ("private_note", "Private note", "Never leaves the shop."),
    ("clear", "Empty these", "Labels of this sheet to be emptied, parted by semicolons."),
    ("revision", "Written from", "Leave as it is: it tells if someone else changed the job meanwhile."),
)  # fmt: skip
"""The form's first worksheet: key, label, hint."""

LIST_COLUMNS: dict[str, tuple[str, tuple[tuple[str, str], ...]]] = {
    "part": (
        "Parts",
        (("part_no", "Part number"), ("supplier", "Supplier"), ("quantity", "Quantity"), ("ordered_by", "Ordered by"),
         ("old_part", "Old part"), ("note", "Note")),
    ),
    "trouble": (
        "Troubles",
        (("trouble", "Trouble"), ("remedy", "Remedy"), ("hours_lost", "Hours lost"), ("solved", "Solved")),
    ),
    "measurement": (
        "Measured", (("name", "What"), ("unit", "Unit"), ("as_found", "As found"), ("as_left", "As left"))
    ),
    "later": (
        "Look again",
        (("check", "What"), ("due_on", "Due on"), ("after_hours", "After hours"), ("done_on", "Done on"),
         ("found", "Found")),
    ),
}  # fmt: skip
"""The other worksheets: of each list its worksheet's name, and its columns' keys and headings."""

TAKE_OUT, ROW = "Take out", "Row (leave)"
_YES, _NO = ("yes", "true", "x", "1"), ("no", "false", "0")
_MOST_ROWS = 2000


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a form's list: ``value`` the part, trouble, measurement or later look; ``row`` counts from 1."""

    value: Any
    row: int | None = None
    take_out: bool = False


@dataclass(frozen=True, slots=True)
class JobForm:
    """What a form says; ``job.work`` is ``""`` where the form does not say it. ``entries`` by the job's field."""

    name: str
    job: JobSheet
    entries: Mapping[str, tuple[Entry, ...]]
    clear: tuple[str, ...] = ()
    revision: str | None = None


def read_form(source: Path) -> JobForm:
    """Read a form from a TOML or XLSX file. Raises :class:`~kb.errors.SheetError` with the place, what to do."""
    if source.suffix.casefold() in (".xlsx", ".xlsm"):
        return _from_workbook(source)
    return form_of_text(file_text(source, source.name, "job", SheetError), source.name)


def form_of_text(text: str, name: str) -> JobForm:
    """Read a form from TOML."""
    return _form(dict(tables_of(text, name)), name, {})


def _form(data: dict[str, Any], name: str, places: dict[str, list[str]]) -> JobForm:
    revision, clear = data.pop("revision", None), data.pop("clear", [])
    if revision is not None and not isinstance(revision, str):
        raise SheetError("`revision` is no text.", where=name, do="Leave that line as it was written.")
    marks: dict[str, list[tuple[int | None, bool]]] = {}
    for key in LISTS:
        tables = data.get(key)
        if isinstance(tables, list) and all(isinstance(table, dict) for table in tables):
            data[key] = [dict(table) for table in tables]
            named = places.get(key) or [f"{name}, {key} {number}" for number in range(1, len(tables) + 1)]
            marks[key] = [_marks(table, where) for table, where in zip(data[key], named, strict=True)]
    job = job_from_tables(data, name, places=places, whole=False)
    entries = {
        field: tuple(Entry(value, *mark) for value, mark in zip(getattr(job, field), marks.get(key, []), strict=True))
        for key, field in LISTS.items()
    }
    return JobForm(name, job, entries, _cleared(clear, name), revision)


def _marks(table: dict[str, Any], where: str) -> tuple[int | None, bool]:
    """Take a table's own marks out of it: which entry it corrects, and whether that is to go."""
    row, take_out = table.pop("row", None), table.pop("take_out", False)
    if row is not None and (isinstance(row, bool) or not isinstance(row, int) or row < 1):
        raise SheetError(f"row = {row!r} is no number of an entry.", where=where, do="Leave it as it was written.")
    if not isinstance(take_out, bool):
        raise SheetError(f"take_out = {take_out!r} is neither true nor false.", where=where, do="Write true or false.")
    return row, take_out


def _cleared(clear: Any, name: str) -> tuple[str, ...]:
    if not isinstance(clear, list) or not all(isinstance(one, str) for one in clear):
        raise SheetError("`clear` should be a list of texts.", where=name, do='Write clear = ["outcome"].')
    found = []
    labels = {label.casefold(): key for key, label, _ in JOB_ROWS}
    for one in clear:
        key: str = labels.get(one.casefold()) or one
        field = _SPELT.get(key, key)
        if field not in CLEARED:
            raise SheetError(f"{one!r} cannot be emptied.", where=name, do=f"These can: {', '.join(CLEARED)}.")
        found.append(field)
    return tuple(found)


def _from_workbook(source: Path) -> JobForm:
    data: dict[str, Any] = {}
    places: dict[str, list[str]] = {}
    known = {name: key for key, (name, _) in LIST_COLUMNS.items()}
    seen = False
    for sheet in read_worksheets(source):
        title = sheet.name.removeprefix(f"{source.name}: ")
        rows = list(islice(sheet.rows, _MOST_ROWS))
        if title == "Job":
            seen = True
            data |= _job_rows(rows, f"{source.name}, {title}")
        elif title in known:
            key = known[title]
            data[key], places[key] = _list_rows(rows, key, f"{source.name}, {title}")
    if not seen:
        raise SheetError(
            "has no worksheet `Job`.", where=source.name, do="Write a form with `bayshelf record new OUT`."
        )
    return _form(data, source.name, places)


def _job_rows(rows: list[Row], where: str) -> dict[str, Any]:
    keys = {label.casefold(): key for key, label, _ in JOB_ROWS}
    data: dict[str, Any] = {}
    for row in rows:
        _no_faults(row, where)
        label, value, *_ = *(cell.strip() for cell in row.cells), "", ""
        key = keys.get(label.casefold())
        if key is None or not value:
            if key is None and value and label.casefold() != "what":
                raise SheetError(
                    f"the label {label!r} is not known.",
                    where=f"{where}, row {row.number}",
                    do="Leave column A as it was.",
                )
            continue
        data[key] = value
    private = {name: data.pop(key) for key, name in (("customer", "customer"), ("private_note", "note")) if key in data}
    if private:
        data["private"] = private
    if "clear" in data:
        data["clear"] = [one.strip() for one in data["clear"].split(";") if one.strip()]
    return data


def _list_rows(rows: list[Row], key: str, where: str) -> tuple[list[dict[str, Any]], list[str]]:
    headings = {heading.casefold(): name for name, heading in LIST_COLUMNS[key][1]}
    headings |= {TAKE_OUT.casefold(): "take_out", ROW.casefold(): "row"}
    tables: list[dict[str, Any]] = []
    places: list[str] = []
    names: list[str | None] = []
    for row in rows:
        _no_faults(row, where)
        if not names:
            if any(cell.strip() for cell in row.cells):
                names = [headings.get(cell.strip().casefold()) for cell in row.cells]
            continue
        there = f"{where}, row {row.number}"
        table = {
            name: cell.strip()
            for name, cell in zip(names, row.cells, strict=False)
            if name is not None and cell.strip()
        }
        if _says_something(table, key):
            tables.append(_typed(table, there))
            places.append(there)
    return tables, places


def _says_something(table: Mapping[str, str], key: str) -> bool:
    """A measurement or a look that the form only asks for says nothing yet."""
    asked = {"measurement": ("name", "unit"), "later": ("check",)}.get(key, ())
    return bool(set(table) - {*asked, "row"}) or ("row" in table and key not in ("measurement", "later"))


def _typed(table: dict[str, str], where: str) -> dict[str, Any]:
    typed: dict[str, Any] = dict(table)
    for name in ("solved", "take_out"):
        if name in table:
            typed[name] = _yes_or_no(table[name], name, where)
    if "row" in table:
        if not table["row"].isascii() or not table["row"].isdigit() or len(table["row"]) > 9:
            raise SheetError(f"{ROW} = {table['row']!r} is no number.", where=where, do="Leave it as it was written.")
        typed["row"] = int(table["row"])
    return typed


def _yes_or_no(text: str, name: str, where: str) -> bool:
    if text.casefold() in _YES:
        return True
    if text.casefold() in _NO:
        return False
    raise SheetError(f"{name} = {text!r} is neither yes nor no.", where=where, do="Choose from the list.")


def _no_faults(row: Row, where: str) -> None:
    """What a spreadsheet could not keep is refused: an error cell, the lost end of a long number."""
    for place, why in row.faults.items():
        column = chr(ord("A") + place) if place < 26 else str(place + 1)
        raise SheetError(why, where=f"{where}, cell {column}{row.number}", do="Enter it again.")
    if row.reason:
        raise SheetError(row.reason, where=f"{where}, row {row.number}")
