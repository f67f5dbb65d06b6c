"""``bayshelf holes``, ``holes match`` and ``fan``, typed and from a shelf."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree

import pytest

HUB = "6 x 120.65 mm, pilot 63.5 mm deep 6 mm, stud M10 x 1.5"


@pytest.fixture
def ask(run):
    """Ask and return the JSON."""

    def asked(*options: str, shelf=None) -> dict:
        done = run(*options, "--json", shelf=shelf)
        assert done.exit_code == 0, done.output
        return json.loads(done.stdout)

    return asked


def test_bolt_circle_three_ways(ask) -> None:
    """Six on 8.75 in (the handbook's row): 4.375 in beside each other; ten on 335 mm: 103.5207 mm."""
    assert ask("holes", "--count", "6", "--adjacent", "4.375 in")["bolt_circle_mm"] == pytest.approx(222.25)
    assert ask("holes", "--count", "10", "--adjacent", "103.5207")["bolt_circle_mm"] == pytest.approx(335.0, abs=0.001)
    both = ask("holes", "--count", "10", "--adjacent", "103.4", "--across", "335")
    # The across reading counts 1/sin(18 deg) squared, 10.5 times, as much.
    assert both["bolt_circle_mm"] == pytest.approx((334.61 + 335 * 10.47) / 11.47, abs=0.01)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "How many holes"),
        (("--count", "6"), "spacing"),
        (("--count", "1", "--across", "50"), "2<=x<=60"),
        (("--count", "6", "--adjacent", "100", "--across", "150"), "Count the holes"),
        (("--count", "6", "--adjacent", "-4"), "between 2 and 2000 mm"),
        (("--count", "6", "match", HUB, HUB), "after `match`"),
        (("match", "6 x", HUB), "is no bolt circle"),
        (("match", "1 x 100", HUB), "is no bolt circle"),
        (("match", "6 x 100 hole big", HUB), "has a hole"),
        (("match", "6 x 100 stud thick", HUB), "stud thread"),
        (("match", "6 x 100 pilot 3 pilot 4", HUB), "twice"),
        (("match", HUB, "6 x 120.65 hole 10 mm"), "does not go through"),
        (("match", HUB, HUB, "--adapter", "1 in"), "thickness of the part's flange"),
        (("match", HUB, HUB, "--flange", "8", "--stud-out", "40"), "nut's height"),
    ],
)
def test_holes_refused(options, said, run) -> None:
    done = run("holes", *options)
    assert done.exit_code == 2
    assert said in " ".join(done.stderr.split())


def test_a_part_goes_on(ask) -> None:
    found = ask(
        "holes", "match", HUB, "12 x 4 3/4 in hole 11 mm or 6 x 100, pilot 63.55 mm deep 8 mm", "--flange", "8", "--adapter",
        "1 in", "--washer", "2", "--nut", "8", "--stud-out", "46",
    )  # fmt: skip
    assert (found["fits"], found["used"], found["turned_deg"]) == (True, 6, 30.0)
    assert found["sets"][1]["fits"] is False
    assert (found["grip_mm"], found["overhang_mm"]) == (33.4, 25.4)
    assert found["stud_beyond_mm"] == pytest.approx(46 - 33.4 - 2 - 8)


@pytest.mark.parametrize(
    ("part", "fits", "said"),
    [
        ("6 x 121.2 mm hole 11 mm", True, "all 6 holes"),
        ("6 x 121.8 mm hole 11 mm", False, "circles differ"),  # 0.575 mm off, half a millimetre of clearance each way
        ("5 x 120.65 mm", False, "only one hole"),
        ("3 x 120.65 mm", True, "on 6 of the hub's"),
        ("6 x 120.65, pilot 63 mm", False, "too small"),
        ("6 x 120.65, pilot 64.5 mm", True, "too loose"),
        ("6 x 120.65, pilot 63.5 mm deep 4 mm", False, "would not seat"),
    ],
)
def test_matches(part, fits, said, run, ask) -> None:
    assert ask("holes", "match", HUB, part)["fits"] is fits
    text = " ".join(run("holes", "match", HUB, part).stdout.split())
    assert said in text or (part.startswith("3") and "on 3 of the hub's 6" in text)


@pytest.mark.parametrize(
    ("options", "fits", "said"),
    [
        # 12 mm of flange on 20 mm of adapter are 32 mm of grip: a stud of 20 mm does not come through it.
        (("--adapter", "20 mm", "--nut", "8", "--stud-out", "20"), False, "The pattern lines up"),
        (("--adapter", "20 mm", "--nut", "8", "--stud-out", "45"), True, "the adapter needs one of its own"),
        (("--nut", "8", "--stud-out", "25"), True, "It goes on"),
        (("--adapter", "20 mm", "--bolt", "30"), False, "the bolts end"),
    ],
)
def test_what_does_not_hold_it_does_not_go_on(options, fits, said, run, ask) -> None:
    hub, part = "6 x 120.65 mm, pilot 63.5 mm deep 8 mm, stud M10 x 1.5", "6 x 120.65 mm hole 11 mm, pilot 63.6 mm"
    asked = ("holes", "match", hub, part, "--flange", "12 mm", *options)
    assert ask(*asked)["fits"] is fits
    assert said in " ".join(run(*asked).stdout.split())


