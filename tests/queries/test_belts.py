"""Belts by measurement; lengths, differences and fits are worked out beside each test, not taken from the output."""

from __future__ import annotations

import math
import random

import pytest

from kb.errors import AnswerError
from queries.belts import BeltQuestion, ask_belts


def ask(filled, **asked):
    return ask_belts(filled.connection, BeltQuestion(**asked))


def names(answer) -> list[str]:
    return [row.part_no for row in answer.rows]


@pytest.fixture
def four(filled):
    filled.belt("A1", 1850.0)
    filled.belt("A2", 1854.0)
    filled.belt("B1", 1854.4, supplier="Supplier B")
    filled.belt("A3", 1860.0)
    return filled


def test_nearest_first_inside_the_window(four) -> None:
    # Asked 1853: +1.0, +1.4, -3.0; +7.0 is outside two doubts of 2 mm. Fit = 100 exp(-d^2 / (2 * 2^2)).
    answer = ask(four, length_mm=1853.0, ribs=8)
    assert [(row.part_no, row.difference_mm) for row in answer.rows] == [("A2", 1.0), ("B1", 1.4), ("A1", -3.0)]
    assert [row.fit for row in answer.rows] == [88.2, 78.3, 32.5]
    assert "shorter" in answer.rows[2].why
    assert "longer" in answer.rows[0].why
    assert answer.misses == []
    assert "8 ribs PK" in answer.understood
    assert "as effective length" in answer.understood


def test_the_edge_of_the_window_is_inside(four) -> None:
    assert names(ask(four, length_mm=1853.0, ribs=8, within_mm=3.0)) == ["A2", "B1", "A1"]
    assert names(ask(four, length_mm=1853.0, ribs=8, within_mm=2.99)) == ["A2", "B1"]


@pytest.mark.parametrize(
    ("measured", "length", "thickness"),
    [
        ("effective", 1854.0, None),
        # ISO 1081: outside length = effective length + 2 pi times the ride-out, 2.5 mm (common practice, no source).
        ("outside", 1854.0 + 2 * math.pi * 2.5, None),
        # ISO 9981 clause 5.4: pitch length = effective length + 2 pi b_e, b_e = 2 mm for PK.
        ("pitch", 1854.0 + 2 * math.pi * 2.0, None),
        # A 2 mm string on the rims runs 1 mm over them: one turn adds 2 pi 1 mm.
        ("string", 1854.0 + 2 * math.pi * 1.0, 2.0),
    ],
)
def test_each_way_of_measuring_comes_to_the_same_belt(four, measured, length, thickness) -> None:
    row = ask(four, length_mm=length, ribs=8, measured=measured, string_thickness_mm=thickness).rows[0]
    assert row.part_no == "A2"
    assert row.difference_mm == pytest.approx(0.0, abs=0.001)


def test_a_rougher_way_of_measuring_looks_farther(four) -> None:
    outside = 1853.0 + 2 * math.pi * 2.5
    assert "A3" in names(ask(four, length_mm=outside, ribs=8, measured="outside"))  # 7 mm off, inside 2 x 4 mm
    assert "A3" not in names(ask(four, length_mm=1853.0, ribs=8))


def test_history_decides_between_belts_as_far_off(four) -> None:
    four.job("J1", "worked", ("B1", "Supplier B"))
    rows = ask(four, length_mm=1853.0, ribs=8).rows
    assert [row.part_no for row in rows] == ["B1", "A2", "A1"]  # 1.4 and 1.0 mm off: less than half a millimetre apart
    assert rows[0].as_json()["jobs_worked"] == 1
    assert "worked in 1 job" in rows[0].why


def test_history_decides_also_where_only_one_is_asked_for(four) -> None:
    four.job("J1", "worked", ("B1", "Supplier B"))
    assert names(ask(four, length_mm=1853.0, ribs=8, limit=1)) == ["B1"]


def test_history_does_not_bring_a_worse_fit_forward(four) -> None:
    four.job("J1", "worked", ("A1", "Supplier A"))  # 2 mm farther off than the nearest
    assert names(ask(four, length_mm=1853.0, ribs=8)) == ["A2", "B1", "A1"]


def test_a_failure_puts_a_belt_behind_its_equal(four) -> None:
    four.job("J1", "did not work", ("A2", "Supplier A"))
    rows = ask(four, length_mm=1853.0, ribs=8).rows
    assert [row.part_no for row in rows[:2]] == ["B1", "A2"]
    assert rows[1].as_json()["jobs_failed"] == 1
    assert "did not work in 1 job" in rows[1].why


