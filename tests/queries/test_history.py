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
