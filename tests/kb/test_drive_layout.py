"""From a sheet's tapes, places and photos to centres, and what is said of them.

The places of the pulleys are made up here; the tapes are the distances between them, worked out with ``math.dist``.
"""

from __future__ import annotations

import math
import subprocess
import sys
from itertools import combinations

import pytest

from kb.errors import DriveError
from kb.sheets.drive import read_drive
from kb.sheets.drive_layout import lay_out, layout_cautions

PLACES = {
    "crank": (0.0, 0.0), "pump": (-260.0, 120.0), "alternator": (-240.0, 340.0), "fan": (20.0, 380.0),
    "compressor": (300.0, 300.0), "idler": (240.0, 90.0),
}  # fmt: skip
DIAMETER = {"crank": 180, "pump": 120, "alternator": 70, "fan": 200, "compressor": 130, "idler": 80}
ARM = "[pulley.arm]\nlength = 90\nslack_stop = 10\nfree_stop = 40\npivot = [150, 60]\n"


def millimetres(mm: float) -> str:
    return f"{mm:.1f} mm"


def sheet_text(names, places=(), tapes=(), extra="", **keys) -> str:
    head = {"name": '"Try"', "profile": '"PK"', "ribs": "6", **keys}
    lines = [f"{key} = {value}" for key, value in head.items()]
    for name in names:
        lines += ["[[pulley]]", f'name = "{name}"', 'face = "grooved"', f"outside_diameter = {DIAMETER[name]}"]
        lines += ["driver = true"] if name == "crank" else []
        lines += [f"at = [{places[name][0]}, {places[name][1]}]"] if name in places else []
    for one, other, length in tapes:
        lines += ["[[distance]]", f'between = ["{one}", "{other}"]', f"is = {length:.3f}"]
    return "\n".join([*lines, extra])


def all_tapes(names, wrong=None, by=0.0):
    return [
        (one, other, math.dist(PLACES[one], PLACES[other]) + (by if (one, other) == wrong else 0.0))
        for one, other in combinations(names, 2)
    ]


