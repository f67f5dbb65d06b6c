"""Loading a file: which kind it is, which column is what, each row stored or refused, all in one transaction."""

from __future__ import annotations

import gc
import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path

from importers import index, ledger
from importers.batches import SheetReader
from importers.parts import PartStore
from importers.report import Report
from importers.suppliers import SupplierStore, supplier_id
from kb.errors import HeadingError, SheetError
from kb.fields import BY_PLURAL, JOB, SUPPLIERS, Kind
from kb.sheets.cells import Row, Worksheet, digest, read_worksheets
from kb.sheets.headings import ROWS_LOOKED_AT, Choices, Column, Matching, match, plain
from kb.shelf import transaction

READER = "1"
"""Part of what makes two loads of the same bytes the same load: raise it when sheets come to be read otherwise."""

Ask = Callable[[Column, Kind], bool]
"""Asked about a column that is not sure enough: whether to take it for the field it could be."""


@dataclass(frozen=True, slots=True)
class Settings:
    """How to load: everything that a command line says about it."""

    kind: str | None = None
    """The plural of a kind, ``drives``, or ``None`` to tell by the headings."""
    supplier: str | None = None
    unit: str | None = None
    told: dict[str, str] = field(default_factory=dict)
    """What headings mean: plain heading to field name, '' to leave the column out."""
    dry_run: bool = False

    def as_text(self) -> str:
        """Return what makes a load of the same bytes another load."""
        return json.dumps([READER, self.kind, self.supplier, self.unit, sorted(self.told.items())])


def load_file(
    connection: sqlite3.Connection,
    shelf: Path,
    source: Path,
    settings: Settings,
    *,
    ask: Ask | None = None,
    progress: Callable[[int], None] | None = None,
) -> list[Report]:
    """Load one file in one transaction and return a report per worksheet.

    Raises :class:`~kb.errors.SheetError` where the file cannot be read or no worksheet of it could be told; then nothing
    of it is stored.
    """
    with _one_transaction(connection, shelf, keep=not settings.dry_run), _no_collector():
        before = ledger.same_load(connection, digest(source), source.name, settings.as_text())
        if before is not None:
            return before
        if source.suffix.lower() == ".toml":
            return [_load_toml(connection, source, settings)]
        reports = [
            report
            for sheet in read_worksheets(source, progress)
            if (report := _load_worksheet(connection, source, sheet, settings, ask)) is not None
        ]
        if not reports:
            raise SheetError("no worksheet holds anything.", where=source.name, do="Was the right file saved?")
        if not any(report.columns for report in reports):
            raise HeadingError(reports[0].notes[0])
        return reports


@contextmanager
def _one_transaction(connection: sqlite3.Connection, shelf: Path, *, keep: bool) -> Iterator[None]:
    if keep:
        with transaction(connection, shelf):
            yield
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        connection.execute("ROLLBACK")


