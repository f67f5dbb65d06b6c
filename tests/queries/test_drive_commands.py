"""The drive commands on the demo's six drives and on sheets written here, as a person or a script meets them.

Expected values are worked out from the sheet's own numbers by a second way: plane geometry of two pulleys, scipy's root
finder over the command's own path of a changed sheet, or a sheet changed as the answer says and asked again.
"""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path

import pytest
from scipy.optimize import brentq

DRIVES = sorted((Path(__file__).parents[2] / "demo_db" / "drives").glob("*.toml"))
PATH_KEYS = ("name", "profile", "ribs", "pulleys", "cautions")
PULLEY_KEYS = (
    "name", "face", "x_mm", "y_mm", "effective_diameter_mm", "turns", "wrap_deg", "span_to_next_mm", "speed_ratio",
)  # fmt: skip
TWO = """
name = "Pump"
profile = "PK"
ribs = 6
rotation = "clockwise"
[[pulley]]
name = "crank"
face = "grooved"
effective_diameter = 100
at = [0, 0]
driver = true
[[pulley]]
name = "pump"
face = "grooved"
effective_diameter = 100
at = [300, 0]
"""
ARMED = """
name = "Arm"
profile = "PK"
ribs = 6
rotation = "clockwise"
[[pulley]]
name = "crank"
face = "grooved"
effective_diameter = 180
at = [0, 0]
driver = true
[[pulley]]
name = "tensioner"
face = "flat"
outside_diameter = 76
[pulley.arm]
pivot = [-170, 60]
length = 100
slack_stop = 70
free_stop = 35
torque_nm = 40
[[pulley]]
name = "fan"
face = "grooved"
effective_diameter = 160
at = [-60, 380]
[[pulley]]
name = "alternator"
face = "grooved"
effective_diameter = 70
at = [220, 250]
"""


@pytest.fixture
def sheet(tmp_path):
    def write(text: str, name: str = "drive.toml") -> str:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return str(tmp_path / name)

    return write


def asked(run, *arguments: str, shelf=None):
    done = run(*arguments, "--json", shelf=shelf)
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("drive", DRIVES, ids=lambda path: path.stem)
def test_every_command_answers_on_every_demo_drive(drive, run, demo_shelf, tmp_path) -> None:
    path = asked(run, "drive", "path", str(drive))
    assert set(PATH_KEYS) <= set(path)
    assert set(PULLEY_KEYS) <= set(path["pulleys"][0])
    assert ("length_at_slack_stop_mm" in path) != ("route_length_mm" in path)
    assert run("drive", "path", str(drive)).exit_code == 0
    belts = run("drive", "belts", str(drive), "--json", shelf=demo_shelf)
    if path["ribs"]:
        assert run("drive", "last", str(drive)).exit_code == 0
        rows = json.loads(belts.stdout)
        assert {"arm_deg", "travel_used", "slack_at_stop_mm", "chance_it_fits", "part_no", "jobs_worked"} <= set(
            rows[0]
        )
        assert rows[0]["chance_it_fits"] > 0.5, "the demo's suppliers have a belt for each of the demo's drives"
    length = path.get("length_at_slack_stop_mm", path.get("route_length_mm"))
    ways = asked(run, "drive", "shift", str(drive), "--belt", f"{length - 5} mm", shelf=demo_shelf)
    assert ways["fits"] or ways["moves"] or ways["belt"]
    out = tmp_path / "drive.svg"
    assert run("drive", "picture", str(drive), "--out", str(out)).exit_code == 0
    assert out.read_text(encoding="utf-8").startswith("<svg")


def test_two_equal_pulleys_are_two_half_turns_and_two_spans(run, sheet) -> None:
    path = asked(run, "drive", "path", sheet(TWO))
    assert path["route_length_mm"] == pytest.approx(math.pi * 100 + 600, abs=1e-5)
    for one in path["pulleys"]:
        assert (one["wrap_deg"], one["span_to_next_mm"], one["speed_ratio"]) == pytest.approx((180, 300, 1), abs=1e-5)
        assert one["turns"] == "with driver"


