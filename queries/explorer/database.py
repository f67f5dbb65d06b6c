"""The shelf as Datasette sees it: read-only, private tables out of reach, a replaced file noticed at the next request."""

from __future__ import annotations

import asyncio
import os
import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from datasette.database import Database

from kb.errors import ShelfError
from kb.shelf import open_to_read

Answer = TypeVar("Answer")

PRIVATE = "private_"
"""Tables whose names begin so are not read by any page, not even by SQL typed in."""

_local = threading.local()


class ShelfDatabase(Database):  # type: ignore[misc] # Datasette publishes no types
    """One connection per thread, opened anew when another file stands at the shelf's path."""

    def __init__(self, datasette: Any, path: Path) -> None:
        super().__init__(datasette, path=str(path), is_mutable=True)
        self.name = "shelf"

    def connect(self, write: bool = False) -> sqlite3.Connection:
        """Open the shelf read-only; there is no way to write through the explorer."""
        if write:
            raise ShelfError("the explorer only reads.")
        connection = open_to_read(Path(self.path), any_thread=True)
        connection.set_authorizer(_authorize)
        return connection

    async def execute_fn(self, fn: Callable[[sqlite3.Connection], Answer]) -> Answer:
        """Run a function of a connection in one of Datasette's threads."""
        return await asyncio.get_running_loop().run_in_executor(self.ds.executor, self._in_thread, fn)

    def _in_thread(self, fn: Callable[[sqlite3.Connection], Answer]) -> Answer:
        there = os.stat(self.path)
        key = (self.path, there.st_dev, there.st_ino)
        if getattr(_local, "key", None) != key:
            old = getattr(_local, "connection", None)
            if old is not None:
                old.close()
            _local.key = None
            _local.connection = self.connect()
            self.ds._prepare_connection(_local.connection, self.name)
            _local.key = key
        return fn(_local.connection)


_READS_AS_NOTHING = frozenset({("pragma_database_list", "file"), ("private_refused_row", "load_number")})
"""Columns that read as nothing: where the shelf's file is; and which load a private row is of, which Datasette's own page
of a load counts, and which would otherwise refuse that page whole."""


def _authorize(action: int, first: str | None, second: str | None, database: str | None, trigger: str | None) -> int:
    if action == sqlite3.SQLITE_READ and (first, second) in _READS_AS_NOTHING:
        return sqlite3.SQLITE_IGNORE
    if action == sqlite3.SQLITE_READ and first is not None and first.lower().startswith(PRIVATE):
        return sqlite3.SQLITE_DENY
    if action in (sqlite3.SQLITE_ATTACH, sqlite3.SQLITE_DETACH):
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK
