"""Lines worked out from their sheets, through the query and the commands: lengths, clock angle, clearances, cautions.

Expected numbers are worked on paper beside each; tolerances are those of the public pages named in ``hose_making.csv``.
"""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest

from kb.errors import LineError
from kb.sheets.line import read_line
from queries.lines import ask_line
from queries.order_sheet import order_sheet, order_text

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "demo_db" / "lines"

# Three routes in space with an elbow at both ends. All hoses 20 mm outside, so the centre radius is the least radius + 10.
FORM = """
name = "{name}"
service = "hydraulic"
hose_inside = 10
hose_outside = 20
min_bend_radius = {inside}
[[end]]
name = "pump"
angle = {near_angle}
faces = {near}
cut_off = 40
[[end]]
name = "motor"
angle = {far_angle}
faces = {far}
cut_off = 30
"""
WORKED = {
    # 300 right, then 400 up, centre radius 100: 700 - 2 x 100 + 100 pi/2 = 657.08; hose 657.08 - 70 = 587.08.
    # The bend turns about z, so the pump's elbow (forward) is still forward; looking up, with forward at 12 o'clock, right is
    # at 3 and left at 9: 270.
    "L": ((90, 90, "[0, 0, 1]", 90, "[-1, 0, 0]"), [(0, 0, 0), (300, 0, 0), (300, 400, 0)], 657.0796, 587.0796, 270),
    # 200 right, 250 up, 300 forward, centre radius 80: 750 - 4 x 80 + 2 x 80 pi/2 = 681.33; hose 611.33.
    # The pump's elbow looks up: the first bend carries that to the left (-x), the second, about x, leaves it. Looking forward
    # along +z clockwise goes x, y, -x, -y: left and down, (-1, -1, 0), is 45 on from left.
    "stairs": (
        (70, 90, "[0, 1, 0]", 90, "[-1, -1, 0]"),
        [(0, 0, 0), (200, 0, 0), (200, 250, 0), (200, 250, 300)], 681.3274, 611.3274, 45,
    ),
    # 300 forward, 200 right and 200 forward at once (45 degrees), 300 up, centre radius 60; legs 300, 282.843, 300:
    # 882.843 - 120 (tan 22.5 + tan 45) + 60 (pi/4 + pi/2) = 854.51; hose 784.51. The pump's 45-degree elbow looks up and
    # back, square to the hose that is up; carried round the second bend up becomes -(1, 0, 1); looking up from there
    # clockwise (z, x, -z, -x) -z is 45 before it: 315.
    "skew": (
        (50, 45, "[0, 1, -1]", 90, "[0, 0, -1]"),
        [(0, 0, 0), (0, 0, 300), (200, 0, 500), (200, 300, 500)], 854.5092, 784.5092, 315,
    ),
}  # fmt: skip


def _sheet(name: str, backwards: bool = False) -> str:
    (inside, near_angle, near, far_angle, far), points, *_ = WORKED[name]
    text = FORM.format(name=name, inside=inside, near_angle=near_angle, near=near, far_angle=far_angle, far=far)
    if backwards:
        head, first, second = text.partition("[[end]]")[0], *text.split("[[end]]")[1:]
        text, points = f"{head}[[end]]{second}[[end]]{first}", points[::-1]
    return text + "".join(f"[[point]]\nat = {list(point)}\n" for point in points)


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("name", WORKED)
def test_three_routes_worked_on_paper(name, backwards, tmp_path, run) -> None:
    path = tmp_path / "line.toml"
    path.write_text(_sheet(name, backwards), encoding="utf-8")
    done = run("line", "route", str(path), "--json")
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    _, _, order, cut, clock = WORKED[name]
    assert told["order_length_mm"] == pytest.approx(order, abs=0.01)
    assert told["cut_length_mm"] == pytest.approx(cut, abs=0.01)
    assert told["clock_deg"] == pytest.approx(clock, abs=0.01)
    assert told["clock_anticlockwise_deg"] == pytest.approx(360 - clock, abs=0.01)
    assert told["clock_tolerance_deg"] == 5  # over 2 ft (609.6 mm)


def test_slack_for_movement_and_shortening() -> None:
    plain = ask_line(read_line(_sheet("L")))
    both = ask_line(
        read_line(_sheet("L").replace("[[end]]", 'movement = 12\nshortening = "4 %"\nold_length = 600\n[[end]]', 1))
    )
    # The hose between the fittings must keep 587.08 mm once 4 % shorter: 587.08 / 0.96 is 24.46 more; with movement 36.46.
    assert plain.slack_mm == 0
    assert both.slack_mm == pytest.approx(12 + 587.0796 / 0.96 - 587.0796, abs=0.001)
    assert both.developed_length_mm == plain.order_length_mm
    assert both.order_length_mm == pytest.approx(657.0796 + 36.4617, abs=0.001)
    assert both.cut_length_mm == pytest.approx(587.0796 + 36.4617, abs=0.001)
    assert both.difference_from_old_mm == pytest.approx(657.0796 + 36.4617 - 600, abs=0.001)
    assert not any("does not hold it" in one for one in both.cautions)
    assert any("up to 4 % (FAA AC 43.13-1B figure 9-9)" in one for one in plain.cautions)