def test_equals_come_in_the_order_of_supplier_and_part_number(filled) -> None:
    filled.belt("2", 1854.0, supplier="Supplier B")
    filled.belt("9", 1854.0, supplier="Supplier A")
    filled.belt("1", 1854.0, supplier="Supplier B")
    for limit in (1, 2, 3):
        assert names(ask(filled, length_mm=1855.0, ribs=8, limit=limit)) == ["9", "1", "2"][:limit]


def test_belts_that_could_stand_in_come_after_and_say_so(four) -> None:
    four.belt("S7", 1853.5, ribs=7)
    four.belt("S9", 1853.0, ribs=9)
    four.belt("S6", 1853.0, ribs=6)
    answer = ask(four, length_mm=1853.0, ribs=8)
    assert names(answer) == ["A2", "B1", "A1", "S9", "S7"]  # the nearer of the two first
    assert [row.stands_in for row in answer.rows] == [False, False, False, True, True]
    assert "7 ribs instead of 8: runs, carries less" in answer.rows[4].why
    assert "9 ribs instead of 8: only where every pulley has the grooves" in answer.rows[3].why
    assert names(ask(four, length_mm=1853.0, ribs=8, limit=3)) == ["A2", "B1", "A1"]


def test_only_stand_ins_are_said_to_be_so(filled) -> None:
    filled.belt("S7", 1853.0, ribs=7)
    answer = ask(filled, length_mm=1853.0, ribs=8)
    assert names(answer) == ["S7"]
    assert any("8 ribs" in note and "stand in" in note for note in answer.notes)


def test_without_ribs_every_rib_count_answers(four) -> None:
    four.belt("S6", 1853.0, ribs=6)
    answer = ask(four, length_mm=1853.0)
    assert names(answer) == ["S6", "A2", "B1", "A1"]
    assert not any(row.stands_in for row in answer.rows)


def test_without_a_length_the_shortest_come_first(four) -> None:
    answer = ask(four, ribs=8, limit=2)
    assert names(answer) == ["A1", "A2"]
    assert [row.difference_mm for row in answer.rows] == [None, None]


def test_nothing_near_shows_the_five_nearest_and_how_far(filled) -> None:
    for place in range(7):
        filled.belt(f"N{place}", 1900.0 + 10 * place)
    answer = ask(filled, length_mm=1800.0, ribs=8)
    assert answer.rows == []
    assert [(row.part_no, row.difference_mm) for row in answer.misses] == [
        ("N0", 100.0), ("N1", 110.0), ("N2", 120.0), ("N3", 130.0), ("N4", 140.0),
    ]  # fmt: skip
    assert "3 15/16 in (100 mm) longer" in answer.misses[0].why  # 100 / 25.4 = 3.937, nearest sixteenth 3.9375


def test_an_empty_shelf_answers_with_nothing(filled) -> None:
    answer = ask(filled, length_mm=1853.0, ribs=8)
    assert (answer.rows, answer.misses) == ([], [])


def test_equivalents_are_other_suppliers_belts_within_a_millimetre(filled) -> None:
    filled.belt("A1", 1854.0)
    filled.belt("A2", 1854.2)  # the same supplier's
    filled.belt("B1", 1855.0, supplier="Supplier B")  # just 1 mm
    filled.belt("B2", 1855.2, supplier="Supplier B")  # 1.2 mm
    filled.belt("C1", 1854.0, ribs=7, supplier="Supplier C")
    rows = {row.part_no: row for row in ask(filled, length_mm=1854.0, ribs=8).rows}
    assert rows["A1"].equivalents == ("Supplier B B1",)
    assert rows["A2"].equivalents == ("Supplier B B1", "Supplier B B2")
    assert rows["B1"].equivalents == ("Supplier A A1", "Supplier A A2")


def test_a_tolerance_on_the_sheet_is_said(filled) -> None:
    filled.belt("A1", 1850.0, length_tolerance_mm=9.0)
    assert "its tolerance is ±9 mm" in ask(filled, length_mm=1853.0, ribs=8).rows[0].why


def test_v_belts_are_compared_in_the_kind_their_sheets_give(filled) -> None:
    filled.part("belt", "V1", section="13A", top_width_mm=12.7, outside_length_mm=1003.0)
    filled.part("belt", "V2", section="13A", top_width_mm=13.0, effective_length_mm=1001.0)
    filled.part("belt", "V3", section="17A", top_width_mm=16.7, outside_length_mm=1000.0)
    outside = ask(filled, top_width_mm=13.0, length_mm=1000.0, measured="outside")
    assert [(row.part_no, row.difference_mm) for row in outside.rows] == [("V1", 3.0)]
    assert "compared as outside length" in outside.rows[0].why
    assert "0.3 mm narrower" in outside.rows[0].why
    effective = ask(filled, top_width_mm=13.0, length_mm=1000.0)
    assert [(row.part_no, row.difference_mm) for row in effective.rows] == [("V2", 1.0)]
    # No checked table turns one into the other for V-belts: what is left out is counted, not guessed at.
    assert any("One belt" in note and "--measured outside" in note for note in effective.notes)


