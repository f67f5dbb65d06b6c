"""How the jobs ended that used a part."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol, TypeVar

from kb.errors import AnswerError
from kb.spelling import normalise_code

if TYPE_CHECKING:
    from kb.sheets.job_sheet import JobSheet  # a look-up of belts starts without it


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
    if connection.execute("SELECT 1 FROM job_part LIMIT 1").fetchone() is None:
        return {}
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


# On drives like one that is asked about -------------------------------------------------------------------------------

LIKE_DRIVE_FROM = 60.0
"""From which likeness a job's machine, engine and drive count as like the one asked about: our own choice, no source."""

_OF_THE_DRIVE = ("machine", "engine", "drive", "accessories", "ribs")


@dataclass(frozen=True, slots=True)
class LikeDrive:
    """How a part's jobs ended on drives like one: their ids, the likest first, and what went wrong on those that failed."""

    worked: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()
    troubles: tuple[str, ...] = ()

    @property
    def fails(self) -> bool:
        """Whether it failed there at least as often as it worked."""
        return bool(self.failed) and len(self.failed) >= len(self.worked)

    @property
    def says(self) -> str:
        """It in words.

        >>> LikeDrive(("N-1",), ("N-2",), ("threw two ribs",)).says
        'on drives like this: worked in N-1; did not work in N-2 (threw two ribs)'
        """
        said = [f"worked in {', '.join(self.worked[:3])}"] if self.worked else []
        if self.failed:
            troubles = f" ({'; '.join(self.troubles[:2])})" if self.troubles else ""
            said.append(f"did not work in {', '.join(self.failed[:3])}{troubles}")
        return f"on drives like this: {'; '.join(said)}" if said else ""


Part = TypeVar("Part", bound="Judged")


class Judged(Protocol):
    """A row of any answer about parts."""

    @property
    def supplier(self) -> str:
        """Whose part."""
        ...

    @property
    def part_no(self) -> str:
        """Which part."""
        ...

    def saying_first(self: Part, said: str) -> Part:
        """Return the row with more to say of why it stands there, before the rest."""
        ...


def beside_like_drives(connection: sqlite3.Connection, rows: Sequence[Part], asked: JobSheet) -> list[Part]:
    """Return an answer's rows with what happened to each on drives like the one asked about, and ranked by it.

    A part that failed there comes after every part of the answer that worked there; the others keep their places.
    ``asked`` need say no more than machine, engine, drive, accessories, ribs.
    """
    told = on_like_drives(connection, [(row.supplier, row.part_no) for row in rows], asked)

    def of(row: Part) -> LikeDrive:
        return told.get((row.supplier, row.part_no), LikeDrive())

    last = max((place for place, row in enumerate(rows) if of(row).worked and not of(row).fails), default=-1)
    sunk = [row for row in rows[: last + 1] if of(row).fails]
    ordered = [row for row in rows[: last + 1] if not of(row).fails] + sunk + list(rows[last + 1 :])
    return [row.saying_first(of(row).says) for row in ordered]


def on_like_drives(
    connection: sqlite3.Connection, parts: Sequence[tuple[str, str]], asked: JobSheet
) -> dict[tuple[str, str], LikeDrive]:
    """Return, of each (supplier, part number) with jobs on like drives, how those ended."""
    from kb.sheets.job_sheet import job_of_content
    from queries.job_candidates import sense_of
    from queries.likeness import WEIGHTS, likeness

    codes = {normalise_code(part_no) for _, part_no in parts}
    marks = ", ".join("?" * len(codes))
    rows = connection.execute(
        "SELECT DISTINCT content FROM job_part JOIN job ON job.number = job_number "
        f"JOIN job_revision ON job_revision.id = job.revision WHERE code IN ({marks}) AND outcome IS NOT NULL",
        tuple(codes),
    ).fetchall()
    jobs = [job_of_content(json.loads(content)) for (content,) in rows]
    sense = sense_of(connection, [asked, *jobs])
    weights = tuple(one for one in WEIGHTS if one.name in _OF_THE_DRIVE)
    near = [(score, job) for job in jobs if (score := likeness(asked, job, sense, weights)[0]) >= LIKE_DRIVE_FROM]
    near.sort(key=lambda one: (-one[0], one[1].id or ""))
    return {part: found for part in parts if (found := _ended(part, [job for _, job in near])) != LikeDrive()}


def _ended(part: tuple[str, str], jobs: Iterable[JobSheet]) -> LikeDrive:
    supplier, part_no = part[0].casefold(), normalise_code(part[1])
    used = [
        job for job in jobs
        if any(normalise_code(one.part_no) == part_no and (one.supplier or supplier).casefold() == supplier
               for one in job.parts)
    ]  # fmt: skip
    failed = [job for job in used if job.outcome == "did not work"]
    return LikeDrive(
        tuple(job.id or "" for job in used if job.outcome != "did not work"),
        tuple(job.id or "" for job in failed),
        tuple(dict.fromkeys(one.trouble for job in failed for one in job.troubles if one.trouble)),
    )


def asked_drive(connection: sqlite3.Connection, named: str) -> JobSheet:
    """Return what a job's id or a drive's name on the shelf says of a drive. Raises :class:`~kb.errors.AnswerError`."""
    from kb.sheets.job_sheet import JobSheet, job_of_content

    row = connection.execute(
        "SELECT content FROM job JOIN job_revision ON job_revision.id = job.revision WHERE job.id = ?", (named,)
    ).fetchone()
    if row is not None:
        return job_of_content(json.loads(row[0]))
    drive = connection.execute("SELECT id, name, profile, ribs FROM drive WHERE name = ?", (named,)).fetchone()
    if drive is None:
        raise AnswerError(
            f"there is no job and no drive {named!r} on the shelf.",
            do="Name a job's id (`bayshelf jobs` lists them) or a drive that was loaded.",
        )
    like = connection.execute(
        "SELECT content FROM job JOIN job_revision ON job_revision.id = job.revision WHERE job.drive = ? "
        "ORDER BY opened_on DESC, job.id LIMIT 1",
        (drive["name"],),
    ).fetchone()
    known = job_of_content(json.loads(like[0])) if like else JobSheet(None, "")
    return replace(known, id=None, drive=drive["name"], profile=drive["profile"], ribs=drive["ribs"])
