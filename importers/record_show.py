"""A job as it stands and as it came to be, for the one who records it."""

from __future__ import annotations

import sqlite3
from typing import Any

from importers.record import current_job, revisions
from importers.record_merge import changes_between


def as_json(connection: sqlite3.Connection, job_id: str) -> dict[str, Any] | None:
    """Return a job's content, private fields and revisions, each with what it changed; ``None`` if there is no such job."""
    job = current_job(connection, job_id)
    if job is None:
        return None
    states = revisions(connection, str(job.id))
    history = []
    before = None
    for revision, made_at, state in states:
        history.append({"revision": revision, "made_at": made_at, "changes": changes_between(before, state)})
        before = state
    return {
        **job.content(),
        "hours_worked": job.hours_worked,
        "later": [
            {"check": one.check, "due_on": one.due_on, "after_hours": one.after_hours, "done_on": one.done_on,
             "found": one.found, "due": one.due}
            for one in job.later
        ],
        "customer": job.customer,
        "private_note": job.private_note,
        "open": bool(job.still_open) or job.outcome is None,
        "revisions": history,
    }  # fmt: skip


_SHOWN = (
    "bay", "machine", "engine", "work", "opened_on", "closed_on", "outcome", "accessories", "profile", "ribs",
    "belt_length_mm", "drive", "hours_worked", "notes", "customer", "private_note",
)  # fmt: skip


def as_text(shown: dict[str, Any]) -> str:
    """Return it as a mechanic reads it."""
    lines = [f"{shown['id']}: {'open' if shown['open'] else 'closed'}"]
    for name in _SHOWN:
        value = shown[name]
        if value not in (None, [], (), ""):
            lines.append(f"  {name.removesuffix('_mm').replace('_', ' ')}: {_text(name, value)}")
    for part in shown["parts"]:
        lines.append(f"  part {_joined(part, ('part_no', 'supplier', 'quantity', 'ordered_by', 'old_part', 'note'))}")
    for one in shown["troubles"]:
        solved = {True: "solved", False: "not solved", None: None}[one["solved"]]
        hours = None if one["hours_lost"] is None else f"{one['hours_lost']:g} h lost"
        said = " → ".join(filter(None, (one["trouble"], one["remedy"])))
        lines.append("  trouble " + ", ".join(filter(None, (said, hours, solved))))
    for one in shown["measurements"]:
        unit = f" {one['unit']}" if one["unit"] else ""
        ends = [f"{word} {one[key]}{unit}" for key, word in (("as_found", "found"), ("as_left", "left")) if one[key]]
        lines.append(f"  measured {one['name']}: {', '.join(ends) or 'nothing yet'}")
    for one in shown["later"]:
        done = f"done on {one['done_on']}" if one["done_on"] else one["due"]
        lines.append(f"  look again {one['check']}: {done}" + (f", {one['found']}" if one["found"] else ""))
    lines.append("Changes, the oldest first:")
    for one in shown["revisions"]:
        lines.append(f"  {one['made_at']}: {'; '.join(one['changes']) or 'nothing that is shown here'}")
    return "\n".join(lines)


def _text(name: str, value: Any) -> str:
    from kb.measure import both_text

    if name == "belt_length_mm":
        return both_text(value)
    if isinstance(value, (list, tuple)):
        return "; ".join(value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _joined(values: dict[str, Any], names: tuple[str, ...]) -> str:
    said = []
    for name in names:
        value = values.get(name)
        if value is not None:
            text = f"{value:g}" if isinstance(value, float) else str(value)
            said.append({"quantity": f"× {text}", "ordered_by": f"ordered by {text}", "old_part": f"old part {text}"}.get(
                name, text
            ))  # fmt: skip
    return ", ".join(said)
