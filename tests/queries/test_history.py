"""What past jobs say of a part."""

from __future__ import annotations

from queries.history import NONE, jobs_with, records


def told(filled, supplier, part_no):
    return records(filled.connection, [(supplier, part_no)]).get((supplier, part_no), NONE)


def test_outcomes_are_counted(filled) -> None:
    filled.job("J1", "worked", ("B1", "Supplier A"))
    filled.job("J2", "worked after a change", ("B1", "Supplier A"))
    filled.job("J3", "did not work", ("B1", "Supplier A"))
    filled.job("J4", None, ("B1", "Supplier A"))  # still open: it says nothing yet
    record = told(filled, "Supplier A", "B1")
    assert (record.worked, record.after_change, record.failed) == (2, 1, 1)
    assert record.says == "worked in 2 jobs, 1 of them after a change, did not work in 1 job"


def test_a_job_counts_once_however_often_it_names_the_part(filled) -> None:
    filled.job("J1", "worked", ("B1", "Supplier A"), ("B-1", None))
    assert told(filled, "Supplier A", "B1").worked == 1


def test_another_suppliers_part_of_that_number_is_not_meant(filled) -> None:
    filled.job("J1", "worked", ("B1", "Supplier A"))
    assert told(filled, "Supplier B", "B1") == NONE
    assert jobs_with(filled.connection, "Supplier B", "B1") == []


def test_a_job_without_a_supplier_counts_for_all_of_them(filled) -> None:
    filled.job("J1", "worked", ("B1", None))
    assert told(filled, "Supplier A", "B1").worked == told(filled, "Supplier B", "B1").worked == 1


def test_names_and_numbers_as_people_write_them(filled) -> None:
    filled.job("J1", "worked", ("b-1o", "ÖLHAFEN Teile"))  # a letter o for the zero, the name in capitals
    assert told(filled, "Ölhafen Teile", "B10").worked == 1
    assert [job["id"] for job in jobs_with(filled.connection, "Ölhafen Teile", "B10")] == ["J1"]


def test_many_parts_in_one_question(filled) -> None:
    filled.job("J1", "worked", ("B1", "Supplier A"), ("B2", "Supplier B"))
    filled.job("J2", "did not work", ("B2", "Supplier B"))
    asked = [("Supplier A", "B1"), ("Supplier B", "B2"), ("Supplier B", "B3")]
    found = records(filled.connection, asked)
    assert set(found) == {("Supplier A", "B1"), ("Supplier B", "B2")}
    assert (found["Supplier B", "B2"].worked, found["Supplier B", "B2"].failed) == (1, 1)
    assert records(filled.connection, []) == {}


def test_the_newest_job_first_with_its_troubles(filled) -> None:
    filled.job("J1", "worked", ("B1", "Supplier A"), opened_on="2024-11-02")
    filled.job("J2", "did not work", ("B1", "Supplier A"), opened_on="2025-04-09")
    number = filled.connection.execute("SELECT number FROM job WHERE id = 'J2'").fetchone()[0]
    filled.put(
        "job_trouble", job_number=number, position=1, trouble="too short", remedy="next size", hours_lost=2.5, solved=1
    )
    jobs = jobs_with(filled.connection, "Supplier A", "B1")
    assert [(job["id"], job["outcome"]) for job in jobs] == [("J2", "did not work"), ("J1", "worked")]
    assert jobs[0]["troubles"] == [{"trouble": "too short", "remedy": "next size", "hours_lost": 2.5, "solved": True}]


def test_a_belt_that_failed_on_a_like_drive_comes_after_one_that_worked_there(tmp_path, run) -> None:
    """The nearer belt failed on the same engine and drive, the other worked; a third has no history there."""
    import json

    shelf, belts = tmp_path / "shelf.db", tmp_path / "belts.csv"
    belts.write_text("Part no,Ribs,Effective length (mm)\nNEAR,8,1857\nWORKS,8,1855\nOTHER,8,1859\n", encoding="utf-8")
    run("load", str(belts), "--supplier", "Shop", shelf=shelf)
    for name, part, outcome, engine in (
        ("A", "NEAR", "did not work", "inline six 7.6 L"), ("B", "WORKS", "worked", "straight six 7.6"),
        ("C", "OTHER", "did not work", "V8 10.4 L"), ("D", "NEAR", "worked", "V8 10.4 L"),
    ):  # fmt: skip
        form = tmp_path / f"{name}.toml"
        machine = "Grader 4" if "six" in engine else "Water tender 2"
        drives = '["alternator", "fan"]' if "six" in engine else '["pump"]'
        form.write_text(
            f'job = "{name}"\nwork = "belt"\noutcome = "{outcome}"\nengine = "{engine}"\nmachine = "{machine}"\nribs = 8\n'
            f'accessories = {drives}\n[[part]]\npart_no = "{part}"\n[[trouble]]\ntrouble = "threw two ribs"\n',
            encoding="utf-8",
        )
        run("record", "add", str(form), shelf=shelf)
    asked = ("belts", "--length", "1857", "--ribs", "8", "--json")
    plain = [row["part_no"] for row in json.loads(run(*asked, shelf=shelf).stdout)]
    assert plain == ["NEAR", "WORKS", "OTHER"]
    rows = json.loads(run(*asked, "--on", "A", shelf=shelf).stdout)
    assert [row["part_no"] for row in rows] == ["WORKS", "NEAR", "OTHER"]
    assert rows[0]["why"].startswith("on drives like this: worked in B")
    assert rows[1]["why"].startswith("on drives like this: did not work in A (threw two ribs)")
    assert "on drives like this" not in rows[2]["why"]
    assert run("belts", "--length", "1857", "--on", "nothing", shelf=shelf).exit_code == 2
