"""How part numbers and words are compared, held to SQLite's tokenizer, to plain edit distance and to chance."""

from __future__ import annotations

import random
import sqlite3
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from kb import spelling
from kb.spelling import keys_inside, keys_near, keys_of_many, normalise_code, slips_allowed, within, words_of

TERMS = st.text("ab01é", min_size=1, max_size=14)
"""Few letters, so that repeats, swaps and near misses are common."""


@pytest.mark.parametrize(
    "written",
    [
        "AB-10 01",
        "ab1001",
        "ABlO-OI",
        "AB.10/01",
        "AB‑10–01",
        "ab\u00a0lo\u202f01",
        "ＡＢ１００１",
        "áb10_01",
        "A\u0301B1001",
    ],
)
def test_what_people_mix_up_is_the_same_part_number(written: str) -> None:
    assert normalise_code(written) == "ab1001"


def test_what_tells_part_numbers_apart_stays() -> None:
    assert len({normalise_code(each) for each in ("1E5", "100000.0", "00123", "123", "8PK1854", "8PK1845")}) == 5 + 1


@given(st.text(max_size=30))
def test_normalising_twice_changes_nothing(text: str) -> None:
    once = normalise_code(text)
    assert normalise_code(once) == once


# Source: SQLite's own unicode61 tokenizer, which keeps the words that a question is looked up by.
@given(
    st.text(
        st.characters(codec="cp1252", categories=["L", "N", "P", "S", "Zs"]) | st.sampled_from("ščőжя½²"), max_size=40
    )
)
def test_words_are_those_of_the_word_index(text: str) -> None:
    connection = sqlite3.connect(":memory:")
    connection.execute("CREATE VIRTUAL TABLE said USING fts5 (text, tokenize='unicode61 remove_diacritics 2')")
    connection.execute("CREATE VIRTUAL TABLE word USING fts5vocab (said, row)")
    connection.execute("INSERT INTO said VALUES (?)", (text,))
    kept = {term for (term,) in connection.execute("SELECT term FROM word")}
    connection.close()
    assert set(words_of(text)) == kept


def left_out(text: str, slips: int) -> set[str]:
    """What remains with up to so many characters left out, by plain slicing."""
    places = range(len(text))
    return {
        "".join(text[at] for at in places if at not in out)
        for count in range(slips + 1)
        for out in combinations(places, count)
    }


@given(TERMS.filter(lambda term: len(term) <= spelling.WINDOW), TERMS.filter(lambda term: len(term) <= spelling.WINDOW))
def test_keys_are_shared_exactly_where_a_remainder_is(one: str, other: str) -> None:
    # Source: the definition of a deletion neighbourhood. 64 bits leave a chance of 1e-16 of a false meeting.
    remainders = left_out(one, slips_allowed(one)) & left_out(other, slips_allowed(other))
    assert bool(keys_near(one) & keys_near(other)) == bool(remainders)


@given(TERMS, TERMS)
@settings(max_examples=500)
def test_terms_within_their_slips_share_a_key(one: str, other: str) -> None:
    # Source: rapidfuzz's optimal string alignment distance.
    if OSA.distance(one, other) <= min(slips_allowed(one), slips_allowed(other)):
        assert keys_near(one) & keys_near(other)


@given(st.data(), st.text("ab01", min_size=6, max_size=30))
@settings(max_examples=500)
def test_no_two_slips_hide_a_term(data: st.DataObject, term: str) -> None:
    slipped = term
    for _ in range(2):
        at = data.draw(st.integers(0, max(0, len(slipped) - 1)))
        what = data.draw(st.sampled_from(["swapped", "missing", "extra", "wrong"]))
        letter = data.draw(st.sampled_from("ab01x"))
        if what == "swapped":
            slipped = slipped[:at] + slipped[at + 1 : at + 2] + slipped[at : at + 1] + slipped[at + 2 :]
        elif what == "missing":
            slipped = slipped[:at] + slipped[at + 1 :]
        else:
            slipped = slipped[:at] + letter + slipped[at + (what == "wrong") :]
    if len(slipped) >= 6 and OSA.distance(term, slipped) <= 2:
        assert keys_near(term) & keys_near(slipped)


@given(st.integers(1, 20).flatmap(lambda size: st.lists(st.text("ab01éж", min_size=size, max_size=size), min_size=1)))
def test_many_at_once_are_as_one_by_one(terms: list[str]) -> None:
    for kind in ("code", "word"):
        for term, row in zip(terms, keys_of_many(terms, kind), strict=True):
            assert set(row.tolist()) == keys_near(term, kind) | set(keys_inside(term, kind))


def test_part_numbers_and_words_and_runs_are_filed_apart() -> None:
    assert not keys_near("1854", "code") & keys_near("1854", "word")
    assert not keys_near("1854", "code") & set(keys_inside("1854", "code"))


@given(TERMS, st.lists(TERMS, max_size=8), st.integers(0, 3))
def test_within_is_the_distance_of_a_plain_table(asked: str, terms: list[str], slips: int) -> None:
    expected = [(away, term) for term in terms if (away := aligned(asked, term)) <= slips]
    assert within(asked, terms, slips) == expected


def aligned(one: str, other: str) -> int:
    """Optimal string alignment by its recurrence.

    Source: L. Boytsov, "Indexing methods for approximate dictionary searching", J. Exp. Algorithmics 16 (2011), sec. 2.
    """
    table = [
        [max(row, column) if 0 in (row, column) else 0 for column in range(len(other) + 1)]
        for row in range(len(one) + 1)
    ]
    for row in range(1, len(one) + 1):
        for column in range(1, len(other) + 1):
            wrong = one[row - 1] != other[column - 1]
            table[row][column] = min(
                table[row - 1][column] + 1, table[row][column - 1] + 1, table[row - 1][column - 1] + wrong
            )
            if one[row - 2 : row] == other[column - 2 : column][::-1] and min(row, column) > 1:
                table[row][column] = min(table[row][column], table[row - 2][column - 2] + 1)
    return table[-1][-1]


@pytest.mark.parametrize(
    ("asked", "meant", "said"),
    [
        ("8pk1845", "8pk1854", "two characters swapped"),
        ("8pk184", "8pk1854", "one character missing"),
        ("8pk18854", "8pk1854", "one character doubled"),
        ("8pk18504", "8pk1854", "one character too many"),
        ("8pk18549", "8pk1854", "one character too many"),
        ("8pk18544", "8pk1854", "one character doubled"),
        ("bpk1854", "8pk1854", "one character wrong"),
    ],
)
def test_the_slip_is_named(asked: str, meant: str, said: str) -> None:
    assert spelling.slip_in_words(asked, meant, OSA.distance(asked, meant)) == said


def test_the_slips_allowed_leave_chance_little_room() -> None:
    """Of 3,000 part numbers of seven random digits, a number that is none of them is near to one or two at most."""
    chance = random.Random(5)
    shelf = {f"{chance.randrange(10**7):07}" for _ in range(3000)}
    asked = [f"{chance.randrange(10**7):07}" for _ in range(200)]
    near = [len(within(each, shelf - {each}, slips_allowed(each))) for each in asked]
    assert sum(near) / len(near) < 2.0
