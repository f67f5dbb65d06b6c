"""Storing jobs: what is known of one is a new revision, and nothing is overwritten without trace."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from typing import Any

from importers import index
from importers.batches import Batch, SheetReader
from kb.errors import MeasurementError
from kb.measure import QUANTITIES, read
from kb.revisions import Revision, live
from kb.sheets.columns import Value
from kb.sheets.job_sheet import JobMeasurement, JobPart, JobSheet, JobTrouble, job_of_content
from kb.shelf import new_id, now
from kb.spelling import normalise_code


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a job's state comes from: its revision, and the load and row of that."""

    revision: str
    load_number: int
    row_number: int
    written: str


def store_job(connection: sqlite3.Connection, load_number: int, job: JobSheet) -> str:
    """Store the one job of a load, findable at once; return ``stored``, ``updated`` or ``unchanged``."""
    store = JobStore(connection, load_number)
    done = store.store(job, 1, "[]")
    index.add(connection, "job", store.first_id)
    index.changed(connection, "job", store.changed)
    return done


def revision_of(row: sqlite3.Row) -> Revision:
    """Return a row of ``job_revision`` as :mod:`kb.revisions` takes it."""
    return Revision(row["id"], row["made_at"], row["content"], row["based_on"], tuple(json.loads(row["settles"])))


