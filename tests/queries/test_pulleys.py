"""Pulleys and tensioners by diameter, grooves and use; expectations are worked out beside each test."""

from __future__ import annotations

import pytest

from kb.errors import AnswerError
from kb.reference.tables import is_checked, table
from queries.pulleys import (
    EFFECTIVE_OVER_OUTSIDE_MM,
    OVER_BALLS_LESS_EFFECTIVE_MM,
    PulleyQuestion,
    ask_pulleys,
    ask_tensioners,
)


def ask(filled, **asked):
    return ask_pulleys(filled.connection, PulleyQuestion(**asked))


def names(answer) -> list[str]:
    return [row.part_no for row in answer.rows]


@pytest.fixture
def some(filled):
    filled.part("pulley", "P1", face="grooved", grooves=8, outside_diameter_mm=76.2, use="alternator")
    filled.part("pulley", "P2", face="grooved", grooves=10, outside_diameter_mm=76.0, use="alternator")
    filled.part("pulley", "P3", face="flat", outside_diameter_mm=77.5, use="idler")
    filled.part("pulley", "P4", face="grooved", grooves=8, outside_diameter_mm=79.0, use="fan")
    return filled


def test_nearest_diameter_first_inside_two_doubts(some) -> None:
    # Asked 76: P2 0.0, P1 +0.2, P3 +1.5; P4 at +3.0 is outside two doubts of 1 mm.
    answer = ask(some, diameter_mm=76.0)
    assert [(row.part_no, row.difference_mm) for row in answer.rows] == [("P2", 0.0), ("P1", 0.2), ("P3", 1.5)]
    assert [row.fit for row in answer.rows] == [100.0, 98.0, 32.5]  # 100 exp(-d^2 / 2)


def test_the_grooves_asked_for_before_more_of_them(some) -> None:
    answer = ask(some, diameter_mm=76.0, ribs=8)
    assert names(answer) == ["P1", "P2"]  # a flat pulley has no grooves
    assert "the belt leaves 2 empty" in answer.rows[1].why


@pytest.mark.parametrize(("asked", "slip"), [("alternator", False), ("ALTERNATOR", False), ("altenator", True)])
def test_by_use_with_its_slips(some, asked, slip) -> None:
    answer = ask(some, use=asked)
    assert names(answer) == ["P2", "P1"] or names(answer) == ["P1", "P2"]
    assert ("you wrote altenator" in answer.rows[0].why) is slip


def test_a_use_nobody_names_is_answered_with_those_there_are(some) -> None:
    answer = ask(some, use="wheelbarrow")
    assert answer.rows == []
    assert any("alternator, fan, idler" in note for note in answer.notes)


def test_diameter_and_use_have_both_to_be_met(some) -> None:
    assert names(ask(some, diameter_mm=76.0, use="idler")) == ["P3"]


def test_words_and_use_have_both_to_be_met(demo) -> None:
    def parts(**asked) -> set[tuple[str, str]]:
        rows = ask_pulleys(demo, PulleyQuestion(limit=1000, **asked)).rows
        return {(row.supplier, row.part_no) for row in rows}

    words, use = parts(text="pulley"), parts(use="fan")
    assert words - use
    assert parts(text="pulley", use="fan") == words & use


def test_more_grooves_than_there_are(some) -> None:
    assert any("has 10" in note for note in ask(some, ribs=12).notes)


def test_nothing_near_shows_how_far_off_the_nearest_are(some) -> None:
    answer = ask(some, diameter_mm=300.0)
    assert answer.rows == []
    assert [(row.part_no, row.difference_mm) for row in answer.misses[:2]] == [("P4", -221.0), ("P3", -222.5)]
    assert "smaller" in answer.misses[0].why


def test_an_effective_diameter_is_turned_into_the_outside_one(filled) -> None:
    # The rib tips of ISO 9981 may be rounded: outside = effective - 0.35 mm, so 76.35 effective is 76.0 outside.
    filled.part("pulley", "E1", face="grooved", profile="PK", grooves=8, effective_diameter_mm=76.35)
    filled.part("pulley", "K1", face="grooved", profile="PK", grooves=8, over_balls_mm=77.34)
    filled.part("pulley", "J1", face="grooved", profile="PJ", grooves=8, effective_diameter_mm=76.35)
    rows = ask(filled, diameter_mm=76.0).rows
    assert [(row.part_no, row.difference_mm) for row in rows] == [
        ("E1", pytest.approx(0.0, abs=1e-6)),
        ("K1", pytest.approx(0.0, abs=1e-6)),
    ]
    assert "worked out from its effective diameter" in rows[0].why
    assert "worked out from its diameter over balls" in rows[1].why


def test_the_ball_allowance_is_that_of_the_table() -> None:
    (row,) = [
        row
        for row in table("belt_profiles")
        if row["profile"] == "PK" and row["quantity"] == "diameter over balls minus effective diameter"
    ]
    assert is_checked(row)
    assert float(row["value"]) == OVER_BALLS_LESS_EFFECTIVE_MM
    # Sharp tips: none; tips rounded as much as a public drawing of the groove has it: 0.7 mm. The middle is taken.
    assert pytest.approx((0.0 + 0.7) / 2) == EFFECTIVE_OVER_OUTSIDE_MM


def test_tensioners_are_asked_in_the_same_way(filled) -> None:
    filled.part("tensioner", "T1", face="flat", outside_diameter_mm=76.2, use="fan plane")
    filled.part("tensioner", "T2", face="flat", arm_length_mm=90.0)  # no diameter on its sheet
    answer = ask_tensioners(filled.connection, PulleyQuestion(diameter_mm=76.0))
    assert names(answer) == ["T1"]
    assert names(ask_tensioners(filled.connection, PulleyQuestion(use="fan"))) == ["T1"]


def test_jobs_that_used_it_are_counted(some) -> None:
    some.job("J1", "did not work", ("P1", "Supplier A"))
    row = next(row for row in ask(some, diameter_mm=76.0).rows if row.part_no == "P1")
    assert row.as_json()["jobs_failed"] == 1
    assert "did not work in 1 job" in row.why


def test_nothing_asked(filled) -> None:
    with pytest.raises(AnswerError, match="nothing was asked"):
        ask(filled)
