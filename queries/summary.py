"""A job's summary for the one who ordered it: what was fitted, measured before and after, what became of the old parts."""

from __future__ import annotations

import sqlite3
from importlib.resources import files
from typing import Any

from kb.fields import PARTS
from kb.limits import overrides
from kb.sheets.job_sheet import OLD_PARTS, JobPart
from kb.spelling import normalise_code
from queries.closing import NOT_MEASURED, OUTSIDE, ClosingRow, alternator_idle, closing_rows, stored_job
from queries.drawings.scale import place_words, scale_svg

_FATE = {
    "returned": "Returned to you",
    "kept": "Kept in the shop",
    "scrapped": "Scrapped",
    "deposit due": "Deposit due until the old part is sent back",
}
assert set(_FATE) == set(OLD_PARTS)


def ask_summary(connection: sqlite3.Connection, job_id: str) -> dict[str, Any]:
    """Return everything that the printed summary shows; no private field. Raises :class:`~kb.errors.AnswerError`."""
    job = stored_job(connection, job_id)
    rows = closing_rows(job, overrides(connection), alternator_idle(connection, job))
    named = {(row.as_found, row.as_left) for row in rows}
    measured = [
        shown_check(row) for row in rows if not row.later and (row.as_found or row.as_left or row.value is not None)
    ]
    others = [
        {"check": one.name, "found": _with_unit(one.as_found, one.unit), "left": _with_unit(one.as_left, one.unit)}
        for one in job.measurements
        if (_with_unit(one.as_found, one.unit), _with_unit(one.as_left, one.unit)) not in named
        and one.name not in {row.check for row in rows}
    ]
    return {
        "id": job.id,
        "title": job.title,
        "facts": [
            (label, value)
            for label, value in (
                ("Job", job.id), ("Machine", job.machine), ("Engine", job.engine), ("Work", job.work), ("Bay", job.bay),
                ("Opened", job.opened_on), ("Closed", job.closed_on or "still open"), ("Outcome", job.outcome),
                ("Hours worked", None if job.hours_worked is None else f"{job.hours_worked:g}"),
            )
            if value
        ],
        "attention": [shown_check(row) for row in rows if row.state == OUTSIDE],
        "missing": [row.check for row in rows if row.state == NOT_MEASURED and not row.later],
        "parts": [_fitted(connection, part) for part in job.parts],
        "measured": measured,
        "others": others,
        "old_parts": [
            (_FATE[fate], [_named(part) for part in job.parts if part.old_part == fate])
            for fate in OLD_PARTS
            if any(part.old_part == fate for part in job.parts)
        ],
        "troubles": [one for one in job.troubles if one.trouble or one.remedy],
        "again": [shown_check(row) for row in rows if row.later],
        "notes": job.notes,
    }  # fmt: skip


def shown_check(row: ClosingRow) -> dict[str, Any]:
    """Return a check as a page shows it: in words, and as a picture of its scale."""
    places = [
        f"as {word} {place_words(value, row.low, row.high)}"
        for word, value in (("found", row.found_value), ("left", row.value))
        if value is not None and (row.low is not None or row.high is not None)
    ]
    left = row.as_left or (f"{row.value:g} {row.unit}" if row.value is not None else "")
    return {
        "check": row.check,
        "state": row.state + (" (a warning only)" if row.warns_only and row.state == OUTSIDE else ""),
        "found": row.as_found or "",
        "left": left,
        "limit": row.limit_text,
        "places": ", ".join(places),
        "scale": scale_svg(row.low, row.high, row.found_value, row.value, row.unit, row.check),
        "source": row.source if row.limit_text else "",
        "why": row.why,
        "how": row.how,
        "caution": row.caution if row.state != "within" else "",
        "done_on": row.done_on,
        "later": row.later,
    }


def _with_unit(text: str | None, unit: str | None) -> str | None:
    return f"{text} {unit}" if text and unit and text[-1:].isdigit() else text


def _named(part: JobPart) -> str:
    return part.part_no + (f" ({part.note})" if part.note else "")


def _fitted(connection: sqlite3.Connection, part: JobPart) -> dict[str, Any]:
    return {
        "part_no": part.part_no,
        "what": _description(connection, part),
        "supplier": part.supplier or "",
        "quantity": "" if part.quantity is None else f"{part.quantity:g}",
        "ordered_by": part.ordered_by or "",
        "note": part.note or "",
    }


def _description(connection: sqlite3.Connection, part: JobPart) -> str:
    """What the part is, where the shelf lists it: of the supplier named, else of any."""
    code = normalise_code(part.part_no)
    for kind in PARTS:
        found = connection.execute(
            f"SELECT description, supplier.name FROM {kind.name} JOIN supplier ON supplier.id = supplier_id "
            "WHERE code = ? ORDER BY supplier.name = ? COLLATE NOCASE DESC, supplier.name LIMIT 1",
            (code, part.supplier or ""),
        ).fetchone()
        if found and (part.supplier is None or found[1].casefold() == part.supplier.casefold()):
            return str(found[0] or kind.name)
    return ""


def summary_html(connection: sqlite3.Connection, job_id: str) -> str:
    """Return the summary as one page of its own, with its style inside: to keep, to send, to print."""
    from jinja2 import Environment, PackageLoader, select_autoescape

    from kb.shelf import now

    pages = Environment(loader=PackageLoader("queries.explorer"), autoescape=select_autoescape())
    style = (files("queries.explorer") / "static" / "print.css").read_text(encoding="utf-8")
    values = ask_summary(connection, job_id)
    return pages.get_template("shelf_summary.html").render(**values, style=style, printed_on=now()[:10])
