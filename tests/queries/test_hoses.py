"""Hoses by bore, length, bends and service; expectations are worked out beside each test."""

from __future__ import annotations

import json

import pytest

from kb.errors import AnswerError
from kb.mechanics.moulded_search import Tolerance
from queries.hoses import HoseQuestion, ask_hoses


def ask(filled, **asked):
    return ask_hoses(filled.connection, HoseQuestion(**asked))


def names(answer) -> list[str]:
    return [row.part_no for row in answer.rows]


def put(filled, part_no, bore, legs=None, bends=None, **columns) -> None:
    for name, values in (("legs_mm", legs), ("bends_deg", bends)):
        if values is not None:
            columns[name] = json.dumps(values)
    filled.part("hose", part_no, inside_diameter_mm=bore, **columns)


def test_the_bore_asked_for_first_and_none_beyond_its_window(filled) -> None:
    put(filled, "H1", 38.1)
    put(filled, "H2", 38.8)
    put(filled, "H3", 37.1)  # 0.9 mm off
    answer = ask(filled, inside_mm=38.0)
    assert names(answer) == ["H1", "H2"]
    assert [row.fit for row in answer.rows] == [96.9, 13.5]  # 100 exp(-d^2 / (2 0.4^2)) for 0.1 and 0.8 mm
    assert "bore 1/32 in (0.8 mm) larger" in answer.rows[1].why


def test_a_reducer_answers_by_either_end(filled) -> None:
    put(filled, "R1", 45.0, far_inside_diameter_mm=38.0)
    for bore in (38.0, 45.0):
        answer = ask(filled, inside_mm=bore)
        assert names(answer) == ["R1"]
        assert "a reducer, 1 3/4 in (45 mm) to 1 1/2 in (38 mm)" in answer.rows[0].why


def test_a_longer_hose_can_be_cut_and_a_shorter_one_cannot(filled) -> None:
    put(filled, "L1", 38.0, length_mm=500.0)
    put(filled, "L2", 38.0, length_mm=914.4)
    put(filled, "L3", 38.0, length_mm=490.0)
    put(filled, "L4", 38.0)
    answer = ask(filled, inside_mm=38.0, length_mm=500.0)
    assert names(answer) == ["L1", "L2", "L4"]
    assert [row.difference_mm for row in answer.rows] == [0.0, 414.4, None]
    assert "16 5/16 in (414.4 mm) longer: cut to suit" in answer.rows[1].why
    assert "not known" in answer.rows[2].why


@pytest.mark.parametrize("way", [1, -1])
def test_bends_and_legs_either_way_round(filled, way) -> None:
    put(filled, "B1", 38.0, legs=[101.6, 150.0, 177.8], bends=[90.0, 45.0])
    answer = ask(filled, legs_mm=(101.6, 150.0, 177.8)[::way], bends_deg=(90.0, 45.0)[::way])
    assert names(answer) == ["B1"]
    assert answer.rows[0].fit == 100.0
    assert "the bends asked for" in answer.rows[0].why
    assert any("--twists" in note for note in answer.notes)


def test_end_legs_can_be_cut_and_inner_ones_cannot(filled) -> None:
    put(filled, "LONG", 38.0, legs=[201.6, 150.0, 177.8], bends=[90.0, 90.0])
    put(filled, "INNER", 38.0, legs=[101.6, 160.0, 177.8], bends=[90.0, 90.0])  # 10 mm more between its bends
    put(filled, "SHORT", 38.0, legs=[90.0, 150.0, 177.8], bends=[90.0, 90.0])  # an end leg 11.6 mm short
    answer = ask(filled, legs_mm=(101.6, 150.0, 177.8), bends_deg=(90.0, 90.0))
    assert names(answer) == ["LONG"]
    assert "cut 3 15/16 in (100 mm) off its first end, the 7 15/16 in (201.6 mm) leg" in answer.rows[0].why
    reasons = {
        row.part_no: row.why for row in ask(filled, legs_mm=(300.0, 150.0, 300.0), bends_deg=(90.0, 90.0)).misses
    }
    assert "too short" in reasons["SHORT"]


@pytest.mark.parametrize(("bend", "found"), [(85.0, True), (95.0, True), (84.0, False), (96.0, False)])
def test_bends_within_five_degrees(filled, bend, found) -> None:
    put(filled, "B1", 38.0, legs=[100.0, 100.0], bends=[bend])
    assert bool(names(ask(filled, bends_deg=(90.0,)))) is found


