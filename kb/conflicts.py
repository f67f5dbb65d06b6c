"""Jobs that two bays changed apart: which wait to be settled, and in which versions they stand."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Version:
    """One of the revisions that contradict each other; ``came_from`` is the sheet and shelf that brought it."""

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
    found = connection.execute(
        "SELECT DISTINCT id FROM main.job JOIN main.job_conflict ON job_number = number ORDER BY id"
    )
    return [job for (job,) in found]


def versions(connection: sqlite3.Connection, job_id: str) -> list[Version]:
    """Return the revisions of a job that contradict each other, oldest first; none where all agree."""
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
