"""Threads against the published tables (ASME B1.1, B1.20.1, ISO 228-1, ISO 7-1, ISO 8434-1 as the rows name them).

What a parallel thread's own nominal size is, is plain: its major or minor diameter. A taper has none: NPT's nominal is the
pipe's outside diameter, which its large end reaches, R's is at the gauge plane. So tapers are read at both ends and at places
drawn evenly along the thread. Two pairs, NPT and R of 1/2 and of 3/4, have one pitch and cover the same diameters: where
they do, no caliper parts them, only the angle of the flanks. These count against us below.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace

import pytest

from kb.mechanics.thread_questions import settling_question
from kb.mechanics.threads import (
    LEAVES_MM,
    Seen,
    Thread,
    ends_mm,
    identify,
    large_end_r_mm,
    made_small_mm,
    pitch_from_threads_per_inch,
    shown,
    small_end_npt_mm,
)
from kb.reference.tables import ThreadRow, threads
from kb.reference.thread_names import threads_named
from kb.reference.threads import male_ends_mm, thread_candidates, thread_key
from queries.fittings import FittingQuestion, ask_fittings

CHECKED = [row for row in threads() if row.checked]
THREADS = thread_candidates()
BY_KEY = {(one.form_deg, one.nominal_mm, one.pitch_mm, one.taper): one for one in THREADS}


def _of(row: ThreadRow) -> Thread:
    return BY_KEY[thread_key(row)]


def _first(seen: Seen, count: int = 1) -> list[Thread]:
    return [one.thread for one in identify(THREADS, seen)[:count]]


@pytest.mark.parametrize("inside", [False, True])
@pytest.mark.parametrize("row", CHECKED, ids=lambda row: f"{row.family} {row.thread}")
def test_every_checked_thread_is_told_from_its_own_nominal_size(row, inside) -> None:
    thread = _of(row)
    for diameter in set(ends_mm(thread, inside)):
        seen = Seen(diameter, inside, row.pitch_mm, taper=row.taper)
        told = _first(seen, 2)
        assert thread in told
        if not row.taper:
            assert told[0] is thread
        # The two pairs that overlap are parted by the flanks, everything else without.
        assert _first(replace(seen, form_deg=thread.form_deg))[0] is thread


def _read(row: ThreadRow, inside: bool, chance: random.Random) -> float:
    """Draw a reading: noise 0.08 mm, wear up to 0.12 mm, on a taper any place along the thread."""
    place = chance.uniform(*ends_mm(_of(row), inside))
    wear = chance.uniform(0.0, 0.12)
    return place + (wear if inside else -wear) + chance.gauss(0, 0.08)


@pytest.mark.parametrize("inside", [False, True])
@pytest.mark.parametrize("taper_seen", [False, True])
def test_worn_and_shakily_measured_threads_are_told(inside, taper_seen) -> None:
    # Measured: first in 92 % (outside) and 94 % (inside) where nobody looked for a taper, 98 % where somebody did.
    chance = random.Random(20)
    count: Counter[str] = Counter()
    for row in CHECKED:
        for _ in range(25):
            seen = Seen(_read(row, inside, chance), inside, row.pitch_mm, taper=row.taper if taper_seen else None)
            told = _first(seen, 3)
            count["first"] += told[0] is _of(row)
            count["three"] += _of(row) in told
            count["all"] += 1
    assert count["three"] / count["all"] >= 0.97
    assert count["first"] / count["all"] >= (0.96 if taper_seen else 0.90)


@pytest.mark.parametrize("inside", [False, True])
def test_with_the_seat_known_its_family_comes_first(inside) -> None:
    # Light and heavy 24 degree cones (L, S) share seven threads and the seat: a seat gauge cannot part them, the tube does.
    # Without the tube the first family is therefore held to its thread and seat; with it, to its name.
    chance = random.Random(21)
    count: Counter[str] = Counter()
    for row in CHECKED:
        if row.seat_half_angle_deg is None:
            continue
        for _ in range(25):
            seen = Seen(_read(row, inside, chance), inside, row.pitch_mm, seat_deg=row.seat_half_angle_deg)
            best = identify(THREADS, seen)[0]
            count["seat"] += best.thread is _of(row) and best.uses[0][0].seat_half_deg == row.seat_half_angle_deg
            tube = row.tube_outside_diameter_mm
            read = None if tube is None else tube + chance.gauss(0, 0.08)
            best = identify(THREADS, replace(seen, tube_outside_mm=read))[0]
            count["family"] += best.uses[0][0].family == row.family and best.thread is _of(row)
            count["all"] += 1
    assert count["seat"] / count["all"] >= 0.95
    assert count["family"] / count["all"] >= 0.95


@pytest.mark.parametrize("inside", [False, True])
def test_threads_made_anywhere_in_their_tolerance_are_told(inside) -> None:
    # ISO 965-1 grade 6 tolerances, formulas from memory: nothing that the caliper test above assumes.
    chance = random.Random(22)
    count: Counter[str] = Counter()
    for row in CHECKED:
        if row.taper:
            continue
        for _ in range(25):
            made = chance.uniform(0.0, made_small_mm(row.pitch_mm, inside))
            size = row.female_minor_basic_mm + made if inside else row.male_major_max_mm - made
            told = _first(Seen(size + chance.gauss(0, 0.08), inside, row.pitch_mm, taper=False), 3)
            count["first"] += told[0] is _of(row)
            count["three"] += _of(row) in told
            count["all"] += 1
    assert count["three"] / count["all"] >= 0.97
    assert count["first"] / count["all"] >= 0.90


def test_a_neighbouring_leaf_is_forgiven() -> None:
    # The leaf next to the right one, either way, of an inch and a metric gauge together, where it is within 4 %.
    chance = random.Random(23)
    among = tried = 0
    for row in CHECKED:
        for leaf in LEAVES_MM:
            if 0.003 < abs(leaf / row.pitch_mm - 1) < 0.04:
                told = _first(Seen(_read(row, False, chance), pitch_mm=leaf, taper=row.taper), 3)
                among += _of(row) in told
                tried += 1
    assert tried > 30
    assert among / tried >= 0.95


@pytest.mark.parametrize("row", [row for row in threads() if row.taper], ids=lambda row: row.thread)
def test_small_ends_of_tapers(row) -> None:
    small, large = male_ends_mm(row)
    if row.family.startswith("NPT"):
        # ASME B1.20.1: E0 = D - (0.05 D + 1.1) P, crest at E0 + 0.8 P; E1 = E0 + L1/16 stands in the row.
        assert small == pytest.approx(small_end_npt_mm(row.male_major_nominal_mm, row.pitch_mm), abs=0.01)
        assert large == row.male_major_nominal_mm
        e1 = float(re.search(r"E1 pitch diameter ([0-9.]+) mm", row.note)[1])
        assert row.female_minor_basic_mm == pytest.approx(e1 - 0.8 * row.pitch_mm, abs=0.002)
    else:
        # ISO 7-1: the gauge length of taper 1:16 lies between the small end and the gauge plane.
        gauge = float(re.search(r"gauge length ([0-9.]+) mm", row.note)[1])
        assert small == pytest.approx(row.male_major_nominal_mm - gauge / 16, abs=0.01)
        assert large == large_end_r_mm(row.male_major_nominal_mm, row.pitch_mm)
        # ISO 228-1 and ISO 7-1 share basic diameters: D1 = d - 1.280654 P.
        assert row.female_minor_basic_mm == pytest.approx(
            row.male_major_nominal_mm - 1.280654 * row.pitch_mm, abs=0.002
        )


@pytest.mark.parametrize(
    "row", [row for row in threads() if not row.taper], ids=lambda row: f"{row.family} {row.thread}"
)
def test_minor_diameters_of_parallel_threads(row) -> None:
    # ISO 68-1 and ASME B1.1: D1 = d - 1.0825318 P; ISO 228-1: D1 = d - 1.280654 P.
    factor = 1.280654 if row.family.startswith("BSPP") else 1.0825318
    assert row.female_minor_basic_mm == pytest.approx(row.male_major_nominal_mm - factor * row.pitch_mm, abs=0.002)


@pytest.mark.parametrize(
    ("pitch", "male", "female"), [(1.0, 0.180, 0.236), (1.5, 0.236, 0.300), (2.0, 0.280, 0.375), (3.0, 0.375, 0.500)]
)
def test_tolerances_of_iso_965_1(pitch, male, female) -> None:
    # ISO 965-1 grade 6, T_d and T_D1, values from memory; the standard rounds to preferred numbers.
    assert made_small_mm(pitch, inside=False) == pytest.approx(male, rel=0.02)
    assert made_small_mm(pitch, inside=True) == pytest.approx(female, rel=0.03)


def test_seven_eighths_fourteen_with_a_37_degree_seat() -> None:
    best = identify(THREADS, Seen(22.1, pitch_mm=pitch_from_threads_per_inch(14), seat_deg=37))[0]
    assert best.thread.name == "7/8-14 UNF"
    assert best.uses[0][0].family == "37-degree flare (JIC)"
    families = {use.family.split(" ")[0] for use, _ in best.uses}
    assert {"37-degree", "45-degree", "SAE"} <= families


def test_half_inch_pipe_threads_parallel_and_taper() -> None:
    seen = Seen(20.75, pitch_mm=pitch_from_threads_per_inch(14))
    names = [one.thread.name for one in shown(identify(THREADS, seen))]
    assert names[0] == "G 1/2"
    assert {"R 1/2", "1/2-14 NPT = 1/2-14 NPTF"} <= set(names)
    question = settling_question(shown(identify(THREADS, seen)), seen)
    assert question is not None
    assert question.kind == "taper"


def test_a_metric_leaf_on_an_inch_thread_is_allowed_for() -> None:
    # 1.75 mm is 14.5 per inch: the leaf goes into a 14 per inch thread (1.814 mm) nearly.
    names = [one.thread.name for one in shown(identify(THREADS, Seen(22.1, pitch_mm=1.75)))]
    assert names[0] == "7/8-14 UNF"


# The same through the question that the command and the page ask: a distinct thread is a place in its answer.


def _asked(seen: Seen, count: int = 3) -> list[Thread]:
    measured = {"inside_mm" if seen.inside else "outside_mm": seen.diameter_mm}
    rows = ask_fittings(
        None,
        FittingQuestion(**measured, pitch_mm=seen.pitch_mm, seat_deg=seen.seat_deg, taper=seen.taper, limit=60),
    ).rows
    firsts = {row.place: row.thread for row in rows}
    return [threads_named(firsts[place])[0] for place in sorted(firsts)[:count]]


@pytest.mark.parametrize("inside", [False, True])
def test_the_question_tells_every_checked_thread_from_its_own_size(inside) -> None:
    for row in CHECKED:
        for diameter in set(ends_mm(_of(row), inside)):
            told = _asked(Seen(diameter, inside, row.pitch_mm, taper=row.taper), 2 if row.taper else 1)
            assert _of(row) in told, row.thread


@pytest.mark.parametrize("inside", [False, True])
@pytest.mark.parametrize("taper_seen", [False, True])
def test_the_question_tells_worn_and_shakily_measured_threads(inside, taper_seen) -> None:
    chance = random.Random(11)
    first = among = tried = 0
    for row in CHECKED:
        for _ in range(8):
            seen = Seen(_read(row, inside, chance), inside, row.pitch_mm, taper=row.taper if taper_seen else None)
            told = _asked(seen)
            first += told[:1] == [_of(row)]
            among += _of(row) in told
            tried += 1
    assert among / tried >= 0.97
    assert first / tried >= 0.90


@pytest.mark.parametrize("inside", [False, True])
def test_the_question_names_the_right_family_first_where_the_seat_was_seen(inside) -> None:
    chance = random.Random(12)
    right = tried = 0
    for row in CHECKED:
        if row.seat_half_angle_deg is None:
            continue
        for _ in range(8):
            read = _read(row, inside, chance)
            tube = row.tube_outside_diameter_mm
            question = FittingQuestion(
                inside_mm=read if inside else None, outside_mm=None if inside else read, pitch_mm=row.pitch_mm,
                seat_deg=row.seat_half_angle_deg, tube_mm=None if tube is None else tube + chance.gauss(0, 0.08),
            )  # fmt: skip
            rows = ask_fittings(None, question).rows
            right += bool(rows) and (rows[0].standard, rows[0].thread) == (row.family, row.thread)
            tried += 1
    assert right / tried >= 0.95
