"""Two ends joined over fittings that each test puts on the shelf; a seat seals on its own family."""

from __future__ import annotations

import json

import pytest

from kb.errors import AnswerError
from kb.reference.tables import threads
from queries.adapters import AdapterQuestion, ask_adapters
from queries.given_ends import read_end

JIC, SAE45, ORB, ORFS = (
    "37-degree flare (JIC)", "45-degree flare (SAE)", "SAE straight-thread O-ring boss (ORB)", "O-ring face seal (ORFS)"
)  # fmt: skip


def put(filled, part_no, one, other, supplier="Supplier A", **columns) -> None:
    """Put a fitting on the shelf, each end as (form, thread, family or seat)."""
    for letter, end in (("a", one), ("b", other)):
        form, thread, said = end
        columns[f"end_{letter}_form"] = form
        if form == "hose":
            columns[f"end_{letter}_hose_mm"] = thread
            continue
        columns[f"end_{letter}_thread"] = thread
        columns[f"end_{letter}_standard" if isinstance(said, str) else f"end_{letter}_seat_deg"] = said
    filled.part("fitting", part_no, supplier, **columns)


def ask(filled, first, second, limit=10):
    return ask_adapters(filled.connection, AdapterQuestion(first, second, limit))


def names(answer) -> list[list[str]]:
    return [[piece["part_no"] for piece in row.pieces] for row in answer.rows]


def test_one_piece_goes_the_other_way_round_onto_each_end(filled) -> None:
    put(filled, "RIGHT", ("male", "3/4-16 UNF", JIC), ("female", "7/8-14 UNF", JIC))
    put(filled, "GENDER", ("male", "3/4-16 UNF", JIC), ("male", "7/8-14 UNF", JIC))
    put(filled, "SEAT", ("male", "3/4-16 UNF", JIC), ("female", "7/8-14 UNF", SAE45))
    answer = ask(filled, "male 7/8-14 37", "female 3/4-16 37")
    assert names(answer) == [["RIGHT"]]
    (row,) = answer.rows
    assert [joint["thread"] for joint in row.joints] == ["7/8-14 UNF", "3/4-16 UNF"]
    assert row.seals
    assert names(ask(filled, "female 3/4-16 37", "male 7/8-14 37")) == [["RIGHT"]]


def test_two_pieces_only_where_one_does_not_do(filled) -> None:
    put(filled, "A", ("female", "7/8-14", JIC), ("male", "3/4-16", JIC))
    put(filled, "B", ("female", "3/4-16", JIC), ("male", "1/2-14 NPT", "NPT"))
    put(filled, "C", ("female", "3/4-16", SAE45), ("male", "1/2-14 NPT", "NPT"))
    answer = ask(filled, "male 7/8-14 37", "female 1/2 NPT")
    assert names(answer) == [["A", "B"]]
    assert len(answer.rows[0].joints) == 3
    put(filled, "D", ("female", "7/8-14", JIC), ("male", "1/2-14 NPT", "NPT"))
    assert names(ask(filled, "male 7/8-14 37", "female 1/2 NPT")) == [["D"]]


def test_one_supplier_then_the_shorter_wait_then_the_straighter(filled) -> None:
    for supplier, hours in (("Near", 4), ("Far", 96)):
        filled.put("supplier", name=supplier, lead_time_hours=hours)
    put(filled, "A-NEAR", ("female", "7/8-14", JIC), ("male", "3/4-16", JIC), "Near", angle_deg=0)
    put(filled, "A-FAR", ("female", "7/8-14", JIC), ("male", "3/4-16", JIC), "Far", angle_deg=0)
    put(filled, "B-FAR", ("female", "3/4-16", JIC), ("male", "1/2-14 NPT", "NPT"), "Far", angle_deg=0)
    put(filled, "B-BENT", ("female", "3/4-16", JIC), ("male", "1/2-14 NPT", "NPT"), "Far", angle_deg=90)
    answer = ask(filled, "male 7/8-14 37", "female 1/2 NPT")
    assert names(answer) == [["A-FAR", "B-FAR"], ["A-FAR", "B-BENT"], ["A-NEAR", "B-FAR"], ["A-NEAR", "B-BENT"]]
    assert [row.same_supplier for row in answer.rows] == [True, True, False, False]
    assert "there in 4 days" in answer.rows[0].why
    put(filled, "C-NEAR", ("female", "3/4-16", JIC), ("male", "1/2-14 NPT", "NPT"), "Near")
    assert names(ask(filled, "male 7/8-14 37", "female 1/2 NPT"))[0] == ["A-NEAR", "C-NEAR"]


def test_one_thread_with_another_seat_is_a_miss_that_says_why(filled) -> None:
    put(filled, "SEAT", ("female", "7/8-14", SAE45), ("male", "3/4-16", JIC))
    answer = ask(filled, "male 7/8-14 37", "female 3/4-16 37")
    assert answer.rows == []
    assert [piece["part_no"] for piece in answer.misses[0].pieces] == ["SEAT"]
    assert "does not seal" in answer.misses[0].why
    assert not answer.misses[0].seals


def test_what_goes_onto_one_end_is_the_next_miss(filled) -> None:
    put(filled, "HALF", ("female", "7/8-14", JIC), ("male", "1-14 UNS", ORFS))
    put(filled, "SEAT", ("female", "7/8-14", SAE45), ("male", "3/4-16", JIC))
    put(filled, "OTHER", ("female", "M22x1.5", 24.0), ("male", "G 1/2", "BSPP (G)"))
    misses = ask(filled, "male 7/8-14 37", "female 3/4-16 37").misses
    assert [row.pieces[0]["part_no"] for row in misses] == ["SEAT", "HALF"]
    assert "does not go onto" in misses[1].why


