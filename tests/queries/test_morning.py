"""The morning list: what went wrong on jobs like it, counted honestly, and what to have, measure and ask whom for.

The jobs are invented; counts are worked out by hand, intervals are scipy's.
"""

from __future__ import annotations

import json

import pytest
from scipy.stats import binomtest

from kb.sheets.job_sheet import JobSheet, JobTrouble
from kb.shelf import open_to_read
from queries.morning import ask_morning, share, troubles_of


def job(name: str, *troubles: tuple[str, str | None, float | None, bool | None]) -> JobSheet:
    return JobSheet(name, "refit", troubles=tuple(JobTrouble(*one) for one in troubles))


def test_a_trouble_is_counted_once_a_job_under_any_of_its_words() -> None:
    jobs = [
        job("A", ("belt squeals cold", "idler shimmed", 1.0, True)),
        job("B", ("belt chirps cold", "idler shimmed", 2.0, True), ("chirping belt, cold", "belt dressing", 0.5, False)),
        job("C", ("hose kinked", None, 4.0, None)),
        job("D"), job("E"), job("F"), job("G"),
    ]  # fmt: skip
    first, second = troubles_of(jobs)
    assert (first.share.count, first.share.of, first.hours_lost, first.hours_each) == (2, 7, 3.5, 1.0)
    assert first.jobs == ["A", "B"]
    assert (first.cured, first.not_cured) == ([("idler shimmed", 2)], [("belt dressing", 1)])
    assert (second.trouble, second.share.count, second.hours_lost) == ("hose kinked", 1, 4.0)


@pytest.mark.parametrize(("count", "of"), [(3, 7), (0, 4), (5, 5), (1, 1)])
def test_shares_stand_with_scipys_interval(count, of) -> None:
    told = share(count, of)
    interval = binomtest(count, of).proportion_ci(method="wilson")
    assert (told.low_percent, told.high_percent) == pytest.approx((100 * interval.low, 100 * interval.high), abs=0.06)
    assert told.says.startswith(f"{count} of {of} job")


SHOP = """
job = "{name}"
work = "alternator upgrade, ribbed belt"
machine = "Grader {number}"
outcome = "{outcome}"
[[part]]
part_no = "00123"
[[part]]
part_no = "02483"
[[trouble]]
trouble = "{trouble}"
remedy = "idler moved"
hours_lost = {number}
solved = true
[[measurement]]
name = "charging voltage at idle, loads on"
unit = "V"
as_found = {volts}
"""


@pytest.fixture
def shop(tmp_path, run):
    """Three jobs of one kind and one of another, and two suppliers."""
    shelf = tmp_path / "shelf.db"
    suppliers = tmp_path / "suppliers.csv"
    suppliers.write_text(
        "Name,Can supply or make,Lead time (hours),Notes\nNear,ribbed belts; idlers turned,4,\nFar,belts,96,\n"
        "Other,paint,1,\n", encoding="utf-8",
    )  # fmt: skip
    belts = tmp_path / "belts.csv"
    belts.write_text("Part no,Description,Ribs,Length (mm)\n00123,Ribbed belt,8,1854\n", encoding="utf-8")
    run("load", str(suppliers), "--as", "suppliers", shelf=shelf)
    run("load", str(belts), "--supplier", "Far", shelf=shelf)
    told = [("A", 1, "worked", "belt squeals", "13.1"), ("B", 2, "worked", "belt chirps", "14.0"),
            ("C", 3, "did not work", "bracket cracked", "13.0")]  # fmt: skip
    for name, number, outcome, trouble, volts in told:
        form = tmp_path / f"{name}.toml"
        text = SHOP.format(name=name, number=number, outcome=outcome, trouble=trouble, volts=volts)
        form.write_text(text, encoding="utf-8")
        assert run("record", "add", str(form), shelf=shelf).exit_code == 0
    other = tmp_path / "D.toml"
    other.write_text('job = "D"\nwork = "cab painted"\noutcome = "worked"\n', encoding="utf-8")
    run("record", "add", str(other), shelf=shelf)
    return shelf


def test_the_whole_list(shop, tmp_path, run) -> None:
    sheet = tmp_path / "morning.toml"
    sheet.write_text('work = "alt upgrade on the serpentine"\nmachine = "Grader 9"\n', encoding="utf-8")
    done = run("morning", str(sheet), "--json", shelf=shop)
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert {one["id"] for one in told["jobs"]} == {"A", "B", "C"}
    noise = told["troubles"][0]
    assert (noise["share"]["count"], noise["share"]["of"], noise["hours_lost"]) == (2, 3, 3.0)
    belt = next(part for part in told["in_hand"] if part["part_no"] == "00123")
    assert (belt["jobs"], belt["of"], belt["worked"], belt["failed"]) == (3, 3, 2, 1)
    assert belt["from_"] == [{"supplier": "Far", "lead_time_hours": 96.0, "same_day": False}]
    assert [(one["supplier"], one["same_day"]) for one in told["makers"]] == [("Near", True), ("Far", False)]
    pair = next(one for one in told["together"] if one["source"] == "the shelf's jobs")
    assert (pair["when"], pair["goes_with"]) == ("00123", "02483")
    charging = next(one for one in told["measure"] if one["what"].startswith("charging"))
    assert "outside in 2 of 3 jobs" in charging["why"]  # 13.1 and 13.0 V are below 13.8 V
    assert "ribs" in [one["what"] for one in told["measure"]]
    text = run("morning", str(sheet), shelf=shop).stdout
    assert "2 of 3 jobs (21 to 94 % of such jobs)" in text
    assert "cured by idler moved (2 jobs)" in text


def test_a_job_on_the_shelf_can_be_asked_about_and_leaves_itself_out(shop, run) -> None:
    told = json.loads(run("morning", "A", "--json", shelf=shop).stdout)
    assert "A" not in [one["id"] for one in told["jobs"]]
    assert run("morning", "nothing", shelf=shop).exit_code == 2


def test_nothing_alike_is_said(shop) -> None:
    connection = open_to_read(shop)
    told = ask_morning(connection, JobSheet(None, "gearbox noise in reverse"))
    connection.close()
    assert told.jobs == []
    assert "No job on the shelf is like this one" in told.notes[0]
