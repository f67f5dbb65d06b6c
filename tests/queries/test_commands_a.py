"""The commands for belts, pulleys, tensioners, hoses, clamps and the file itself, as a person or a script meets them."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from kb.search_index import rebuild

ROOT = Path(__file__).parents[2]
ASKED = {
    "belts": ("--length", "73 1/8 in", "--ribs", "8"),
    "pulleys": ("--diameter", "3 in"),
    "tensioners": ("--diameter", "3 in"),
    "hoses": ("--inside", "1 1/2 in"),
    "clamps": ("--around", "2 1/4 in"),
}
NOTHING = {
    "belts": ("--length", "9 in", "--ribs", "8"),
    "pulleys": ("--diameter", "1400"),
    "tensioners": ("--diameter", "1400"),
    "hoses": ("--inside", "290"),
    "clamps": ("--around", "990"),
}
DESIGNED = {
    "belts": (
        "part_no", "supplier", "profile", "ribs", "effective_length_mm", "outside_length_mm", "difference_mm", "fit",
        "why", "jobs_worked", "jobs_failed",
    ),
    "hoses": ("part_no", "supplier", "service", "inside_diameter_mm", "length_mm", "difference_mm", "fit", "why"),
}  # fmt: skip


@pytest.mark.parametrize("name", ASKED)
def test_standard_output_is_the_answer_and_nothing_else(name, run, demo_shelf) -> None:
    done = run(name, *ASKED[name], "--json", shelf=demo_shelf)
    assert done.exit_code == 0
    rows = json.loads(done.stdout)
    assert rows
    assert set(DESIGNED.get(name, ("part_no", "fit", "why"))) <= set(rows[0])
    assert len(json.loads(run(name, *ASKED[name], "--json", "--limit", "2", shelf=demo_shelf).stdout)) == 2


@pytest.mark.parametrize("name", ASKED)
def test_a_table_fits_a_hundred_columns(name, run, demo_shelf) -> None:
    lines = run(name, *ASKED[name], "--limit", "40", shelf=demo_shelf).stdout.splitlines()
    assert lines[0].startswith("part")
    assert max(map(len, lines)) <= 100
    assert any("mm)" in line for line in lines)


def test_a_table_of_very_long_texts_still_fits(run, filled) -> None:
    filled.belt("N" * 90, 1854.0, supplier="S" * 80)
    lines = run("belts", "--length", "1854", "--ribs", "8", shelf=filled.path).stdout.splitlines()
    assert max(map(len, lines)) <= 100
    assert sum(line.count("N") for line in lines) >= 90  # wrapped, not cut


@pytest.mark.parametrize("name", NOTHING)
def test_nothing_found_is_no_error_and_shows_the_nearest(name, run, demo_shelf) -> None:
    done = run(name, *NOTHING[name], "--json", shelf=demo_shelf)
    assert (done.exit_code, json.loads(done.stdout)) == (0, [])
    assert "Nothing found. The nearest:" in done.stderr
    assert "mm)" in done.stderr


@pytest.mark.parametrize("name", NOTHING)
def test_an_empty_csv_has_its_headings(name, run, demo_shelf) -> None:
    full = next(csv.reader(io.StringIO(run(name, *ASKED[name], "--csv", shelf=demo_shelf).stdout.lstrip("\ufeff"))))
    empty = list(csv.reader(io.StringIO(run(name, *NOTHING[name], "--csv", shelf=demo_shelf).stdout.lstrip("\ufeff"))))
    assert empty == [full]


def test_a_formula_in_a_part_number_does_not_run_in_a_spreadsheet(run, filled) -> None:
    filled.belt("=1+1", 1854.0)
    done = run("belts", "--length", "1854", "--ribs", "8", "--csv", shelf=filled.path)
    rows = list(csv.DictReader(io.StringIO(done.stdout.lstrip("\ufeff"))))
    assert rows[0]["part_no"] == "'=1+1"
    row = json.loads(run("belts", "--length", "1854", "--ribs", "8", "--json", shelf=filled.path).stdout)[0]
    assert row["part_no"] == "=1+1"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("belts",), "--length"),
        (("belts", "--length", "abc"), "73 1/8 in"),
        (("belts", "--length", "-5 mm"), "length"),
        (("belts", "--length", "1860", "--measured", "string"), "--string-thickness"),
        (("belts", "--length", "1860", "--ribs", "0"), "1<=x<=40"),
        (("belts", "8PK1854", "--ribs", "7"), "contradict"),
        (("pulleys",), "--diameter"),
        (("tensioners",), "--diameter"),
        (("hoses",), "--inside"),
        (("hoses", "--legs", "4 in", "--bends", "90,45"), "3 legs"),
        (("hoses", "--legs", "4 in,wide"), "wide"),
        (("clamps",), "--around"),
        (("clamps", "--around", "wide"), "wide"),
    ],
)
def test_wrong_usage_is_said_with_what_to_do(arguments, says, run, demo_shelf) -> None:
    done = run(*arguments, shelf=demo_shelf)
    assert done.exit_code == 2
    assert says in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize("name", ASKED)
def test_without_a_shelf_it_says_how_to_get_one(name, run, tmp_path) -> None:
    done = run(name, *ASKED[name], shelf=tmp_path / "none.db")
    assert done.exit_code == 1
    assert "bayshelf load" in done.stderr
    assert not (tmp_path / "none.db").exists()


def test_a_whole_shelf_is_counted(run, filled) -> None:
    filled.belt("A1", 1854.0)
    filled.belt("A2", 1860.0)
    rebuild(filled.connection)  # the fixture writes rows only
    done = run("check", shelf=filled.path)
    assert done.exit_code == 0, done.stdout
    assert "whole" in done.stdout
    assert "2 belts" in done.stdout
    assert "1 supplier," in done.stdout
    told = json.loads(run("check", "--json", shelf=filled.path).stdout)
    assert (told["whole"], told["wrong"], told["rows"]["belt"]) == (True, [], 2)


def test_a_shelf_that_is_not_whole_is_said_and_fails(run, filled) -> None:
    filled.belt("A1", 1854.0)
    filled.connection.execute("PRAGMA foreign_keys = OFF")
    filled.connection.execute("UPDATE belt SET supplier_id = 99")
    done = run("check", shelf=filled.path)
    assert done.exit_code == 1
    assert "supplier" in done.stdout
    assert "copy" in done.stderr
    told = json.loads(run("check", "--json", shelf=filled.path).stdout)
    assert told["whole"] is False
    assert told["wrong"]


def test_a_look_up_by_measure_loads_nothing_heavy(demo_shelf) -> None:
    code = (
        "import sys\n"
        "import kb.cli\n"
        "try: kb.cli.main(['--shelf', sys.argv[1], 'belts', '--length', '73 1/8 in', '--ribs', '8'])\n"
        "except SystemExit as end: assert not end.code, end.code\n"
        "heavy = {'numpy', 'pandas', 'rapidfuzz', 'datasette', 'scipy', 'sqlite_utils', 'openpyxl', 'decimal', 'fractions'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(demo_shelf)], cwd=ROOT, capture_output=True, text=True, check=True,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    assert "00123" in done.stdout
    assert "HEAVY []" in done.stdout
