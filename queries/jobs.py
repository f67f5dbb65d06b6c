"""Past jobs: by words, by likeness to another one, and one of them with everything known."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass, field, replace

from kb.conflicts import versions
from kb.errors import AnswerError
from kb.sheets.job_sheet import JobSheet, job_of_content
from queries.answers import Answer
from queries.company import raised
from queries.drive_jobs import jobs_on_drive
from queries.history import troubles
from queries.job_candidates import COMPARED, candidates, jobs_of, sense_of
from queries.likeness import likeness
from queries.text_index import search


@dataclass(frozen=True, slots=True)
class JobQuestion:
    """Words, or another job to be like: its id, or a job sheet that was read. A path is never taken: pages ask too.

    ``drive`` keeps to the jobs on the drive of that name.
    """

    text: str | None = None
    like: str | JobSheet | None = None
    outcome: str | None = None
    limit: int = 10
    drive: str | None = None


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job; ``likeness`` 0 to 100, ``because`` in words."""

    id: str
    title: str
    bay: str | None
    opened_on: str | None
    outcome: str | None
    likeness: float
    because: tuple[str, ...]
    parts: list[dict[str, object]] = field(default_factory=list)
    troubles: list[dict[str, object]] = field(default_factory=list)
    conflict: list[str] = field(default_factory=list)
    """The revisions that two bays made of it apart, while nobody has settled which holds; else empty."""

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {**{name: getattr(self, name) for name in self.__slots__}, "because": list(self.because)}


def ask_jobs(connection: sqlite3.Connection, question: JobQuestion) -> Answer[JobRow]:
    """Find jobs, likest first; without a question the newest. What two bays changed apart is said in a note.

    Raises :class:`~kb.errors.AnswerError` for a job or a drive that there is not.
    """
    answer = _ask(connection, question)
    apart = tuple(
        f"Job {row.id} was changed in two bays, and its newest version is shown: `bayshelf settle {row.id}` shows both."
        for row in answer.rows
        if row.conflict
    )
    return replace(answer, notes=(*answer.notes, *apart)) if apart else answer


def _ask(connection: sqlite3.Connection, question: JobQuestion) -> Answer[JobRow]:
    on_drive = jobs_on_drive(connection, question.drive) if question.drive else None
    if question.like:
        return _like(connection, question, on_drive)
    if question.text:
        hits = search(connection, question.text, COMPARED, ("job",))
        found = {hit.row_id: (hit.score, (hit.why,)) for hit in hits}
        understood = f"jobs like {question.text!r}"
    elif on_drive is not None:
        found = dict.fromkeys(on_drive, (100.0, ("done on this drive",)))
        understood = "jobs"
    else:
        newest = connection.execute("SELECT number FROM job ORDER BY opened_on DESC, id LIMIT ?", (COMPARED,))
        found = {number: (100.0, ("the newest",)) for (number,) in newest}
        understood = "the newest jobs"
    rows = [
        _row(connection, number, score, why)
        for number, (score, why) in found.items()
        if on_drive is None or number in on_drive
    ]
    return Answer(_with_outcome(rows, question), understood=understood + _on(question))


def _on(question: JobQuestion) -> str:
    return f" on the drive {question.drive!r}" if question.drive else ""


def _with_outcome(rows: list[JobRow], question: JobQuestion) -> list[JobRow]:
    kept = [row for row in rows if question.outcome is None or row.outcome == question.outcome]
    return kept[: question.limit]


def _like(connection: sqlite3.Connection, question: JobQuestion, on_drive: list[int] | None) -> Answer[JobRow]:
    asked = question.like if isinstance(question.like, JobSheet) else job_sheet(connection, str(question.like))
    if asked is None:
        raise AnswerError(
            f"there is no job {question.like!r} on the shelf.",
            do="Name a job's id (`bayshelf jobs` lists them) or a job sheet (.toml).",
        )
    found = alike(connection, asked, on_drive)
    kept = [one for one in found if question.outcome is None or one[2].outcome == question.outcome][: question.limit]
    rows = [_row(connection, number, round(score, 1), because) for score, number, _, because in kept]
    return Answer(rows, understood=f"jobs like {asked.id or asked.title}: {asked.title}{_on(question)}")


