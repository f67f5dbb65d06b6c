"""Recording over the day: forms go out and come back, changes are revisions, and nobody's word is lost.

The jobs are invented; expectations are worked out by hand.
"""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

from importers.record import current_job
from kb.shelf import check, open_to_read

ROOT = Path(__file__).parent.parent.parent
MORNING = """
job = "N-9"
work = "heater hoses and clamps"
machine = "Plow truck 7"
opened_on = 2026-05-04
[[part]]
part_no = "00123"
supplier = "Anyone"
[private]
customer = "CUSTOMER-33"
"""


class Shop:
    """A shelf and the command on it."""

    def __init__(self, folder: Path, run) -> None:
        self.folder, self.run, self.shelf = folder, run, folder / "shelf.db"

    def add(self, text: str, name: str = "form.toml"):
        """Write a form and take it in."""
        form = self.folder / name
        form.write_text(text, encoding="utf-8")
        return self.run("record", "add", str(form), "--json", shelf=self.shelf)

    def job(self, job_id: str = "N-9"):
        """The job as stored."""
        connection = open_to_read(self.shelf)
        try:
            return current_job(connection, job_id)
        finally:
            connection.close()

    def form(self, name: str, job_id: str = "N-9") -> Path:
        """Have a form of the job written."""
        out = self.folder / name
        assert self.run("record", "new", str(out), "--from", job_id, shelf=self.shelf).exit_code == 0
        return out


@pytest.fixture
def shop(tmp_path, run) -> Shop:
    made = Shop(tmp_path, run)
    done = made.add(MORNING)
    assert json.loads(done.stdout)[0]["done"] == "stored"
    return made


def test_what_a_form_leaves_out_stays(shop) -> None:
    done = shop.add(
        'job = "N-9"\noutcome = "worked"\n[[trouble]]\ntrouble = "wept"\nremedy = "nipped up"\nsolved = true'
    )
    assert json.loads(done.stdout)[0]["done"] == "updated"
    job = shop.job()
    assert (job.machine, job.customer, job.outcome) == ("Plow truck 7", "CUSTOMER-33", "worked")
    assert [part.part_no for part in job.parts] == ["00123"]
    assert job.troubles[0].solved is True


def test_entries_are_met_by_what_they_are_and_filled_in(shop) -> None:
    shop.add('job = "N-9"\n[[measurement]]\nname = "coolant leaks"\nas_found = "drips"')
    shop.add(
        'job = "n-9"\n[[measurement]]\nname = "Coolant leaks"\nas_left = "none"\n[[part]]\npart_no = "oo-123"\nquantity = 2'
    )
    job = shop.job()
    assert [(one.name, one.as_found, one.as_left) for one in job.measurements] == [("coolant leaks", "drips", "none")]
    assert [(part.part_no, part.supplier, part.quantity) for part in job.parts] == [("00123", "Anyone", 2.0)]


def test_the_same_form_again_changes_nothing(shop) -> None:
    before = shop.run("record", "show", "N-9", "--json", shelf=shop.shelf).stdout
    assert json.loads(shop.add(MORNING).stdout)[0] == {
        "id": "N-9", "done": "unchanged", "revision": json.loads(before)["revisions"][-1]["revision"], "changes": [],
        "open": [],
    }  # fmt: skip
    assert shop.run("record", "show", "N-9", "--json", shelf=shop.shelf).stdout == before


@pytest.mark.parametrize("name", ["again.toml", "again.xlsx"])
def test_a_form_that_was_written_and_not_filled_in_changes_nothing(shop, name) -> None:
    form = shop.form(name)
    done = shop.run("record", "add", str(form), "--json", shelf=shop.shelf)
    assert json.loads(done.stdout)[0]["done"] == "unchanged", done.output


def test_every_change_is_kept_in_words(shop) -> None:
    shop.add('job = "N-9"\nbay = "north"')
    shop.add('job = "N-9"\nbay = "wash"\n[[part]]\npart_no = "00123"\ntake_out = true')
    shown = json.loads(shop.run("record", "show", "N-9", "--json", shelf=shop.shelf).stdout)
    assert [one["changes"] for one in shown["revisions"]] == [
        ["a new job: heater hoses and clamps"],
        ["bay: north"],
        ["bay: wash (was: north)", "part 00123 taken out"],
    ]
    connection = sqlite3.connect(shop.shelf)
    based = connection.execute("SELECT count(*) FROM job_revision WHERE based_on IS NOT NULL").fetchone()[0]
    connection.close()
    assert based == 2


def test_a_field_can_be_emptied(shop) -> None:
    shop.add('job = "N-9"\nclear = ["machine", "customer"]')
    assert (shop.job().machine, shop.job().customer) == (None, None)
    assert "cannot be emptied" in shop.add('job = "N-9"\nclear = ["work"]').stderr


