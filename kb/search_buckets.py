"""The buckets in which part numbers and words are filed by what remains of them when characters are left out.

:mod:`kb.spelling` says which keys a term has; a bucket holds the terms of many keys, in sorted little-endian 32-bit
numbers, 8 bits of the key above the 24 of the term's number. There are a power of two of them, more as the shelf grows.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from kb.spelling import LONGEST, MARK_BITS, NUMBER_BITS, POSTING_LIMIT, keys_inside, keys_near, place_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FEW = 300
"""Terms up to which plain Python is quicker than importing numpy."""

_KEYS_OF_A_TERM = 40  # of a part number of eight to ten characters; only sets the number of buckets
_FITTING, _OUTGROWN = 128, 256  # entries in a bucket when the buckets are made, and when more of them are made
_TERMS = 20_000
_KEYS_AT_ONCE = 1_000_000


def next_numbers(connection: sqlite3.Connection) -> tuple[int, int]:
    """Return the numbers that the next new part number and the next new word will have."""
    return tuple(
        1 + int(connection.execute(f"SELECT coalesce(max(number), 0) FROM {table}").fetchone()[0])
        for table in ("search_code", "search_word")
    )  # type: ignore[return-value] # two tables, two numbers


def file_terms(connection: sqlite3.Connection, first_code: int, first_word: int) -> None:
    """File the terms from these numbers on; all of them, in more buckets, where the buckets have become too full."""
    last_code, last_word = (number - 1 for number in next_numbers(connection))
    made = connection.execute("SELECT bits FROM search_shape").fetchone()
    keys = (last_code + last_word) * _KEYS_OF_A_TERM
    bits = made[0] if made else 0
    if not made or keys > _OUTGROWN << bits:
        bits = max(4, (keys // _FITTING).bit_length())
        first_code = first_word = 1
        connection.execute("DELETE FROM search_form")
        connection.execute("INSERT OR REPLACE INTO search_shape (one, bits) VALUES (1, ?)", (bits,))
    new = last_code + last_word - first_code - first_word + 2
    terms = _terms(connection, first_code, first_word)
    if new <= FEW:
        _file_few(connection, bits, terms)
    else:
        _file_many(connection, bits, terms, new)


def _terms(
    connection: sqlite3.Connection, first_code: int, first_word: int
) -> Iterator[tuple[str, list[tuple[int, str]]]]:
    """Yield the terms to be filed, with their numbers, in batches of one kind."""
    for kind, first in (("code", first_code), ("word", first_word)):
        cursor = connection.cursor()
        cursor.row_factory = None  # plain tuples
        rows = cursor.execute(
            f"SELECT number, {kind} FROM search_{kind} WHERE number BETWEEN ? AND ? AND length({kind}) BETWEEN 2 AND ? "
            # Plain numbers among the words are other sizes, not slips.
            + ("AND word GLOB '*[^0-9]*'" if kind == "word" else ""),
            (first, (1 << NUMBER_BITS) - 1, LONGEST),
        )
        while batch := rows.fetchmany(_TERMS):
            yield kind, batch


def _file_few(connection: sqlite3.Connection, bits: int, terms: Iterable[tuple[str, list[tuple[int, str]]]]) -> None:
    found: defaultdict[int, set[int]] = defaultdict(set)
    for kind, batch in terms:
        for number, term in batch:
            for key in keys_near(term, kind).union(keys_inside(term, kind)):
                bucket, mark = place_of(key, bits)
                found[bucket].add(mark << NUMBER_BITS | number)
    for bucket, entries in sorted(found.items()):
        row = connection.execute("SELECT entries FROM search_form WHERE bucket = ?", (bucket,)).fetchone()
        if row:
            entries.update(_numbers(row[0]))
        kept: list[int] = []
        met: Counter[int] = Counter()
        for entry in sorted(entries):
            met[entry >> NUMBER_BITS] += 1
            if met[entry >> NUMBER_BITS] <= POSTING_LIMIT:
                kept.append(entry)
        blob = b"".join(entry.to_bytes(4, "little") for entry in kept)
        connection.execute("INSERT OR REPLACE INTO search_form (bucket, entries) VALUES (?, ?)", (bucket, blob))


def _numbers(blob: bytes) -> list[int]:
    return [int.from_bytes(blob[at : at + 4], "little") for at in range(0, len(blob), 4)]


def _file_many(
    connection: sqlite3.Connection, bits: int, terms: Iterable[tuple[str, list[tuple[int, str]]]], new: int
) -> None:
    """File with numpy: sorted batches go to a temporary file, and come back one range of buckets after the other, so
    that memory stays flat however many terms there are."""
    import tempfile

    import numpy as np

    count = 1 + new * 2 * _KEYS_OF_A_TERM // _KEYS_AT_ONCE
    edges = np.array([(index << bits) // count << 32 for index in range(count)], dtype=np.uint64)
    fresh = connection.execute("SELECT 1 FROM search_form LIMIT 1").fetchone() is None
    with tempfile.SpooledTemporaryFile(max_size=_KEYS_AT_ONCE * 64) as spill:
        batches = []
        for kind, batch in terms:
            placed = _placed(kind, batch, bits)
            batches.append([*np.searchsorted(placed, edges), len(placed)])
            spill.write(placed.data)
        starts = np.cumsum([0, *(cuts[-1] for cuts in batches)])
        for index in range(count):
            pieces = []
            for start, cuts in zip(starts, batches, strict=False):
                spill.seek(8 * int(start + cuts[index]))
                pieces.append(np.frombuffer(spill.read(8 * int(cuts[index + 1] - cuts[index])), dtype=np.uint64))
            _store(connection, np.concatenate(pieces), fresh)


def _placed(kind: str, batch: list[tuple[int, str]], bits: int) -> NDArray[np.uint64]:
    """Return, sorted, a 64-bit number for each key of each term: bucket, mark and term number, from the top."""
    import numpy as np

    from kb.spelling import keys_of_many

    by_length: defaultdict[int, list[tuple[int, str]]] = defaultdict(list)
    for number, term in batch:
        by_length[len(term)].append((number, term))
    found = []
    for alike in by_length.values():
        keys = keys_of_many([term for _, term in alike], kind) >> np.uint64(64 - bits - MARK_BITS)
        numbers = np.array([number for number, _ in alike], dtype=np.uint64)
        found.append((keys << np.uint64(NUMBER_BITS) | numbers[:, None]).ravel())
    placed = np.concatenate(found)
    placed.sort()
    return placed


def _store(connection: sqlite3.Connection, placed: NDArray[np.uint64], fresh: bool) -> None:
    """Merge numbers of :func:`_placed` into their buckets."""
    import numpy as np

    if not len(placed):
        return
    placed = np.sort(placed)
    if not fresh:
        buckets = placed >> np.uint64(32)
        there = connection.execute(
            "SELECT bucket, entries FROM search_form WHERE bucket IN (SELECT value FROM json_each(?))",
            (json.dumps(buckets[_first_of_equals(buckets)].tolist()),),
        ).fetchall()
        buckets = np.repeat(np.array([row[0] for row in there], dtype=np.uint64), [len(row[1]) // 4 for row in there])
        entries = np.frombuffer(b"".join(row[1] for row in there), dtype="<u4").astype(np.uint64)
        placed = np.sort(np.concatenate([placed, buckets << np.uint64(32) | entries]))
    placed = _without_overfull(placed[_first_of_equals(placed)])
    buckets = placed >> np.uint64(32)
    starts = np.flatnonzero(_first_of_equals(buckets))
    blob = placed.astype("<u4").tobytes()
    ends = np.append(starts[1:], len(placed)) * 4
    connection.executemany(
        "INSERT OR REPLACE INTO search_form (bucket, entries) VALUES (?, ?)",
        (
            (bucket, blob[start:end])
            for bucket, start, end in zip(buckets[starts].tolist(), (starts * 4).tolist(), ends.tolist(), strict=True)
        ),
    )


def _first_of_equals(numbers: NDArray[np.uint64]) -> NDArray[np.bool_]:
    """Mark the first of each run of equal neighbours; of sorted numbers far quicker than ``np.unique``, which hashes."""
    import numpy as np

    first = np.ones(len(numbers), dtype=np.bool_)
    np.not_equal(numbers[1:], numbers[:-1], out=first[1:])
    return first


def _without_overfull(placed: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Cut each bucket's terms of one mark down to the limit; ``placed`` is sorted."""
    import numpy as np

    shift = np.uint64(NUMBER_BITS)
    # Of more than the limit under one mark, two that stand half a limit apart are among these.
    some = placed[:: POSTING_LIMIT // 2] >> shift
    if not np.any(some[1:] == some[:-1]):
        return placed
    marks = placed >> shift
    starts = np.flatnonzero(_first_of_equals(marks))
    ends = np.append(starts[1:], len(marks))
    kept = np.ones(len(marks), dtype=np.bool_)
    long = ends - starts > POSTING_LIMIT
    for start, end in zip(starts[long].tolist(), ends[long].tolist(), strict=True):
        kept[start + POSTING_LIMIT : end] = False
    return placed[kept]