def test_given_places_are_taken_as_they_are_and_load_no_fitting() -> None:
    laid = lay_out(read_drive(sheet_text(list(PLACES), PLACES)))
    assert laid.centres_mm == tuple(PLACES.values())
    assert laid.fitted is None
    code = (
        "import sys; from kb.sheets.drive import read_drive; from kb.sheets.drive_layout import lay_out; "
        f"lay_out(read_drive({sheet_text(list(PLACES), PLACES)!r})); print('scipy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize("rotation", ['"clockwise"', '"anticlockwise"'])
def test_tapes_alone_give_the_shape_and_say_what_they_cannot(rotation) -> None:
    names = list(PLACES)
    laid = lay_out(read_drive(sheet_text(names, tapes=all_tapes(names), rotation=rotation)))
    for (place, one), (later, other) in combinations(enumerate(names), 2):
        apart = math.dist(laid.centres_mm[place], laid.centres_mm[later])
        assert apart == pytest.approx(math.dist(PLACES[one], PLACES[other]), abs=1e-3)
    # The list runs the way the driver turns: seen from the front, the area that it encloses has that sign.
    x, y = zip(*laid.centres_mm, strict=True)
    area = sum(x[k - 1] * y[k] - x[k] * y[k - 1] for k in range(len(x)))
    assert (area > 0) == (rotation == '"anticlockwise"')
    assert any("mirror image" in line for line in layout_cautions(laid, millimetres))


@pytest.mark.parametrize(("count", "said"), [
    (6, "The distance crank to fan does not agree with the rest: most likely 15."),
    (5, "Likeliest: The distance crank to fan, 15."),
    (4, "too few were taped to tell which is wrong"),
    (3, "No check is possible"),
])  # fmt: skip
def test_a_wrong_tape_is_named_where_the_number_of_pulleys_can_carry_it(count, said) -> None:
    names = ["crank", "pump", "fan", "compressor", "alternator", "idler"][:count]
    sheet = read_drive(sheet_text(names, tapes=all_tapes(names, ("crank", "fan"), 15.0)))
    laid = lay_out(sheet)
    assert any(said in line for line in layout_cautions(laid, millimetres)), layout_cautions(laid, millimetres)
    if count == 6:
        assert laid.left_out is not None
        assert math.dist(laid.centres_mm[0], laid.centres_mm[2]) == pytest.approx(
            math.dist((0, 0), PLACES["fan"]), abs=0.1
        )


def test_too_few_tapes_say_which_to_take() -> None:
    names = list(PLACES)[:4]
    tapes = [one for one in all_tapes(names) if "fan" not in one[:2]]
    with pytest.raises(DriveError, match=r"(?i)fan.*not held.*tape .*fan"):
        lay_out(read_drive(sheet_text(names, tapes=[*tapes, ("crank", "fan", math.dist((0, 0), PLACES["fan"]))])))


def test_the_next_tape_lessens_the_doubt() -> None:
    names = list(PLACES)
    tapes = [one for one in all_tapes(names) if one[:2] not in {("crank", "fan"), ("pump", "compressor")}]
    laid = lay_out(read_drive(sheet_text(names, tapes=tapes)))
    assert laid.next_tape is not None
    pair, now, then = laid.next_tape
    assert set(pair) in ({"crank", "fan"}, {"pump", "compressor"})
    assert 0.0 < then < now


def test_a_photo_is_scaled_by_a_tape_or_by_a_diameter() -> None:
    pixels = {name: (500 + 2 * x, 400 + 2 * y) for name, (x, y) in PLACES.items()}  # half a millimetre to the pixel
    diameters = {name: f'"{DIAMETER[name]} mm"' for name in PLACES}

    def photo(tapes: str = "", seen: str = "") -> str:
        lines = ['name = "Try"', 'profile = "PK"', "ribs = 6", 'unit = "px"']
        for name, (x, y) in pixels.items():
            lines += ["[[pulley]]", f'name = "{name}"', 'face = "grooved"', f"outside_diameter = {diameters[name]}"]
            lines += [f"at = [{x}, {y}]", "driver = true" if name == "crank" else "", seen if name == "fan" else ""]
        return "\n".join([*lines, tapes])

    tape = f'[[distance]]\nbetween = ["crank", "fan"]\nis = "{math.dist((0, 0), PLACES["fan"]):.3f} mm"'
    for text in (photo(tape), photo(seen="seen_diameter = 400")):
        laid = lay_out(read_drive(text))
        assert laid.fitted is not None
        assert laid.fitted.scale[0] == pytest.approx(0.5, abs=1e-6)
        assert math.dist(laid.centres_mm[1], laid.centres_mm[4]) == pytest.approx(
            math.dist(PLACES["pump"], PLACES["compressor"]), abs=1e-3
        )
    with pytest.raises(DriveError, match="scale"):
        lay_out(read_drive(photo()))


def test_an_arm_needs_to_know_what_is_level() -> None:
    names = ["crank", "pump", "fan"]
    extra = (
        f'[[pulley]]\nname = "tensioner"\nface = "flat"\noutside_diameter = 76\n{ARM.replace("pivot = [150, 60]", "")}'
    )
    tapes = "".join(
        f'[[distance]]\nbetween = ["{name}", "tensioner pivot"]\nis = {math.dist(PLACES[name], (150, 60)):.2f}\n'
        for name in names
    )
    with pytest.raises(DriveError, match="which way is level"):
        lay_out(read_drive(sheet_text(names, tapes=all_tapes(names), extra=f"{extra}\n{tapes}")))
    placed = {name: PLACES[name] for name in ("crank", "fan")}
    text = sheet_text(names, placed, tapes=all_tapes(names), extra=f"{extra}\n{tapes}", rotation='"clockwise"')
    laid = lay_out(read_drive(text))
    assert laid.centres_mm[3] == pytest.approx((150, 60), abs=0.05)