def test_a_stale_form_does_not_overwrite_someone_else(shop) -> None:
    stale = shop.form("stale.toml")
    shop.add('job = "N-9"\nmachine = "Plow truck 3"\n[[part]]\npart_no = "00777"')
    text = stale.read_text(encoding="utf-8")
    stale.write_text(text.replace('machine = "Plow truck 7"', 'machine = "Water tender 4"'), encoding="utf-8")
    refused = shop.run("record", "add", str(stale), shelf=shop.shelf)
    assert refused.exit_code == 1
    assert "since this form was written, machine was changed to Plow truck 3" in refused.stderr
    assert shop.job().machine == "Plow truck 3"
    # what the stale form did not touch is not put back either
    stale.write_text(text.replace("# hours_worked = 6.5", "hours_worked = 6.5"), encoding="utf-8")
    assert shop.run("record", "add", str(stale), shelf=shop.shelf).exit_code == 0
    job = shop.job()
    assert (job.machine, job.hours_worked) == ("Plow truck 3", 6.5)
    assert [part.part_no for part in job.parts] == ["00123", "00777"]


def test_a_row_of_a_written_form_can_be_renamed(shop) -> None:
    shop.add('job = "N-9"\n[[trouble]]\ntrouble = "wpet"\nhours_lost = 0.5')
    form = shop.form("again.toml")
    form.write_text(form.read_text(encoding="utf-8").replace('"wpet"', '"wept"'), encoding="utf-8")
    shop.run("record", "add", str(form), shelf=shop.shelf)
    assert [(one.trouble, one.hours_lost) for one in shop.job().troubles] == [("wept", 0.5)]


def test_the_workbook_has_drop_downs_and_keeps_part_numbers(shop) -> None:
    form = shop.form("form.xlsx")
    book = openpyxl.load_workbook(form)
    assert book.sheetnames == ["Job", "Parts", "Troubles", "Measured", "Look again", "Lists"]
    offered = {str(rule.sqref): rule.formula1 for rule in book["Job"].data_validations.dataValidation}
    outcome = next(row for row in range(1, 30) if book["Job"].cell(row, 1).value == "Outcome")
    column = offered[f"B{outcome}"].split("$")[1]
    assert [cell.value for cell in book["Lists"][column] if cell.value] == [
        "worked",
        "worked after a change",
        "did not work",
    ]
    book["Job"].cell(outcome, 2).value = "worked"
    assert book["Parts"]["A2"].value == "00123"
    book["Parts"]["A3"].value, book["Parts"]["E3"].value = "1E5", "deposit due"
    names = [book["Measured"].cell(row, 1).value for row in range(2, 12)]
    assert "coolant leaks" in names
    book["Measured"].cell(names.index("coolant leaks") + 2, 4).value = "none"
    book.save(form)
    done = shop.run("record", "add", str(form), "--json", shelf=shop.shelf)
    assert done.exit_code == 0, done.output
    job = shop.job()
    assert [(part.part_no, part.old_part) for part in job.parts] == [("00123", None), ("1E5", "deposit due")]
    assert [(one.name, one.as_left) for one in job.measurements] == [("coolant leaks", "none")]


@pytest.mark.parametrize(
    ("sheet", "cell", "value", "said"),
    [
        ("Job", "B9", "splendid", "outcome = 'splendid' is none of the three"),
        ("Parts", "C2", "two", "Parts row 2"),
        ("Parts", "E2", "lost", "Parts, row 2: old_part = 'lost' is no choice. Known: returned, kept, scrapped, deposit due"),
        ("Troubles", "D2", "maybe", "Troubles, row 2: solved = 'maybe' is neither yes nor no"),
        ("Look again", "B2", "soon", "Look again, row 2"),
        ("Job", "A3", "Opend", "the label 'Opend' is not known"),
    ],
)  # fmt: skip
def test_a_bad_cell_is_refused_with_its_place_and_nothing_is_stored(shop, sheet, cell, value, said) -> None:
    form = shop.form("form.xlsx")
    book = openpyxl.load_workbook(form)
    book[sheet][cell].value = value
    if sheet == "Troubles":
        book[sheet]["A2"].value = "wept"
    book["Job"]["B5"].value = "another bay"
    book.save(form)
    done = shop.run("record", "add", str(form), shelf=shop.shelf)
    assert done.exit_code == 1
    assert said.replace(" row", ", row") in done.stderr or said in done.stderr
    assert shop.job().bay is None


