"""The jobs on a drive: by its name, however it is spelt."""

from __future__ import annotations

import json

import pytest

from kb.errors import AnswerError
from queries.drive_jobs import jobs_on_drive

# Read off jobs.csv (N-010, W-011) and the single sheets (N-022), newest first.
TENDER_4 = ["N-022", "W-011", "N-010"]


@pytest.mark.parametrize("name", ["Water tender 4, fan plane", "  WATER  tender 4, fan PLANE "])
def test_jobs_on_a_drive_newest_first(run, demo_shelf, name) -> None:
    rows = json.loads(run("jobs", "--drive", name, "--json", shelf=demo_shelf).stdout)
    assert [row["id"] for row in rows] == TENDER_4


def test_words_likeness_and_outcome_keep_to_the_drive(run, demo_shelf) -> None:
    def ids(*arguments: str) -> list[str]:
        return [row["id"] for row in json.loads(run("jobs", *arguments, "--json", shelf=demo_shelf).stdout)]

    flusher = ("--drive", "Culvert flusher 1, pump plane")
    assert ids(*flusher, "--outcome", "did not work") == ["W-004"]
    assert ids("idler right out of the way", *flusher)[0] == "W-004"
    assert set(ids("--like", "W-004", *flusher)) == {"N-006", "S-003", "W-005", "W-015"}


def test_a_drive_that_is_not_there_is_told_with_those_that_are(run, demo_shelf) -> None:
    done = run("jobs", "--drive", "Water tender 9", shelf=demo_shelf)
    assert done.exit_code == 1
    assert "Water tender 4, fan plane" in done.stderr


def test_a_drive_without_jobs_is_no_error(filled) -> None:
    filled.put("drive", name="Grader 1, fan plane", sheet_text="", load_number=filled.load_number)
    assert jobs_on_drive(filled.connection, "grader 1, FAN plane") == []
    with pytest.raises(AnswerError, match="Grader 2"):
        jobs_on_drive(filled.connection, "Grader 2, fan plane")


def test_a_job_sheet_names_its_drive_in_a_column(tmp_path, run) -> None:
    shelf, sheet = tmp_path / "shelf.db", tmp_path / "jobs.csv"
    sheet.write_text("Job,Work,Belt drive\nJ-1,belt in,Büro-Bagger Ü\nJ-2,belt in,\n", encoding="utf-8")
    assert run("load", str(sheet), shelf=shelf).exit_code == 0
    rows = json.loads(run("jobs", "--drive", "BÜRO-bagger ü", "--json", shelf=shelf).stdout)
    assert [row["id"] for row in rows] == ["J-1"]