def test_as_many_bends_as_asked_for_or_more(filled) -> None:
    put(filled, "ONE", 38.0, legs=[100.0, 100.0], bends=[90.0])
    put(filled, "TWO", 38.0, legs=[100.0, 100.0, 100.0], bends=[90.0, 90.0])
    put(filled, "NONE", 38.0, legs=[400.0])
    assert names(ask(filled, bends_deg=(90.0,))) == ["ONE", "TWO"]
    assert names(ask(filled, bends_deg=(90.0, 90.0))) == ["TWO"]
    # TWO's 100 mm between its bends is less than a leg of 100 beside the next bend's arc.
    assert names(ask(filled, legs_mm=(100.0, 100.0), bends_deg=(90.0,))) == ["ONE"]
    assert names(ask(filled, legs_mm=(100.0, 100.0))) == ["ONE"]  # two legs mean one bend
    assert names(ask(filled, legs_mm=(350.0,))) == ["NONE"]


def test_a_shape_in_a_hoses_middle_with_its_cut_marks(filled) -> None:
    # Legs 200, 150, 180, bends 90 and 45 at R 40: 530 less 40 (0.42920 + 0.04303) is 511.11 along the middle, which tells the
    # radius back. Wanted 100 and 100 about the 45: 200 + (150 - 100) - 17.17 = 232.83 off the first end, 80 off the second.
    put(filled, "LONG", 38.0, legs=[200.0, 150.0, 180.0], bends=[90.0, 45.0], twists_deg="[20]", length_mm=511.111)
    (row,) = ask(filled, legs_mm=(100.0, 100.0), bends_deg=(45.0,)).rows
    assert row.cut is not None
    assert (row.cut["from_first_end_mm"], row.cut["from_second_end_mm"]) == (232.8, 80.0)
    assert row.cut["bend_radius_mm"] == pytest.approx(40.0, abs=0.1)
    assert row.cut["bend_radius_from"] == "its length"
    assert row.cut["left_over"] == [
        {"end": "first", "length_mm": 232.8, "bends_deg": [90.0]}, {"end": "second", "length_mm": 80.0, "bends_deg": []}
    ]  # fmt: skip
    assert row.cut["kept_mm"] == pytest.approx(511.111 - 232.83 - 80.0, abs=0.1)
    assert "9 3/16 in (232.8 mm) off its first end" in row.why
    assert "with its 90°" in row.why


def test_a_mirror_image_is_told_and_not_sold(filled) -> None:
    put(filled, "RIGHT", 38.0, legs=[120.0, 100.0, 120.0], bends=[90.0, 90.0], twists_deg="[60]")
    put(filled, "LEFT", 38.0, legs=[120.0, 100.0, 120.0], bends=[90.0, 90.0], twists_deg="[-60]")
    put(filled, "NOBODY KNOWS", 38.0, legs=[120.0, 100.0, 120.0], bends=[90.0, 90.0])
    asked = {"legs_mm": (120.0, 100.0, 120.0), "bends_deg": (90.0, 90.0), "twists_deg": (60.0,)}
    answer = ask(filled, **asked)
    assert names(answer) == ["RIGHT", "NOBODY KNOWS"]
    assert [row.fit for row in answer.rows] == [100.0, 30.0]
    assert "mirror" in answer.rows[1].why
    filled.connection.execute("DELETE FROM hose WHERE part_no <> 'LEFT'")
    answer = ask(filled, **asked)
    assert answer.rows == []
    assert answer.misses[0].why.endswith("the mirror image: its bends are twisted the other way")


def test_tolerances_of_ones_own(filled) -> None:
    put(filled, "H", 38.0, legs=[120.0, 110.0, 120.0], bends=[90.0, 83.0], twists_deg="[15]")
    asked = {"legs_mm": (120.0, 100.0, 120.0), "bends_deg": (90.0, 90.0), "twists_deg": (0.0,)}
    assert names(ask(filled, **asked)) == []
    assert names(ask(filled, **asked, tolerance=Tolerance.within(10.0, None))) == []
    assert names(ask(filled, **asked, tolerance=Tolerance.within(10.0, 8.0))) == ["H"]


