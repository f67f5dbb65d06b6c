"""The closing checks: which the work asks for, what is within, outside or missing, and what keeps a job open.

Limits are those of kb/reference/practice_limits.csv, read there by hand; conversions by the exact inch and degree.
"""

from __future__ import annotations

import json

import pytest

from kb.closing_checks import all_checks, checks_for, later_looks, measurement_for
from kb.limits import all_limits, limit_of
from kb.sheets.job_sheet import JobLater, JobMeasurement, JobPart, JobSheet
from kb.shelf import open_to_read
from queries.closing import AlternatorSpeed, ClosingRow, alternator_idle, closing_rows
from queries.drawings.scale import scale_svg

SILENT = AlternatorSpeed(None, "no drive")


def rows_of(job: JobSheet, own=None, alternator=SILENT) -> dict[str, ClosingRow]:
    return {row.check: row for row in closing_rows(job, own or {}, alternator)}


def job_with(work: str, *measured: tuple[str, str | None, str | None, str | None]) -> JobSheet:
    return JobSheet("J", work, opened_on="2026-03-02", measurements=tuple(JobMeasurement(*one) for one in measured))


@pytest.mark.parametrize(
    ("work", "asked", "not_asked"),
    [
        ("V-belts renewed", {"V-belt tension after run-in", "hand rotation before starting"}, {"coolant leaks"}),
        ("V-belts out, ribbed belt in", {"belt tracking", "pulley alignment"}, {"V-belt tension after run-in"}),
        ("new radiator and shroud", {"fan clearance all round, smallest gap", "coolant leaks",
                                     "coolant level after the thermostat opened and cooled"}, {"refrigerant leaks"}),
        ("a/c lines remade", {"refrigerant leaks", "vacuum lost in 5 min"}, {"coolant leaks", "belt tracking"}),
        ("a/c hoses and a new radiator", {"refrigerant leaks", "coolant leaks"}, set()),
        ("heater hoses and clamps", {"hose clamps after a heat cycle"}, {"fan to radiator", "refrigerant leaks"}),
        ("seat mended", {"fluids", "tools and guards"}, {"belt tracking", "coolant leaks"}),
    ],
)  # fmt: skip
def test_the_work_says_which_checks(work, asked, not_asked) -> None:
    names = {check.name for check in checks_for(JobSheet("J", work))}
    assert asked <= names
    assert not names & not_asked


@pytest.mark.parametrize(
    ("name", "unit", "text", "value", "state"),
    [
        ("fan to ring, smallest gap", "in", "3/4", 19.05, "within"),  # 0.75 x 25.4; limits 19 to 25 mm
        ("fan to ring, smallest gap", "mm", "19", 19.0, "within"),  # an end itself is within
        ("blade tip clearance", "in", "1/2", 12.7, "outside"),
        ("fan to ring, smallest gap", None, "1 1/4 in", 31.75, "outside"),
        ("pulley alignment", "deg", "0.6", 0.6, "outside"),  # at most 0.5
        ("tensioner in its range", "%", "50", 50.0, "within"),  # 25 to 75
        ("coolant temperature", "F", "205", 96.111, "within"),  # (205 - 32)/1.8; at most 99
        ("charging voltage at idle, loads on", "V", "14.1", 14.1, "within"),  # 12 V: 13.8 to 14.5
        ("charging voltage at idle, loads on", "V", "12.6", 12.6, "outside"),
        ("charging voltage at idle, loads on", "V", "27,4", 27.4, "within"),  # 24 V: 26.5 to 28.5
        ("charging voltage at idle, loads on", "V", "25.1", 25.1, "outside"),
    ],
)
def test_a_measurement_against_its_limit(name, unit, text, value, state) -> None:
    job = job_with("radiator, shroud, ribbed belt and alternator", (name, unit, None, text))
    check = next(check for check in checks_for(job) if measurement_for(check, job) is not None)
    row = rows_of(job)[check.name]
    assert (row.value, row.state) == (pytest.approx(value, abs=1e-3), state)


