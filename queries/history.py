"""How the jobs ended that used a part."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from kb.spelling import normalise_code


@dataclass(frozen=True, slots=True)
class Record:
    """Counts of jobs by how they ended; ``worked`` includes those that worked after a change."""

    worked: int = 0
    after_change: int = 0
    failed: int = 0

    @property
    def says(self) -> str:
        """The record in words, empty where there is none."""
        said = []
        if self.worked:
            change = f", {self.after_change} of them after a change" if self.after_change else ""
            said.append(f"worked in {self.worked} {_jobs(self.worked)}{change}")
        if self.failed:
            said.append(f"did not work in {self.failed} {_jobs(self.failed)}")
        return ", ".join(said)


def _jobs(count: int) -> str:
    return "job" if count == 1 else "jobs"


NONE = Record()


def records(
    connection: sqlite3.Connection, parts: Iterable[tuple[str, str]], codes: Iterable[str] | None = None
) -> dict[tuple[str, str], Record]:
    """Return the record of each (supplier, part number) that has one; ``codes`` where the caller has them already.

    A job that names no supplier counts for every supplier's part of that number.
    """
    named = list(parts)
    wanted = dict(zip(named, codes or [normalise_code(part_no) for _, part_no in named], strict=True))
    if not wanted:
        return {}
    marks = ", ".join("?" * len(wanted))
    rows = connection.execute(
        "SELECT code, job_part.supplier, outcome, job_number FROM job_part JOIN job ON job.number = job_number "
        f"WHERE code IN ({marks})",
        tuple(wanted.values()),
    ).fetchall()
    # Folded here, not in SQL: SQLite folds only the letters of ASCII.
    rows = [(code, who and who.casefold(), outcome, job) for code, who, outcome, job in rows]
    found: dict[tuple[str, str], Record] = {}
    for (supplier, part_no), code in wanted.items() if rows else ():
        ended = {row[3]: row[2] for row in rows if row[0] == code and row[1] in (None, supplier.casefold())}
        if ended:
            outcomes = list(ended.values())
            changed = outcomes.count("worked after a change")
            found[supplier, part_no] = Record(
                outcomes.count("worked") + changed, changed, outcomes.count("did not work")
            )
    return found


def jobs_with(connection: sqlite3.Connection, supplier: str, part_no: str) -> list[dict[str, object]]:
    """Return the jobs that used a part, the newest first: id, title, opened_on, outcome, troubles."""
    rows = connection.execute(
        "SELECT job.number, job.id, title, opened_on, outcome, job_part.supplier FROM job_part "
        "JOIN job ON job.number = job_number WHERE code = ? ORDER BY opened_on DESC, job.id",
        (normalise_code(part_no),),
    ).fetchall()
    ours = (None, supplier.casefold())
    jobs = {row["number"]: row for row in rows if (row["supplier"] and row["supplier"].casefold()) in ours}
    return [
        {
            **{key: row[key] for key in ("id", "title", "opened_on", "outcome")},
            "troubles": troubles(connection, number),
        }
        for number, row in jobs.items()
    ]


def troubles(connection: sqlite3.Connection, job_number: int) -> list[dict[str, object]]:
    """Return a job's troubles in their order: trouble, remedy, hours_lost, solved."""
    rows = connection.execute(
        "SELECT trouble, remedy, hours_lost, solved FROM job_trouble WHERE job_number = ? ORDER BY position",
        (job_number,),
    )
    return [{**dict(row), "solved": None if row["solved"] is None else bool(row["solved"])} for row in rows]
