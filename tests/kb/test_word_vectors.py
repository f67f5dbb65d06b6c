"""Directions of words: what a general language model tells, against words that nobody put into our lists."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.word_vectors import closeness, direction

ROOT = Path(__file__).parents[2]


def _maker():
    spec = importlib.util.spec_from_file_location("make_word_vectors", ROOT / "tests" / "make_word_vectors.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_table_is_what_its_maker_writes() -> None:
    text, numbers = _maker().made()
    assert (ROOT / "kb" / "reference" / "word_pieces.txt").read_text(encoding="ascii") == text
    assert (ROOT / "kb" / "reference" / "word_pieces.npy").read_bytes() == numbers


@pytest.mark.parametrize(
    ("text", "nearer", "farther"),
    [
        # Everyday English, the judgement of any dictionary; none of these pairs is joined by the trade's list.
        ("a bicycle in the garden", "a bike on the lawn", "a letter to the bank"),
        ("the doctor was ill", "a sick physician", "a broken window"),
        ("it snowed all night", "a frozen, icy winter", "a dry summer road"),
        ("he lost his keys", "she could not find her key", "the cake was sweet"),
    ],
)
def test_what_means_nearly_the_same_lies_nearer(text, nearer, farther) -> None:
    assert closeness(text, nearer) > closeness(text, farther)


@given(st.text(max_size=60))
def test_any_text_has_a_direction_of_length_one_or_none(text) -> None:
    length = float(np.linalg.norm(direction(text)))
    assert length == pytest.approx(1.0, abs=1e-5) or length == 0.0
    assert 0.0 <= closeness(text, "belt squeals") <= 1.0


def test_a_word_the_table_does_not_know_is_read_piece_by_piece() -> None:
    assert closeness("flusher", "flush") > closeness("flusher", "ledger")
    assert not direction("12.5 / 3 — ?").any()


def test_a_direction_is_shared_and_cannot_be_written_into() -> None:
    with pytest.raises(ValueError, match="read-only"):
        direction("belt")[0] = 1.0
