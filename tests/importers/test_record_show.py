"""A job shown as text, word by word as its form said it; and what the commands say when there is nothing to show."""

from __future__ import annotations

import json
import re

import pytest

FORM = """
job = "N-12"
bay = "north"
machine = "Plow truck 7"
work = "belt and idler"
opened_on = 2026-05-04
accessories = ["fan", "generator"]
profile = "PK"
ribs = 8
belt_length = "73 1/8 in"
hours_worked = 2.5
notes = "rattles cold"
[[part]]
part_no = "00123"
supplier = "Anyone"
quantity = 2
old_part = "kept"
[[trouble]]
trouble = "squealed"
remedy = "new idler"
hours_lost = 1.5
solved = true
[[trouble]]
trouble = "still hums"
solved = false
[[measurement]]
name = "coolant leaks"
as_found = "drips"
[[measurement]]
name = "belt tension"
as_found = "400"
as_left = "520"
unit = "N"
[[measurement]]
name = "fan shroud gap"
[private]
customer = "CUSTOMER-33"
note = "pays late"
"""


@pytest.fixture(name="shelf")
def _shelf(tmp_path, run):
    form = tmp_path / "form.toml"
    form.write_text(FORM, encoding="utf-8")
    shelf = tmp_path / "shelf.db"
    done = run("record", "add", str(form), shelf=shelf)
    assert done.exit_code == 0, done.stderr
    return shelf


def test_a_job_is_shown_as_its_form_said_it(shelf, run) -> None:
    shown = run("record", "show", "N-12", shelf=shelf)
    assert shown.exit_code == 0, shown.output
    lines = shown.stdout.splitlines()
    changes = lines.index("Changes, the oldest first:")
    assert lines[:changes] == [
        "N-12: open",
        "  bay: north",
        "  machine: Plow truck 7",
        "  work: belt and idler",
        "  opened on: 2026-05-04",
        "  accessories: fan; generator",
        "  profile: PK",
        "  ribs: 8",
        "  belt length: 73 1/8 in (1857.4 mm)",
        "  hours worked: 2.5",
        "  notes: rattles cold",
        "  customer: CUSTOMER-33",
        "  private note: pays late",
        "  part 00123, Anyone, × 2, old part kept",
        "  trouble squealed → new idler, 1.5 h lost, solved",
        "  trouble still hums, not solved",
        "  measured coolant leaks: found drips",
        "  measured belt tension: found 400 N, left 520 N",
        "  measured fan shroud gap: nothing yet",
    ]
    (change,) = lines[changes + 1 :]
    assert re.fullmatch(r"  \d{4}-\d\d-\d\dT\S+: a new job: belt and idler", change)


def test_a_closed_job_says_so_and_lists_its_changes_in_their_order(shelf, run, tmp_path) -> None:
    later = tmp_path / "later.toml"
    later.write_text('job = "N-12"\noutcome = "worked"\nbay = "wash"', encoding="utf-8")
    assert run("record", "add", str(later), shelf=shelf).exit_code == 0
    shown = run("record", "show", "N-12", shelf=shelf).stdout
    told = json.loads(run("record", "show", "N-12", "--json", shelf=shelf).stdout)
    assert shown.startswith(f"N-12: {'open' if told['open'] else 'closed'}\n")
    assert "  outcome: worked\n" in shown
    changed = shown.splitlines()[-1]
    assert "bay: wash (was: north)" in changed
    for one in told["later"]:
        due = f"done on {one['done_on']}" if one["done_on"] else one["due"]
        assert f"  look again {one['check']}: {due}" in shown


def test_a_job_that_is_not_there_is_said_by_every_command_that_asks_for_it(shelf, run, tmp_path) -> None:
    for asked in (("show", "N-13"), ("new", str(tmp_path / "x.toml"), "--from", "N-13")):
        done = run("record", *asked, shelf=shelf)
        assert done.exit_code == 1
        assert "there is no job 'N-13' on the shelf" in done.stderr
        assert "bayshelf jobs" in done.stderr
    assert not (tmp_path / "x.toml").exists()


def test_a_form_needs_no_shelf_but_a_job_does(run, tmp_path) -> None:
    none = tmp_path / "none.db"
    assert run("record", "new", str(tmp_path / "x.toml"), shelf=none).exit_code == 0
    assert (tmp_path / "x.toml").exists()
    assert run("record", "new", str(tmp_path / "y.toml"), "--from", "N-12", shelf=none).exit_code == 1
    assert not none.exists()


def test_of_two_forms_the_good_one_is_taken_in_and_the_bad_one_said(shelf, run, tmp_path) -> None:
    good, bad = tmp_path / "good.toml", tmp_path / "bad.toml"
    good.write_text('job = "N-12"\nbay = "south"', encoding="utf-8")
    bad.write_text("job = ", encoding="utf-8")
    done = run("record", "add", str(bad), str(good), shelf=shelf)
    assert done.exit_code == 1
    assert done.stdout.splitlines() == ["N-12 was added to.", "  bay: south (was: north)"]
    assert "bad.toml" in done.stderr
    again = run("record", "add", str(good), shelf=shelf)
    assert (again.exit_code, again.stdout) == (0, "N-12 already says all of that.\n")


def test_limits_are_listed_set_and_taken_back_in_words(shelf, run) -> None:
    every = run("record", "limit", shelf=shelf).stdout.splitlines()
    told = json.loads(run("record", "limit", "--json", shelf=shelf).stdout)
    assert len(every) == len(told)
    assert all(line.startswith(f"{one['limit']}: ") for line, one in zip(every, told, strict=True))
    one = next(one for one in told if one["low"] is not None and one["high"] is not None)
    key = one["limit"]
    line = next(line for line in every if line.startswith(f"{key}: "))
    changed = run("record", "limit", key, "--low", "1", "--high", "2", "--reason", "tried here", shelf=shelf)
    assert changed.exit_code == 0, changed.output
    assert "tried here" in changed.stdout
    assert run("record", "limit", key, "--back", shelf=shelf).exit_code == 0
    assert line in run("record", "limit", shelf=shelf).stdout.splitlines()
    for wrong, said in (
        (("--low", "1"), "Which limit?"),
        ((key,), "Give --low"),
        ((key, "--low", "1", "--reason", "x", "--back"), "Give --low"),
        (("no such limit", "--low", "1", "--reason", "x"), "no such limit"),
    ):
        done = run("record", "limit", *wrong, shelf=shelf)
        assert done.exit_code == 2
        assert said in done.stderr
