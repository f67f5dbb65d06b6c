"""What still reads of a damaged shelf, kind by kind, and how it is carried over into a new one.

A damaged page takes its own rows with it and no others: the rows are read from both ends, and one by one where reading
stopped. The search is made anew. Nothing is written to the damaged file.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.errors import NewerShelfError, NotAShelfError, ShelfError
from kb.new_shelf import STEPS
from kb.search_index import rebuild
from kb.shelf import must_exist, now, open_to_write, share, transaction, what_is_wrong

LEFT = ("search_", "sqlite_", "_sqlite_")
"""Tables made from the rows, or by SQLite."""

_ONE_BY_ONE = 2_000_000
"""The largest gap of row numbers in which each is tried by itself."""

Row = dict[str, Any]


@dataclass(slots=True)
class Saved:
    """What reads of a table: rows that do, and the places where reading stopped; rows the new shelf's rules refuse."""

    table: str
    rows: int = 0
    stops: int = 0
    refused: int = 0

    def __str__(self) -> str:
        told = f"{self.table}: {self.rows:,} rows"
        told += ", and some that cannot be read" if self.stops else ""
        return told + (f"; {self.refused:,} are damaged and were left" if self.refused else "")


def what_reads(path: Path) -> list[Saved]:
    """Read everything that still reads; return what that is, table by table. Empty where the file cannot be opened."""
    try:
        with closing(_opened(path)) as connection:
            found = []
            for table in _tables(connection):
                saved = Saved(table)
                for _ in _rows(connection, table, saved):
                    saved.rows += 1
                found.append(saved)
            return found
    except (sqlite3.DatabaseError, UnicodeDecodeError):
        return []


def carry_over(path: Path, target: Path) -> list[Saved]:
    """Carry what still reads of a shelf over into a new one at ``target``; return what that is, table by table.

    Rows whose load, supplier, drive or job is lost: parts keep a load that says so, lists without their job or drive are
    left. Raises :class:`~kb.errors.ShelfError` where there is something at ``target``, or nothing can be read.
    """
    must_exist(path)
    if target.exists():
        raise ShelfError("there is something already.", where=str(target), do="Name a file that is not there yet.")
    try:
        with closing(_opened(path)) as connection:
            names = _tables(connection)
            if not {"supplier", "load", "job"} <= set(names):
                raise NotAShelfError(
                    "this is some other program's database, or nothing of it reads.",
                    where=str(path),
                    do="Name another file with --shelf, or take the newest copy that is whole.",
                )
            _refuse_newer(connection, path)
            return _into(target, connection, names)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        raise NotAShelfError(
            f"this file is not a shelf, or nothing of it can be read ({error}).",
            where=str(path),
            do="Take the newest copy that is whole.",
        ) from error


def _refuse_newer(connection: sqlite3.Connection, path: Path) -> None:
    """By the book of steps: the schema's number may be what was damaged."""
    steps = {name for (name,) in connection.execute("SELECT name FROM _sqlite_migrations")}
    if steps - set(STEPS):
        raise NewerShelfError("a newer bayshelf wrote this shelf.", where=str(path), do="Update bayshelf.")


def _into(target: Path, source: sqlite3.Connection, names: list[str]) -> list[Saved]:
    new = open_to_write(target)
    try:
        new.execute("PRAGMA foreign_keys = OFF")
        with transaction(new, target):
            saved = [_carried(source, new, table) for table in _tables(new) if table in names]
            _mend_references(new)
            rebuild(new)
            wrong = what_is_wrong(new)
            if wrong:
                raise ShelfError(f"what was carried over does not fit together. {wrong[0]}", where=str(target))
        share(new)
        return saved
    finally:
        new.close()


def _opened(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, isolation_level=None)
    connection.row_factory = sqlite3.Row
    connection.text_factory = lambda data: data.decode("utf-8", errors="replace")
    return connection


def _tables(connection: sqlite3.Connection) -> list[str]:
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY rowid")
    return [name for (name,) in rows if not name.startswith(LEFT) and "_fts" not in name and name != "publication"]


def _carried(source: sqlite3.Connection, new: sqlite3.Connection, table: str) -> Saved:
    saved = Saved(table)
    known = {row["name"] for row in new.execute(f"PRAGMA table_info({table})")}
    for row in _rows(source, table, saved):
        kept = {name: value for name, value in row.items() if name in known}
        try:
            new.execute(
                f"INSERT INTO {table} ({', '.join(kept)}) VALUES ({', '.join('?' * len(kept))})", tuple(kept.values())
            )
            saved.rows += 1
        except (sqlite3.IntegrityError, sqlite3.InterfaceError, OverflowError):
            saved.refused += 1
    return saved


# Reading what reads -------------------------------------------------------------------------------------------------


