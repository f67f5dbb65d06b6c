"""Span notes of a drive's sheet: the published rows, the round trip, the spring's band, and questions that are none."""

from __future__ import annotations

import csv
import io
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.errors import AnswerError, DriveError
from kb.sheets.drive import read_drive
from queries.drive_frequency import FrequencyQuestion, ask_frequency

TWO = """
name = "Two"
profile = "PK"
ribs = 6
rotation = "clockwise"
belt_mass_kg_per_m = 0.105
[[pulley]]
name = "crank"
effective_diameter = 100
face = "grooved"
at = [0, 0]
driver = true
[[pulley]]
name = "sub-pump"
effective_diameter = 100
face = "grooved"
at = [APART, 0]
"""


def two(apart_mm: float):
    """Two equal pulleys: their spans are as long as their centres are apart."""
    return read_drive(TWO.replace("APART", str(apart_mm)))


def test_g33_the_note_of_a_tension() -> None:
    # textbook string vibration: 400 N, 0.105 kg/m, 0.300 m; independent: finite elements 102.8692
    answer = ask_frequency(FrequencyQuestion(two(300.0), tension_n=400.0))
    assert [one.frequency_hz for one in answer.rows] == pytest.approx([102.8689] * 2, abs=5e-5)
    assert [one.span for one in answer.rows] == ["crank to sub-pump", "sub-pump to crank"]


@pytest.mark.parametrize("named", ["crank to sub-pump", "CRANK-SUB-PUMP", "crank , sub-pump", "crank,  sub-pump"])
def test_g34_the_tension_of_a_note(named) -> None:
    # textbook string vibration: 92.0 Hz, 0.105 kg/m, 0.340 m; independent: brentq on the frequency formula
    if named == "crank , sub-pump":
        with pytest.raises(DriveError, match="crank to sub-pump; sub-pump to crank"):
            ask_frequency(FrequencyQuestion(two(340.0), span=named, hertz=92.0))
        return
    answer = ask_frequency(FrequencyQuestion(two(340.0), span=named, hertz=92.0))
    assert answer.rows[0].tension_n == pytest.approx(410.9441, abs=5e-5)
    assert [one.measured for one in answer.rows] == [True, False]
    # doubts, first order: 2 % of the note and sqrt(2) mm of 340 mm, each counted twice
    share = 2 * (0.02**2 + 2 / 340**2) ** 0.5
    assert answer.rows[0].tension_high_n == pytest.approx(410.9441 * (1 + share), rel=1e-6)
    assert any("note read to 2%" in note for note in answer.notes)


@settings(deadline=None, max_examples=30)
@given(st.floats(50.0, 5000.0), st.floats(120.0, 900.0))
def test_there_and_back(tension, apart) -> None:
    sheet = two(apart)
    note = ask_frequency(FrequencyQuestion(sheet, tension_n=tension)).rows[1].frequency_hz
    back = ask_frequency(FrequencyQuestion(sheet, span="sub-pump to crank", hertz=note))
    assert back.rows[0].tension_n == pytest.approx(tension)


def test_the_sheet_gives_the_tension_or_it_is_asked_for(after_text) -> None:
    with pytest.raises(DriveError, match=r"tension is not known.*--tension"):
        ask_frequency(FrequencyQuestion(two(300.0)))
    rows = ask_frequency(FrequencyQuestion(read_drive(after_text))).rows
    assert {one.tension_n for one in rows} == {500.0}
    spring = after_text.replace("free_stop = 75", "free_stop = 75\ntorque_nm = 20\ndamping = 0.25")
    band = ask_frequency(FrequencyQuestion(read_drive(spring))).rows
    assert all(one.tension_low_n < one.tension_n < one.tension_high_n for one in band)
    # the note goes with the root of the tension
    assert band[0].frequency_high_hz / band[0].frequency_low_hz == pytest.approx((1.25 / 0.75) ** 0.5)
    told = ask_frequency(FrequencyQuestion(read_drive(spring), span="crank to tensioner", hertz=20.0))
    assert any("is outside what the tensioner's spring gives" in note for note in told.notes)


def test_an_assumed_mass_is_said_with_its_doubt() -> None:
    sheet = read_drive(TWO.replace("APART", "300").replace("belt_mass_kg_per_m = 0.105", ""))
    answer = ask_frequency(FrequencyQuestion(sheet, span="crank to sub-pump", hertz=92.0))
    assert any("belt mass 0.108 kg/m (common practice, no source, from memory)" in one for one in answer.notes)
    row = answer.rows[0]
    share = (0.1**2 + (2 * 0.02) ** 2 + 4 * 2 / 300**2) ** 0.5
    assert row.tension_high_n / row.tension_n - 1 == pytest.approx(share, rel=1e-6)
    unknown = read_drive(TWO.replace("APART", "300").replace("belt_mass_kg_per_m = 0.105", "").replace("PK", "XY"))
    with pytest.raises(DriveError, match="mass of XY belts is not known"):
        ask_frequency(FrequencyQuestion(unknown, tension_n=400.0))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"span": "crank to sub-pump"}, "a note belongs to a span"),
        ({"hertz": 92.0}, "a note belongs to a span"),
        ({"tension_n": 400.0, "span": "crank to sub-pump", "hertz": 92.0}, "both given"),
        ({"tension_n": -1.0}, "more than nothing"),
        ({"tension_n": float("nan")}, "more than nothing"),
    ],
)
def test_questions_that_are_none(asked, said) -> None:
    with pytest.raises(AnswerError, match=said):
        ask_frequency(FrequencyQuestion(two(300.0), **asked))


def test_the_command(run, tmp_path) -> None:
    path = tmp_path / "two.toml"
    path.write_text(TWO.replace("APART", "340"))
    rows = json.loads(run("drive", "frequency", str(path), "--tension", "400", "--json").stdout)
    help_text = " ".join(run("drive", "frequency", "--help").stdout.split())
    assert f"lengths in mm: {', '.join(rows[0])}." in help_text
    table = list(
        csv.reader(
            io.StringIO(run("drive", "frequency", str(path), "--tension", "400", "--csv").stdout.lstrip("\ufeff"))
        )
    )
    assert table[0] == list(rows[0])
    assert len(table) == 3
    done = run("drive", "frequency", str(path), "--span", "crank to sub-pump", "--hertz", "92 Hz")
    assert "411 (" in done.stdout
    assert "measured" in done.stdout
    assert "engine off, key out" in done.stderr
    wrong = run("drive", "frequency", str(path), "--hertz", "92")
    assert (wrong.exit_code, "--span" in wrong.stderr) == (2, True)
    assert run("drive", "frequency", str(path), "--tension", "0").exit_code == 2
    assert run("drive", "frequency", str(path), "--hertz", "loud").exit_code == 2