def test_limits_from_memory_only_warn() -> None:
    job = job_with("ribbed belt", ("tensioner in its range", "%", None, "90"), ("pulley alignment", "deg", None, "2"))
    rows = closing_rows(job, {}, SILENT)
    assert [(row.check, row.warns_only) for row in rows if row.state == "outside"] == [
        ("pulley alignment", False),  # checked: one public machine manual
        ("tensioner in its range", True),  # common practice, no source
    ]
    assert "from memory" in rows[1].source


def test_outside_leads_then_what_is_missing() -> None:
    job = job_with("ribbed belt", ("pulley alignment", "deg", None, "2"), ("belt tracking", None, None, "true"))
    states = [row.state for row in closing_rows(job, {}, SILENT)]
    assert states == sorted(states, key=["outside", "not measured", "within"].index)
    assert states[0] == "outside"
    assert "not measured" in states


def test_as_found_alone_is_not_measured() -> None:
    row = rows_of(job_with("alternator", ("charging voltage", "V", "13.2", None)))["charging voltage at idle, loads on"]
    assert (row.state, row.found_value, row.as_found) == ("not measured", 13.2, "13.2 V")


@pytest.mark.parametrize(
    ("text", "state"),
    [("ok", "within"), ("Turns free.", "within"), ("rubs at the shroud", "outside"), ("no", "outside"),
     ("no rubbing", "not measured"), ("fine", "not measured")],
)  # fmt: skip
def test_answers_in_words(text, state) -> None:
    row = rows_of(job_with("ribbed belt", ("hand rotation before starting", None, None, text)))[
        "hand rotation before starting"
    ]
    assert row.state == state
    if state == "not measured":
        assert "is not understood" in row.why


def test_a_unit_that_does_not_fit_is_said() -> None:
    row = rows_of(job_with("ribbed belt", ("pulley alignment", "V", None, "0.3")))["pulley alignment"]
    assert row.state == "not measured"
    assert row.why


def test_charging_shows_the_alternators_speed() -> None:
    known = AlternatorSpeed(1650.0, "700 rpm idle × 2.36: 1650 rpm")
    rows = rows_of(job_with("alternator", ("charging voltage", "V", None, "14.0")), alternator=known)
    assert "alternator: 700 rpm idle" in rows["charging voltage at idle, loads on"].why
    speed = rows["alternator speed at idle"]
    assert (speed.value, speed.state, speed.low, speed.warns_only) == (1650.0, "outside", 1800.0, True)


def test_the_alternators_speed_comes_from_the_drive(tmp_path, run) -> None:
    # Pitch diameters: d_e = OD + 0.35 mm (ISO 9981 groove geometry), + 2 b_e with b_e = 2 mm; OD 190 and 66 mm.
    drive, shelf = tmp_path / "drive.toml", tmp_path / "shelf.db"
    pulleys = (("crank", 190, "[0, 0]\ndriver = true"), ("alternator", 66, "[300, 200]"), ("fan", 200, "[0, 400]"))
    drive.write_text(
        'name = "Fan plane"\nprofile = "PK"\nribs = 8\nidle_rpm = 700\n'
        + "".join(
            f'[[pulley]]\nname = "{name}"\noutside_diameter = {size}\nface = "grooved"\nat = {at}\n'
            for name, size, at in pulleys
        ),
        encoding="utf-8",
    )
    assert run("load", str(drive), shelf=shelf).exit_code == 0
    connection = open_to_read(shelf)
    found = alternator_idle(connection, JobSheet("J", "alternator", drive="Fan plane"))
    assert found.rpm == pytest.approx(700 * (190 + 0.35 + 4) / (66 + 0.35 + 4), abs=0.5)
    assert "700 rpm idle" in found.says
    missing = alternator_idle(connection, JobSheet("J", "alternator", drive="no such drive"))
    assert missing.rpm is None
    assert "no such drive" in missing.says
    assert alternator_idle(connection, JobSheet("J", "alternator")).rpm is None
    connection.close()