def test_an_open_seat_says_what_it_was_taken_for(filled) -> None:
    put(filled, "J", ("female", "7/8-14", JIC), ("male", "1/2-14 NPT", "NPT"))
    put(filled, "S", ("female", "7/8-14", SAE45), ("male", "1/2-14 NPT", "NPT"))
    answer = ask(filled, "male 7/8-14", "female 1/2 NPT")
    assert sorted(names(answer)) == [["J"], ["S"]]
    assert {row.joints[0]["standard"] for row in answer.rows} == {JIC, SAE45}
    assert any("look at its seat" in note for note in answer.notes)
    assert not any("1/2 NPT" in note and "look at its seat" in note for note in answer.notes)


def test_ends_that_need_no_adapter_and_ends_that_must_not_meet(filled) -> None:
    assert any("go together" in note for note in ask(filled, "male 7/8-14 37", "female 7/8-14 37").notes)
    assert any("Do not screw" in note for note in ask(filled, "male 7/8-14 37", "female 7/8-14 45").notes)
    assert any("go together" in note for note in ask(filled, "male 1/2 NPTF", "female 1/2 NPT").notes)
    # ISO 228-1 and ASME B1.20.1: 1/2 inch, 14 per inch both, another form: they do not even meet.
    assert not any("screw" in note or "together" in note for note in ask(filled, "male 1/2 NPT", "female G 1/2").notes)


def test_a_hose_takes_a_tail_of_its_bore(filled) -> None:
    put(filled, "TAIL", ("female", "3/4-16", JIC), ("hose", 12.7, None))
    put(filled, "WIDE", ("female", "3/4-16", JIC), ("hose", 15.9, None))
    assert names(ask(filled, "hose 1/2 in", "male 3/4-16 37")) == [["TAIL"]]
    with pytest.raises(AnswerError, match="two hoses"):
        ask(filled, "hose 1/2 in", "hose 1/2 in")


def test_an_unnamed_seat_on_the_shelf_is_said(filled) -> None:
    put(filled, "BARE", ("female", "7/8-14", None), ("male", "1/2-14 NPT", "NPT"))
    (row,) = ask(filled, "male 7/8-14 ORB", "female 1/2 NPT").rows
    assert "names no seat" in row.why
    assert ask(filled, "male 7/8-14 37", "female 1/2 NPT").rows == []


@pytest.mark.parametrize(
    ("text", "form", "thread", "families"),
    [
        ("male 7/8-14 37", "male", "7/8-14 UNF", {JIC}), ("37 deg 7/8-14 UNF swivel", "female", "7/8-14 UNF", {JIC}),
        ("m -10 jic", "male", "7/8-14 UNF", {JIC}), ("f 7/8-14 90", "female", "7/8-14 UNF", {SAE45}),
        ("port 3/4-16 orb", "female", "3/4-16 UNF", {ORB}),
        ("female M22x1.5 15L", "female", "M22x1.5", {"metric 24-degree cone L series"}),
        ("M22x1.5 s male", "male", "M22x1.5", {"metric 24-degree cone S series"}),
        ("male g1/2", "male", "G 1/2", {"BSPP (G)"}),
        ("female ORFS -10", "female", "1-14 UNS", {ORFS}),
    ],
)  # fmt: skip
def test_ends_as_people_write_them(text, form, thread, families) -> None:
    end = read_end(text)
    assert end.form == form
    assert end.thread is not None
    assert end.thread.name == thread
    assert {use.family for use in end.uses} == families


@pytest.mark.parametrize("row", threads(), ids=lambda row: f"{row.family} {row.thread}")
def test_every_thread_and_seat_of_the_table_can_be_written(row) -> None:
    seat = f"{row.seat_half_angle_deg:g}" if row.seat_half_angle_deg else "flat"
    if row.family.startswith("inverted flare"):
        with pytest.raises(AnswerError, match="brake"):
            read_end(f"male {row.thread} {seat} inverted")
        return
    assert row.family in {use.family for use in read_end(f"male {row.thread} {seat}").uses}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("7/8-14", "male or female"), ("male female 7/8-14", "both"), ("male 7/8-14 50", "no family"),
        ("male 7/8-15", "no table"),
        ("male 7/8-14 wobbly", "'wobbly'"), ("male -8", "threads"), ("hose", "no bore"),
        ("male", "threads"), ("", "male or female"),
    ],
)  # fmt: skip
def test_what_is_not_understood_is_said(text, says) -> None:
    with pytest.raises(AnswerError, match=says):
        read_end(text)


def test_the_demo_shop_joins_seven_eighths_to_three_quarters(run, demo_shelf) -> None:
    # In pellingmoor_adapters.csv PT-49-57 is the only part from 7/8-14 female, 37 degrees, to 3/4-16 male, 37 degrees.
    done = run("adapters", "male 7/8-14 37", "female 3/4-16 37", "--json", shelf=demo_shelf)
    (row,) = json.loads(done.stdout)
    assert [piece["part_no"] for piece in row["pieces"]] == ["PT-49-57"]
    assert "brake" in done.stderr
    assert run("adapters", "7/8-14", "male 1/2 NPT", shelf=demo_shelf).exit_code == 2