def test_a_move_of_equal_pulleys_is_half_of_what_is_missing(run, sheet) -> None:
    # Both spans get shorter by what the pump comes nearer, so 10 mm of slack are 5 mm of move.
    route = math.pi * 100 + 600
    move = asked(run, "drive", "shift", sheet(TWO), "--belt", f"{route:.9f}", "--pulley", "pump", "--slack", "10")
    assert (move["pulley"], move["move_mm"], move["dx_mm"]) == (
        "pump",
        pytest.approx(5, abs=1e-4),
        pytest.approx(-5, abs=1e-4),
    )
    assert move["slack_at_stop_mm"] == pytest.approx(10, abs=1e-4)
    assert move["move_to_sixteenth_mm"] == pytest.approx(25.4 * 4 / 16, abs=1e-3)  # 5 mm is 3.15 sixteenths


def test_the_arm_rests_where_scipy_finds_the_length(run, sheet) -> None:
    path = asked(run, "drive", "path", sheet(ARMED), "--belt", "1487")
    held = ARMED.replace("slack_stop = 70", "slack_stop = {angle}")

    def length(angle: float) -> float:
        text = held.format(angle=repr(angle))
        return asked(run, "drive", "path", sheet(text, "held.toml"))["length_at_slack_stop_mm"]

    assert path["arm_deg"] is not None
    found = brentq(lambda angle: length(angle) - 1487, path["arm_deg"] - 2, path["arm_deg"] + 2, xtol=1e-7)
    assert path["arm_deg"] == pytest.approx(found, abs=1e-4)
    assert path["travel_used"] == pytest.approx((70 - found) / 35, abs=1e-5)
    assert path["slack_at_stop_mm"] == pytest.approx(1487 - path["length_at_slack_stop_mm"], abs=1e-5)


def test_tension_is_torque_over_take_up(run, sheet) -> None:
    # Virtual work, the take-up by finite difference of the command's own lengths.
    text = sheet(ARMED)
    path = asked(run, "drive", "path", text, "--belt", "1487")
    step = 0.01
    lengths = [
        asked(
            run,
            "drive",
            "path",
            sheet(ARMED.replace("slack_stop = 70", f"slack_stop = {path['arm_deg'] + by}"), "s.toml"),
        )["length_at_slack_stop_mm"]
        for by in (-step, step)
    ]
    take_up_m_per_rad = abs(lengths[1] - lengths[0]) / (2 * math.radians(step)) / 1000
    assert path["tension_n"] == pytest.approx([40 / take_up_m_per_rad] * 2, rel=1e-5)


@pytest.mark.parametrize("short", [4.0, 12.0])
def test_a_sheet_changed_as_the_answer_says_has_the_slack_it_says(short, run, sheet) -> None:
    before = asked(run, "drive", "path", sheet(ARMED))
    belt = before["length_at_slack_stop_mm"] - short
    ways = asked(run, "drive", "shift", sheet(ARMED), "--belt", f"{belt:.9f}", "--slack", "8")
    assert [one["pulley"] for one in ways["moves"]]
    sizes = [abs(one["move_mm"]) for one in ways["moves"]]
    assert sizes == sorted(sizes)
    for one in ways["moves"]:
        place = {"fan": ("at = [-60, 380]", (-60, 380)), "alternator": ("at = [220, 250]", (220, 250)),
                 "tensioner": ("pivot = [-170, 60]", (-170, 60))}[one["pulley"]]  # fmt: skip
        moved = f"{place[0].split('=')[0]}= [{place[1][0] + one['dx_mm']!r}, {place[1][1] + one['dy_mm']!r}]"
        after = asked(run, "drive", "path", sheet(ARMED.replace(place[0], moved), "moved.toml"))
        assert belt - after["length_at_slack_stop_mm"] == pytest.approx(8, abs=1e-3), one["pulley"]


def test_a_belt_too_long_is_answered_the_other_way(run, sheet) -> None:
    path = asked(run, "drive", "path", sheet(ARMED))
    high = path["window_mm"][1]
    ways = asked(run, "drive", "shift", sheet(ARMED), "--belt", f"{high + 10}")
    assert ways["too_long"]
    assert not ways["fits"]
    assert all(one["window_after_mm"][1] == pytest.approx(high + 10, abs=1e-2) for one in ways["moves"])


