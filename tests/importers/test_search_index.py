"""The search index stays in step with the rows, however they come."""

from __future__ import annotations

import random
import sqlite3
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from importers import index
from kb.shelf import open_to_write
from kb.spelling import NUMBER_BITS, POSTING_LIMIT, keys_inside, keys_near, normalise_code, place_of
from queries.text_index import search

Part = tuple[str, str | None]


@pytest.fixture
def connection(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    connection = open_to_write(tmp_path / "shelf.db")
    connection.execute("INSERT INTO supplier (id, name) VALUES (1, 'Dry Creek')")
    connection.execute(
        "INSERT INTO load (number, id, kind, sheet, digest, settings, loaded_at) "
        "VALUES (1, 'one', 'belt', 'sheet', '', '{}', '2024-01-01T00:00:00Z')"
    )
    yield connection
    connection.close()


def add(connection: sqlite3.Connection, kind: str, parts: Sequence[Part]) -> None:
    """Store parts and index them, as a load does, in one transaction."""
    own = not connection.in_transaction
    if own:
        connection.execute("BEGIN IMMEDIATE")
    first = 1 + connection.execute(f"SELECT coalesce(max(id), 0) FROM {kind}").fetchone()[0]
    more, values = (", length_given, section", ", 'outside', 'A'") if kind == "belt" else ("", "")
    connection.executemany(
        f"INSERT INTO {kind} (supplier_id, part_no, code, description, load_number, row_number, written{more}) "
        f"VALUES (1, ?, ?, ?, 1, 1, '[]'{values})",
        [(part_no, normalise_code(part_no), said) for part_no, said in parts],
    )
    index.add(connection, kind, first)
    if own:
        connection.execute("COMMIT")


def invented(count: int, seed: int = 3) -> list[Part]:
    chance = random.Random(seed)
    letters = "abcdefghiklmnoprstu"
    return [
        (
            f"{chance.choice('ABC')}{number:04}-{chance.randrange(100)}",
            "".join(chance.choices(letters, k=chance.randint(2, 15))),
        )
        for number in chance.sample(range(10_000), count)
    ]


def filed(connection: sqlite3.Connection) -> Counter[tuple[int, int]]:
    """Every bucket's entries."""
    return Counter(
        (bucket, int.from_bytes(entries[at : at + 4], "little"))
        for bucket, entries in connection.execute("SELECT bucket, entries FROM search_form")
        for at in range(0, len(entries), 4)
    )


def expected(connection: sqlite3.Connection) -> Counter[tuple[int, int]]:
    """What should stand in the buckets, from the terms one by one."""
    bits = connection.execute("SELECT bits FROM search_shape").fetchone()[0]
    wanted: set[tuple[int, int]] = set()
    for kind in ("code", "word"):
        for number, term in connection.execute(f"SELECT number, {kind} FROM search_{kind}"):
            if len(term) > 1 and (kind == "code" or not term.isdigit()):
                for key in (*keys_near(term, kind), *keys_inside(term, kind)):
                    bucket, mark = place_of(key, bits)
                    wanted.add((bucket, mark << NUMBER_BITS | number))
    return Counter(wanted)


@pytest.mark.parametrize("at_once", [1, 7, 100, 301, 1200])
def test_in_one_load_or_in_many_every_term_is_filed_once(connection: sqlite3.Connection, at_once: int) -> None:
    parts = invented(1200 if at_once > 1 else 60)
    for start in range(0, len(parts), at_once):
        add(connection, "belt", parts[start : start + at_once])
    assert filed(connection) == expected(connection)
    codes = [code for (code,) in connection.execute("SELECT code FROM search_code")]
    assert sorted(codes) == sorted({normalise_code(part_no) for part_no, _ in parts})


def test_many_beside_many(connection: sqlite3.Connection) -> None:
    parts = invented(3000)
    add(connection, "belt", parts[:2000])
    before = connection.execute("SELECT bits FROM search_shape").fetchone()
    add(connection, "belt", parts[2000:])
    assert connection.execute("SELECT bits FROM search_shape").fetchone() == before, "the buckets were made anew"
    assert filed(connection) == expected(connection)


def test_a_part_number_of_several_kinds_is_kept_once_and_found_in_each(connection: sqlite3.Connection) -> None:
    for kind in ("belt", "pulley", "clamp"):
        add(connection, kind, [("HX-2047", "with a part number that is everywhere")])
    assert connection.execute("SELECT count(*) FROM search_code").fetchone()[0] == 1
    assert {hit.kind for hit in search(connection, "hx2074")} == {"belt", "pulley", "clamp"}


def test_rows_stored_before_any_was_indexed(connection: sqlite3.Connection) -> None:
    """Two kinds stored first and indexed afterwards: neither takes the other's part numbers for known ones."""
    real = index.add
    try:
        index.add = lambda *_: None
        for kind in ("belt", "pulley"):
            add(connection, kind, [("HX-2047", None)])
    finally:
        index.add = real
    for kind in ("belt", "pulley"):
        index.add(connection, kind, 1)
    assert len(search(connection, "HX-2074")) == 2


def test_a_changed_row_is_found_by_what_it_says_now(connection: sqlite3.Connection) -> None:
    add(connection, "belt", [("HX-2047", "belt of the sprayer"), ("HX-3111", None)])
    connection.execute("UPDATE belt SET description = 'belt of the flusher' WHERE id = 1")
    index.changed(connection, "belt", [(1, "HX-2047", "belt of the sprayer", None, "A", None)])
    connection.execute("UPDATE belt SET description = 'winter' WHERE id = 2")
    index.changed(connection, "belt", [(2, "HX-3111", None, None, "A", None)])
    assert search(connection, "sprayer") == []
    assert [hit.row_id for hit in search(connection, "flushre")] == [1]
    assert [hit.row_id for hit in search(connection, "wintre")] == [2]
    assert search(connection, "hx2047")[0].row_id == 1
    assert connection.execute("SELECT uses FROM search_word WHERE word = 'sprayer'").fetchone()[0] == 0
    # FTS5's own check of an index against its content, which raises where they differ.
    connection.execute("INSERT INTO belt_fts (belt_fts, rank) VALUES ('integrity-check', 1)")


def test_what_the_index_knew_is_told_before_a_change(connection: sqlite3.Connection) -> None:
    add(connection, "belt", [("HX-2047", "belt of the sprayer"), ("HX-3111", None)])
    known = index.known(connection, "belt", "SELECT id FROM belt WHERE part_no = ?", ("HX-2047",))
    assert known == [(1, "HX-2047", "belt of the sprayer", None, "A", None)]
    connection.execute("UPDATE belt SET description = 'flusher', maker = 'Quellmoor' WHERE id = 1")
    index.changed(connection, "belt", known)
    assert search(connection, "sprayer") == []
    assert [hit.row_id for hit in search(connection, "quelmoor flusher")] == [1]
    connection.execute("INSERT INTO belt_fts (belt_fts, rank) VALUES ('integrity-check', 1)")
    with pytest.raises(ValueError, match="2 texts, not 5"):
        index.changed(connection, "belt", [(1, "HX-2047", "flusher")])


def test_made_anew_the_index_is_the_same(connection: sqlite3.Connection) -> None:
    for kind in ("belt", "pulley"):
        add(connection, kind, invented(400))
    before = filed(connection), set(connection.execute("SELECT word, uses, kinds FROM search_word").fetchall())
    index.rebuild(connection)
    assert set(map(tuple, connection.execute("SELECT word, uses, kinds FROM search_word"))) == set(
        map(tuple, before[1])
    )
    assert filed(connection) == expected(connection)


def test_a_changed_job(connection: sqlite3.Connection) -> None:
    connection.execute(
        "INSERT INTO job (number, id, revision, title, work, words, load_number, row_number, written) "
        "VALUES (1, 'N-1', 'r', 'fan belt', 'renewed', 'squealing', 1, 1, '[]')"
    )
    index.add(connection, "job", 1)
    assert search(connection, "squeeling")[0].kind == "job"
    connection.execute("UPDATE job SET title = 'fan hub', words = 'rattling' WHERE number = 1")
    index.changed(connection, "job", [(1, "fan belt", "squealing")])
    assert search(connection, "squealing") == []
    assert [hit.kind for hit in search(connection, "fan hub ratling")] == ["job"]


def test_a_load_that_fails_leaves_the_index_as_it_was(connection: sqlite3.Connection) -> None:
    add(connection, "belt", invented(400))
    before = list(connection.iterdump())
    connection.execute("BEGIN IMMEDIATE")
    add(connection, "belt", [(f"Q{number}-X", "kept back") for number in range(3000)])
    connection.execute("ROLLBACK")
    assert list(connection.iterdump()) == before


def test_made_anew_it_finds_the_same(connection: sqlite3.Connection) -> None:
    parts = invented(900)
    for start in range(0, 900, 50):
        add(connection, "belt", parts[start : start + 50])
    asked = [part_no[:2] + part_no[3:] for part_no, _ in parts[::30]] + [str(said)[1:] for _, said in parts[::30]]
    before = [search(connection, text) for text in asked]
    index.rebuild(connection)
    assert filed(connection) == expected(connection)
    assert [search(connection, text) for text in asked] == before


def test_an_ending_of_thousands_does_not_swell_a_bucket(connection: sqlite3.Connection) -> None:
    add(connection, "belt", [(f"{number:05}-WINTERGRADE", None) for number in range(POSTING_LIMIT + 500)])
    marks = Counter((bucket, entry >> NUMBER_BITS) for bucket, entry in filed(connection))
    assert max(marks.values()) == POSTING_LIMIT
    assert search(connection, "02500-WINTERGRADE")[0].score == 100.0
    near = search(connection, "02050-WINTREGRADE")
    assert (
        connection.execute("SELECT part_no FROM belt WHERE id = ?", (near[0].row_id,)).fetchone()[0]
        == "02050-WINTERGRADE"
    )
    # Few by few, the limit holds as well.
    add(connection, "belt", [("99999-WINTERGRADE", None)])
    assert max(Counter((bucket, entry >> NUMBER_BITS) for bucket, entry in filed(connection)).values()) == POSTING_LIMIT


@pytest.mark.parametrize("part_no", ["-", "'", "A", "☃", "X" * 500, "Ω-9/4"])
def test_odd_part_numbers_are_no_trouble(connection: sqlite3.Connection, part_no: str) -> None:
    add(connection, "belt", [(part_no, None), ("HX-2047", "")])
    add(connection, "clamp", [(part_no, part_no)])
    assert search(connection, "HX-2047")[0].row_id == 2
