"""Laying out a new shelf from ``schema.sql`` alone: as if every migration step had been taken, in a hundredth of the time."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib.resources import files

STEPS = ("m001_first_shelf", "m002_job_revisions", "m003_lines", "m004_forgiving_search")
"""The migration steps that ``schema.sql`` holds: a test compares them with :mod:`kb.migrations`."""

_BOOK_OF_STEPS = """
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
"""
"""The table in which sqlite-utils keeps what was migrated, as it makes it; a test compares the two."""


def schema_sql() -> str:
    """Return today's schema as written in ``schema.sql``."""
    return (files("kb") / "schema.sql").read_text(encoding="utf-8")


def statements(script: str) -> Iterator[str]:
    """Split a script into its statements: ``executescript`` would commit, and a half-made schema could remain."""
    gathered = ""
    for line in script.splitlines(keepends=True):
        gathered += line
        if sqlite3.complete_statement(gathered):
            yield gathered.strip()
            gathered = ""
    if gathered.strip():
        yield gathered.strip()


def lay_out(connection: sqlite3.Connection) -> None:
    """Lay out an empty file as a shelf of today's schema, in the caller's transaction.

    sqlite-utils, whose import brings pandas where that is installed, is left for shelves that have to be migrated.
    """
    for statement in statements(_BOOK_OF_STEPS + schema_sql()):
        connection.execute(statement)
    now = str(datetime.now(UTC))
    connection.executemany(
        "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES ('bayshelf', ?, ?)",
        [(step, now) for step in STEPS],
    )
    connection.execute(f"PRAGMA user_version = {len(STEPS)}")
