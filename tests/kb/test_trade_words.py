"""What words mean in the trade: synonyms, abbreviations, slips; and no guessing where a word is its own.

The words are common practice, no source; each expectation is the writer's judgement.
"""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from kb.trade_words import families, meanings_of, spellings_of


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("squeal", "chirp"), ("alternator", "alt"), ("generator", "altenator"), ("tensioner", "tnsnr"), ("brkt", "bracket"),
        ("A/C", "air con"), ("weeps", "leaking"), ("serpentine", "belt"), ("I6", "straight six"), ("V-8", "v8"),
        ("won't go on", "too short"), ("cowl", "shroud"), ("rubs", "touching"), ("cmprsr", "Compressor"), ("rad", "radiator"),
        ("blt", "belt"), ("plough", "plow"), ("h2o pump", "waterpump"), ("compresor", "comp"),
    ],
)  # fmt: skip
def test_the_same_thing_in_other_words(one, other) -> None:
    assert set(meanings_of(one)) == set(meanings_of(other))


@pytest.mark.parametrize(
    ("one", "other"),
    [("felt", "belt"), ("slip", "squeal"), ("turned", "tunnel"), ("driven", "drier"), ("house", "hose"), ("lamp", "clamp"),
     ("7.6", "7"), ("short", "long")],
)  # fmt: skip
def test_other_things_stay_apart(one, other) -> None:
    assert not set(meanings_of(one)) & set(meanings_of(other))


def test_numbers_keep_their_decimals_and_letters_come_apart() -> None:
    assert meanings_of("8PK1854, 7,6L") == ("8", "ribbed", "1854", "7.6", "l")


def test_the_table_is_sound() -> None:
    rows = list(csv.DictReader((files("kb.reference") / "trade_words.csv").read_text(encoding="utf-8").splitlines()))
    meanings = [row["meaning"] for row in rows]
    assert len(set(meanings)) == len(meanings)
    assert all(row["source"] and row["status"] for row in rows)
    assert set(families()) <= set(meanings)
    spelt = [spelling for meaning in meanings for spelling in spellings_of(meaning)]
    assert len(set(spelt)) == len(spelt)  # no spelling means two things
