"""Keeping the word index in step with the rows, in the caller's transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

_INDEXED = {"job": ("number", "title", "words")}


def _columns(kind: str) -> tuple[str, str, str]:
    return _INDEXED.get(kind, ("id", "part_no", "description"))


def add(connection: sqlite3.Connection, kind: str, first_id: int) -> None:
    """Index the rows of a kind from ``first_id`` on."""
    key, title, text = _columns(kind)
    connection.execute(
        f"INSERT INTO {kind}_fts (rowid, {title}, {text}) SELECT {key}, {title}, {text} FROM {kind} WHERE {key} >= ?",
        (first_id,),
    )


def changed(connection: sqlite3.Connection, kind: str, rows: Iterable[tuple[int, str, str | None]]) -> None:
    """Index rows anew, given what the index knew of each: the index keeps no text of its own to forget it by."""
    key, title, text = _columns(kind)
    for row_id, old_title, old_text in rows:
        connection.execute(
            f"INSERT INTO {kind}_fts ({kind}_fts, rowid, {title}, {text}) VALUES ('delete', ?, ?, ?)",
            (row_id, old_title, old_text),
        )
        connection.execute(
            f"INSERT INTO {kind}_fts (rowid, {title}, {text}) SELECT {key}, {title}, {text} FROM {kind} WHERE {key} = ?",
            (row_id,),
        )
