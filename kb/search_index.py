"""Keeping the search index in step with the rows, in the caller's transaction.

Each kind has its word index (FTS5, its text in the kind's own table). Beside them stand, once for all kinds, the distinct
part numbers and words, and the buckets in which :mod:`kb.search_buckets` files them, to be found in spite of slips.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from kb.search_buckets import file_terms, next_numbers
from kb.searched import SEARCHED, TEXTS, key_of
from kb.spelling import LONGEST, words_of

_SHORT_PIECE = 3
_ROWS = 5000
_WORDS = 50_000

Known = tuple[Any, ...]
"""A row's number and its searched texts, in the order of :data:`kb.searched.TEXTS`."""


def add(connection: sqlite3.Connection, kind: str, first_id: int) -> None:
    """Index the rows of a kind from ``first_id`` on; they must not be indexed yet."""
    first = next_numbers(connection)
    key, texts = key_of(kind), ", ".join(TEXTS[kind])
    if kind != "job":
        _add_codes(connection, kind, first_id)
    connection.execute(
        f"INSERT INTO {kind}_fts (rowid, {texts}) SELECT {key}, {texts} FROM {kind} WHERE {key} >= ?", (first_id,)
    )
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = cursor.execute(f"SELECT {texts} FROM {kind} WHERE {key} >= ?", (first_id,))
    words: Counter[str] = Counter()
    while block := rows.fetchmany(_ROWS):
        words.update(_counted(kind, block))
        if len(words) > _WORDS:
            _add_words(connection, kind, words)
            words.clear()
    _add_words(connection, kind, words)
    file_terms(connection, *first)


def known(connection: sqlite3.Connection, kind: str, rows: str, values: Sequence[object] = ()) -> list[Known]:
    """Return what the index knows of rows, before they are changed; ``rows`` is SQL that gives their numbers."""
    key = key_of(kind)
    cursor = connection.cursor()
    cursor.row_factory = None
    return cursor.execute(
        f"SELECT {key}, {', '.join(TEXTS[kind])} FROM main.{kind} WHERE {key} IN ({rows})", values
    ).fetchall()


def changed(connection: sqlite3.Connection, kind: str, rows: Iterable[Known]) -> None:
    """Index rows anew, given what the index knew of each (:func:`known`): its number, and its texts in their order.

    The index keeps no text of its own to forget it by. Part numbers do not change: a row is known by its own.
    Raises ``ValueError`` where a row has not as many texts as its kind: forgetting by the wrong ones would spoil the index.
    """
    first = next_numbers(connection)
    key, texts = key_of(kind), TEXTS[kind]
    names, marks = ", ".join(texts), ", ".join("?" * len(texts))
    words: Counter[str] = Counter()
    for row_id, *old in rows:
        if len(old) != len(texts):
            raise ValueError(f"{kind} {row_id}: {len(old)} texts, not {len(texts)} ({names})")
        connection.execute(
            f"INSERT INTO {kind}_fts ({kind}_fts, rowid, {names}) VALUES ('delete', ?, {marks})", (row_id, *old)
        )
        connection.execute(
            f"INSERT INTO {kind}_fts (rowid, {names}) SELECT {key}, {names} FROM {kind} WHERE {key} = ?", (row_id,)
        )
        now = connection.execute(f"SELECT {names} FROM {kind} WHERE {key} = ?", (row_id,)).fetchone()
        words.update(_counted(kind, [tuple(now)]))
        words.subtract(_counted(kind, [tuple(old)]))
    _add_words(connection, kind, words)
    file_terms(connection, *first)


def rebuild(connection: sqlite3.Connection) -> None:
    """Make the whole index anew from the rows, in the caller's transaction."""
    for table in ("search_code", "search_word", "search_form", "search_shape"):
        connection.execute(f"DELETE FROM {table}")
    for kind in SEARCHED:
        connection.execute(f"INSERT INTO {kind}_fts ({kind}_fts) VALUES ('delete-all')")
        add(connection, kind, 0)


def _counted(kind: str, rows: Sequence[tuple[str | None, ...]]) -> Counter[str]:
    """Count the words of rows of texts; of part numbers only the short pieces, which many of them share."""
    first, *others = zip(*rows, strict=True)
    words: Counter[str] = Counter()
    for column in others:
        _count_texts(words, column)
    titles = words_of("\n".join(filter(None, first)))
    words.update(titles if kind == "job" else [piece for piece in titles if len(piece) <= _SHORT_PIECE])
    return words


def _count_texts(words: Counter[str], column: Sequence[str | None]) -> None:
    """Count a column's words: texts that repeat are taken apart once, the others all together."""
    met = Counter(column)
    met.pop(None, None)
    words.update(words_of("\n".join(text for text, times in met.items() if text and times == 1)))
    for text, times in met.items():
        if text and times > 1:
            for word in words_of(text):
                words[word] += times


def _add_codes(connection: sqlite3.Connection, kind: str, first_id: int) -> None:
    """Keep the part numbers that no indexed row has: the kinds' own indexes tell, so none is needed here.

    FTS5 keeps the size of each row that it has indexed, in a table ``KIND_fts_docsize``.
    """
    known = " OR ".join(
        f"EXISTS (SELECT 1 FROM {other} AS there JOIN {other}_fts_docsize AS size ON size.id = there.id "
        "WHERE there.code = here.code)"
        for other in SEARCHED[:-1]
        if connection.execute(f"SELECT 1 FROM {other}_fts_docsize LIMIT 1").fetchone()
    )
    connection.execute(
        f"INSERT INTO search_code (code) SELECT DISTINCT code FROM {kind} AS here "
        f"WHERE id >= ? AND code <> '' AND NOT ({known or 'FALSE'}) ORDER BY code",
        (first_id,),
    )


def _add_words(connection: sqlite3.Connection, kind: str, words: Counter[str]) -> None:
    """Count the words of rows, and keep the new ones."""
    mask = 1 << SEARCHED.index(kind)
    connection.executemany(
        "INSERT INTO search_word (word, uses, kinds) VALUES (?, ?, ?) "
        "ON CONFLICT (word) DO UPDATE SET uses = uses + excluded.uses, kinds = kinds | excluded.kinds",
        [(word, uses, mask) for word, uses in words.items() if uses and len(word) <= LONGEST],
    )
