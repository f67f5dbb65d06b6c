"""Which thread this is, as the command and the page ask it; the sizes are those of the standards the table names."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from kb.errors import AnswerError
from queries.fittings import FittingQuestion, ask_fittings

ROOT = Path(__file__).parent.parent.parent
FOURTEEN = 25.4 / 14


def places(answer) -> list[str]:
    """The distinct threads, likeliest first, by the name of their likeliest family's use."""
    return list({row.place: row.thread for row in reversed(answer.rows)}.values())[::-1]


def test_a_straight_pipe_thread_reads_so_before_a_taper() -> None:
    # ISO 228-1: G 1/2 is 20.955 mm, 0.2 mm over the reading: wear and a grade A tolerance of 0.284 mm take that off. On NPT
    # 1/2 the caliper would have to sit at the very tip (20.72 mm, ASME B1.20.1), on R 1/2 near it.
    answer = ask_fittings(None, FittingQuestion(outside_mm=20.75, pitch_mm=FOURTEEN))
    assert places(answer) == ["G 1/2", "1/2-14 NPT", "R 1/2"]
    assert answer.settling is not None
    assert answer.settling.kind == "taper"
    assert all(row.settled_by == answer.settling.words for row in answer.rows)
    assert answer.rows[0].told_apart == ""
    assert answer.rows[-1].told_apart.startswith("taper instead of parallel")


@pytest.mark.parametrize(("taper", "first"), [(True, {"1/2-14 NPT", "R 1/2"}), (False, {"G 1/2"})])
def test_a_straightedge_settles_it(taper, first) -> None:
    answer = ask_fittings(None, FittingQuestion(outside_mm=20.75, pitch_mm=FOURTEEN, taper=taper))
    assert answer.rows[0].thread in first
    assert answer.rows[0].taper is taper


def test_every_family_that_uses_a_thread_is_named() -> None:
    # SAE J514 and ISO 8434-2, J1926 / ISO 11926 share 7/8-14: flares of 37 and 45 degrees, and the O-ring boss.
    answer = ask_fittings(None, FittingQuestion(outside_mm=22.1, pitch_mm=FOURTEEN))
    rows = [row for row in answer.rows if row.place == 1]
    assert {row.standard.split(" (")[0] for row in rows} >= {
        "37-degree flare", "45-degree flare", "SAE straight-thread O-ring boss"
    }  # fmt: skip
    seated = ask_fittings(None, FittingQuestion(outside_mm=22.1, pitch_mm=FOURTEEN, seat_deg=37))
    assert seated.rows[0].standard == "37-degree flare (JIC)"
    assert "45-degree flare (SAE)" not in {row.standard for row in seated.rows}
    assert any(name.startswith("45-degree flare") for name in seated.rows[0].families)
    assert "also serves 45-degree flare (SAE)" in seated.rows[0].why


def test_the_answer_is_cut_short_by_rows_and_never_forgets_a_family() -> None:
    answer = ask_fittings(None, FittingQuestion(outside_mm=22.1, pitch_mm=FOURTEEN, limit=1))
    assert len(answer.rows) == 1
    assert len(answer.rows[0].families) == 4


def test_counted_over_a_length_says_less_than_a_gauge() -> None:
    # Three threads counted over 5.44 mm are 14 per inch; half a millimetre of ruler is a tenth of that, which leaves 1.5 mm
    # open. A gauge does not.
    counted = ask_fittings(None, FittingQuestion(outside_mm=22.0, pitch_mm=5.44 / 3, counted_over_mm=5.44, limit=40))
    gauged = ask_fittings(None, FittingQuestion(outside_mm=22.0, pitch_mm=5.44 / 3, limit=40))
    assert "M22x1.5" not in places(gauged)[:1]
    share = {row.thread: row.share for row in counted.rows}
    assert share["M22x1.5"] > {row.thread: row.share for row in gauged.rows}.get("M22x1.5", 0.0)


def test_a_shakier_caliper_leaves_more_open() -> None:
    # 7/8-14 is 22.225 mm over its crests and 1-14 is 25.4: at 23.4 mm neither is meant, unless the caliper is a tape.
    assert ask_fittings(None, FittingQuestion(outside_mm=23.4, pitch_mm=FOURTEEN, taper=False)).rows == []
    assert ask_fittings(None, FittingQuestion(outside_mm=23.4, pitch_mm=FOURTEEN, taper=False, doubt_mm=0.8)).rows


def test_light_and_heavy_cones_are_told_by_their_tube() -> None:
    # ISO 8434-1: M22x1.5 takes a 15 mm tube in the light series, a 14 mm one in the heavy.
    for tube, dash in ((15.0, "15L"), (14.05, "14S")):
        question = FittingQuestion(outside_mm=21.95, pitch_mm=1.5, seat_deg=24, tube_mm=tube)
        assert ask_fittings(None, question).rows[0].dash == dash