def _rows(connection: sqlite3.Connection, table: str, saved: Saved) -> Iterator[Row]:
    """Yield the rows that read, each once: from the first on, from the last back, then one by one in between."""
    key = _key(connection, table)
    names = ", ".join(key)
    met: set[tuple[Any, ...]] = set()
    ends: list[tuple[Any, ...] | None] = []
    for order in ("ASC", "DESC"):
        back = ", ".join(f"{name} {order}" for name in key)
        last: tuple[Any, ...] | None = None
        try:
            for row in connection.execute(f"SELECT {'rowid, ' * (names == 'rowid')}* FROM {table} ORDER BY {back}"):
                last = tuple(row[name] for name in key)
                if last not in met:
                    met.add(last)
                    yield _plain(row, key)
        except sqlite3.DatabaseError:
            saved.stops += 1
            ends.append(last)
            continue
        return
    yield from _between(connection, table, key, ends, met)


def _key(connection: sqlite3.Connection, table: str) -> list[str]:
    columns = connection.execute(f"PRAGMA table_info({table})").fetchall()
    key = [row["name"] for row in sorted(columns, key=lambda row: int(row["pk"])) if row["pk"]]
    return key or ["rowid"]


def _plain(row: sqlite3.Row, key: list[str]) -> Row:
    return {name: row[name] for name in row.keys() if name != "rowid" or key != ["rowid"]}  # noqa: SIM118 # a Row is no dict


def _between(
    connection: sqlite3.Connection,
    table: str,
    key: list[str],
    ends: list[tuple[Any, ...] | None],
    met: set[tuple[Any, ...]],
) -> Iterator[Row]:
    """Yield the rows between the two places where reading stopped, each asked for by itself."""
    for first in _candidates(connection, table, key, ends):
        try:
            for row in connection.execute(
                f"SELECT {'rowid, ' * (key == ['rowid'])}* FROM {table} WHERE {key[0]} = ?", (first,)
            ):
                whole = tuple(row[name] for name in key)
                if whole not in met:
                    met.add(whole)
                    yield _plain(row, key)
        except sqlite3.DatabaseError:
            continue


def _candidates(
    connection: sqlite3.Connection, table: str, key: list[str], ends: list[tuple[Any, ...] | None]
) -> Iterator[Any]:
    if table == "job_revision":  # its key is text: an index beside it knows which there are
        for query in (f"SELECT id FROM {table} INDEXED BY job_revision_job", "SELECT revision FROM job"):
            try:
                yield from [one for (one,) in connection.execute(query)]
            except sqlite3.DatabaseError:
                continue
        return
    low, high = (0 if end is None else end[0] for end in ends)
    if ends[1] is None or not isinstance(high, int):
        high = _highest(connection, table)
    low = low if isinstance(low, int) else 0
    if high - low <= _ONE_BY_ONE:
        yield from range(low, high + 1)


def _highest(connection: sqlite3.Connection, table: str) -> int:
    """How far row numbers may go where the last row cannot be read: as far as any table's do."""
    highest = 1000
    for other in ("load", "job", "drive", "line", "belt", table):
        try:
            highest = max(highest, int(connection.execute(f"SELECT count(*) FROM {other}").fetchone()[0]) * 2)
        except sqlite3.DatabaseError:
            continue
    return highest


# Making it fit together ---------------------------------------------------------------------------------------------


def _mend_references(new: sqlite3.Connection) -> None:
    """Give rows whose load or supplier is lost one that says so; take out what belonged to a lost job or drive."""
    for _ in range(4):  # what is taken out can be what another row pointed at
        lost = new.execute("PRAGMA foreign_key_check").fetchall()
        if not lost:
            return
        for table, rowid, parent, number in lost:
            column = new.execute(f"PRAGMA foreign_key_list({table})").fetchall()[_place(new, table, number)]["from"]
            if parent in ("load", "supplier"):
                _stand_in(new, table, column, parent)
            elif rowid is None:
                target = "id" if parent in ("drive", "job_revision") else "number"
                new.execute(f"DELETE FROM {table} WHERE {column} NOT IN (SELECT {target} FROM {parent})")
            else:
                new.execute(f"DELETE FROM {table} WHERE rowid = ?", (rowid,))


def _place(new: sqlite3.Connection, table: str, number: int) -> int:
    rows = new.execute(f"PRAGMA foreign_key_list({table})").fetchall()
    return next(place for place, row in enumerate(rows) if row["id"] == number)


def _stand_in(new: sqlite3.Connection, table: str, column: str, parent: str) -> None:
    target = "number" if parent == "load" else "id"
    missing = new.execute(
        f"SELECT DISTINCT {column} FROM {table} WHERE {column} NOT IN (SELECT {target} FROM {parent})"
    ).fetchall()
    for (lost,) in missing:
        if parent == "load":
            new.execute(
                "INSERT INTO load (number, id, kind, sheet, digest, settings, loaded_at, notes) "
                "VALUES (?, ?, ?, 'lost with the damaged shelf', '', '[]', ?, '[]')",
                (lost, f"lost-{lost}-{now()}", table, now()),
            )
        else:
            new.execute("INSERT INTO supplier (id, name) VALUES (?, ?)", (lost, f"lost supplier {lost}"))