def test_vent_air_is_taken_from_ambient() -> None:
    job = job_with("a/c compressor", ("ambient temperature", "C", None, "30"), ("vent temperature", "F", None, "50"))
    row = rows_of(job)["vent temperature below ambient"]
    assert row.value == pytest.approx(36.0)  # 30 C is 86 F
    assert row.state == "within"
    assert row.warns_only


@pytest.mark.parametrize(("ambient", "low", "high"), [("82", 140.0, 210.0), ("98", 190.0, 270.0)])
def test_pressures_go_by_the_ambient_temperature(ambient, low, high) -> None:
    # TM 5-3805-291-23-1 table 1 as in practice_limits.csv: 80 F 140 to 210 psig, 100 F 190 to 270 psig
    job = job_with("a/c lines", ("ambient temperature", "F", None, ambient), ("high side pressure", "psi", None, "200"))
    row = rows_of(job)["refrigerant pressure, high side"]
    assert (row.low, row.high, row.state) == (low, high, "within")
    assert "guide only" in row.why
    assert "licensed" in row.caution


def test_without_an_ambient_temperature_there_is_no_limit() -> None:
    for measured in ((), (("ambient temperature", "F", None, "50"),)):
        row = rows_of(job_with("a/c lines", ("high side pressure", "psi", None, "200"), *measured))[
            "refrigerant pressure, high side"
        ]
        assert (row.state, row.low) == ("not measured", None)
        assert row.why


def test_what_must_be_seen_again_waits_until_it_is_done() -> None:
    job = JobSheet(
        "J", "heater hoses", opened_on="2026-03-02", later=(JobLater("hose clamps after a heat cycle", "2026-03-03"),)
    )
    row = rows_of(job)["hose clamps after a heat cycle"]
    assert (row.state, row.due_on, row.why) == ("not measured", "2026-03-03", "to be looked at on 2026-03-03")
    done = JobLater("hose clamps after a heat cycle", "2026-03-03", done_on="2026-03-04", found="dry")
    assert rows_of(JobSheet("J", "heater hoses", later=(done,)))["hose clamps after a heat cycle"].state == "within"
    wet = JobLater("hose clamps after a heat cycle", "2026-03-03", done_on="2026-03-04", found="weeps")
    assert rows_of(JobSheet("J", "heater hoses", later=(wet,)))["hose clamps after a heat cycle"].state == "outside"
    assert "hose clamps after a heat cycle" not in [one.check for one in later_looks(job)]


def test_a_shops_own_limit_holds_and_says_so(tmp_path, run) -> None:
    shelf, form = tmp_path / "shelf.db", tmp_path / "form.toml"
    form.write_text(
        'job = "J"\nwork = "shroud"\n[[measurement]]\nname = "fan to ring"\nunit = "mm"\nas_left = 12\n', "utf-8"
    )
    run("record", "add", str(form), shelf=shelf)

    def fan_row() -> dict[str, object]:
        rows = json.loads(run("closing", "J", "--json", shelf=shelf).stdout)
        return next(row for row in rows if row["check"].startswith("fan clearance"))

    assert fan_row()["state"] == "outside"
    run("record", "limit", "fan: blade tip to shroud, shroud on chassis", "--low", "6", "--high", "13", "--reason",
        "ring on the engine", shelf=shelf)  # fmt: skip
    row = fan_row()
    assert (row["state"], row["low"], row["high"], row["warns_only"]) == ("within", 6.0, 13.0, False)
    assert "the shop's own: ring on the engine" in row["source"]


def test_keys_are_the_designs(run, demo_shelf) -> None:
    rows = json.loads(run("closing", "N-001", "--json", shelf=demo_shelf).stdout)
    assert {"check", "value", "unit", "low", "high", "state", "source"} <= set(rows[0])
    text = run("closing", "N-001", shelf=demo_shelf)
    assert "NOT MEASURED" in text.stdout
    assert run("closing", "N-999", shelf=demo_shelf).exit_code == 2