def test_the_outcome_brings_what_must_be_looked_at_again_and_keeps_the_job_open(shop) -> None:
    done = json.loads(shop.add('job = "N-9"\noutcome = "worked"').stdout)[0]
    # opened on 4 May; the table says a day later for clamps and for the coolant's level
    assert done["open"] == [
        {"check": "hose clamps after a heat cycle", "due_on": "2026-05-05", "after_hours": None},
        {"check": "coolant level after the thermostat opened and cooled", "due_on": "2026-05-05", "after_hours": None},
    ]
    refused = shop.add('job = "N-9"\nclosed_on = 2026-05-06')
    assert refused.exit_code == 1
    assert "cannot be closed yet: still to be looked at: hose clamps" in refused.stderr
    assert shop.job().closed_on is None
    looks = "".join(
        f'[[later]]\ncheck = "{one["check"]}"\ndone_on = 2026-05-06\nfound = "ok"\n' for one in done["open"]
    )
    closed = shop.add(f'job = "N-9"\nclosed_on = 2026-05-06\n{looks}')
    assert closed.exit_code == 0, closed.stderr
    assert (shop.job().closed_on, shop.job().still_open) == ("2026-05-06", ())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("work = 'x'", "`job` is missing"),
        ('job = "N-10"', "does not say what is done"),
        ('job = "N-9"\nopened_on = 2026-05-04\nclosed_on = 2026-05-01', "before it was opened"),
        ('job = "N-9"\n[[part]]\npart_no = "777"\ntake_out = true', "is not on the job"),
        ('job = "N-9"\nrevision = "nothing"', "does not know the state"),
        ('job = "N-9"\n[[part]]\npart_no = "777"\nrow = 1', "not in the state that the form was written from"),
        ('job = "N-9"\n[[part]]\npart_no = "777"\ntake_out = "yes"', "neither true nor false"),
        ('job = "N-9"\nmachin = "x"', "Did you mean `machine`?"),
    ],
)
def test_what_cannot_be_is_refused_in_words(shop, text, said) -> None:
    before = shop.job()
    done = shop.add(text)
    assert done.exit_code == 1
    assert said in done.stderr
    assert shop.job() == before


def test_a_form_never_replaces_a_file(shop) -> None:
    there = shop.folder / "letter.toml"
    there.write_text("mine", encoding="utf-8")
    done = shop.run("record", "new", str(there), shelf=shop.shelf)
    assert done.exit_code == 1
    assert "is there already" in done.stderr
    assert there.read_text(encoding="utf-8") == "mine"
    assert list(shop.folder.glob(".letter-*")) == []


def test_processes_that_record_at_once_lose_nothing(shop) -> None:
    code = "import sys; from kb.cli import main; main(sys.argv[1:])"
    processes = []
    for number in range(6):
        form = shop.folder / f"form-{number}.toml"
        form.write_text(
            f'job = "N-9"\n[[part]]\npart_no = "P-{number}"\n[[trouble]]\ntrouble = "trouble {number}"',
            encoding="utf-8",
        )
        processes.append(
            subprocess.Popen(
                [sys.executable, "-c", code, "--shelf", str(shop.shelf), "record", "add", str(form)],
                cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            )
        )  # fmt: skip
    for process in processes:
        out, err = process.communicate(timeout=120)
        assert process.returncode == 0, out + err
    job = shop.job()
    assert {part.part_no for part in job.parts} == {"00123", *(f"P-{number}" for number in range(6))}
    assert {one.trouble for one in job.troubles} == {f"trouble {number}" for number in range(6)}
    connection = sqlite3.connect(shop.shelf)
    rows = connection.execute("SELECT id, based_on FROM job_revision").fetchall()
    connection.close()
    assert len(rows) == 7
    assert len({based for _, based in rows}) == 7  # one chain: no two were made from the same state
    assert check(shop.shelf) == []


def test_a_shops_own_limit(shop) -> None:
    named = "blade tip to shroud, shroud on chassis"
    assert shop.run("record", "limit", named, "--low", "10", shelf=shop.shelf).exit_code == 2  # no reason
    done = shop.run(
        "record", "limit", named, "--low", "10", "--reason", "ring on the engine", "--json", shelf=shop.shelf
    )
    (row,) = json.loads(done.stdout)
    assert (row["low"], row["high"], row["status"]) == (10.0, None, "the shop's own")
    assert "ring on the engine" in row["source"]
    rows = json.loads(shop.run("record", "limit", "--json", shelf=shop.shelf).stdout)
    assert row in rows
    back = json.loads(shop.run("record", "limit", named, "--back", "--json", shelf=shop.shelf).stdout)
    assert (back[0]["low"], back[0]["high"]) == (19.0, 25.0)  # practice_limits.csv
    missing = shop.run("record", "limit", "blade tip to shrud", "--back", shelf=shop.shelf)
    assert missing.exit_code == 2
    assert "blade tip to shroud" in missing.stderr