def test_flanks_part_the_pipe_threads_that_overlap() -> None:
    for flanks, thread in ((55.0, "R 1/2"), (60.0, "1/2-14 NPT")):
        question = FittingQuestion(outside_mm=21.0, pitch_mm=FOURTEEN, taper=True, flanks_deg=flanks)
        assert ask_fittings(None, question).rows[0].thread == thread


def test_no_cone_puts_the_o_rings_first() -> None:
    rows = ask_fittings(None, FittingQuestion(outside_mm=22.1, pitch_mm=FOURTEEN, seat_deg=0)).rows
    assert rows[0].seat_deg is None


def test_nothing_near_shows_the_nearest_and_says_they_are_not_it() -> None:
    answer = ask_fittings(None, FittingQuestion(outside_mm=24.6, pitch_mm=1.0))
    assert answer.rows == []
    assert len(answer.misses) == 3
    assert all("not it" in row.why and row.fit == 0 for row in answer.misses)


def test_a_name_alone_and_a_name_that_is_none() -> None:
    assert {row.thread for row in ask_fittings(None, FittingQuestion(text="1-1/16-12")).rows} == {"1 1/16-12 UN"}
    for text, says in (("foo", "no thread's name"), ("7/8-15", "in no table")):
        answer = ask_fittings(None, FittingQuestion(text=text))
        assert answer.rows == []
        assert says in answer.notes[0]


def test_nothing_asked_is_refused() -> None:
    with pytest.raises(AnswerError, match="nothing was measured"):
        ask_fittings(None, FittingQuestion(taper=True))


def test_parts_are_found_however_their_sheet_spells_the_thread(filled) -> None:
    for part_no, thread, standard, seat in (
        ("A", "7/8-14", "37-degree flare (JIC)", 37.0), ("B", "7/8-14 UNF-2A", None, 37.0), ("C", "0.875-14", None, 74.0),
        ("D", "7/8-14 UNF", "45-degree flare (SAE)", 45.0), ("E", "7/8-14 UNF", None, None), ("F", "7/8-9 UNC", None, 37.0),
    ):  # fmt: skip
        filled.part(
            "fitting", part_no, end_a_form="male", end_a_thread=thread, end_a_standard=standard, end_a_seat_deg=seat
        )
    rows = ask_fittings(filled.connection, FittingQuestion(text="7/8-14")).rows
    parts = {row.standard: [part["part_no"] for part in row.parts] for row in rows}
    assert parts["37-degree flare (JIC)"] == ["A", "B", "C"]
    assert parts["45-degree flare (SAE)"] == ["D"]
    assert parts["SAE straight-thread O-ring boss (ORB)"] == ["E"]
    female = ask_fittings(filled.connection, FittingQuestion(inside_mm=20.3, pitch_mm=FOURTEEN)).rows
    assert not any(row.parts for row in female)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "Give a measurement"), (("--outside", "22", "--inside", "20"), "not both"),
        (("--outside", "22", "--count", "7"), "both of --count and --over"),
        (("--outside", "22", "--count", "7", "--over", "1/2 in", "--pitch", "14 tpi"), "not both"),
        (("--outside", "22", "--flanks", "50"), "55"), (("--outside", "0.1 mm"), "0.1"), (("--pitch", "14"), "pitch"),
    ],
)  # fmt: skip
def test_wrong_usage_says_what_to_do(run, arguments, says) -> None:
    done = run("fittings", *arguments)
    assert done.exit_code == 2
    assert says in done.stderr


def test_the_command_counts_and_says_what_would_settle_it(run, demo_shelf) -> None:
    done = run("fittings", "--outside", "22.1 mm", "--count", "7", "--over", "1/2 in", "--json", shelf=demo_shelf)
    rows = json.loads(done.stdout)
    assert rows[0]["thread"] == "7/8-14 UNF"
    assert rows[0]["pitch_mm"] == pytest.approx(1.8143)
    assert "seat gauge" in rows[0]["settled_by"]
    assert "To settle it" in done.stderr


def test_its_start_imports_no_heavy_library() -> None:
    code = (
        "import sys; from kb.cli import main\n"
        "try: main(['--shelf', '/nowhere/shelf.db', 'fittings', '--outside', '22.1 mm', '--pitch', '14 tpi'])\n"
        "except SystemExit: pass\n"
        "print('HEAVY', sorted({'numpy', 'scipy', 'pandas', 'rapidfuzz', 'datasette'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "HEAVY []" in done.stdout
    assert "37-degree flare" in done.stdout