def test_every_check_stands_on_something() -> None:
    known = {limit.key for limit in all_limits()}
    for check in all_checks():
        assert check.caution or check.kind == "drive", check.name
        assert check.how, check.name
        if check.parameter and "{}" not in check.parameter:
            assert f"{check.topic}: {check.parameter}" in known, check.name
        assert (check.later_days is not None or check.later_hours is not None) == (check.kind == "later")
    for ambient in (70, 80, 90, 100, 110):
        assert limit_of("A/C pressures", f"R-134a low side at {ambient} F ambient") is not None


def test_the_summary_names_parts_measurements_and_old_parts(tmp_path, run) -> None:
    shelf, form, out = tmp_path / "shelf.db", tmp_path / "form.toml", tmp_path / "summary.html"
    form.write_text(
        'job = "J"\nwork = "ribbed belt <in>"\n[[part]]\npart_no = "1E5"\nordered_by = "a donor machine"\n'
        'old_part = "deposit due"\n[[measurement]]\nname = "pulley alignment"\nunit = "deg"\nas_found = 2\nas_left = 0.3\n'
        '[private]\ncustomer = "CUSTOMER-33"\nnote = "NOTE-44"\n',
        encoding="utf-8",
    )
    run("record", "add", str(form), shelf=shelf)
    assert run("closing", "J", "--html", str(out), shelf=shelf).exit_code == 0
    page = out.read_text(encoding="utf-8")
    for text in (
        "1E5",
        "a donor machine",
        "Deposit due",
        "As found 2 deg",
        "As left 0.3 deg",
        "&lt;in&gt;",
        "Not measured",
    ):
        assert text in page
    assert "CUSTOMER-33" not in page
    assert "NOTE-44" not in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    letter = tmp_path / "letter.html"
    letter.write_text("mine", encoding="utf-8")
    assert run("closing", "J", "--html", str(letter), shelf=shelf).exit_code == 1
    assert letter.read_text(encoding="utf-8") == "mine"


def test_what_is_open_and_due_is_listed_soonest_first(tmp_path, run) -> None:
    shelf, form = tmp_path / "shelf.db", tmp_path / "form.toml"
    for name, work, opened, rest in (
        ("A", "ribbed belt", "2026-03-09", 'outcome = "worked"'), ("B", "heater hoses", "2026-03-02", 'outcome = "worked"'),
        ("C", "cab painted", "2026-03-01", 'outcome = "worked"\nclosed_on = 2026-03-02'),
        ("D", "cab painted", "2026-03-01", ""),
    ):  # fmt: skip
        form.write_text(f'job = "{name}"\nwork = "{work}"\nopened_on = {opened}\n{rest}\n', encoding="utf-8")
        assert run("record", "add", str(form), shelf=shelf).exit_code == 0
    rows = json.loads(run("closing", "--json", shelf=shelf).stdout)
    # B's clamps and coolant a day after 2 March, A's belt a week after 9 March, D has no outcome yet, C is closed
    assert [(row["job"], row["due_on"]) for row in rows] == [
        ("B", "2026-03-03"), ("B", "2026-03-03"), ("A", "2026-03-16"), ("D", None),
    ]  # fmt: skip
    assert rows[-1]["check"] == "no outcome yet"
    assert run("closing", "--html", str(form), shelf=shelf).exit_code == 2


def test_scales_show_places_in_order() -> None:
    import re

    picture = scale_svg(13.8, 14.5, 13.2, 14.1, "V", "charging")
    ring = float(re.search(r'cx="([\d.]+)"', picture)[1])
    wedge = float(re.search(r'd="M([\d.]+) 30l', picture)[1])
    low, high = (float(place) for place in re.findall(r"M([\d.]+) 22V38", picture))
    assert ring < low < wedge < high
    assert (wedge - ring) / (high - low) == pytest.approx((14.1 - 13.2) / (14.5 - 13.8), abs=0.01)
    assert "as found 13.2 V: below; as left 14.1 V: within" in picture
    assert scale_svg(None, None, 1.0, 2.0, "mm", "x") == ""
    assert JobPart("1").old_part is None
