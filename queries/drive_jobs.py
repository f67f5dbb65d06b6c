"""The jobs that were done on a drive, found by the name that they gave it."""

from __future__ import annotations

import sqlite3

from kb.errors import AnswerError


def jobs_on_drive(connection: sqlite3.Connection, name: str) -> list[int]:
    """Return the numbers of the jobs on the drive of that name, the newest first; capitals and spacing do not count.

    Empty where the drive is on the shelf and no job was done on it. Raises :class:`~kb.errors.AnswerError` where neither
    a drive nor a job has that name.
    """
    asked = _folded(name)
    named = [row[0] for row in connection.execute("SELECT DISTINCT drive FROM job WHERE drive IS NOT NULL")]
    # Folded here, not in SQL: SQLite folds only the letters of ASCII.
    spellings = [one for one in named if _folded(one) == asked]
    if not spellings:
        drives = [row[0] for row in connection.execute("SELECT name FROM drive ORDER BY name")]
        if any(_folded(one) == asked for one in drives):
            return []
        known = sorted({*drives, *named})[:20]
        do = f"There are: {'; '.join(known)}." if known else "Load a drive sheet (.toml), or name the drive in a job."
        raise AnswerError(f"neither a drive nor a job's drive is called {name!r}.", do=do)
    marks = ", ".join("?" * len(spellings))
    rows = connection.execute(
        f"SELECT number FROM job WHERE drive IN ({marks}) ORDER BY opened_on DESC, id", tuple(spellings)
    )
    return [int(number) for (number,) in rows]


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()
