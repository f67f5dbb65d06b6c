"""The shelf's file: open it to read, open it to write, bring it up to date, look whether it is whole."""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from kb.errors import BusyShelfError, NewerShelfError, NoShelfError, NotAShelfError, ShelfError

SCHEMA_VERSION = 5
"""The number of migration steps of this version: a test holds it against :mod:`kb.migrations`."""

APPLICATION_ID = 0x62617973
"""Marks the file as a shelf (the bytes spell "bays")."""

BUSY_S = 30.0
"""How long to wait for another process that is writing."""

_SMALLEST_PAGE = 512
"""Bytes: https://www.sqlite.org/fileformat.html, section 1.3.2."""


def default_path() -> Path:
    """Return where the shelf is: ``BAYSHELF_SHELF``, else ``shelf.db`` in the application's own folder."""
    named = os.environ.get("BAYSHELF_SHELF")
    if named:
        return Path(named)
    import click

    return Path(click.get_app_dir("bayshelf")) / "shelf.db"


def new_id() -> str:
    """Make an id that no other copy of the shelf will make: the time, then chance."""
    return f"{datetime.now(UTC):%Y%m%dT%H%M%S}-{secrets.token_hex(5)}"


def now() -> str:
    """Return the time, UTC, ISO 8601 to the second."""
    return f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}"


def open_to_read(path: Path, *, any_thread: bool = False) -> sqlite3.Connection:
    """Open the shelf read-only, rows by column name; ``any_thread`` for a server that moves it between threads.

    A shelf from an older version is brought up to date first. Raises :class:`NoShelfError`,
    :class:`NotAShelfError`, :class:`NewerShelfError` or :class:`ShelfError`.
    """
    must_exist(path)
    try:
        connection = _connect_read_only(path, any_thread)
        version = _version(connection, path)
    except sqlite3.OperationalError:
        _refuse_out_of_reach(path)
        # A writer was killed and left its journal: only a connection that may write can roll it back.
        open_to_write(path).close()
        connection = _connect_read_only(path, any_thread)
        version = _version(connection, path)
    if version < SCHEMA_VERSION:
        is_published = published_at(connection) is not None
        connection.close()
        if is_published:
            raise ShelfError(
                "an older bayshelf published this copy.", where=str(path), do="Publish it again with this version."
            )
        open_to_write(path).close()
        connection = _connect_read_only(path, any_thread)
    return connection


def open_to_write(path: Path) -> sqlite3.Connection:
    """Open the shelf for writing, and make it or bring it up to date where needed; transactions are the caller's.

    Raises :class:`NotAShelfError`, :class:`NewerShelfError`, :class:`BusyShelfError` or :class:`ShelfError`.
    """
    if path.is_dir():
        raise NotAShelfError("that is a folder.", where=str(path), do="Name a file, such as shelf.db.")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _no_scrap(path)
        connection = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)
        try:
            connection.row_factory = sqlite3.Row
            connection.execute("PRAGMA foreign_keys = ON")
            version = _version(connection, path)
            if published_at(connection) is not None:
                raise ShelfError(
                    "this is a published copy: it is only read.",
                    where=str(path),
                    do="Write to a bay's own shelf and publish that again; `merge` makes one of this copy.",
                )
            if version < SCHEMA_VERSION:
                _bring_up_to_date(connection, path)
            connection.execute("PRAGMA cache_size = -65536")  # 64 MiB: a load's indexes stay in memory while they grow
        except BaseException:
            connection.close()
            raise
    except (OSError, sqlite3.OperationalError) as error:
        raise in_words_of_sqlite(error, path) from error
    return connection


@contextmanager
def writing(path: Path) -> Iterator[sqlite3.Connection]:
    """Open the shelf, hold one transaction over the block, and close: all of it is stored, or none of it.

    A new shelf is filled under a rollback journal, which writes each page once, and put into WAL mode afterwards,
    so that readers and a writer do not wait for each other.
    """
    connection = open_to_write(path)
    try:
        with transaction(connection, path):
            yield connection
        share(connection)
    finally:
        connection.close()


def share(connection: sqlite3.Connection) -> None:
    """Put the shelf into WAL mode; where others have it open just now, the next who writes does it."""
    with suppress(sqlite3.OperationalError):
        connection.execute("PRAGMA journal_mode = WAL")