def test_pulleys_of_the_shelf(filled, ask, run) -> None:
    filled.part("pulley", "FAN-1", bolt_circle_mm=120.65, hole_count=6, pilot_mm=63.5)
    filled.part("pulley", "TWICE", bolt_circle_mm=100.0, hole_count=4)
    filled.part("pulley", "TWICE", "Supplier B", bolt_circle_mm=101.6, hole_count=4)
    filled.part("pulley", "PLAIN")
    found = ask("holes", "match", HUB, "fan 1", shelf=filled.path)
    assert (found["fits"], found["pilot_fits"]) == (True, True)
    assert found["part"]["name"] == "Supplier A FAN-1"
    assert ask("holes", "match", "4 x 4 in", "Supplier B:TWICE", shelf=filled.path)["fits"] is True
    for part, said in (("TWICE", "Supplier A:TWICE, Supplier B:TWICE"), ("PLAIN", "Measure it"), ("NONE", "no pulley")):
        done = run("holes", "match", HUB, part, shelf=filled.path)
        assert done.exit_code == 2
        assert said in " ".join(done.stderr.split())


def test_a_typed_pair_needs_no_shelf(run, tmp_path) -> None:
    assert run("holes", "match", HUB, HUB, shelf=tmp_path / "none.db").exit_code == 0
    assert "there is no shelf" in run("holes", "match", HUB, "FAN-1", shelf=tmp_path / "none.db").stderr


def test_fan_by_hand(ask) -> None:
    """760 in 800, the fan 5 mm high: 15 above, 25 below, and sqrt(380^2 + 5^2) = 380.033 leaves 19.967 beside."""
    found = ask("fan", "--ring", "800", "--fan", "760", "--offset", "0, 5", "--move", "0, 3")
    assert found["gaps_mm"] == {"top": 15.0, "right": 19.97, "bottom": 25.0, "left": 19.97}
    assert (found["smallest_gap_mm"], found["at_deg"], found["ring_shift_mm"]) == (15.0, 90.0, [0, 5])
    assert (found["after"]["smallest_gap_mm"], found["after"]["ring_shift_mm"]) == (18.0, [0, 2])


def test_fan_from_its_gaps(ask, run) -> None:
    found = ask("fan", "--fan", "760", "--gaps", "15, 20, 25, 20")
    assert found["ring_mm"] == pytest.approx(800.03, abs=0.02)
    assert found["after"] is None
    done = run("fan", "--fan", "760", "--gaps", "15, 30, 25, 30")
    assert "out of round" in done.stderr


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--ring", "800", "--fan", "740"), "outside: 19 to 25 mm"),
        (("--ring", "800", "--fan", "760"), "within: 19 to 25 mm"),
        (("--ring", "800", "--fan", "780", "--ring-on", "engine"), "within 6 to 13 mm"),
        (("--ring", "800", "--fan", "760", "--speed", "2400 rpm"), "from memory"),
    ],
)
def test_what_is_usual(options, said, run) -> None:
    done = run("fan", *options)
    assert said in " ".join(done.stdout.split())
    assert "Engine stopped" in done.stderr


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--ring", "700", "--fan", "760"), "does not turn"),
        (("--fan", "760"), "inside diameter"),
        (("--fan", "760", "--ring", "800", "--gaps", "1,2,3,4"), "twice"),
        (("--fan", "760", "--gaps", "1,2,3"), "4 lengths"),
        (("--fan", "760", "--ring", "800", "--offset", "5"), "2 lengths"),
        (("--fan", "760", "--ring", "800", "--offset", "left, 5"), "not understood"),
        (("--fan", "760", "--ring", "800", "--picture", "/none/such.svg"), "cannot be written"),
    ],
)
def test_fan_refused(options, said, run) -> None:
    done = run("fan", *options)
    assert done.exit_code == 2
    assert said in " ".join(done.stderr.split())


@pytest.mark.parametrize("offset", ["0, 0", "0, 5", "-18, 9", "30, 0"])
def test_the_picture_is_whole(offset, run, tmp_path) -> None:
    target = tmp_path / "fan.svg"
    assert run("fan", "--ring", "800", "--fan", "760", "--offset", offset, "--picture", str(target)).exit_code == 0
    root = ElementTree.fromstring(target.read_text(encoding="utf-8"))
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        assert left < float(text.attrib["x"]) < left + width
        assert top < float(text.attrib["y"]) < top + height