def test_a_gap_asks_how_the_belt_lay(run, sheet) -> None:
    text = sheet(TWO)
    done = run("drive", "shift", text, "--gap", "5", "--gap-at", "pump")
    assert done.exit_code == 2
    assert "--lay round or --lay point" in done.stderr
    ways = asked(run, "drive", "shift", text, "--gap", "5", "--gap-at", "pump", "--lay", "round")
    # Held 5 mm short on its own half turn, both spans are 5 mm shorter: 2 g sin(180 / 2).
    assert ways["slack_at_stop_mm"] == pytest.approx(-10, abs=1e-3)
    for wrong in (("--gap", "5"), ("--gap", "5", "--gap-at", "pump", "--lay", "round", "--belt", "900"), ()):
        assert run("drive", "shift", text, *wrong).exit_code == 2


def test_last_is_in_order_of_ease_and_keeps_to_what_can_be_reached(run, sheet) -> None:
    rows = asked(run, "drive", "last", sheet(ARMED), "--belt", "1487")
    assert [set(row) for row in rows] == [{"pulley", "needs_low_mm", "needs_high_mm", "slack_mm", "verdict", "why"}] * 4
    assert [row["needs_high_mm"] for row in rows] == sorted(row["needs_high_mm"] for row in rows)
    done = run("drive", "last", sheet(ARMED), "--belt", "1487", "--reach", "fan")
    assert done.stdout.count("fan") == 1
    assert "fingers" in done.stderr
    table = list(csv.reader(io.StringIO(run("drive", "last", sheet(ARMED), "--csv").stdout.lstrip("\ufeff"))))
    assert table[0] == ["pulley", "needs_low_mm", "needs_high_mm", "slack_mm", "verdict", "why"]


def test_belts_come_best_first_and_a_belts_own_tolerance_counts(run, sheet, filled) -> None:
    path = asked(run, "drive", "path", sheet(ARMED))
    low, high = path["window_mm"]
    middle = (low + high) / 2
    filled.belt("SHORT", low - 25, ribs=6)
    filled.belt("RIGHT", middle, ribs=6)
    filled.belt("LONG", high + 25, ribs=6)
    filled.belt("EDGE", low + 3, ribs=6)
    filled.belt("EDGE-SURE", low + 3, ribs=6, length_tolerance_mm=0.5)
    filled.belt("OTHER", middle, ribs=5)
    filled.connection.close()
    rows = asked(run, "drive", "belts", sheet(ARMED), shelf=filled.path)
    assert rows[0]["part_no"] == "RIGHT"
    assert {row["part_no"] for row in rows} == {"RIGHT", "EDGE", "EDGE-SURE", "LONG", "SHORT"}
    chances = {row["part_no"]: row["chance_it_fits"] for row in rows}
    assert chances["RIGHT"] > chances["EDGE-SURE"] > chances["EDGE"] > 0.3
    assert max(chances["SHORT"], chances["LONG"]) < 0.1
    table = run("drive", "belts", sheet(ARMED), shelf=filled.path)
    assert table.exit_code == 0
    assert max(map(len, table.stdout.splitlines())) <= 100


def test_a_belt_that_failed_on_this_drive_ranks_below_one_that_worked(run, sheet, filled) -> None:
    low, high = asked(run, "drive", "path", sheet(ARMED))["window_mm"]
    middle = (low + high) / 2
    filled.belt("FAILED", middle, ribs=6)
    filled.belt("WORKED", middle + 1, ribs=6)
    filled.job("J-1", "did not work", ("FAILED", None))
    filled.job("J-2", "worked", ("WORKED", None))
    filled.connection.execute("UPDATE job SET drive = 'ARM'")
    filled.connection.close()
    rows = asked(run, "drive", "belts", sheet(ARMED), shelf=filled.path)
    assert [row["part_no"] for row in rows] == ["WORKED", "FAILED"]
    assert "on this drive job J-1: did not work" in rows[1]["why"]
    assert rows[0]["jobs_on_this_drive"] == [{"id": "J-2", "outcome": "worked"}]


