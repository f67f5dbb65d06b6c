"""The line sheet: the design page's form read key by key, and every refusal read as a person reads it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.errors import LineError
from kb.sheets.line import read_line

ROOT = Path(__file__).parent.parent.parent

SHEET = """
name = "Tender 4, compressor to condenser"
service = "refrigerant discharge"
unit = "in"
quantity = 2
hose_inside = "13/32 in"
hose_outside = "0.94 in"
min_bend_radius = "3 in"
movement = "1/2 in"
shortening = "4 %"
old_length = "31 in"
pressure = "350 psi"
temperature = "120 C"

[[end]]
name = "compressor"
thread = "3/4-16"
angle = 90
faces = [0, 0, 1]
cut_off = "1.2 in"

[[end]]
name = "condenser"
thread = "3/4-16"
dash = "-8"
form = "swivel"
seat = 37
angle = 45
faces = [-1, 1, 0]
cut_off = "1.2 in"

[[point]]
at = [0, 0, 0]

[[point]]
at = [10, 0, 0]

[[point]]
at = [10, 12, 0]

[[keep_clear]]
name = "charge-air pipe"
from = [4, 2, 0]
to = [9, 2, 0]
by = "1 in"
"""
RUNS = """
name = "Two"
hose_outside = 20
min_bend_radius = 50
[[end]]
name = "a"
[[end]]
name = "b"
[[run]]
length = 300
toward = "up"
[[run]]
length = 200
bend = 90
turning = "right"
"""
TAPED = """
name = "Taped"
hose_outside = 20
min_bend_radius = 50
[[end]]
name = "pump"
[[end]]
name = "core"
"""


def refusal(text: str) -> str:
    with pytest.raises(LineError) as error:
        read_line(text)
    return str(error.value)


def test_the_whole_form_is_read() -> None:
    sheet = read_line(SHEET)
    assert (sheet.name, sheet.service, sheet.unit, sheet.quantity) == (
        "Tender 4, compressor to condenser", "refrigerant discharge", "in", 2,
    )  # fmt: skip
    # 13/32 in = 10.31875 mm, 0.94 in = 23.876, 3 in = 76.2, and to the centre line half the outside more: 88.138.
    assert (sheet.hose_inside_mm, sheet.hose_outside_mm, sheet.min_bend_radius_mm) == (10.31875, 23.876, 76.2)
    assert sheet.centre_radius_mm == pytest.approx(88.138)
    assert (sheet.movement_mm, sheet.shortening_percent, sheet.old_length_mm, sheet.temperature_c) == (
        12.7,
        4,
        787.4,
        120,
    )
    assert sheet.pressure_kpa == pytest.approx(350 * 6.894757, rel=1e-6)
    assert sheet.points == ((0, 0, 0), (254, 0, 0), (254, 304.8, 0))
    near, far = sheet.ends
    assert (near.name, near.thread, near.angle_deg, near.faces, near.cut_off_mm) == (
        "compressor",
        "3/4-16",
        90,
        (0, 0, 1),
        30.48,
    )
    assert (far.form, far.dash, far.seat_deg, far.angle_deg) == ("female", "-8", 37, 45)
    assert far.faces == pytest.approx((-(0.5**0.5), 0.5**0.5, 0))
    (clear,) = sheet.keep_clear
    assert (clear.start, clear.end, clear.by_mm) == ((101.6, 50.8, 0), (228.6, 50.8, 0), 25.4)
    assert sheet.text == SHEET


def test_runs_and_straight_ends() -> None:
    sheet = read_line(RUNS)
    assert sheet.points == ((0, 0, 0), (0, 300, 0), (200, 300, 0))
    # A straight end's seat points along its hose: down out of the first run, right out of the last.
    assert sheet.ends[0].faces == pytest.approx((0, -1, 0))
    assert sheet.ends[1].faces == pytest.approx((1, 0, 0))


def test_points_with_heights_in_any_order() -> None:
    taped = TAPED + (
        '[[point]]\nat = [400, 0]\nheight = 300\nend = "far"\n'
        '[[point]]\nat = [0, 0]\nheight = 300\nname = "bulkhead"\n'
        '[[point]]\nat = [0, 0]\nheight = 0\nend = "pump"\n'
    )
    sheet = read_line(taped)
    assert sheet.points == ((0, 0, 0), (0, 300, 0), (400, 300, 0))
    assert sheet.order_said == "put into the shortest chain: pump – bulkhead – core"
    assert sheet.order_lead_mm is None  # there is no other order
    placed = TAPED + "".join(
        f"[[point]]\nat = {at}\nplace = {place}\n"
        for at, place in (("[4, 3, 0]", 30), ("[0, 0, 0]", 1), ("[0, 3, 0]", 2))
    )
    assert read_line(placed).points == ((0, 0, 0), (0, 3, 0), (4, 3, 0))


def test_a_stub_is_a_plain_hose_end() -> None:
    end = read_line(RUNS.replace('name = "a"', 'name = "a"\nstub = "1 1/2 in"')).ends[0]
    assert (end.form, end.stub_mm, end.cut_off_mm, end.is_elbow) == ("hose", 38.1, 0, False)


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("[[point]]\nat = [10, 0, 0]\n\n[[point]]\nat = [10, 12, 0]", "", ["1 point was read", "two or more"]),
        ("at = [10, 12, 0]", "at = [4, 0, 0.1]", ["at point 2", "turns 179 degrees", "no single corner", "U is two corners"]),
        ("at = [10, 0, 0]", "at = [0, 0, 0]", ["points 1 and 2 of the route are in one place"]),
        ("at = [10, 0, 0]", "at = [10, 0]", ["point 2", "its height is not given"]),
        ("at = [10, 0, 0]", "at = 10", ["point 2, at", "three numbers", "z forward"]),
        ("at = [10, 0, 0]", 'at = [10, "high", 0]', ["point 2, at, y", "'high'"]),
        ("at = [10, 0, 0]", "at = [10, 0, 0]\nplace = 2", ["1 of 3 points have a place"]),
        ("at = [10, 0, 0]", 'at = [10, 0, 0]\nend = "near"', ["near are marked", "once"]),
        ("at = [10, 0, 0]", 'at = [10, 0, 0]\nend = "middle"', ["'middle' is no end", "compressor"]),
        ("faces = [0, 0, 1]", "faces = [1, 0, 0]", ["end 'compressor', faces", "180 degrees off", "angle is 90"]),
        ("faces = [0, 0, 1]", 'faces = "sideways"', ["faces", "'sideways'", "right, left, up, down, forward, back"]),
        ("faces = [0, 0, 1]", "faces = [0, 0, 0]", ["faces", "not all 0"]),
        ("angle = 90", "angle = 200", ["end 'compressor', angle", "between 0 and 120"]),
        ("angle = 90", "angle = 90\nstub = 1", ["a thread and a stub"]),
        ("angle = 45", "angle = 0\ndrop = 1", ["end 'condenser'", "only an elbow has a drop"]),
        ('name = "condenser"', 'name = "compressor"', ["both are called 'compressor'"]),
        ("[[keep_clear]]", "[[end]]", ["3 ends were read"]),
        ('min_bend_radius = "3 in"', "", ["the route bends, and min_bend_radius is not given"]),
        ('hose_outside = "0.94 in"', "", ["hose_outside is not given"]),
        ('hose_inside = "13/32 in"', 'hose_inside = "1 in"', ["hose_inside", "no wall is left"]),
        ('cut_off = "1.2 in"', 'cut_off = "20 in"', ["take more than the whole line"]),
        ('by = "1 in"', "", ["keep_clear 'charge-air pipe'", "how far to stay away"]),
        ("to = [9, 2, 0]", "", ["keep_clear 'charge-air pipe'", "where it is cannot be told"]),
        ("quantity = 2", "quantity = 0", ["quantity", "between 1 and 1000"]),
        ('service = "refrigerant discharge"', 'service = "soup"', ["service", "'soup'", '"coolant"']),
        ('shortening = "4 %"', 'shortening = "60 %"', ["shortening", "between 0 and 10"]),
        ("[[point]]", "[[points]]", ["'points' is not known", "'point' meant"]),
        ('unit = "in"', 'unit = "hands"', ["unit", "'hands'"]),
        ('old_length = "31 in"', "old_length = 31 in", ["not understood as TOML"]),
    ],
)  # fmt: skip
def test_a_refusal_says_where_what_and_what_is_expected(old: str, new: str, expected: list[str]) -> None:
    assert old in SHEET
    said = refusal(SHEET.replace(old, new))
    assert said.startswith("line sheet")
    for part in expected:
        assert part in said


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("bend = 90", "bend = 200", ["run 2, bend", "between 0.1 and 175", "a U is two bends of 90"]),
        ('turning = "right"', 'turning = "up"', ["run 2 bends to a side that is along the run before"]),
        ('turning = "right"', "", ["run 2", "which way it bends"]),
        ('turning = "right"', "twist = 90", ["no bend before it to count a twist from"]),
        ('turning = "right"', 'turning = "right"\ntwist = 0', ["turning and twist"]),
        ('turning = "right"', 'turning = "right"\ntoward = "up"', ["run 2", "toward and bend"]),
        ('toward = "up"', "", ["run 1", "where the first run goes"]),
        ("length = 200", "", ["run 2", "its length is not given"]),
        ("length = 200", "length = -5", ["run 2, length", "-5"]),
        ("bend = 90\n", "", ["run 2", "how it leaves the run before"]),
    ],
)  # fmt: skip
def test_refusals_of_runs(old: str, new: str, expected: list[str]) -> None:
    assert old in RUNS
    said = refusal(RUNS.replace(old, new))
    for part in expected:
        assert part in said


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('service = "refrigerant discharge"', 'service = "brake"'),
        ('service = "refrigerant discharge"', 'service = "Diesel fuel"'),
        ('service = "refrigerant discharge"', 'service = "power steering"'),
        ("Tender 4, compressor to condenser", "Tender 4, trailer brakes"),
        ('name = "compressor"', 'name = "steering pump"'),
        ('name = "compressor"', 'name = "Bremskreis"'),
    ],
)
def test_brake_steering_and_fuel_lines_are_refused(old: str, new: str) -> None:
    said = refusal(SHEET.replace(old, new))
    assert "brake, steering and fuel lines are not worked out" in said
    assert "bayshelf fittings" in said
    assert "licensed" in said


def test_a_breaker_box_is_no_brake() -> None:
    assert (
        read_line(SHEET.replace('name = "charge-air pipe"', 'name = "brake valve"')).keep_clear[0].name == "brake valve"
    )
    assert read_line(SHEET.replace('"compressor"', '"breaker box"')).ends[0].name == "breaker box"


def test_points_and_runs_are_not_mixed() -> None:
    assert "it has points and runs" in refusal(RUNS + "[[point]]\nat = [0, 0, 0]\n")
    assert "no runs" in refusal(RUNS[: RUNS.index("[[run]]")].replace('name = "Two"', 'name = "Two"\nrun = []'))
    assert "0 ends were read" in refusal('name = "x"\n[[point]]\nat = [0, 0, 0]\n')
    assert "no name" in refusal(RUNS.replace('name = "Two"\n', "", 1))


def test_files_are_told_by_name(tmp_path) -> None:
    with pytest.raises(LineError, match=r"none\.toml: there is no such file"):
        read_line(tmp_path / "none.toml")
    path = tmp_path / "heater return.toml"
    path.write_text(RUNS.replace('name = "Two"\n', "", 1), encoding="utf-8")
    assert read_line(path).name == "heater return"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(LineError, match="not UTF-8"):
        read_line(path)


@pytest.mark.parametrize("path", sorted((ROOT / "demo_db" / "lines").glob("*.toml")), ids=lambda path: path.stem)
def test_the_demo_sheets_are_read(path) -> None:
    assert read_line(path).machine


@given(st.integers(0, len(SHEET) - 1), st.text(max_size=3))
def test_damaged_sheets_are_read_or_refused_never_anything_else(at: int, instead: str) -> None:
    damaged = SHEET[:at] + instead + SHEET[at + 1 :]
    try:
        read_line(damaged)
    except LineError as error:
        said = str(error)
    else:
        return
    assert said.startswith("line sheet")
