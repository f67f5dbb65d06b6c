"""Threads by the names people write."""

from __future__ import annotations

import pytest

from kb.reference.tables import threads
from kb.reference.thread_names import find_name, threads_named
from kb.reference.threads import thread_candidates


@pytest.mark.parametrize("row", threads(), ids=lambda row: f"{row.family} {row.thread}")
def test_every_name_in_the_table_means_its_own_thread(row) -> None:
    (thread,) = threads_named(row.thread)
    assert thread.nominal_mm == row.male_major_nominal_mm
    assert thread.pitch_mm == row.pitch_mm
    assert thread.taper == row.taper


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("7/8-14", "7/8-14 UNF"), ("7/8 - 14unf", "7/8-14 UNF"), ("7/8-14 UNF-2A", "7/8-14 UNF"), ("0.875-14", "7/8-14 UNF"),
        ("1-1/16-12", "1 1/16-12 UN"), ("1 1/16-12 UNF", "1 1/16-12 UN"), ("1-14", "1-14 UNS"),
        ("1/2-14", "1/2-14 NPT = 1/2-14 NPTF"), ("1/2 npt", "1/2-14 NPT = 1/2-14 NPTF"),
        ("NPTF 1/2", "1/2-14 NPT = 1/2-14 NPTF"),
        ("g1/2", "G 1/2"), ("1/2 BSPP", "G 1/2"), ("Rc 1/2", "R 1/2"), ("BSPT 1-1/4", "R 1 1/4"), ("G1", "G 1"),
        ("m22x1.5", "M22x1.5"), ("M22×1,5", "M22x1.5"), ("M 22 x 1.5", "M22x1.5"),
    ],
)  # fmt: skip
def test_spellings(text, name) -> None:
    assert [thread.name for thread in threads_named(text)] == [name]


def test_sizes_that_look_alike_stay_apart() -> None:
    # 11/16 and 1 1/16 lose their difference where spaces are dropped.
    assert [thread.nominal_mm for thread in threads_named("11/16-16")] == [17.462]
    assert [thread.nominal_mm for thread in threads_named("1 1/16-16")] == [26.987]


@pytest.mark.parametrize("text", ["", "foo", "3/4", "8PK1854", "1/0-14", "M22", "G", "12/12/2024", "7/8-15"])
def test_what_is_no_thread_here_names_none(text) -> None:
    assert threads_named(text) == ()


def test_the_rest_of_the_text_is_left() -> None:
    found = find_name("male -8 3/4-16 37 swivel")
    assert found is not None
    assert (found[0].size, found[1]) == (0.75, "male -8 37 swivel")


def test_no_two_threads_answer_to_one_full_name() -> None:
    for thread in thread_candidates():
        for use in thread.uses:
            assert threads_named(use.thread) == (thread,)
