"""Pages about one job and the jobs like it: the job, its closing checks, its summary to print, the morning list."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from kb.closing_checks import checks_for, measurement_for
from kb.errors import AnswerError, BayshelfError
from kb.limits import overrides
from kb.measure import QUANTITIES, read
from kb.sheets.job_sheet import JobSheet, JobTrouble
from queries.closing import (
    NOT_MEASURED,
    OUTSIDE,
    WITHIN,
    alternator_idle,
    ask_closing,
    ask_due,
    closing_rows,
    stored_job,
)
from queries.explorer.errors import NoSuchPageError
from queries.explorer.forms import Ask
from queries.explorer.rendering import fields, names_in, render, texts_of
from queries.summary import ask_summary, shown_check

MORNING: tuple[Ask, ...] = (
    Ask("work", "What is to be done", example="V-belts out, ribbed belt in"),
    Ask("machine", "Machine", example="Plow truck 7"),
    Ask("engine", "Engine", example="inline six 7.6 L diesel"),
    Ask("trouble", "What it complains of", example="squeals with the lights on"),
    Ask("accessories", "What the belt drives", example="alternator, compressor, fan"),
    Ask("ribs", "Ribs", example="8"),
    Ask("belt-length", "Belt length", example="73 1/8 in"),
    Ask("drive", "Drive sheet on the shelf", example="Plow truck 7, fan plane"),
    Ask("like", "Or: the job", example="N-001"),
)
"""The morning page's fields: all may be empty but one."""


def asked_job(connection: sqlite3.Connection, texts: dict[str, str]) -> JobSheet:
    """Return the job that the morning page's fields describe. Raises :class:`~kb.errors.BayshelfError`."""
    if texts["like"]:
        return stored_job(connection, texts["like"])
    ribs, length = texts["ribs"], texts["belt-length"]
    trouble, drives = texts["trouble"], texts["accessories"].replace(";", ",").split(",")
    return JobSheet(
        None, texts["work"], machine=texts["machine"] or None, engine=texts["engine"] or None,
        accessories=tuple(one.strip() for one in drives if one.strip()),
        ribs=int(read(ribs, QUANTITIES["count"], low=1, high=40)) if ribs else None,
        belt_length_mm=read(length, QUANTITIES["length"], low=150, high=12000) if length else None,
        drive=texts["drive"] or None, troubles=(JobTrouble(trouble),) if trouble else (),
    )  # fmt: skip


def morning_values(connection: sqlite3.Connection, texts: dict[str, str]) -> dict[str, Any]:
    """Return what the morning page shows."""
    from queries.morning import ask_morning

    answer = ask_morning(connection, asked_job(connection, texts))
    for job in answer.jobs:
        job["link"] = f"/jobs/{quote(str(job['id']), safe='')}"
    return {"answer": answer}


def closing_values(connection: sqlite3.Connection, job_id: str) -> dict[str, Any]:
    """Return what the closing page shows: the checks by state, what is outside first."""
    job = stored_job(connection, job_id)
    answer = ask_closing(connection, str(job.id))
    groups = [
        (title, note, [shown_check(row) for row in answer.rows if row.state == state])
        for state, title, note in (
            (OUTSIDE, "Outside", "Look at these before the machine leaves."),
            (NOT_MEASURED, "Not measured", ""),
            (WITHIN, "Within", ""),
        )
    ]
    return {
        "title": f"Closing checks: {job.id}", "job_title": job.title, "job_id": job.id, "notes": answer.notes,
        "groups": [group for group in groups if group[2]], "is_open": bool(job.still_open) or job.outcome is None,
    }  # fmt: skip


def job_values(connection: sqlite3.Connection, job_id: str) -> dict[str, Any]:
    """Return the job's own measurements on their scales, and whether it is still open."""
    job = stored_job(connection, job_id)
    rows = closing_rows(job, overrides(connection), alternator_idle(connection, job))
    checks = [row for row in rows if (row.as_found or row.as_left) and not row.later]
    answered = {m.name for check in checks_for(job) if (m := measurement_for(check, job)) is not None}
    return {
        "checks": [shown_check(row) for row in checks],
        "others": [one for one in job.measurements if one.name not in answered],
        "later": [shown_check(row) for row in rows if row.later and (job.still_open or row.done_on)],
        "is_open": bool(job.still_open) or job.outcome is None,
        "hours_worked": job.hours_worked,
        "old_parts": {part.part_no: part.old_part for part in job.parts if part.old_part},
    }


async def morning(request: Any, datasette: Any) -> Any:
    """The morning list: a form, and the list where something was asked."""
    texts = {name: text.strip() for name, text in texts_of(request, MORNING).items()}
    values: dict[str, Any] = {
        "title": "Morning list", "page": "morning", "fields": fields(MORNING, texts), "asked": "", "answer": None,
    }  # fmt: skip
    status = 200
    if any(texts.values()):
        try:
            shelf = datasette.get_database("shelf")
            values |= await shelf.execute_fn(lambda connection: morning_values(connection, texts))
        except BayshelfError as error:
            values["error"], status = " ".join(filter(None, (error.what, error.do))), 400
    return await render(datasette, request, "shelf_morning.html", values, status)


async def closing(request: Any, datasette: Any) -> Any:
    """The closing checks of one job."""
    values = await _of_job(request, datasette, closing_values)
    return await render(datasette, request, "shelf_closing.html", {**values, "asked": "", "page": "jobs"})


async def due(request: Any, datasette: Any) -> Any:
    """What keeps jobs open, the soonest first."""
    rows = (await datasette.get_database("shelf").execute_fn(ask_due)).rows
    values = {"title": "Open jobs", "page": "closing", "asked": "", "rows": rows}
    return await render(datasette, request, "shelf_due.html", values)


async def summary(request: Any, datasette: Any) -> Any:
    """The summary of one job, to print."""
    values = await _of_job(request, datasette, ask_summary)
    return await render(datasette, request, "shelf_summary.html", values)


async def _of_job(request: Any, datasette: Any, ask: Callable[..., dict[str, Any]]) -> dict[str, Any]:
    (job_id,) = names_in(request, 1)
    try:
        found: dict[str, Any] = await datasette.get_database("shelf").execute_fn(lambda each: ask(each, job_id))
    except AnswerError as error:
        raise NoSuchPageError("no such job") from error
    return found


ROUTES = (
    (r"^/morning$", morning),
    (r"^/closing$", due),
    (r"^/closing/.+$", closing),
    (r"^/summary/.+$", summary),
)
