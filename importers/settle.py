"""Settling a job that two bays changed apart: one revision holds from then on, and says which it replaced."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence

from importers import index
from importers.jobs import JobStore, revision_of
from kb.conflicts import Version, versions
from kb.errors import AnswerError
from kb.revisions import differences, unreplaced
from kb.shelf import new_id, now


def settle(connection: sqlite3.Connection, job_id: str, keep: str, taken: Mapping[str, str] | None = None) -> str:
    """Make the revision that holds from now on, in the caller's transaction; return its id.

    ``keep`` names the version that is kept, ``taken`` fields (as :func:`kb.revisions.differences` names them) and the
    versions they are taken from instead; any part of a revision's id that only one version has will do. Private fields
    stay as they are. Raises :class:`~kb.errors.AnswerError` where a name is none of the versions, or there is nothing to
    settle.
    """
    if connection.execute("SELECT 1 FROM job WHERE id = ?", (job_id,)).fetchone() is None:
        raise AnswerError(f"there is no job {job_id!r} on the shelf.", do="`bayshelf settle` lists those to settle.")
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
            json.dumps(_others(connection, job_id, kept.revision)), kept.revision,
        ),
    )  # fmt: skip
    store = JobStore(connection, 0)
    store.show_what_holds(job_id)
    index.changed(connection, "job", store.changed)
    return made


def _others(connection: sqlite3.Connection, job_id: str, kept: str) -> list[str]:
    """Return all that the kept version replaces: each of several revisions that say the same, not one for them all."""
    rows = connection.execute("SELECT * FROM job_revision WHERE job_id = ? ORDER BY id", (job_id,))
    return [one.id for one in unreplaced(map(revision_of, rows)) if one.id != kept]


def _named(found: Sequence[Version], text: str) -> Version:
    meant = [each for each in found if text and text in each.revision]
    exact = [each for each in meant if each.revision == text]
    if len(exact or meant) != 1:
        raise AnswerError(
            f"{text!r} names {'none' if not meant else 'more than one'} of the versions.",
            do=f"They are: {', '.join(each.revision for each in found)}.",
        )
    return (exact or meant)[0]
