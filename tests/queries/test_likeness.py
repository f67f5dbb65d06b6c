"""Likeness: whole for itself, symmetric, the same whatever the order of lists; other people's words for the same thing.

The jobs are invented; which of two is the liker one is the writer's judgement, and is said beside each.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.sheets.job_sheet import JobPart, JobSheet, JobTrouble
from queries.drive_shape import DriveShape, shape_likeness
from queries.jobs import JobQuestion, ask_jobs
from queries.likeness import MISSING_COUNTS, MISSING_SHARE, WEIGHTS, Sense, likeness

WORDS = st.sampled_from(
    [
        "belt",
        "chirps",
        "squeal",
        "alt",
        "alternator",
        "hose",
        "wept",
        "fan",
        "ring",
        "7",
        "8.3",
        "zinc",
        "öl",
        "compressor",
    ]
)
TEXT = st.lists(WORDS, min_size=1, max_size=5).map(" ".join)
JOBS = st.builds(
    JobSheet, id=st.none(), work=TEXT, machine=st.none() | TEXT, engine=st.none() | TEXT, notes=st.none() | TEXT,
    accessories=st.lists(TEXT, max_size=3).map(tuple), profile=st.sampled_from([None, "PK", "pk"]),
    ribs=st.none() | st.integers(4, 10), belt_length_mm=st.none() | st.floats(500, 3000), drive=st.none() | TEXT,
    parts=st.lists(st.builds(JobPart, part_no=st.sampled_from(["00123", "1E5", "oo123", "77"])), max_size=3).map(tuple),
    troubles=st.lists(st.builds(JobTrouble, trouble=st.none() | TEXT, remedy=TEXT), max_size=3).map(tuple),
)  # fmt: skip
SENSES = st.sampled_from([Sense(), Sense({"belt": 0.3, "noise": 1.7, "fan": 0.25, "zinc": 2.0})])


@given(one=JOBS, sense=SENSES)
def test_a_job_is_whole_like_itself(one, sense) -> None:
    assert likeness(one, one, sense)[0] == pytest.approx(100.0)


@given(one=JOBS, other=JOBS, sense=SENSES)
def test_it_is_symmetric_and_bounded(one, other, sense) -> None:
    there, back = likeness(one, other, sense), likeness(other, one, sense)
    assert there[0] == pytest.approx(back[0])
    assert set(there[1]) == set(back[1])
    assert 0.0 <= there[0] <= 100.0 + 1e-9


@given(one=JOBS, other=JOBS, seed=st.integers(0, 99), sense=SENSES)
def test_the_order_of_lists_does_not_matter(one, other, seed, sense) -> None:
    chance = random.Random(seed)
    shuffled = {
        name: tuple(chance.sample(values, len(values)))
        for name in ("parts", "troubles", "accessories")
        for values in [getattr(other, name)]
    }
    assert likeness(one, replace(other, **shuffled), sense)[0] == pytest.approx(likeness(one, other, sense)[0])


@given(one=JOBS, other=JOBS)
def test_a_field_that_only_one_knows_says_what_is_written_down(one, other) -> None:
    first, second = replace(one, engine="inline six", drive=None), replace(other, engine=None, drive=None)
    without = likeness(replace(first, engine=None), second)[0]
    weight = next(each.weight for each in WEIGHTS if each.name == "engine") * MISSING_COUNTS
    knows = [(each.known(replace(first, engine=None)), each.known(second), each.weight) for each in WEIGHTS]
    counted = sum(w if a and b else w * MISSING_COUNTS if a or b else 0.0 for a, b, w in knows)
    expected = (without * counted + 100 * weight * MISSING_SHARE) / (counted + weight)
    assert likeness(first, second)[0] == pytest.approx(expected)


ASKED = JobSheet(None, "alternator upgrade, serpentine", troubles=(JobTrouble("belt squeals with the lights on"),))


@pytest.mark.parametrize(
    ("liker", "other"),
    [
        # noise by another word, and abbreviated
        (JobSheet(None, "alt conv", troubles=(JobTrouble("blt chirps under load"),)),
         JobSheet(None, "alternator upgrade", troubles=(JobTrouble("bracket cracked"),))),
        # misspelt
        (JobSheet(None, "altenator swaped", troubles=(JobTrouble("sqeals"),)),
         JobSheet(None, "heater hose", troubles=(JobTrouble("clamp wept"),))),
        # the trouble stands in the notes
        (JobSheet(None, "bigger generator", notes="belt screeches when loaded"),
         JobSheet(None, "bigger generator", notes="painted bracket green")),
    ],
)  # fmt: skip
def test_other_peoples_words_for_the_same_thing(liker, other) -> None:
    assert likeness(ASKED, liker)[0] > likeness(ASKED, other)[0]
    assert likeness(ASKED, liker)[1]


def test_reasons_are_in_words() -> None:
    other = JobSheet(
        "X",
        "alternator upgrade, serpentine",
        machine="Plow 7",
        ribs=8,
        troubles=(JobTrouble("Belt squeals with the lights on"),),
    )
    _, because = likeness(replace(ASKED, machine="plow 7", ribs=8), other)
    assert "same work: alternator upgrade, serpentine" in because
    assert any(why.startswith("same trouble: ") for why in because)
    assert "8 ribs both" in because


FAN = DriveShape("Plow 7, fan", ("alternator", "crank", "fan", "tensioner"), 3, 1, True, 200.0)


def test_drives_of_one_shape() -> None:
    same = shape_likeness(FAN, DriveShape("PLOW 7, FAN", (), 0, 0, False, None))
    assert same == (1.0, "the same drive: Plow 7, fan")
    like = DriveShape("Tender 2, fan", FAN.turns, 3, 1, True, 210.0)
    pump = DriveShape("Flusher, pump", ("crank", "pump"), 2, 0, False, 90.0)
    assert 0.9 < shape_likeness(FAN, like)[0] <= 1.0
    assert shape_likeness(FAN, pump)[0] < 0.5
    assert shape_likeness(FAN, pump)[0] == pytest.approx(shape_likeness(pump, FAN)[0])
    one, other = JobSheet("A", "x", drive="Plow 7, fan"), JobSheet("B", "x", drive="Tender 2, fan")
    shapes = {each.name.casefold(): each for each in (FAN, like, pump)}
    far = replace(other, drive="Flusher, pump")
    assert likeness(one, other, Sense({}, shapes))[0] > likeness(one, far, Sense({}, shapes))[0]


def test_many_jobs_are_found_by_their_words(tmp_path) -> None:
    """Beyond the number that is compared in full, the wanted job is still found: by synonym, slip and part number."""
    import importlib.util
    from pathlib import Path

    from kb.shelf import open_to_read

    path = Path(__file__).parent.parent / "bench" / "bench_likeness.py"
    spec = importlib.util.spec_from_file_location("bench_likeness", path)
    assert spec is not None
    assert spec.loader is not None
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    shelf = tmp_path / "shelf.db"
    jobs = bench.fill(shelf, 1500)
    connection = open_to_read(shelf)
    try:
        for job in jobs[::150]:
            rows = ask_jobs(connection, JobQuestion(like=replace(job, id=None), limit=3)).rows
            assert rows[0].id == job.id
            assert rows[0].likeness > 95.0
            assert job.id not in [row.id for row in ask_jobs(connection, JobQuestion(like=job.id)).rows]
    finally:
        connection.close()
