"""Misspelt words from the open dictionary of the codespell package find descriptions that are spelt right."""

from __future__ import annotations

import random
from importlib.resources import files

from importers import index
from kb.shelf import open_to_read, open_to_write
from queries.text_index import search

QUERIES = 2000


def _pairs() -> list[tuple[str, str]]:
    text = (files("codespell_lib") / "data" / "dictionary.txt").read_text(encoding="utf-8")
    pairs = []
    for line in text.splitlines():
        wrong, _, right = line.partition("->")
        if right and "," not in right and right.isalpha() and wrong.isalpha() and wrong.isascii() and len(right) >= 5:
            pairs.append((wrong.strip().lower(), right.strip().lower()))
    return pairs


def test_at_least_95_of_100_are_found_in_the_first_ten(tmp_path) -> None:
    chance = random.Random(5)
    pairs = chance.sample(_pairs(), QUERIES)
    words = sorted({right for _, right in pairs})
    shelf = tmp_path / "shelf.db"
    connection = open_to_write(shelf)
    connection.execute("BEGIN")
    connection.execute("INSERT INTO supplier (id, name) VALUES (1, 'Anyone')")
    connection.execute(
        "INSERT INTO load (number, id, kind, sheet, digest, settings, loaded_at) "
        "VALUES (1, 'a', 'clamp', 's', 'd', '{}', 't')"
    )
    for number, word in enumerate(words, 1):
        description = f"{word} {chance.choice(words)}"  # a second word of the same vocabulary beside each
        connection.execute(
            "INSERT INTO clamp (id, supplier_id, part_no, code, description, load_number, row_number, written) "
            "VALUES (?, 1, ?, ?, ?, 1, ?, '[]')",
            (number, f"Q{number}", f"q{number}", description, number),
        )
    index.add(connection, "clamp", 1)
    connection.execute("COMMIT")
    connection.close()
    reader = open_to_read(shelf)
    place = {word: number for number, word in enumerate(words, 1)}
    found = 0
    for wrong, right in pairs:
        found += place[right] in [hit.row_id for hit in search(reader, wrong, 10, ("clamp",))]
    reader.close()
    assert found / QUERIES >= 0.95