def test_v_belts_by_width_alone_and_the_nearest_miss(filled) -> None:
    filled.part("belt", "V1", section="13A", top_width_mm=12.7, outside_length_mm=1003.0)
    assert names(ask(filled, top_width_mm=13.0)) == ["V1"]
    assert names(ask(filled, top_width_mm=17.0)) == []
    missed = ask(filled, top_width_mm=13.0, length_mm=1100.0, measured="outside")
    assert [(row.part_no, row.difference_mm) for row in missed.misses] == [("V1", -97.0)]


def test_another_profile_is_not_measured_with_the_heights_of_pk(filled) -> None:
    filled.part("belt", "J1", profile="PJ", ribs=8, outside_length_mm=1000.0)
    answer = ask(filled, profile="pj", ribs=8, length_mm=1001.0, measured="outside")
    assert [(row.part_no, row.difference_mm) for row in answer.rows] == [("J1", -1.0)]
    assert "compared as outside length" in answer.rows[0].why


def test_a_designation_is_taken_apart(four) -> None:
    # ISO 9981: number of ribs, profile, effective length in mm.
    assert names(ask(four, text="8 pk 1854")) == ["A2", "B1", "A1"]
    assert names(ask(four, text="8PK1854", ribs=8)) == ["A2", "B1", "A1"]
    with pytest.raises(AnswerError, match="contradict"):
        ask(four, text="8PK1854", ribs=7)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({}, "nothing was asked"),
        ({"length_mm": 1860.0, "ribs": 8, "measured": "string"}, "thickness"),
        ({"length_mm": 1860.0, "measured": "guessed"}, "no way of measuring"),
    ],
)
def test_what_cannot_be_answered_is_said(filled, asked, says) -> None:
    with pytest.raises(AnswerError, match=says) as told:
        ask(filled, **asked)
    assert told.value.do


def test_words_and_measurements_together(demo) -> None:
    every = ask_belts(demo, BeltQuestion(text="belt", length_mm=1854.0, limit=50))
    assert every.rows
    assert all(abs(row.difference_mm) <= 4.0 for row in every.rows)
    eight = ask_belts(demo, BeltQuestion(text="belt", length_mm=1854.0, ribs=8, limit=50))
    assert {row.part_no for row in eight.rows} == {row.part_no for row in every.rows if row.ribs == 8}
    assert all("words: " in row.why or "part number" in row.why for row in eight.rows)


def test_many_belts_against_sorting_them_all(filled) -> None:
    """The walk through the index against plain sorting of every row, seeded; lengths repeat, so that ties occur."""
    chance = random.Random(8)
    belts = [
        (f"P{place}", round(chance.uniform(900.0, 1300.0) * 2) / 2, chance.randint(5, 10)) for place in range(4000)
    ]
    filled.connection.execute("BEGIN")
    for part_no, length, ribs in belts:
        filled.belt(part_no, length, ribs)
    filled.connection.execute("COMMIT")
    for _ in range(60):
        asked, within = chance.uniform(880.0, 1320.0), chance.choice([0.5, 4.0, 30.0])
        ribs = chance.choice([None, 5, 8])
        limit = chance.choice([1, 10, 50])
        near = sorted(
            (abs(length - asked), part_no)
            for part_no, length, count in belts
            if (ribs is None or count == ribs) and abs(length - asked) <= within
        )[:limit]
        answer = ask(filled, length_mm=asked, ribs=ribs, within_mm=within, limit=limit)
        exact = [(abs(row.effective_length_mm - asked), row.part_no) for row in answer.rows if not row.stands_in]
        assert exact == near


def test_an_answer_is_read_in_one_transaction_and_leaves_none_behind(four) -> None:
    seen: list[str] = []
    four.connection.set_trace_callback(seen.append)
    ask(four, length_mm=1853.0, ribs=8)
    four.connection.set_trace_callback(None)
    assert (seen[0], seen[-1]) == ("BEGIN", "COMMIT")
    assert not four.connection.in_transaction
    with pytest.raises(AnswerError):
        ask(four)
    assert not four.connection.in_transaction
    # A caller's own transaction stays the caller's.
    four.connection.execute("BEGIN")
    four.belt("A9", 1853.0)
    assert names(ask(four, length_mm=1853.0, ribs=8))[0] == "A9"
    assert four.connection.in_transaction
    four.connection.execute("ROLLBACK")
    assert "A9" not in names(ask(four, length_mm=1853.0, ribs=8))
