"""Clamps by the diameter they are to hold; bands of size numbers are SAE J1508's, as a second public table gives them."""

from __future__ import annotations

import pytest

from kb.errors import AnswerError
from queries.clamps import ClampQuestion, ask_clamps


def ask(filled, around, limit=50):
    return ask_clamps(filled.connection, ClampQuestion(around, limit))


def ours(answer) -> list[str]:
    return [row.part_no for row in answer.rows if row.supplier]


def test_the_middle_of_the_band_is_best(filled) -> None:
    filled.part("clamp", "MIDDLE", smallest_mm=50.0, largest_mm=64.0)  # middle 57: 0 % of the way to an end
    filled.part("clamp", "HALF", smallest_mm=53.0, largest_mm=69.0)  # middle 61, 4 of 8 mm away: 50 %
    filled.part(
        "clamp", "END", smallest_mm=56.5, largest_mm=76.5
    )  # middle 66.5, 9.5 of 10 mm away: 95 %, in the last tenth of travel: half of 52.5
    filled.part("clamp", "SMALL", smallest_mm=40.0, largest_mm=56.9)
    answer = ask(filled, 57.0)
    assert ours(answer) == ["MIDDLE", "HALF", "END"]
    fits = {row.part_no: row.fit for row in answer.rows}
    assert (fits["MIDDLE"], fits["HALF"], fits["END"]) == (100.0, 75.0, 26.2)
    whys = {row.part_no: row.why for row in answer.rows}
    assert "well inside" in whys["HALF"]
    assert "near the closed end" in whys["END"]


@pytest.mark.parametrize("around", [46.0, 69.8])
def test_the_ends_of_the_band_still_hold(filled, around) -> None:
    filled.part("clamp", "C1", smallest_mm=46.0, largest_mm=69.8)
    assert ours(ask(filled, around)) == ["C1"]
    assert ours(ask(filled, around + (0.1 if around > 50 else -0.1))) == []


@pytest.mark.parametrize("written", ["36", "No. 36", "SAE 36", "#36"])
def test_a_size_number_alone_has_the_band_of_the_standard(filled, written) -> None:
    filled.part("clamp", "S36", size_number=written)
    row = next(row for row in ask(filled, 57.0).rows if row.part_no == "S36")
    # SAE J1508 type F, size 36: 1 13/16 to 2 3/4 in, 45.9 to 69.8 mm.
    assert (row.smallest_mm, row.largest_mm) == (45.9, 69.8)
    assert "SAE J1508" in row.why


def test_what_the_sheet_gives_of_a_band_is_kept(filled) -> None:
    filled.part("clamp", "S36", size_number="36", smallest_mm=50.0)
    row = next(row for row in ask(filled, 57.0).rows if row.part_no == "S36")
    assert (row.smallest_mm, row.largest_mm) == (50.0, 69.8)


def test_a_size_that_the_standard_does_not_know_is_left_out(filled) -> None:
    filled.part("clamp", "X1", size_number="37")
    filled.part("clamp", "X2", size_number="36/40")  # which of the two?
    assert ours(ask(filled, 57.0)) == []


def test_the_standards_sizes_answer_on_an_empty_shelf(filled) -> None:
    # 57 mm (2 1/4 in): sizes whose band holds it, by the table: 28 (33.3-57.1) to 44 (58.6-82.5) excluded.
    sizes = {row.size_number for row in ask(filled, 57.0).rows}
    assert sizes == {"28", "32", "36", "40"}


def test_nothing_holds_it_and_the_nearest_are_shown(filled) -> None:
    filled.part("clamp", "C1", smallest_mm=200.0, largest_mm=220.0)
    filled.part("clamp", "C2", smallest_mm=230.0, largest_mm=300.0)
    answer = ask(filled, 224.0)
    assert answer.rows == []
    assert [row.part_no for row in answer.misses[:2]] == ["C1", "C2"]
    assert answer.misses[0].why == "5/32 in (4 mm) too small"  # 4 / 25.4 = 0.1575 in, and 5/32 = 0.1563
    assert "too large" in answer.misses[1].why


def test_nothing_asked(filled) -> None:
    with pytest.raises(AnswerError, match="nothing was asked"):
        ask(filled, None)