Alike = tuple[float, int, JobSheet, tuple[str, ...]]
"""A job found: how alike 0 to 100, its number on this shelf, the job, why."""


def alike(connection: sqlite3.Connection, asked: JobSheet, numbers: list[int] | None = None) -> list[Alike]:
    """Return the jobs that are worth comparing with one, itself left out, the likest first; of ``numbers``, if given."""
    worth = candidates(connection, asked) if numbers is None else jobs_of(connection, numbers)
    others = [(number, job) for number, job in worth if asked.id is None or job.id != asked.id]
    sense = sense_of(connection, [asked, *(job for _, job in others)])
    direct = sorted(
        ((*likeness(asked, job, sense), number, job) for number, job in others),
        key=lambda one: (-one[0], one[3].opened_on or "", one[3].id or ""),
    )

    def between(one: int, other: int) -> float:
        return likeness(direct[one][3], direct[other][3], sense)[0] / 100.0

    scores = raised([one[0] / 100.0 for one in direct], between)
    found = [
        (100.0 * score, number, job, because) for score, (_, because, number, job) in zip(scores, direct, strict=True)
    ]
    return sorted(found, key=lambda one: -one[0])


def _row(connection: sqlite3.Connection, number: int, score: float, because: tuple[str, ...]) -> JobRow:
    job = connection.execute(
        "SELECT id, title, bay, opened_on, outcome FROM job WHERE number = ?", (number,)
    ).fetchone()
    return JobRow(
        job["id"], job["title"], job["bay"], job["opened_on"], job["outcome"], round(score, 1), because,
        _parts(connection, number), troubles(connection, number), [one.revision for one in versions(connection, job["id"])],
    )  # fmt: skip


def _parts(connection: sqlite3.Connection, number: int) -> list[dict[str, object]]:
    rows = connection.execute(
        "SELECT supplier, part_no, quantity, ordered_by, note FROM job_part WHERE job_number = ? ORDER BY position",
        (number,),
    )
    return [dict(row) for row in rows]


def job_sheet(connection: sqlite3.Connection, key: str | int) -> JobSheet | None:
    """Return a stored job by its id, or by its number on this shelf, without its private fields."""
    column = "number" if isinstance(key, int) else "id"
    row = connection.execute(
        f"SELECT content FROM job JOIN job_revision ON job_revision.id = job.revision WHERE job.{column} = ?", (key,)
    ).fetchone()
    return None if row is None else job_of_content(json.loads(row[0]))


def ask_job(connection: sqlite3.Connection, job_id: str) -> dict[str, object] | None:
    """Return one job with everything known but its private fields, or ``None``."""
    job = connection.execute(
        "SELECT job.*, load.sheet, loaded_at FROM job JOIN load ON load.number = load_number WHERE job.id = ?",
        (job_id,),
    ).fetchone()
    if job is None:
        return None
    measured = connection.execute(
        "SELECT name, unit, as_found_written AS as_found, as_left_written AS as_left FROM job_measurement "
        "WHERE job_number = ? ORDER BY position",
        (job["number"],),
    )
    names = (
        "id", "title", "opened_on", "closed_on", "bay", "machine", "engine", "work", "outcome", "notes", "profile",
        "ribs", "belt_length_mm", "drive",
    )  # fmt: skip
    return {
        **{name: job[name] for name in names},
        "accessories": json.loads(job["accessories"] or "[]"),
        "parts": _parts(connection, job["number"]),
        "troubles": troubles(connection, job["number"]),
        "measurements": [dict(row) for row in measured],
        "versions": versions(connection, job_id),
        "load": {"sheet": job["sheet"], "row": job["row_number"], "loaded_at": job["loaded_at"]},
    }