REFUSED = {
    "overlap": (TWO.replace("[300, 0]", "[60, 0]"), "crank and pump overlap by 40.0 mm"),
    "order": (
        ARMED.replace("at = [-60, 380]", "at = [220, 249]").replace("at = [220, 250]", "at = [-60, 379]"),
        "would cross|passes|overlap|lie",
    ),
    "no driver": (TWO.replace("driver = true", ""), "no pulley drives"),
    "no centre": (TWO.replace("at = [300, 0]", ""), "where pump sits is not given"),
    "stops": (
        ARMED.replace("slack_stop = 70", "slack_stop = 35").replace("free_stop = 35\ntorque", "free_stop = 70\ntorque"),
        "wrong way",
    ),
    "no diameter": (TWO.replace("effective_diameter = 100", "", 1), "no diameter is given"),
    "not TOML": ("name = Pump\n", "not understood as TOML"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_drive_that_cannot_be_is_refused_in_words(name, run, sheet) -> None:
    import re

    text, said = REFUSED[name]
    done = run("drive", "path", sheet(text))
    assert done.exit_code == 1
    assert done.stdout == ""
    assert re.search(said, done.stderr), done.stderr
    assert "drive.toml" in done.stderr


def test_a_span_through_another_pulley_names_it(run, sheet) -> None:
    third = """
[[pulley]]
name = "fan"
face = "grooved"
effective_diameter = 100
at = [150, 300]
[[pulley]]
name = "idler"
face = "flat"
outside_diameter = 60
at = [50, 165]
"""
    sheet_text = TWO + third
    blocked = sheet_text.replace("at = [50, 165]", "at = [150, -60]")
    assert run("drive", "path", sheet(sheet_text)).exit_code == 0
    done = run("drive", "path", sheet(blocked))
    assert done.exit_code == 1
    assert "idler" in done.stderr
    assert "crank" in done.stderr


def test_a_drive_on_the_shelf_is_asked_by_its_name(run, demo_shelf) -> None:
    by_file = asked(run, "drive", "path", str(DRIVES[0]))
    assert asked(run, "drive", "path", by_file["name"], shelf=demo_shelf) == by_file
    done = run("drive", "path", "No such drive", shelf=demo_shelf)
    assert done.exit_code == 1
    assert by_file["name"] in done.stderr
    done = run("drive", "path", "nowhere/none.toml")
    assert done.exit_code == 1
    assert "no such file" in done.stderr


def test_what_was_assumed_is_said(run, sheet) -> None:
    path = asked(run, "drive", "path", sheet(ARMED))
    assert "belt_over_rim: 2.5 mm (common practice, no source)" in path["assumed"]
    assert "Assumed: belt_thickness" in run("drive", "path", sheet(ARMED)).stderr


def test_a_drawing_is_never_written_over_by_accident(run, sheet, tmp_path) -> None:
    out = tmp_path / "mine.svg"
    out.write_text("mine", encoding="utf-8")
    done = run("drive", "picture", sheet(TWO), "--out", str(out))
    assert done.exit_code == 1
    assert out.read_text(encoding="utf-8") == "mine"
    assert run("drive", "picture", sheet(TWO), "--out", str(out), "--replace").exit_code == 0
    assert out.read_text(encoding="utf-8").startswith("<svg")
    assert run("drive", "picture", sheet(TWO), "--pulley", "pump").exit_code == 2


def test_a_moved_fan_is_told_in_its_ring(run, sheet) -> None:
    # By hand: 40 mm of ring over fan are 20 mm all round; the fan's centre then stands as far off as the pulley moved.
    asked_for = ("drive", "shift", sheet(ARMED), "--belt", "1460", "--pulley", "fan", "--fan", "600", "--ring", "640")
    move = asked(run, *asked_for)
    assert move["fan_gap"]["smallest_before_mm"] == 20.0
    assert move["fan_gap"]["smallest_after_mm"] == pytest.approx(20 - abs(move["move_mm"]), abs=1e-3)
    assert move["fan_gap"]["ring_shift_mm"] == pytest.approx([move["dx_mm"], move["dy_mm"]], abs=1e-3)
    assert min(move["fan_gap"]["gaps_after_mm"]) >= move["fan_gap"]["smallest_after_mm"] - 1e-3
    off = asked(run, *asked_for, "--offset", f"{-move['dx_mm']}, {-move['dy_mm']}")
    assert off["fan_gap"]["smallest_after_mm"] == pytest.approx(20.0, abs=1e-3)
    assert "evens it" in run(*asked_for).stdout
    assert asked(run, *asked_for[:-2], "--ring", "640", "--pulley", "alternator")["fan_gap"] is None
    assert run(*asked_for[:-2]).exit_code == 2
    assert run(*asked_for[:-1], "590").exit_code == 2