def test_twists_through_a_sheet_and_the_command(run, tmp_path) -> None:
    sheet, shelf = tmp_path / "formed.csv", tmp_path / "shelf.db"
    sheet.write_text(
        "Part no,ID (mm),Legs (mm),Bends,Twist\nA,38,120; 100; 120,90; 90,60\nB,38,120; 100; 120,90; 90,-60\n",
        encoding="utf-8",
    )
    assert run("load", str(sheet), "--as", "hoses", "--supplier", "Any", shelf=shelf).exit_code == 0
    done = run("hoses", "--legs", "100 mm,100 mm,90 mm", "--bends", "90,90", "--twists", "-58", "--json", shelf=shelf)
    (row,) = json.loads(done.stdout)
    assert row["part_no"] == "B"
    assert row["twists_deg"] == [-60.0]
    assert (row["cut"]["from_first_end_mm"], row["cut"]["from_second_end_mm"]) == (20.0, 30.0)


def test_the_less_to_cut_off_the_better(filled) -> None:
    put(filled, "MUCH", 38.0, legs=[300.0, 300.0], bends=[90.0])
    put(filled, "NONE", 38.0, legs=[100.0, 100.0], bends=[90.0])
    assert names(ask(filled, legs_mm=(100.0, 100.0), bends_deg=(90.0,))) == ["NONE", "MUCH"]


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ("coolant", ["C1"]), ("Radiator", ["C1"]), ("water", ["C1"]), ("a/c", ["R0", "R1"]),
        ("refrigerant", ["R0", "R1"]), ("suction", ["R1"]), ("water spray", ["W1"]),
    ],
)  # fmt: skip
def test_services_by_the_words_people_use(filled, asked, expected) -> None:
    put(filled, "C1", 38.0, service="coolant")
    put(filled, "R0", 10.3, service="refrigerant")
    put(filled, "R1", 10.3, service="refrigerant suction")
    put(filled, "W1", 38.0, service="water spray")
    assert sorted(names(ask(filled, service=asked))) == expected


def test_an_unknown_service_is_answered_with_those_there_are(filled) -> None:
    put(filled, "C1", 38.0, service="coolant")
    answer = ask(filled, service="lemonade")
    assert answer.rows == []
    assert any("coolant" in note for note in answer.notes)


def test_the_nearest_bores_are_the_misses(filled) -> None:
    put(filled, "H1", 38.1)
    put(filled, "H2", 50.8)
    answer = ask(filled, inside_mm=44.0)
    assert answer.rows == []
    assert [row.part_no for row in answer.misses] == ["H1", "H2"]  # 5.9 and 6.8 mm off
    assert "smaller" in answer.misses[0].why


def test_words_and_measurements_together(demo) -> None:
    # In the demo's sheets words alone find hoses of every bore; with 38.1 mm only that size stays.
    words = ask_hoses(demo, HoseQuestion(text="radiator hose", limit=100)).rows
    both = ask_hoses(demo, HoseQuestion(text="radiator hose", inside_mm=38.1, limit=100)).rows
    assert len({row.inside_diameter_mm for row in words}) > 1
    assert both
    assert all(abs(row.inside_diameter_mm - 38.1) <= 0.8 for row in both if row.far_inside_diameter_mm is None)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({}, "nothing was asked"), ({"legs_mm": (100.0,), "bends_deg": (90.0, 45.0)}, "2 bends part a hose into 3 legs"),
        ({"bends_deg": (90.0, 45.0), "twists_deg": (1.0, 2.0)}, "2 bends have 1 twist"), ({"twists_deg": (1.0,)}, "no bends"),
        ({"bends_deg": (180.0,)}, "a return bend is two"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_is_said(filled, asked, says) -> None:
    with pytest.raises(AnswerError, match=says):
        ask(filled, **asked)


def test_the_nearest_misses_of_a_shape_are_bent_hoses(run, demo_shelf) -> None:
    # No hose of the demo's sheets has that long a middle leg: those with the same bends are the nearest, not straight ones.
    done = run("hoses", "--bends", "90,45", "--legs", "4 in,30 in,3 in", "--json", shelf=demo_shelf)
    assert json.loads(done.stdout) == []
    assert "between its bends" in done.stderr
    assert "lists no bends" not in done.stderr


def test_a_leg_longer_than_the_hose_is_refused(run, demo_shelf) -> None:
    done = run("hoses", "--legs", "32 in", "--length", "20 in", shelf=demo_shelf)
    assert done.exit_code == 2
    assert "longer than the whole hose" in done.stderr
