"""How a shelf comes to today's schema, step by step, through sqlite-utils' migrations.

A step, once landed, never changes: a change of ``schema.sql`` comes with a new step here and its name in
:mod:`kb.new_shelf`, which lays out new shelves. Importing this module is slow (sqlite-utils brings pandas along), so
:mod:`kb.shelf` does so only when a shelf is behind.
"""

from __future__ import annotations

import sqlite3
from importlib.resources import files

from sqlite_utils import Database, Migrations

from kb import search_index
from kb.new_shelf import statements

MIGRATIONS = Migrations("bayshelf")


def _frozen(name: str) -> str:
    return (files("kb") / name).read_text(encoding="utf-8")


@MIGRATIONS()
def m001_first_shelf(db: Database) -> None:
    """Lay out the whole shelf."""
    for statement in statements(_frozen("schema_001.sql")):
        db.conn.execute(statement)


@MIGRATIONS()
def m002_job_revisions(db: Database) -> None:
    """Let revisions settle conflicts, and know which loads another shelf brought."""
    for statement in statements(_JOB_REVISIONS):
        db.conn.execute(statement)


_JOB_REVISIONS = """
ALTER TABLE load ADD COLUMN merged_from TEXT;
ALTER TABLE job_revision ADD COLUMN settles TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(settles));
ALTER TABLE job_revision ADD COLUMN row_number INTEGER NOT NULL DEFAULT 1;
ALTER TABLE job_revision ADD COLUMN written TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(written));
UPDATE job_revision SET row_number = job.row_number, written = job.written FROM job WHERE job.revision = job_revision.id;
CREATE TABLE job_conflict (
    job_number INTEGER NOT NULL REFERENCES job (number) ON DELETE CASCADE,
    revision TEXT NOT NULL REFERENCES job_revision (id),
    PRIMARY KEY (job_number, revision)
) STRICT, WITHOUT ROWID;
"""


@MIGRATIONS()
def m003_lines(db: Database) -> None:
    """Keep lines as drives are kept: the sheet as it was written, and what to look through."""
    for statement in statements(_LINES):
        db.conn.execute(statement)


_LINES = """
CREATE TABLE line (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''),
    machine TEXT,
    service TEXT,
    hose_inside_mm REAL CHECK (hose_inside_mm > 0),
    hose_outside_mm REAL CHECK (hose_outside_mm > 0),
    min_bend_radius_mm REAL CHECK (min_bend_radius_mm > 0),
    old_length_mm REAL CHECK (old_length_mm > 0),
    quantity INTEGER NOT NULL DEFAULT 1 CHECK (quantity > 0),
    -- the sheet itself, as it was written: the line commands and pages work from it
    sheet_text TEXT NOT NULL,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX line_load ON line (load_number);
"""


@MIGRATIONS()
def m004_forgiving_search(db: Database) -> None:
    """Search more of each kind's words, and find part numbers and words in spite of slips.

    Versions that wrote the third schema made tables of these names themselves when they first indexed a row, outside of
    any step: they hold nothing that is not made anew below.
    """
    for name in ("search_code", "search_word", "search_form", "search_shape"):
        db.conn.execute(f"DROP TABLE IF EXISTS {name}")
    for statement in statements(_frozen("schema_004.sql")):
        db.conn.execute(statement)


@MIGRATIONS()
def m005_checks_without_lists(db: Database) -> None:
    """Check the values of large tables' columns one by one, which loading is quicker with."""
    for statement in statements(_frozen("schema_005.sql")):
        db.conn.execute(statement)


def migrate(connection: sqlite3.Connection) -> None:
    """Bring the shelf to today's schema, in the caller's transaction."""
    database = Database(connection)
    MIGRATIONS.apply(database)
    steps = len(MIGRATIONS.applied(database))
    connection.execute(f"PRAGMA user_version = {steps}")
    if connection.execute("SELECT 1 FROM search_shape").fetchone() is None:
        search_index.rebuild(connection)


def unknown_steps(connection: sqlite3.Connection) -> list[str]:
    """Return the names of steps that a newer version took."""
    known = {step.name for step in MIGRATIONS._migrations}
    return [step.name for step in MIGRATIONS.applied(Database(connection)) if step.name not in known]
