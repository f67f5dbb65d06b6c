"""Misspelt words find descriptions with the right spelling.

Source of the words: the open dictionary of misspellings that the codespell package carries (codespell_lib/data/
dictionary.txt, CC BY-SA 3.0). Taken: all entries with one correction, one word on both sides, of plain letters.
"""

from __future__ import annotations

import csv
import random
import sqlite3
from collections.abc import Iterator
from importlib.resources import files
from typing import NamedTuple

import pytest
from click.testing import CliRunner
from rapidfuzz.distance import OSA

from kb.cli import cli
from kb.shelf import open_to_read
from queries.text_index import search

ENTRIES = 2500
DISTRACTORS = 800


class Misspelt(NamedTuple):
    """A misspelling, what it should be, and the description that holds it right."""

    wrong: str
    right: str
    part_no: str
    said: str


def dictionary() -> list[tuple[str, str]]:
    lines = (files("codespell_lib") / "data" / "dictionary.txt").read_text(encoding="utf-8").splitlines()
    pairs = [tuple(line.strip().split("->")) for line in lines if line.strip()]
    return [
        (wrong, right) for wrong, right in pairs if (wrong + right).isascii() and wrong.isalpha() and right.isalpha()
    ]


@pytest.fixture(scope="module")
def sample() -> list[Misspelt]:
    chance = random.Random(20)
    pairs = chance.sample(dictionary(), ENTRIES)
    vocabulary = sorted({right for _, right in pairs})
    return [
        Misspelt(wrong, right, f"{place:05}-T", " ".join(chance.sample([right, *chance.sample(vocabulary, 2)], 3)))
        for place, (wrong, right) in enumerate(pairs)
    ]


@pytest.fixture(scope="module")
def connection(sample: list[Misspelt], tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    chance = random.Random(21)
    vocabulary = sorted({each.right for each in sample})
    folder = tmp_path_factory.mktemp("misspelt")
    with (folder / "belts.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["Part no", "Description", "Profile", "Ribs", "Effective length (mm)"])
        rows.writerows([each.part_no, each.said, "PK", 8, 1000] for each in sample)
        for place in range(DISTRACTORS):
            said = " ".join(chance.sample(vocabulary, chance.randint(2, 6)))
            rows.writerow([f"{place:05}-D", said, "PK", 8, 1000])
    shelf = folder / "shelf.db"
    loaded = CliRunner().invoke(
        cli, ["--shelf", str(shelf), "load", str(folder / "belts.csv"), "--supplier", "Dry Creek"]
    )
    assert loaded.exit_code == 0, loaded.output
    connection = open_to_read(shelf)
    assert connection.execute("SELECT count(*) FROM belt").fetchone()[0] == ENTRIES + DISTRACTORS
    yield connection
    connection.close()


def found(connection: sqlite3.Connection, question: str, part_no: str) -> bool:
    hits = [hit.row_id for hit in search(connection, question, 10)]
    wanted = connection.execute("SELECT id FROM belt WHERE part_no = ?", (part_no,)).fetchone()[0]
    return wanted in hits


def share(results: list[bool]) -> float:
    return sum(results) / len(results)


def test_the_misspelt_word_alone_finds_its_description(connection: sqlite3.Connection, sample: list[Misspelt]) -> None:
    assert share([found(connection, each.wrong, each.part_no) for each in sample]) >= 0.95


def test_of_slight_misspellings_nearly_all_are_found(connection: sqlite3.Connection, sample: list[Misspelt]) -> None:
    # "Slight": a third of the letters or fewer, which is what the search promises to forgive.
    slight = [each for each in sample if OSA.distance(each.wrong, each.right) <= min(2, len(each.wrong) // 3)]
    assert len(slight) >= 2000
    assert share([found(connection, each.wrong, each.part_no) for each in slight]) >= 0.98


def test_with_a_right_word_beside_it(connection: sqlite3.Connection, sample: list[Misspelt]) -> None:
    chance = random.Random(22)
    results = []
    for each in sample:
        beside = next(word for word in each.said.split() if word != each.right)
        question = " ".join(chance.sample([each.wrong, beside], 2))
        results.append(found(connection, question, each.part_no))
    assert share(results) >= 0.95


def test_with_every_word_misspelt(connection: sqlite3.Connection, sample: list[Misspelt]) -> None:
    wrongs: dict[str, str] = {each.right: each.wrong for each in sample}
    results = [found(connection, " ".join(wrongs[word] for word in each.said.split()), each.part_no) for each in sample]
    assert share(results) >= 0.95