class JobStore:
    """Stores jobs for one load, in the caller's transaction."""

    def __init__(self, connection: sqlite3.Connection, load_number: int) -> None:
        self.connection = connection
        self.load_number = load_number
        self.first_id = 1 + int(connection.execute("SELECT coalesce(max(number), 0) FROM job").fetchone()[0])
        self.changed: list[tuple[int, str, str]] = []
        """Of changed jobs, what the search index knew: number, title, words."""
        self._seen: set[str] = set()
        self._put: set[int] = set()

    def store_batch(self, batch: Batch, sheet: SheetReader) -> None:
        """Store a batch of a job sheet's rows; what cannot be stored is refused in the report."""
        for place, number in enumerate(batch.numbers):
            row = {name: column[place] for name, column in batch.values.items()}
            try:
                job = job_of_row(row)
            except MeasurementError as error:
                heading = next(each.heading for each in sheet.columns if each.field and each.field.name == error.where)
                sheet.refuse_understood(batch, place, error.what, heading, str(row.get(str(error.where))))
                continue
            if job.id in self._seen:
                sheet.refuse_understood(
                    batch, place, f"job {job.id} stands twice in this sheet; the first was kept.", None, job.id
                )
                continue
            self._seen.add(str(job.id))
            done = self.store(job, number, batch.written[place])
            sheet.report.cells_stored += batch.stored_cells[place]
            setattr(sheet.report, f"rows_{done}", getattr(sheet.report, f"rows_{done}") + 1)

    def store(self, job: JobSheet, row_number: int, written: str) -> str:
        """Store one job; return ``stored``, ``updated`` or ``unchanged``."""
        connection = self.connection
        content = json.dumps(job.content(), ensure_ascii=False)
        there = connection.execute(
            "SELECT job.number, job.revision, job.title, job.words, job_revision.content, customer, private_note FROM job "
            "LEFT JOIN job_revision ON job_revision.id = job.revision "
            "LEFT JOIN private_job ON private_job.job_number = job.number WHERE job.id = ?",
            (job.id,),
        ).fetchone()
        if (
            there
            and there["content"] == content
            and (there["customer"], there["private_note"])
            == (
                job.customer,
                job.private_note,
            )
        ):
            return "unchanged"
        revision = new_id()
        based_on = there["revision"] if there else None
        connection.execute(
            "INSERT INTO job_revision (id, job_id, based_on, made_at, content, load_number, row_number, written) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (revision, job.id, based_on, now(), content, self.load_number, row_number, written),
        )
        number = self.put(job, Origin(revision, self.load_number, row_number, written))
        connection.execute("DELETE FROM private_job WHERE job_number = ?", (number,))
        if job.customer or job.private_note:
            connection.execute(
                "INSERT INTO private_job (job_number, customer, private_note) VALUES (?, ?, ?)",
                (number, job.customer, job.private_note),
            )
        if connection.execute("SELECT 1 FROM job_conflict WHERE job_number = ?", (number,)).fetchone():
            self.show_what_holds(str(job.id))
        return "updated" if there else "stored"

    def put(self, job: JobSheet, origin: Origin) -> int:
        """Make a job's row and lists say what a revision says, private fields left as they are; return its number."""
        connection = self.connection
        there = connection.execute("SELECT number, title, words FROM job WHERE id = ?", (job.id,)).fetchone()
        values = self._columns(job, origin)
        if there:
            number = int(there["number"])
            marks = ", ".join(f"{name} = ?" for name in values)
            connection.execute(f"UPDATE job SET {marks} WHERE number = ?", (*values.values(), number))
            if number < self.first_id and number not in self._put:
                self.changed.append((number, there["title"], there["words"]))
            for table in ("job_part", "job_trouble", "job_measurement"):
                connection.execute(f"DELETE FROM {table} WHERE job_number = ?", (number,))
        else:
            names = ", ".join(values)
            marks = ", ".join("?" * len(values))
            number = int(
                connection.execute(f"INSERT INTO job ({names}) VALUES ({marks})", tuple(values.values())).lastrowid or 0
            )
        self._put.add(number)
        self._store_lists(number, job)
        return number

    def show_what_holds(self, job_id: str) -> list[Revision]:
        """Bring a job's row up to the revisions that hold, and keep those that contradict each other; return them."""
        connection = self.connection
        rows = connection.execute("SELECT * FROM job_revision WHERE job_id = ?", (job_id,)).fetchall()
        holding = live(map(revision_of, rows))
        shown = next(row for row in rows if row["id"] == holding[-1].id)
        job = connection.execute("SELECT number, revision FROM job WHERE id = ?", (job_id,)).fetchone()
        if job is None or job["revision"] != shown["id"]:
            origin = Origin(shown["id"], shown["load_number"], shown["row_number"], shown["written"])
            number = self.put(job_of_content(json.loads(shown["content"])), origin)
        else:
            number = int(job["number"])
        connection.execute("DELETE FROM job_conflict WHERE job_number = ?", (number,))
        if len(holding) > 1:
            connection.executemany(
                "INSERT INTO job_conflict (job_number, revision) VALUES (?, ?)", [(number, one.id) for one in holding]
            )
        return holding

    def _columns(self, job: JobSheet, origin: Origin) -> dict[str, Any]:
        return {
            "id": job.id,
            "revision": origin.revision,
            "title": job.title,
            "opened_on": job.opened_on,
            "closed_on": job.closed_on,
            "bay": job.bay,
            "machine": job.machine,
            "engine": job.engine,
            "work": job.work,
            "outcome": job.outcome,
            "notes": job.notes,
            "accessories": json.dumps(job.accessories, ensure_ascii=False) if job.accessories else None,
            "profile": job.profile,
            "ribs": job.ribs,
            "belt_length_mm": job.belt_length_mm,
            "drive": job.drive,
            "words": job.words,
            "load_number": origin.load_number,
            "row_number": origin.row_number,
            "written": origin.written,
        }

    def _store_lists(self, number: int, job: JobSheet) -> None:
        connection = self.connection
        connection.executemany(
            "INSERT INTO job_part (job_number, position, part_no, code, supplier, quantity, ordered_by, note) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (number, place, part.part_no, normalise_code(part.part_no), part.supplier, part.quantity,
                 part.ordered_by, part.note)
                for place, part in enumerate(job.parts, 1)
            ],
        )  # fmt: skip
        connection.executemany(
            "INSERT INTO job_trouble (job_number, position, trouble, remedy, hours_lost, solved) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            [
                (
                    number,
                    place,
                    one.trouble,
                    one.remedy,
                    one.hours_lost,
                    None if one.solved is None else int(one.solved),
                )
                for place, one in enumerate(job.troubles, 1)
            ],
        )
        connection.executemany(
            "INSERT INTO job_measurement (job_number, position, name, unit, as_found, as_found_written, as_left, "
            "as_left_written) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [(number, place, *_measured(one)) for place, one in enumerate(job.measurements, 1)],
        )


