"""What words mean in the trade: synonyms, abbreviations, slips; and no guessing where a word is its own.

The words are common practice, no source; each expectation is the writer's judgement.
"""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from kb.reference.tables import table
from kb.spelling import words_of
from kb.trade_words import families, is_everyday, meanings_of, spellings_of, tells_of


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("squeal", "chirp"), ("alternator", "alt"), ("generator", "altenator"), ("tensioner", "tnsnr"), ("brkt", "bracket"),
        ("A/C", "air con"), ("weeps", "leaking"), ("serpentine", "belt"), ("I6", "straight six"), ("V-8", "v8"),
        ("won't go on", "too short"), ("cowl", "shroud"), ("rubs", "touching"), ("cmprsr", "Compressor"), ("rad", "radiator"),
        ("trimmed", "trims"), ("shaving", "shave"), ("walks off", "throws a rib"), ("no output", "charge light"),
        ("hairline crack", "fatigued"), ("airlock", "burped"), ("visco", "fan clutch"), ("silent block", "rubber mount"),
        ("to short", "longer one"), ("bareing", "brg"), ("chafed", "scuffed"), ("boost hose", "charge air hose"),
        ("blt", "belt"), ("plough", "plow"), ("h2o pump", "waterpump"), ("compresor", "comp"),
    ],
)  # fmt: skip
def test_the_same_thing_in_other_words(one, other) -> None:
    assert set(meanings_of(one)) == set(meanings_of(other))


@pytest.mark.parametrize(
    ("one", "other"),
    [("felt", "belt"), ("slip", "squeal"), ("turned", "tunnel"), ("driven", "drier"), ("house", "hose"), ("lamp", "clamp"),
     ("7.6", "7"), ("short", "long"), ("three", "threw"), ("weeks", "weeps"), ("string", "spring"), ("could", "cold"),
     ("no charge", "lights dim"), ("frayed", "worn")],
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
    assert set(tells_of()) <= set(meanings)
    # As the rows stand: no spelling means two things.
    spelt = [tuple(words_of(spelling)) for row in rows for spelling in row["words"].split(";")]
    assert [spelling for spelling in set(spelt) if spelt.count(spelling) > 1] == []
    assert all(spellings_of(meaning) for meaning in meanings)


def test_everyday_words_are_no_slips() -> None:
    """Words that tell nothing are left out; words of their own stay as they are, unless the trade has a meaning for them."""
    kinds = {row["kind"]: {word.strip() for word in row["words"].split(";")} for row in table("plain_words")}
    assert set(kinds) == {"tells nothing", "its own word"}
    assert meanings_of("they could have told us twice, whatever") == meanings_of("twice")
    assert meanings_of("weeks road") == ("week", "road")
    assert is_everyday("road")
    assert not is_everyday("belt")
    spelt = {
        spelling[0] for row in table("trade_words") for spelling in spellings_of(row["meaning"]) if len(spelling) == 1
    }
    assert not spelt & kinds["tells nothing"]  # what the trade names is not left out
