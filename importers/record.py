"""Recording a job over the day: a form's word becomes a new revision, all of it or nothing; corrections leave a trace."""

from __future__ import annotations

import hashlib
import json
import math
import sqlite3
from dataclasses import dataclass, field, replace
from pathlib import Path

from importers import ledger
from importers.jobs import store_job
from importers.record_merge import merge_form
from importers.report import Report
from kb.closing_checks import later_looks
from kb.errors import AnswerError, ShelfError
from kb.fields import JOB
from kb.limits import BOUNDS, TABLE, Limit, find_limit, limit_of, overrides
from kb.sheets.job_form import JobForm
from kb.sheets.job_form_written import Choices
from kb.sheets.job_sheet import JobLater, JobSheet, job_of_content
from kb.shelf import now


@dataclass(slots=True)
class Recorded:
    """What a form did: ``done`` is ``stored``, ``updated`` or ``unchanged``; ``open`` is what is still to be looked at."""

    id: str
    done: str
    revision: str
    changes: list[str] = field(default_factory=list)
    open: tuple[JobLater, ...] = ()
    notes: list[str] = field(default_factory=list)
    """What to say beside it: a clock that is wrong."""

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            "id": self.id, "done": self.done, "revision": self.revision, "changes": self.changes,
            "open": [{"check": one.check, "due_on": one.due_on, "after_hours": one.after_hours} for one in self.open],
        }  # fmt: skip


def record_form(connection: sqlite3.Connection, form: JobForm) -> Recorded:
    """Store what a form says, in the caller's transaction, which must hold the write lock already.

    When a job comes to its outcome, what its work says must be looked at again is put on it, and keeps it open: a day of
    closing is refused until each is done. Raises :class:`~kb.errors.ShelfError`.
    """
    job_id = form.job.id
    if job_id is None:
        raise ShelfError("`job` is missing.", where=form.name, do='Every job has a name of its own: job = "N-101".')
    current = current_job(connection, job_id)
    if current is None and not form.job.work:
        raise ShelfError(
            f"there is no job {job_id} yet, and the form does not say what is done.",
            where=form.name,
            do="Fill in `work`, or check the job's name.",
        )
    base = _base(connection, form, job_id)
    merged = merge_form(form, current, base)
    job = merged.job
    if current is not None:
        job = replace(job, id=current.id)
    if job.outcome is not None and (current is None or current.outcome is None):
        added = later_looks(replace(job, closed_on=None))
        merged.changes += [f"look again {one.check}: {one.due}" for one in added]
        job = replace(job, later=(*job.later, *added))
    _days_in_order(form, job)
    _not_closed_too_soon(form, job, current)
    done, notes = _store(connection, form, job)
    revision = connection.execute("SELECT revision FROM job WHERE id = ?", (job.id,)).fetchone()[0]
    return Recorded(str(job.id), done, revision, merged.changes if done != "unchanged" else [], job.still_open, notes)


def _store(connection: sqlite3.Connection, form: JobForm, job: JobSheet) -> tuple[str, list[str]]:
    report = Report(form.name, JOB.name, rows_read=1)
    content = json.dumps(job.content(), ensure_ascii=False)
    digest = hashlib.sha256(content.encode()).hexdigest()
    number = ledger.open_load(connection, report, digest, json.dumps(["record"]), None)
    done = store_job(connection, number, job)
    setattr(report, f"rows_{done}", 1)
    notes = report.notes if done != "unchanged" else []
    ledger.close_load(connection, number, report, {})
    return done, notes


def current_job(connection: sqlite3.Connection, job_id: str) -> JobSheet | None:
    """Return a job as it stands, private fields included; its name is found whatever its case."""
    row = connection.execute(
        "SELECT content, customer, private_note FROM job JOIN job_revision ON job_revision.id = job.revision "
        "LEFT JOIN private_job ON private_job.job_number = job.number WHERE job.id = ? COLLATE NOCASE "
        "ORDER BY job.id <> ? LIMIT 1",
        (job_id, job_id),
    ).fetchone()
    if row is None:
        return None
    job = job_of_content(json.loads(row["content"]))
    return replace(job, customer=row["customer"], private_note=row["private_note"])


def _base(connection: sqlite3.Connection, form: JobForm, job_id: str) -> JobSheet | None:
    if form.revision is None:
        return None
    row = connection.execute("SELECT content, job_id FROM job_revision WHERE id = ?", (form.revision,)).fetchone()
    if row is None or row["job_id"].casefold() != job_id.casefold():
        raise ShelfError(
            f"this shelf does not know the state that the form was written from ({form.revision}).",
            where=form.name,
            do="Was it written from another shelf? Write a new one with `record new OUT --from JOB`.",
        )
    return job_of_content(json.loads(row["content"]))


