"""A single job's TOML sheet: everything it says is read, and what it cannot say is refused with its place.

The jobs are invented; expectations are worked out by hand.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.errors import SheetError
from kb.sheets.job import JobMeasurement, JobPart, JobTrouble, job_from_text, read_job

WHOLE = """
job = "N-12"
work = "ribbed  belt in"
opened_on = 2025-03-14
closed_on = "2025-03-15"
bay = "north"
machine = "plow truck 4"
engine = "six in line"
outcome = "OK after change"
notes = "idler was dry"
accessories = ["alternator", "fan  clutch", " "]
profile = "PK"
ribs = 8
unit = "in"
belt_length = "73 1/8"
drive = "plow truck front"

[[part]]
part_no = "00123"
supplier = "Anyone"
quantity = 2
ordered_by = "parts list"
note = "one spare"

[[part]]
part_no = "1E5"

[[trouble]]
trouble = "squeal when cold"
remedy = "idler changed"
hours_lost = 1.5
solved = true

[[measurement]]
name = "charging voltage"
unit = "V"
as_found = 12.9
as_left = "14.1"

[private]
customer = "CUSTOMER-33"
note = "NOTE-44"
"""
LEAST = 'work = "belt in"\n'


def test_a_whole_job_is_read() -> None:
    job = job_from_text(WHOLE, "job.toml")
    assert (job.id, job.work) == ("N-12", "ribbed belt in")
    assert (job.opened_on, job.closed_on) == ("2025-03-14", "2025-03-15")
    assert (job.bay, job.machine, job.engine) == ("north", "plow truck 4", "six in line")
    assert (job.outcome, job.notes, job.drive) == ("worked after a change", "idler was dry", "plow truck front")
    assert job.accessories == ("alternator", "fan clutch")
    assert (job.profile, job.ribs) == ("PK", 8)
    assert job.belt_length_mm == pytest.approx(73.125 * 25.4)  # the inch is 25.4 mm exactly (ISO 80000-3)
    assert job.parts == (JobPart("00123", "Anyone", 2, "parts list", "one spare"), JobPart("1E5"))
    assert job.troubles == (JobTrouble("squeal when cold", "idler changed", 1.5, True),)
    assert job.measurements == (JobMeasurement("charging voltage", "V", "12.9", "14.1"),)
    assert (job.customer, job.private_note) == ("CUSTOMER-33", "NOTE-44")
    assert job.title == "plow truck 4: ribbed belt in"


def test_private_words_stay_out_of_what_is_searched_kept_and_shown() -> None:
    job = job_from_text(WHOLE, "job.toml")
    for text in (job.words, repr(job), str(job.content()), job.title):
        assert "CUSTOMER-33" not in text
        assert "NOTE-44" not in text


def test_what_is_searched_holds_every_other_word() -> None:
    words = job_from_text(WHOLE, "job.toml").words
    said = ["north", "plow truck 4", "six in line", "idler was dry", "fan clutch", "8PK", "plow truck front", "00123"]
    said += ["Anyone", "parts list", "one spare", "1E5", "squeal when cold", "idler changed", "charging voltage"]
    assert [one for one in said if one not in words] == []


def test_the_least_job() -> None:
    job = job_from_text(LEAST, "job.toml")
    assert (job.id, job.work, job.title) == (None, "belt in", "belt in")
    assert (job.parts, job.troubles, job.measurements, job.accessories) == ((), (), (), ())
    assert (job.ribs, job.belt_length_mm, job.customer) == (None, None, None)


def test_millimetres_unless_inches_are_said() -> None:
    assert job_from_text(LEAST + "belt_length = 1854", "j").belt_length_mm == 1854
    # The value's own unit beats the sheet's.
    assert job_from_text(LEAST + 'unit = "in"\nbelt_length = "1854 mm"', "j").belt_length_mm == 1854


def test_accessories_as_one_text() -> None:
    assert job_from_text(LEAST + 'accessories = "fan; alternator ;"', "j").accessories == ("fan", "alternator")


def test_a_day_with_a_time_is_that_day() -> None:
    assert job_from_text(LEAST + "opened_on = 2025-03-14T23:30:00", "j").opened_on == "2025-03-14"


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ('job = "N-1"', "job.toml", "`work` is missing"),
        ('work = "  "', "job.toml", "`work` is missing"),
        ("work = 5", "job.toml", "work = 5 is not text"),
        ("work = ", "job.toml", "not understood as TOML"),
        (LEAST + "machin = 'x'", "job.toml", "Did you mean `machine`"),
        (LEAST + "job = 12", "job.toml", "not text"),
        (LEAST + 'unit = "cm"', "job.toml", "neither mm nor in"),
        (LEAST + 'outcome = "maybe"', "job.toml", "none of the three"),
        (LEAST + 'opened_on = "14.3.2025"', "job.toml", "no day"),
        (LEAST + 'closed_on = "2025-02-29"', "job.toml", "no day"),  # 2025 is no leap year
        (LEAST + "accessories = [1]", "job.toml", "list of texts"),
        (LEAST + "ribs = 0", "job.toml, ribs", "0"),
        (LEAST + "ribs = 41", "job.toml, ribs", "41"),
        (LEAST + "ribs = 7.5", "job.toml, ribs", "7.5"),
        (LEAST + "ribs = true", "job.toml, ribs", ""),
        (LEAST + "belt_length = 149", "job.toml, belt_length", "149"),
        (LEAST + 'belt_length = "long"', "job.toml, belt_length", "long"),
        (LEAST + "belt_length = nan", "job.toml, belt_length", ""),
        (LEAST + "part = 1", "job.toml", "[[part]]"),
        (LEAST + "[part]\npart_no = 'A'", "job.toml", "[[part]]"),
        (LEAST + "[[part]]\nnote = 'A'", "job.toml, part 1", "`part_no` is missing"),
        (LEAST + "[[part]]\npart_no = 'A'\n[[part]]\npart_no = 123", "job.toml, part 2", "in quotes"),
        (LEAST + "[[part]]\npart_no = 'A'\nquantity = -1", "job.toml, part 1, quantity", "-1"),
        (LEAST + "[[part]]\npart_no = 'A'\nprice = 1", "job.toml, part 1", "`price` is not known"),
        (LEAST + "[[trouble]]\nsolved = true", "job.toml, trouble 1", "says nothing"),
        (LEAST + "[[trouble]]\nremedy = 'x'\nsolved = 'yes'", "job.toml, trouble 1", "neither true nor false"),
        (LEAST + "[[trouble]]\nhours_lost = -2", "job.toml, trouble 1, hours_lost", "-2"),
        (LEAST + "[[measurement]]\nas_found = 1", "job.toml, measurement 1", "`name` is missing"),
        (LEAST + "[[measurement]]\nname = 'x'\nas_found = true", "job.toml, measurement 1", "no measurement"),
        (LEAST + "private = 'x'", "job.toml, [private]", "should be a table"),
        (LEAST + "[private]\nprice = 'x'", "job.toml, [private]", "`price` is not known"),
    ],
)
def test_what_a_job_cannot_say_is_refused_with_its_place(text: str, where: str, what: str) -> None:
    with pytest.raises(SheetError) as told:
        job_from_text(text, "job.toml")
    assert told.value.where == where
    assert what in str(told.value)


def test_a_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + 'work = "Kühler ein"\n'.encode())
    assert read_job(path).work == "Kühler ein"


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    with pytest.raises(SheetError, match=r"job\.toml: there is no such file"):
        read_job(path)
    path.write_bytes('work = "Kühler"\n'.encode("cp1252"))
    with pytest.raises(SheetError, match=r"job\.toml: it is not UTF-8"):
        read_job(path)