@contextmanager
def transaction(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    """Hold the shelf's one write transaction over the block."""
    try:
        connection.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        raise in_words_of_sqlite(error, path) from error
    try:
        yield
        connection.execute("COMMIT")
    except BaseException as error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        if isinstance(error, sqlite3.DatabaseError) and not isinstance(
            error, (sqlite3.IntegrityError, sqlite3.ProgrammingError)
        ):
            raise in_words_of_sqlite(error, path) from error
        raise


def check(path: Path) -> list[str]:
    """Look whether the shelf is whole; return what is wrong in sentences, nothing if all is well."""
    must_exist(path)
    try:
        connection = open_to_read(path)
    except sqlite3.OperationalError as error:
        raise in_words_of_sqlite(error, path) from error
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        return [f"The file cannot be read: {error}."]
    try:
        return what_is_wrong(connection)
    finally:
        connection.close()


def what_is_wrong(connection: sqlite3.Connection) -> list[str]:
    """Look through an open shelf; return what is wrong in sentences."""
    found = []
    try:
        for (text,) in connection.execute("PRAGMA integrity_check(20)"):
            if text != "ok":
                found.append(f"Damaged: {text}.")
        for row in connection.execute("PRAGMA foreign_key_check"):
            found.append(f"Table {row[0]}, row {row[1]}: it points at a row of {row[2]} that is not there.")
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if "I/O" in str(error):  # the disk's fault, not the file's
            raise
        found.append(f"Reading stopped: {error}.")
    return found


def copy_to(path: Path, target: Path) -> None:
    """Copy a shelf as it stands at one moment, brought up to date and looked through; the shelf itself is only read.

    Raises :class:`NoShelfError`, :class:`NotAShelfError` (damage too), :class:`NewerShelfError` or :class:`ShelfError`.
    """
    must_exist(path)
    try:
        source = _connect_read_only(path)
    except sqlite3.OperationalError as error:
        raise ShelfError(
            f"the shelf cannot be read just now ({error}).",
            where=str(path),
            do="If a program that wrote it was stopped, `bayshelf check` on that shelf mends it.",
        ) from error
    copy = sqlite3.connect(target, isolation_level=None)
    try:
        _version(source, path)
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")
        wrong = what_is_wrong(copy)
        if wrong:
            raise NotAShelfError(f"the shelf is not whole. {wrong[0]}", where=str(path), do="Take another copy of it.")
        if _version(copy, path) < SCHEMA_VERSION:
            _bring_up_to_date(copy, target)
    except sqlite3.OperationalError as error:
        raise in_words_of_sqlite(error, path) from error
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        raise NotAShelfError(f"the shelf is damaged ({error}).", where=str(path), do="Take another copy.") from error
    finally:
        source.close()
        copy.close()


def published_at(connection: sqlite3.Connection) -> str | None:
    """Return when a published copy was made, and nothing for a working shelf."""
    if connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'publication'").fetchone() is None:
        return None
    row = connection.execute("SELECT published_at FROM publication").fetchone()
    return str(row[0]) if row else None


def must_exist(path: Path) -> None:
    """Refuse a folder, nothing at all, and a file that is too small for any shelf, in words."""
    if path.is_dir():
        raise NotAShelfError("that is a folder.", where=str(path), do="Name the shelf's file.")
    if not path.exists() or path.stat().st_size == 0:
        raise NoShelfError(
            "there is no shelf here yet.",
            where=str(path),
            do="Load a sheet with `bayshelf load`, try `bayshelf demo`, or name another file with --shelf.",
        )
    _no_scrap(path)


def _no_scrap(path: Path) -> None:
    """SQLite takes a file below its smallest page for an empty one, and would write over a short letter."""
    if path.is_file() and 0 < path.stat().st_size < _SMALLEST_PAGE:
        raise NotAShelfError(
            "this file is not a shelf, or it is damaged (it is too short).",
            where=str(path),
            do="Name the right file with --shelf.",
        )


def _refuse_out_of_reach(path: Path) -> None:
    """Say what to do where changes wait in a write-ahead log, in a folder that cannot be written."""
    waiting = Path(f"{path}-wal")
    if waiting.exists() and not os.access(path.parent, os.W_OK):
        raise ShelfError(
            f"changes are still waiting in {waiting.name}, and this folder cannot be written, so they cannot be read.",
            where=str(path),
            do=f"Copy {path.name} and {waiting.name} together into a folder of your own, and name that copy with --shelf.",
        )


def _connect_read_only(path: Path, any_thread: bool = False) -> sqlite3.Connection:
    address = path.resolve().as_uri()
    connection = sqlite3.connect(
        f"{address}?mode=ro", uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=not any_thread
    )
    try:
        connection.execute("SELECT 1 FROM sqlite_master LIMIT 1")
    except sqlite3.OperationalError:
        connection.close()
        if Path(f"{path}-wal").exists() or os.access(path.parent, os.W_OK):
            raise
        # A WAL shelf in a folder that cannot be written, with nothing pending: it cannot change under us.
        connection = sqlite3.connect(
            f"{address}?immutable=1", uri=True, isolation_level=None, check_same_thread=not any_thread
        )
    except (sqlite3.DatabaseError, UnicodeDecodeError):  # sqlite3 decodes what SQLite says of the damage
        connection.close()
        raise NotAShelfError(
            "this file is not a shelf, or it is damaged.", where=str(path), do="Look with `bayshelf check`."
        ) from None
    connection.execute("PRAGMA cache_size = -16384")  # 16 MiB at most: what one look-up read helps the next one
    connection.row_factory = sqlite3.Row
    return connection


def _version(connection: sqlite3.Connection, path: Path) -> int:
    try:
        version = int(connection.execute("PRAGMA user_version").fetchone()[0])
        mark = connection.execute("PRAGMA application_id").fetchone()[0]
        holds_something = connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone()
    except sqlite3.OperationalError:
        raise
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        raise NotAShelfError(
            f"this file is not a shelf, or it is damaged ({error}).",
            where=str(path),
            do="Name the right file with --shelf.",
        ) from error
    if mark != APPLICATION_ID and (holds_something or version):
        raise NotAShelfError(
            "this is some other program's database.", where=str(path), do="Name another file with --shelf."
        )
    if version > SCHEMA_VERSION:
        raise NewerShelfError(
            f"a newer bayshelf wrote this shelf (its schema is {version}, this version knows {SCHEMA_VERSION}).",
            where=str(path),
            do="Update bayshelf; nothing was changed.",
        )
    return version


def _bring_up_to_date(connection: sqlite3.Connection, path: Path) -> None:
    # Two first openers: the second waits here, then finds the work done.
    with transaction(connection, path):
        if _version(connection, path) == SCHEMA_VERSION:
            return
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        if connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone() is None:
            from kb.new_shelf import lay_out

            lay_out(connection)
            return
        from kb.migrations import migrate, unknown_steps

        if unknown_steps(connection):
            raise NewerShelfError("a newer bayshelf wrote this shelf.", where=str(path), do="Update bayshelf.")
        migrate(connection)
    connection.row_factory = sqlite3.Row


def in_words_of_sqlite(error: Exception, path: Path) -> ShelfError:
    """Return what SQLite or the system said of the shelf's file as a user can use it."""
    text = str(error)
    if "locked" in text or "busy" in text:
        return BusyShelfError(
            f"another process has been writing for more than {BUSY_S:.0f} s.",
            where=str(path),
            do="Try again when it is done; nothing was changed.",
        )
    if "full" in text:
        return ShelfError("the disk is full.", where=str(path), do="Make room and try again; nothing was changed.")
    if "readonly" in text or "read-only" in text or "unable to open" in text or isinstance(error, PermissionError):
        return ShelfError("the shelf cannot be written there.", where=str(path), do="Look at the folder's permissions.")
    if "I/O" in text:
        return ShelfError(
            f"the disk failed ({text}).",
            where=str(path),
            do="Look at the disk and the room on it, then with `bayshelf check`, and try again.",
        )
    if "malformed" in text or "not a database" in text or "decode to UTF-8" in text or "vtable" in text:
        return damaged(path, text)
    return ShelfError(f"the shelf could not be used ({text}).", where=str(path), do="Look with `bayshelf check`.")


def damaged(path: Path, found: str) -> NotAShelfError:
    """Return the error that a damaged shelf is told by."""
    return NotAShelfError(
        f"the shelf is damaged ({found.rstrip('.')}).",
        where=str(path),
        do="`bayshelf check` says what still reads; `bayshelf check --save-to NEW.db` carries that over into a new shelf.",
    )
