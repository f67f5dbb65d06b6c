"""Which jobs are worth comparing in full with one that is asked about, and what the shelf's words tell."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterable, Iterator

from kb.sheets.job_sheet import JobSheet, job_of_content
from kb.spelling import words_of
from kb.trade_words import meanings_of, spellings_of
from queries.drive_shape import shapes_of
from queries.likeness import Sense

COMPARED = 300
"""Jobs that are compared in full: those that share the rarest meanings."""

_MOST_TERMS = 60
_TELLS_LEAST = 0.25


class Telling(dict[str, float]):
    """How much each meaning tells on this shelf: ln(1 + jobs/jobs that say it), at least a quarter; looked up once each.

    The inverse document frequency of K. Spärck Jones (Journal of Documentation 28, 1972), smoothed; scaled so that a meaning
    which one job in ten uses weighs 1.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        super().__init__()
        self.connection = connection
        self.jobs = int(connection.execute("SELECT count(*) FROM job").fetchone()[0])

    def said_in(self, meaning: str) -> int:
        """Return in how many jobs a meaning is said, in any of its spellings; a misspelt one is not counted."""
        # What no table knows is the beginning of a word: bounc.
        more = "" if spellings_of(meaning) or len(meaning) < 4 or not meaning.isalpha() else "*"
        match = " OR ".join(sorted({_quoted(phrase) + more for phrase in _phrases(meaning)}))
        found = self.connection.execute("SELECT count(*) FROM job_fts WHERE job_fts MATCH ?", (match,))
        return min(int(found.fetchone()[0]), self.jobs)

    def get(self, meaning: str, default: float = 1.0) -> float:  # type: ignore[override] # always a number here
        """Return how much a meaning tells."""
        known = super().get(meaning)
        if known is None:
            rare = math.log(1 + self.jobs / max(self.said_in(meaning), 1)) if self.jobs >= 10 else math.log(11)
            known = self[meaning] = max(_TELLS_LEAST, rare / math.log(11))
        return known


def sense_of(connection: sqlite3.Connection, jobs: Iterable[JobSheet]) -> Sense:
    """Return what this shelf knows that helps to compare these jobs."""
    return Sense(Telling(connection), shapes_of(connection, {job.drive for job in jobs if job.drive}))


def candidates(connection: sqlite3.Connection, asked: JobSheet) -> list[tuple[int, JobSheet]]:
    """Return jobs worth comparing, each with its number on this shelf: all while they are few, else those found by words."""
    count = int(connection.execute("SELECT count(*) FROM job").fetchone()[0])
    if count <= COMPARED:
        rows = connection.execute(
            "SELECT number, content FROM job JOIN job_revision ON job_revision.id = job.revision ORDER BY number"
        )
        return [(number, job_of_content(json.loads(content))) for number, content in rows]
    match = _match(connection, asked)
    if not match:
        return []
    rows = connection.execute(
        "SELECT number, content FROM (SELECT rowid FROM job_fts WHERE job_fts MATCH ? ORDER BY rank LIMIT ?) AS found "
        "JOIN job ON job.number = found.rowid JOIN job_revision ON job_revision.id = job.revision",
        (match, COMPARED),
    )
    return [(number, job_of_content(json.loads(content))) for number, content in rows]


def jobs_of(connection: sqlite3.Connection, numbers: Iterable[int]) -> list[tuple[int, JobSheet]]:
    """Return the jobs of these numbers on this shelf, each with its number."""
    rows = connection.execute(
        "SELECT number, content FROM json_each(?) JOIN job ON job.number = value "
        "JOIN job_revision ON job_revision.id = job.revision",
        (json.dumps(list(numbers)),),
    )
    return [(number, job_of_content(json.loads(content))) for number, content in rows]


def _match(connection: sqlite3.Connection, asked: JobSheet) -> str:
    """Return the full-text question: every spelling of what the job speaks of, the most telling meanings first."""
    telling = Telling(connection)
    meanings = {meaning for text in _texts(asked) for meaning in meanings_of(text)}
    ordered = sorted(meanings, key=lambda meaning: (-telling.get(meaning), meaning))
    terms: dict[str, None] = {}
    for meaning in ordered:
        if len(terms) >= _MOST_TERMS:
            break
        for phrase in _phrases(meaning):
            terms.setdefault(_quoted(phrase))
    for text in (*(part.part_no for part in asked.parts), *_texts(asked)):
        # As it was written, too: part numbers, and words that no table knows.
        for word in words_of(text):
            if len(word) > 2 and len(terms) < 2 * _MOST_TERMS and word not in _COMMON:
                terms.setdefault(f'"{word}"')
    return " OR ".join(terms)


_COMMON = frozenset({"and", "the", "for", "was", "with", "out", "not", "too", "new", "from", "after"})


def _quoted(phrase: tuple[str, ...]) -> str:
    return '"' + " ".join(phrase) + '"'


def _phrases(meaning: str) -> Iterator[tuple[str, ...]]:
    spelt = spellings_of(meaning)
    yield from spelt
    words = tuple(words_of(meaning))
    if words and not spelt:
        yield words


def _texts(job: JobSheet) -> list[str]:
    said = [job.work, job.machine, job.engine, job.notes, job.drive, *job.accessories]
    said += [text for one in job.troubles for text in (one.trouble, one.remedy)]
    return [text for text in said if text]