def test_a_leg_too_short_has_no_order_length(tmp_path, run) -> None:
    path = tmp_path / "line.toml"
    # The pump's leg of 300 has 40 of fitting and needs 300 for its bend: room for 260, 250 to the inside.
    path.write_text(_sheet("L").replace("min_bend_radius = 90", "min_bend_radius = 290"), encoding="utf-8")
    done = run("line", "route", str(path), "--json")
    assert done.exit_code == 1
    told = json.loads(done.stdout)
    assert (told["order_length_mm"], told["cut_length_mm"], told["developed_length_mm"]) == (None, None, None)
    assert (told["bends"][0]["possible"], told["bends"][0]["largest_radius_mm"]) == (False, 260)
    assert "there is room for 10 1/4 in (260 mm) (9 13/16 in (250 mm) to the inside of the bend)" in done.stderr
    refused = run("line", "order", str(path))
    assert refused.exit_code == 1
    assert "too short for its bend" in refused.stderr
    assert refused.stdout == ""


def test_clearances_are_from_surface_to_surface(tmp_path, run) -> None:
    # Beside the first leg, 60 up: 60 less half the hose (10) less half the pipe (15) is 35.
    pipe = '[[keep_clear]]\nname = "pipe"\nfrom = [0, 60, 0]\nto = [150, 60, 0]\nacross = 30\nby = {by}\n'
    (clear,) = ask_line(read_line(_sheet("L") + pipe.format(by=35))).clearances
    assert (clear.gap_mm, clear.clear) == (pytest.approx(35), True)
    close = ask_line(read_line(_sheet("L") + pipe.format(by=40)))
    assert not close.clearances[0].clear
    assert any("passes 1 3/8 in (35 mm) from pipe; 1 9/16 in (40 mm) was asked" in one for one in close.cautions)
    assert any("TOO CLOSE" in cell for row in order_sheet(close).clearances for cell in row)
    path = tmp_path / "line.toml"
    path.write_text(_sheet("L") + pipe.format(by=1).replace("60", "20"), encoding="utf-8")
    struck = run("line", "order", str(path))
    assert struck.exit_code == 1
    assert "runs into pipe" in struck.stderr


def test_an_exhaust_within_the_usual_distance_is_only_warned_of() -> None:
    hot = '[[keep_clear]]\nname = "exhaust pipe"\nat = [150, 100, 0]\nby = 10\n'
    answer = ask_line(read_line(_sheet("L") + hot))
    assert answer.clearances[0].clear
    assert any(
        "100 mm without a heat shield is usual (common practice, no source; from memory)" in one
        for one in answer.cautions
    )


@pytest.mark.parametrize(
    ("service", "expected"),
    [
        ("refrigerant liquid", ["certified people", "charge-air pipes", "before the system is evacuated", "Pressure"]),
        ("coolant", ["engine stopped and cold"]),
        ("hydraulic", ["never feel for a leak by hand"]),
        ("brine", ["Brake, steering and fuel lines are not made"]),
    ],
)
def test_each_service_has_its_cautions(service, expected) -> None:
    cautions = " ".join(ask_line(read_line(_sheet("L").replace('"hydraulic"', f'"{service}"'))).cautions)
    for part in expected:
        assert part in cautions
    assert ("certified" in cautions) == service.startswith("refrigerant")


def test_ends_that_leave_something_open() -> None:
    unfaced = ask_line(read_line(_sheet("L").replace("faces = [-1, 0, 0]\n", "")))
    assert unfaced.clock_deg is None
    assert any("Where motor's elbow faces is not given" in one for one in unfaced.cautions)
    assert ("Clock angle", "not known: where the elbows face is not given; do not make it yet") in order_sheet(
        unfaced
    ).facts
    uncut = ask_line(read_line(_sheet("L").replace("cut_off = 30\n", "")))
    assert uncut.cut_length_mm is None
    straight = ask_line(read_line(_sheet("L").replace("angle = 90\nfaces = [-1, 0, 0]\n", "")))
    assert straight.clock_deg is None
    assert ("Clock angle", "none: only pump has an elbow") in order_sheet(straight).facts
    off = ask_line(
        read_line(_sheet("L").replace("faces = [-1, 0, 0]", "faces = [-1, 0.1, 0]"))
    )  # atan 0.1 = 5.7 degrees
    assert any("motor's seat points 6 degrees off" in one for one in off.cautions)