@contextmanager
def _no_collector() -> Iterator[None]:
    """Millions of small objects and no cycles: looking for some costs a third of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _load_toml(connection: sqlite3.Connection, source: Path, settings: Settings) -> Report:
    kind = _toml_kind(source, settings)
    report = Report(source.name, kind, dry_run=settings.dry_run, rows_read=1)
    number = ledger.open_load(connection, report, digest(source), settings.as_text(), None)
    # What only these need is imported only here: a price list is the longer load, and starts sooner.
    if kind == "drive":
        from importers.drives import store_drive

        done = store_drive(connection, source, number)
    elif kind == "line":
        from importers.lines import store_line

        done = store_line(connection, source, number)
    else:
        from importers.jobs import store_job
        from kb.sheets.job import read_job

        job = read_job(source)
        if job.id is None:
            raise SheetError("`job` is missing.", where=source.name, do='A stored job needs a name: job = "N-101".')
        done = store_job(connection, number, job)
    setattr(report, f"rows_{done}", 1)
    ledger.close_load(connection, number, report, {})
    return report


def _toml_kind(source: Path, settings: Settings) -> str:
    from kb.sheets.toml_text import read_toml

    data = read_toml(source, None, "drive, line or job", SheetError)[0]
    if settings.kind in ("drives", "jobs", "lines"):
        return settings.kind.removesuffix("s")
    if settings.kind is not None:
        raise SheetError(f"{settings.kind} are not written as TOML.", where=source.name, do="Load a CSV or XLSX sheet.")
    if "pulley" in data:
        return "drive"
    if "work" in data or "job" in data:
        return "job"
    if "end" in data or "point" in data or "run" in data:
        return "line"
    raise SheetError(
        "is no drive, no line and no job.",
        where=source.name,
        do="A drive has [[pulley]] tables, a line [[end]] tables, a job has `work`.",
    )


def _load_worksheet(
    connection: sqlite3.Connection, source: Path, sheet: Worksheet, settings: Settings, ask: Ask | None
) -> Report | None:
    rows = iter(sheet.rows)
    first = list(islice(rows, ROWS_LOOKED_AT + 20))
    if not any(cell.strip() for row in first for cell in row.cells):
        return None
    supplier, named_file = _supplier(connection, source, settings)
    kind = BY_PLURAL.get(settings.kind) if settings.kind else None
    try:
        matching = match(
            [row.cells for row in first],
            numbers=[row.number for row in first],
            name=sheet.name,
            kind=kind,
            choices=Choices(settings.told, ledger.remembered(connection, supplier)),
        )
    except HeadingError as error:
        return _not_loaded(sheet, first, rows, error, settings)
    if ask is not None:
        matching = _asked(matching, ask, settings)
    return _load_rows(connection, source, sheet, settings, matching, first, rows, supplier, named_file)


def _supplier(connection: sqlite3.Connection, source: Path, settings: Settings) -> tuple[str, bool]:
    if settings.supplier:
        return settings.supplier, False
    return source.stem, True


def _not_loaded(
    sheet: Worksheet, first: list[Row], rows: Iterator[Row], error: HeadingError, settings: Settings
) -> Report:
    """A worksheet that could not be told is reported with every cell of it; the file's other worksheets still load."""
    report = Report(sheet.name, "", dry_run=settings.dry_run, notes=[str(error), *sheet.notes])
    for row in chain(first, rows):
        report.rows_read += 1
        report.cells_read += sum(1 for cell in row.cells if cell.strip())
    report.rows_refused = report.rows_read
    report.cells_refused = report.cells_read
    return report


def _asked(matching: Matching, ask: Ask, settings: Settings) -> Matching:
    columns = list(matching.columns)
    for place, column in enumerate(columns):
        if column.could_be and ask(column, matching.kind):
            settings.told[plain(column.heading)] = column.could_be
            columns[place] = Column(
                column.position, column.heading, matching.kind.field(column.could_be), column.unit, 100, "as told"
            )
    return Matching(matching.kind, matching.heading_row, tuple(columns), matching.score)


def _load_rows(
    connection: sqlite3.Connection,
    source: Path,
    sheet: Worksheet,
    settings: Settings,
    matching: Matching,
    first: list[Row],
    rows: Iterator[Row],
    supplier: str,
    named_file: bool,
) -> Report:
    kind = matching.kind
    report = Report(
        sheet.name, kind.name, heading_row=matching.heading_row, columns=matching.columns, dry_run=settings.dry_run
    )
    report.notes = list(sheet.notes)
    report.headings = [column.heading for column in matching.columns]
    supplier_number = None
    if kind not in (JOB, SUPPLIERS):
        report.supplier = supplier
        has_column = any(column.field and column.field.name == "supplier" for column in matching.used)
        if named_file and not has_column:
            report.notes.append(f"No supplier was named: the file's own name, {supplier}, was taken (--supplier NAME).")
        supplier_number = supplier_id(connection, supplier)
    number = ledger.open_load(connection, report, digest(source), settings.as_text(), supplier_number)
    reader = SheetReader(kind, matching.columns, settings.unit, report)
    below = chain((row for row in first if row.number > matching.heading_row), rows)
    _store(connection, kind, number, supplier_number, reader, below)
    if supplier_number is not None:
        ledger.remember(connection, supplier_number, kind, settings.told, matching.columns)
    ledger.close_load(connection, number, report, reader.places)
    return report


def _store(
    connection: sqlite3.Connection,
    kind: Kind,
    number: int,
    supplier_number: int | None,
    reader: SheetReader,
    rows: Iterator[Row],
) -> None:
    if kind is SUPPLIERS:
        suppliers = SupplierStore(connection, number)
        for batch in reader.batches(rows):
            suppliers.store_batch(batch, reader)
        return
    if kind is JOB:
        from importers.jobs import JobStore

        jobs = JobStore(connection, number)
        for batch in reader.batches(rows):
            jobs.store_batch(batch, reader)
        index.add(connection, kind.name, jobs.first_id)
        index.changed(connection, kind.name, jobs.changed)
    else:
        parts = PartStore(connection, kind, number, supplier_number)
        aside = parts.put_indexes_aside()
        for batch in reader.batches(rows):
            parts.store(batch, reader)
        for statement in aside:
            connection.execute(statement)
        index.add(connection, kind.name, parts.first_id)
        index.changed(connection, kind.name, parts.changed)