def _days_in_order(form: JobForm, job: JobSheet) -> None:
    if job.opened_on and job.closed_on and job.closed_on < job.opened_on:
        raise ShelfError(
            f"{job.id} would be closed on {job.closed_on}, before it was opened on {job.opened_on}.",
            where=form.name,
            do="Correct one of the days.",
        )


def _not_closed_too_soon(form: JobForm, job: JobSheet, before: JobSheet | None) -> None:
    if job.closed_on is None or not job.still_open or (before is not None and before.closed_on == job.closed_on):
        return
    waits = "; ".join(f"{one.check} ({one.due})" for one in job.still_open)
    raise ShelfError(
        f"{job.id} cannot be closed yet: still to be looked at: {waits}. Nothing was stored.",
        where=form.name,
        do="Leave closed_on out, or write done_on beside each once it is done.",
    )


def form_choices(connection: sqlite3.Connection) -> Choices:
    """Return what a form's drop-downs offer: what the shelf knows."""

    def known(sql: str) -> list[str]:
        return [str(value) for (value,) in connection.execute(sql)]

    def of_jobs(column: str) -> list[str]:
        return known(
            f"SELECT {column} FROM job WHERE {column} IS NOT NULL GROUP BY 1 ORDER BY count(*) DESC, 1 LIMIT 200"
        )

    return Choices(
        of_jobs("bay"), of_jobs("machine"), of_jobs("engine"),
        known("SELECT name FROM supplier ORDER BY name COLLATE NOCASE LIMIT 500"),
        known("SELECT name FROM drive ORDER BY name LIMIT 500"),
    )  # fmt: skip


def revisions(connection: sqlite3.Connection, job_id: str) -> list[tuple[str, str, JobSheet]]:
    """Return a job's states, the oldest first: revision, when it was made, the job."""
    rows = connection.execute(
        "SELECT id, based_on, made_at, content FROM job_revision WHERE job_id = ? ORDER BY made_at, id", (job_id,)
    ).fetchall()
    # The one that was made from another comes after it: in one second, and where a clock was put back between them.
    by_id = {row["id"]: row for row in rows}
    order: dict[str, tuple[str, int]] = {}
    for row in rows:
        chain, latest, at = 0, row["made_at"], row["based_on"]
        while at in by_id and chain <= len(rows):
            chain, latest, at = chain + 1, max(latest, by_id[at]["made_at"]), by_id[at]["based_on"]
        order[row["id"]] = (latest, chain)
    rows.sort(key=lambda row: (*order[row["id"]], row["id"]))
    return [(row["id"], row["made_at"], job_of_content(json.loads(row["content"]))) for row in rows]


def set_limit(
    connection: sqlite3.Connection, said: str, low: str | None, high: str | None, reason: str | None
) -> Limit:
    """Put the shop's own value in place of a practice limit's, or with no ends at all take it back; return what holds now.

    ``low`` and ``high`` are numbers in the limit's own unit. Raises :class:`~kb.errors.AnswerError`.
    """
    limit = find_limit(said)
    connection.execute("DELETE FROM reference_override WHERE table_name = ? AND row_key = ?", (TABLE, limit.key))
    if low is not None or high is not None:
        if not reason:
            raise AnswerError("a shop's own limit needs its reason.", do='Give --reason "what it rests on".')
        ends = [_end(text, limit) for text in (low, high)]
        if ends[0] is not None and ends[1] is not None and ends[0] > ends[1]:
            raise AnswerError(f"the low end {ends[0]:g} is above the high end {ends[1]:g}.", do="Swap them.")
        connection.executemany(
            "INSERT INTO reference_override (table_name, row_key, column_name, value, reason, made_at) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            [
                (TABLE, limit.key, column, "" if end is None else f"{end:.10g}", reason, now())
                for column, end in zip(BOUNDS, ends, strict=True)
            ],
        )
    found = limit_of(limit.topic, limit.parameter, overrides(connection))
    assert found is not None
    return found


def _end(text: str | None, limit: Limit) -> float | None:
    if text is None:
        return None
    try:
        value = float(text.replace(",", "."))
        if math.isfinite(value):
            return value
    except ValueError:
        pass
    raise AnswerError(f"{text!r} is no number in {limit.unit}.", do="Give a plain number, such as 12.5.")


def form_source(source: Path) -> JobForm:
    """Read a form from a file, or from standard input where it is named ``-``."""
    from kb.sheets.job_form import form_of_text, read_form

    if str(source) != "-":
        return read_form(source)
    import sys

    return form_of_text(sys.stdin.read(), "standard input")
