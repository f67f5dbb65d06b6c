"""Settling a job that two bays changed apart: one revision holds from then on, and says which it replaced."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from importers import index
from importers.jobs import JobStore
from kb.errors import AnswerError
from kb.revisions import differences
from kb.shelf import new_id, now


@dataclass(frozen=True, slots=True)
class Version:
    """One of the revisions that contradict each other; ``came_from`` is the shelf or sheet that brought it."""

    revision: str
    made_at: str
    came_from: str
    shown: bool
    content: str

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            **{name: getattr(self, name) for name in ("revision", "made_at", "came_from", "shown")},
            "content": json.loads(self.content),
        }


def in_conflict(connection: sqlite3.Connection) -> list[str]:
    """Return the ids of the jobs that wait to be settled."""
    return [job for (job,) in connection.execute(
        "SELECT DISTINCT id FROM job JOIN job_conflict ON job_number = number ORDER BY id"
    )]  # fmt: skip


def versions(connection: sqlite3.Connection, job_id: str) -> list[Version]:
    """Return the revisions of a job that contradict each other, oldest first; none where all agree.

    Raises :class:`~kb.errors.AnswerError` for a job that is not on the shelf.
    """
    if connection.execute("SELECT 1 FROM job WHERE id = ?", (job_id,)).fetchone() is None:
        raise AnswerError(f"there is no job {job_id!r} on the shelf.", do="`bayshelf settle` lists those to settle.")
    rows = connection.execute(
        "SELECT job_revision.id, made_at, content, job.revision, sheet, merged_from FROM job "
        "JOIN job_conflict ON job_number = job.number JOIN job_revision ON job_revision.id = job_conflict.revision "
        "LEFT JOIN load ON load.number = job_revision.load_number WHERE job.id = ? ORDER BY made_at, job_revision.id",
        (job_id,),
    )
    return [
        Version(
            row["id"],
            row["made_at"],
            ", ".join(filter(None, (row["sheet"], row["merged_from"] and f"merged from {row['merged_from']}"))),
            row["id"] == row["revision"],
            row["content"],
        )
        for row in rows
    ]


def settle(connection: sqlite3.Connection, job_id: str, keep: str, taken: Mapping[str, str] | None = None) -> str:
    """Make the revision that holds from now on, in the caller's transaction; return its id.

    ``keep`` names the version that is kept, ``taken`` fields (as :func:`kb.revisions.differences` names them) and the
    versions they are taken from instead; any part of a revision's id that only one version has will do. Private fields
    stay as they are. Raises :class:`~kb.errors.AnswerError` where a name is none of the versions, or there is nothing to
    settle.
    """
    found = versions(connection, job_id)
    if not found:
        raise AnswerError(f"job {job_id} has nothing to settle.", do="`bayshelf settle` lists the jobs that have.")
    kept = _named(found, keep)
    content = json.loads(kept.content)
    apart = differences([each.content for each in found])
    for name, revision in (taken or {}).items():
        if name not in apart:
            raise AnswerError(f"the versions do not differ in {name!r}.", do=f"They differ in: {', '.join(apart)}.")
        other = json.loads(_named(found, revision).content)
        if name in other:
            content[name] = other[name]
        else:
            content.pop(name, None)
    made = new_id()
    connection.execute(
        "INSERT INTO job_revision (id, job_id, based_on, made_at, content, load_number, settles, row_number, written) "
        "SELECT ?, job_id, id, ?, ?, load_number, ?, row_number, written FROM job_revision WHERE id = ?",
        (
            made, max(now(), *(each.made_at for each in found)), json.dumps(content, ensure_ascii=False),
            json.dumps([each.revision for each in found if each is not kept]), kept.revision,
        ),
    )  # fmt: skip
    store = JobStore(connection, 0)
    store.show_what_holds(job_id)
    index.changed(connection, "job", store.changed)
    return made


def _named(found: Sequence[Version], text: str) -> Version:
    meant = [each for each in found if text and text in each.revision]
    exact = [each for each in meant if each.revision == text]
    if len(exact or meant) != 1:
        raise AnswerError(
            f"{text!r} names {'none' if not meant else 'more than one'} of the versions.",
            do=f"They are: {', '.join(each.revision for each in found)}.",
        )
    return (exact or meant)[0]