def _measured(one: JobMeasurement) -> tuple[str, str | None, float | None, str | None, float | None, str | None]:
    return (one.name, one.unit, _as_number(one.as_found), one.as_found, _as_number(one.as_left), one.as_left)


def _as_number(text: str | None) -> float | None:
    """A measurement's number where it is one: "did not charge" is a finding as well."""
    if text is None:
        return None
    try:
        return read(text, QUANTITIES["number"])
    except MeasurementError:
        return None


def job_of_row(row: dict[str, Value]) -> JobSheet:
    """Make a job of a job sheet's row. Raises :class:`MeasurementError` with the field's name as ``where``."""
    outcome = _optional(row, "outcome")
    return JobSheet(
        id=str(row["id"]),
        work=str(row["work"]),
        opened_on=_optional(row, "opened_on"),
        closed_on=_optional(row, "closed_on"),
        bay=_optional(row, "bay"),
        machine=_optional(row, "machine"),
        engine=_optional(row, "engine"),
        outcome=outcome,
        notes=_optional(row, "notes"),
        accessories=tuple(filter(None, _list(row, "accessories"))),
        profile=_optional(row, "profile"),
        ribs=row.get("ribs"),  # type: ignore[arg-type] # the reader made it a count
        belt_length_mm=row.get("belt_length_mm"),  # type: ignore[arg-type] # the reader made it a length
        drive=_optional(row, "drive"),
        parts=tuple(_part(text) for text in _list(row, "parts") if text),
        troubles=_troubles(row, outcome),
        customer=_optional(row, "customer"),
        private_note=_optional(row, "private_note"),
    )


def _optional(row: dict[str, Value], name: str) -> str | None:
    value = row.get(name)
    return None if value is None else str(value)


def _list(row: dict[str, Value], name: str) -> list[str]:
    value = row.get(name)
    return [] if value is None else [" ".join(one.split()) for one in json.loads(str(value))]


def _part(text: str) -> JobPart:
    """Read ``supplier: part number`` or a bare part number."""
    supplier, colon, part_no = text.partition(": ")
    return JobPart(part_no.strip(), supplier.strip()) if colon and part_no.strip() else JobPart(text)


def _troubles(row: dict[str, Value], outcome: str | None) -> tuple[JobTrouble, ...]:
    troubles, remedies, hours_texts = (_list(row, name) for name in ("trouble", "remedy", "hours_lost"))
    hours = [_hours(text) for text in hours_texts]
    total = None
    if len(hours) == 1 and len(troubles) > 1:
        total = hours.pop()  # one figure for all of them: it belongs to none alone
    found = []
    for place in range(max(len(troubles), len(remedies), len(hours))):
        trouble, remedy = (each[place] or None if place < len(each) else None for each in (troubles, remedies))
        lost = hours[place] if place < len(hours) else None
        solved = True if remedy and outcome and outcome.startswith("worked") else None
        if trouble or remedy or lost is not None:
            found.append(JobTrouble(trouble, remedy, lost, solved))
    if total is not None:
        found.append(JobTrouble(None, None, total))
    return tuple(found)


def _hours(text: str) -> float | None:
    if not text or text in "-–—":
        return None
    try:
        return read(text, QUANTITIES["hours"], low=0.0, high=10000.0)
    except MeasurementError as error:
        raise MeasurementError(str(error), where="hours_lost") from error