def test_two_orders_of_points_that_are_as_good() -> None:
    text = FORM.format(name="x", inside=20, near_angle=0, near='"left"', far_angle=0, far='"right"')
    text = text.replace("cut_off", "# cut_off")
    places = [([0, 0, 0], "pump"), ([400, 0, 0], "motor"), ([200, 60, 0], ""), ([200, -60, 0], "")]
    for at, end in places:
        text += f"[[point]]\nat = {at}\n" + (f'end = "{end}"\n' if end else "")
    with pytest.raises(LineError, match="faces"):
        read_line(text)
    answer = ask_line(read_line(text.replace('faces = "left"\n', "").replace('faces = "right"\n', "")))
    assert any("give each its place" in one for one in answer.cautions)


def _keys(command: str) -> set[str]:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    row = re.search(rf"^\| `{command}` \(one object\) \| (.+) \|$", readme, re.MULTILINE)
    assert row is not None
    return set(re.findall(r"`(\w+)`", row[1]))


@pytest.mark.parametrize("command", ["line route", "line order"])
def test_json_keys_are_the_documented_ones(command, run) -> None:
    told = json.loads(run(*command.split(), str(DEMO / "tender-4-discharge.toml"), "--json").stdout)
    assert set(told) == _keys(command)


def test_the_demos_discharge_line_on_paper(run) -> None:
    # 10 + 12 + 13 in = 889 mm; centre radius 3 in + 0.47 in = 88.138 mm; two right angles: 889 - 4 x 88.138 + 88.138 pi =
    # 813.34; movement 12.7 more: 826.04; cut-offs 60.96: 765.08. Down stays down round the first bend and is carried
    # forward by the second; looking up, with forward at 12 o'clock, left is at 9: 270.
    told = json.loads(run("line", "route", str(DEMO / "tender-4-discharge.toml"), "--json").stdout)
    expected = 889 - 4 * 88.138 + 88.138 * math.pi
    assert told["developed_length_mm"] == pytest.approx(expected, abs=0.01)
    assert told["order_length_mm"] == pytest.approx(expected + 12.7, abs=0.01)
    assert told["cut_length_mm"] == pytest.approx(expected + 12.7 - 60.96, abs=0.01)
    assert told["clock_deg"] == pytest.approx(270)
    # The pipe's axis is 5 in up and 4 in forward of the first leg's: sqrt(41) in less 0.47 less 1.5 in.
    gap = next(one for one in told["clearances"] if one["name"] == "charge-air pipe")
    assert gap["gap_mm"] <= (math.sqrt(41) - 1.97) * 25.4


def test_the_text_holds_every_dimension() -> None:
    text = order_text(order_sheet(ask_line(read_line(DEMO / "tender-4-discharge.toml"))))
    for part in (
        "ORDER: Tender 4, compressor to condenser", "32 1/2 in (826 mm) ± 1/4 in (6.4 mm)", "30 1/8 in (765.1 mm)",
        "270° ±5°", "refrigerant discharge", "350 psi (2413 kPa)", "248 °F (120 °C)", "13/32 in (10.3 mm)",
        "female 3/4-16 refrigerant O-ring dash -8",
        "charge-air pipe", "Quantity", "CAUTIONS", "certified", "Sleeve it",
    ):  # fmt: skip
        assert part in text
    assert max(map(len, text.splitlines())) <= 84


def test_text_and_errors_of_the_commands(tmp_path, run) -> None:
    done = run("line", "route", str(DEMO / "sprayer-2-heater.toml"))
    assert done.exit_code == 0
    assert "put into the shortest chain: water pump – behind the alternator – top of the bulkhead – heater core" in (
        " ".join(done.stdout.split())
    )
    assert "! Hot" in done.stderr
    assert run("line", "route", str(tmp_path / "none.toml")).exit_code == 1
    assert run("line", "order", str(DEMO / "sprayer-2-heater.toml"), "--text", "--json").exit_code == 2
    nowhere = run("line", "order", str(DEMO / "sprayer-2-heater.toml"), "--html", str(tmp_path / "no" / "out.html"))
    assert nowhere.exit_code == 1
    assert "cannot be written" in nowhere.stderr
    assert run("line", "rout").exit_code == 2


def test_an_end_that_cannot_be_made_yet_is_said() -> None:
    # 3/4-16 is the thread of the 37 and of the 45 degree flare (SAE J514, J512) and of others: one of them must be named.
    def cautions(more: str) -> str:
        return " ".join(ask_line(read_line(_sheet("L").replace("cut_off", f"{more}\ncut_off", 1))).cautions)

    shared = cautions('thread = "3/4-16"')
    assert "pump: 3/4-16 is the thread of 37-degree flare (JIC), " in shared
    assert "pump: 3/4-16" not in cautions('thread = "3/4-16"\nseat = 37')
    assert "What thread pump has is not given: do not make it yet." in cautions("")
    assert "What thread pump" not in shared
