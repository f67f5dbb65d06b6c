"""Publishing: a compact copy for readers, made without the private tables and put in place in one step."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from kb.errors import BusyShelfError, NotAShelfError, ShelfError
from kb.fields import PARTS
from kb.scratch import scratch, sweep
from kb.search_index import rebuild
from kb.shelf import BUSY_S, new_id, now, open_to_read, open_to_write, published_at, what_is_wrong

PRIVATE = "private_"
"""Tables whose names begin so are never in a published copy."""

SEARCH = ("search_",)
"""Tables whose names begin so are made from the rows, with the word search."""

LEFT_EMPTY = {
    "refusal": "refused cells are quoted there, and a cell in the wrong column may be a price",
    "heading_choice": "only loading asks for it",
}
"""Other tables that a published copy has without rows, each with its reason."""


@dataclass(frozen=True, slots=True)
class Publication:
    """A copy that was put in place: where, when, how large, and what it holds."""

    file: str
    id: str
    published_at: str
    bytes: int
    parts: int
    jobs: int

    def as_json(self) -> dict[str, Any]:
        """Return the documented form."""
        return asdict(self)


def publish(shelf: Path, folder: Path, name: str | None = None) -> Publication:
    """Put a copy of the shelf into ``folder`` under ``name`` (else the shelf's own), without private tables.

    The copy is made outside the folder from one moment's state: public tables copied into a new file, the word search
    built anew, vacuumed, looked through, in DELETE mode. Then it takes the old copy's place in one step: a reader has the
    old one or the new one. Raises :class:`~kb.errors.ShelfError` or one of its kinds; then the folder is as it was.
    """
    if not folder.is_dir():
        raise ShelfError("there is no such folder.", where=str(folder), do="Make it, or mount it, and publish again.")
    target = folder / (name or shelf.name)
    if target.name != (name or shelf.name) or target.name in ("", ".", ".."):
        raise ShelfError("that is no name of a file.", where=str(name), do="Name a file, such as shelf.db.")
    source = open_to_read(shelf)
    try:
        if published_at(source) is not None:
            raise ShelfError(
                "this is a published copy itself.", where=str(shelf), do="Publish from the bay's own shelf."
            )
    finally:
        source.close()
    _may_be_replaced(target, shelf)
    with _beside(folder) as place:
        built = place / target.name
        identity, moment = new_id(), now()
        parts, jobs = _build(shelf, built, identity, moment)
        size = built.stat().st_size
        _may_be_replaced(target, shelf)
        _put(built, target)
    return Publication(str(target), identity, moment, size, parts, jobs)


def _may_be_replaced(target: Path, shelf: Path) -> None:
    """Only a published copy that nobody writes to is replaced."""
    if target.exists() and target.samefile(shelf):
        raise ShelfError("that is the shelf itself.", where=str(target), do="Publish into another folder.")
    for ending in ("-wal", "-journal"):
        beside = target.with_name(target.name + ending)
        if beside.exists():
            raise BusyShelfError(
                f"{beside.name} stands beside it: some program has this file open for writing.",
                where=str(target),
                do="Close that program, or publish into another folder; nothing was changed.",
            )
    if not target.exists() or (target.is_file() and target.stat().st_size == 0):
        return
    if not target.is_file() or not _is_published(target):
        raise ShelfError(
            "what stands there is no published copy, and is left alone.",
            where=str(target),
            do="Publish into another folder, or under another name with --name.",
        )


def _is_published(path: Path) -> bool:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    try:
        return published_at(connection) is not None
    except sqlite3.DatabaseError:
        return False
    finally:
        connection.close()


@contextmanager
def _beside(folder: Path) -> Iterator[Path]:
    """A place outside the folder, on the same disk where that can be: a file is moved in one step only within a disk."""
    parent = folder.resolve().parent
    same_disk = os.stat(parent).st_dev == os.stat(folder).st_dev and os.access(parent, os.W_OK)
    try:
        with scratch(".bayshelf-", parent if same_disk else None) as place:
            yield place
    except OSError as error:
        raise ShelfError(
            f"the copy could not be put there ({error.strerror}).",
            where=str(folder),
            do="Look at the folder's permissions and the room on its disk; the copy before is still there.",
        ) from error


def _build(shelf: Path, built: Path, identity: str, moment: str) -> tuple[int, int]:
    """Make the copy; return how many parts and jobs it holds."""
    open_to_write(built).close()
    connection = sqlite3.connect(built.resolve().as_uri(), uri=True, timeout=BUSY_S, isolation_level=None)
    connection.row_factory = sqlite3.Row
    try:
        connection.execute("PRAGMA foreign_keys = OFF")  # looked through as a whole, below
        connection.execute("PRAGMA synchronous = OFF")  # the file is synced before it is moved in
        connection.execute("ATTACH DATABASE ? AS working", (f"{shelf.resolve().as_uri()}?mode=ro",))
        connection.execute("BEGIN")
        counts = _fill(connection)
        connection.execute("CREATE TABLE publication (id TEXT NOT NULL, published_at TEXT NOT NULL) STRICT")
        connection.execute("INSERT INTO publication VALUES (?, ?)", (identity, moment))
        connection.execute("COMMIT")
        connection.execute("DETACH DATABASE working")
        connection.execute("VACUUM")
        connection.execute("PRAGMA journal_mode = DELETE")
        wrong = what_is_wrong(connection)
        if wrong:
            raise NotAShelfError(
                f"the copy is not whole, and was not published. {wrong[0]}",
                where=str(shelf),
                do="Look at the shelf with `bayshelf check`.",
            )
    except sqlite3.DatabaseError as error:
        raise ShelfError(
            f"the copy could not be made ({error}).",
            where=str(shelf),
            do="Look at the shelf with `bayshelf check`; the copy before is still there.",
        ) from error
    finally:
        connection.close()
    return counts


def _fill(connection: sqlite3.Connection) -> tuple[int, int]:
    """Copy every public table's rows, and build the word search anew; return how many parts and jobs there are."""
    kinds = {row["name"]: row["type"] for row in connection.execute("PRAGMA table_list") if row["schema"] == "main"}
    for name, kind in kinds.items():
        if kind != "table" or name.startswith(("sqlite_", "_sqlite_", *SEARCH)) or name in LEFT_EMPTY:
            continue
        if name.startswith(PRIVATE):
            connection.execute(f"DROP TABLE main.{name}")
            continue
        columns = ", ".join(row["name"] for row in connection.execute(f"PRAGMA main.table_info({name})"))
        connection.execute(f"INSERT INTO main.{name} ({columns}) SELECT {columns} FROM working.{name}")
    rebuild(connection)
    parts = sum(connection.execute(f"SELECT count(*) FROM main.{kind.name}").fetchone()[0] for kind in PARTS)
    return int(parts), int(connection.execute("SELECT count(*) FROM main.job").fetchone()[0])


def _put(built: Path, target: Path) -> None:
    """Move the copy to its place in one step, safely on the disk before it is seen."""
    if os.stat(built).st_dev != os.stat(target.parent).st_dev:
        # Another disk: carried over under a name that readers do not look for, then put in place.
        sweep(target.parent, f".{target.name}.*.part")
        near = target.with_name(f".{target.name}.{new_id()}.part")
        try:
            shutil.copyfile(built, near)
            _sync(near)
            os.replace(near, target)
        finally:
            near.unlink(missing_ok=True)
    else:
        _sync(built)
        os.replace(built, target)
    _sync(target.parent)


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
