"""``bayshelf fluids``: answers, refusals in words that say what is possible, cautions."""

from __future__ import annotations

import json

import pytest

ASKED = {
    "coolant": ("--system", "40 L", "--now", "30", "--want", "50", "--with", "100"),
    "vacuum-fill": ("--system", "40 L", "--reading", "24 inHg", "--altitude", "2,000 ft", "--head", "3 ft"),
    "refrigerant": ("R-134a", "--temperature", "70 F"),
    "line-charge": ("R-134a", "--inside", "8 mm", "--added", "1 m", "--state", "liquid"),
    "oil": ("--taken-off", "compressor 60 mL", "--taken-off", "1 fl oz dryer", "--in-new", "40 mL"),
    "suction-drop": ("R-134a", "--inside", "5/8 in", "--length", "10 ft", "--cooling", "7 kW", "--old-length", "6 ft"),
    "evacuation": ("--reading", "28.5 inHg", "--rise", "28.5 inHg, 28.0 inHg, 27.5 inHg"),
}
DESIGNED = {
    "coolant": {"drain_l", "add_l", "freeze_c", "swaps", "containers"},
    "vacuum-fill": {"drawn_l", "stand_ready_l", "top_up_l"},
    "refrigerant": {"temperature_c", "pressure_kpa", "gauge_psi", "density_liquid_kg_m3", "density_vapour_kg_m3"},
    "line-charge": {"charge_g"},
    "oil": {"oil_add_ml"},
    "suction-drop": {"drop_kpa", "saturation_shift_k"},
    "evacuation": {"water_boils", "meaning"},
}


@pytest.fixture
def fluids(run):
    """Ask and return the JSON."""

    def asked(name: str, *options: str) -> dict:
        done = run("fluids", name, *options, "--json")
        assert done.exit_code == 0, done.output
        return json.loads(done.stdout)

    return asked


@pytest.mark.parametrize("name", ASKED)
def test_json_and_text_tell_the_same_and_no_shelf_is_needed(name, run, fluids, tmp_path) -> None:
    answer = fluids(name, *ASKED[name])
    assert DESIGNED[name] | {"notes", "cautions"} <= set(answer)
    assert answer["cautions"]
    done = run("fluids", name, *ASKED[name], shelf=tmp_path / "none.db")
    assert done.exit_code == 0
    assert max(map(len, done.stdout.splitlines()[1:])) <= 100
    for caution in answer["cautions"]:
        assert f"! {caution}" in done.stderr
        assert caution not in done.stdout


def test_every_refrigerant_command_asks_for_certified_people_and_every_coolant_one_for_a_cold_engine(fluids) -> None:
    for name, options in ASKED.items():
        said = " ".join(fluids(name, *options)["cautions"])
        if name in ("coolant", "vacuum-fill"):
            assert "cold" in said
            assert "poisonous" in said
            assert "not mixed" in said
        else:
            assert "Certified handling is required" in said
            assert "The charge is the label's" in said


def test_one_drain_by_hand(fluids) -> None:
    """40 L x (50 - 30) / (100 - 30) = 11.43 L: four gallons hold 15.1 L."""
    answer = fluids("coolant", *ASKED["coolant"])
    assert (answer["drain_l"], answer["add_l"], answer["swaps"]) == (11.429, 11.429, [])
    assert answer["containers"] == [{"size_l": 3.785, "count": 4}]
    assert answer["left_over_l"] == pytest.approx(4 * 3.785412 - 11.429, abs=0.001)
    assert answer["freeze_c"] == pytest.approx(-37.1, abs=0.2)


def test_swaps_where_one_drain_cannot(fluids) -> None:
    answer = fluids("coolant", *ASKED["coolant"][:-1], "60", "--drainable", "8 L")
    glycol = 12.0
    for swap in answer["swaps"]:
        glycol += swap["add_l"] * 0.6 - glycol * swap["drain_l"] / 40
        assert swap["percent_after"] == pytest.approx(100 * glycol / 40, abs=0.01)
    assert glycol == pytest.approx(20.0, abs=0.01)
    assert answer["drain_l"] == pytest.approx(sum(one["drain_l"] for one in answer["swaps"]), abs=0.003)


def test_an_empty_system_by_freeze_point(fluids) -> None:
    answer = fluids("coolant", "--system", "10 gal", "--freeze", "-34 F", "--glycol", "propylene")
    assert answer["freeze_c"] == pytest.approx((-34 - 32) / 1.8, abs=0.01)
    assert answer["coolant_l"] + answer["water_l"] == pytest.approx(37.854, abs=0.002)
    assert answer["drain_l"] == 0


def test_weaker_by_water(fluids) -> None:
    answer = fluids("coolant", "--system", "40", "--now-freeze", "-45 C", "--want", "50")
    assert answer["with_percent"] == 0
    assert answer["water_l"] > 0
    assert answer["containers"] == []


def test_vacuum_fill_by_hand(fluids) -> None:
    """Sea level, 25 inHg: 101.325 - 84.66 = 16.665 kPa left; 1 - 16.665/101.325 = 83.55 % of 40 L; a 1 in hose, 2 m long."""
    answer = fluids(
        "vacuum-fill", "--system", "40 L", "--reading", "25 inHg", "--hose-inside", "1 in", "--hose-length", "2 m",
        "--below-pickup", "2 L",
    )  # fmt: skip
    hose = 3.14159265 / 4 * 0.254**2 * 20
    assert answer["drawn_l"] == pytest.approx(33.42, abs=0.01)
    assert answer["stand_ready_l"] == pytest.approx(33.42 + hose + 2, abs=0.01)
    assert answer["top_up_l"] == pytest.approx(40 - 33.42, abs=0.01)


def test_the_gauge_at_altitude(fluids) -> None:
    """The same saturation shows more on a gauge where there is less air: 101.325 - 84.31 = 17.0 kPa."""
    low, high = (
        fluids("refrigerant", *ASKED["refrigerant"]),
        fluids("refrigerant", *ASKED["refrigerant"], "--altitude", "5,000 ft"),
    )
    assert low["gauge_psi"] == pytest.approx(71.11, abs=0.1)  # ASHRAE's value for 70 F, from memory
    assert (high["gauge_psi"] - low["gauge_psi"]) * 6.894757 == pytest.approx(17.0, abs=0.1)
    back = fluids("refrigerant", "134a", "--pressure", f"{high['gauge_psi']} psi", "--altitude", "5,000 ft")
    assert back["temperature_c"] == pytest.approx(high["temperature_c"], abs=0.02)


@pytest.mark.parametrize(("psi", "said"), [("71", "agrees"), ("90", "warmer: air"), ("50", "hardly any liquid")])
def test_a_system_at_rest(psi, said, run) -> None:
    assert said in " ".join(
        run("fluids", "refrigerant", *ASKED["refrigerant"], "--pressure", f"{psi} psi").stdout.split()
    )


def test_liquid_matters_and_vapour_does_not(fluids) -> None:
    liquid = fluids("line-charge", *ASKED["line-charge"])["charge_g"]
    suction = fluids("line-charge", "R-134a", "--inside", "16", "--added", "1 m", "--state", "suction")["charge_g"]
    assert liquid == pytest.approx(50.27 * 1.125, rel=0.01)  # 50.27 mL at 45 degC, 1125 kg/m3 (CoolProp)
    assert suction < 4


def test_a_wider_and_a_shorter_line(fluids) -> None:
    wider = fluids("line-charge", *ASKED["line-charge"], "--old-inside", "6", "--length", "2 m")
    assert wider["volume_ml"] == pytest.approx(0.7853982 * (64 * 3 - 36 * 2), abs=0.01)
    shorter = fluids("line-charge", "R-134a", "--inside", "8", "--added", "-1 m", "--state", "liquid")
    assert shorter["charge_g"] < 0


def test_oil(fluids) -> None:
    assert fluids("oil", *ASKED["oil"])["oil_add_ml"] == pytest.approx(60 + 29.57 - 40, abs=0.05)


def test_a_longer_suction_line_loses_in_proportion(fluids) -> None:
    answer = fluids("suction-drop", *ASKED["suction-drop"])
    assert answer["drop_kpa"] / answer["old_drop_kpa"] == pytest.approx(10 / 6, rel=0.001)


@pytest.mark.parametrize(
    ("reading", "temperature", "boils"),
    [
        ("28.7 inHg", "81 F", False),
        ("28.9 inHg", "81 F", True),
        ("500 micron", "0 C", True),
        ("5,000 micron", "0 C", False),
    ],
)
def test_whether_water_boils(reading, temperature, boils, fluids) -> None:
    """Water boils at 81 F from 28.85 inHg on (the public manual prints 28.8), and at freezing from 4,585 micron on."""
    assert fluids("evacuation", "--reading", reading, "--temperature", temperature)["water_boils"] is boils


@pytest.mark.parametrize(
    ("rise", "meaning"),
    [
        ("28.5 inHg,28.3 inHg,28.0 inHg,27.8 inHg", "leak"),  # 0.7 inHg in even steps
        ("28.5 inHg, 28.45 inHg, 28.4 inHg", "creeps"),  # below what a dial shows, and never down: not proven
        ("28.5 inHg, 28.5 inHg, 28.5 inHg", "holds"),
        ("500, 500, 510 micron", "holds"),
    ],
)
def test_a_vacuum_that_falls_never_holds(rise, meaning, fluids) -> None:
    assert fluids("evacuation", "--rise", rise)["meaning"] == meaning


def test_a_vacuum_that_gets_deeper_is_asked_about(run) -> None:
    done = run("fluids", "evacuation", "--rise", "27.8 inHg,28.0 inHg,28.6 inHg")
    assert done.exit_code == 2
    assert "valved off" in done.stderr


def test_rises(fluids) -> None:
    assert fluids("evacuation", *ASKED["evacuation"])["meaning"] == "leak"
    assert (
        fluids("evacuation", "--rise", "500 micron, 9,000 micron, 12,000 micron, 12,500 micron")["meaning"]
        == "moisture"
    )


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("coolant", "--system", "40", "--now", "30", "--want", "70"), "Ask for 60 % or less"),
        (("coolant", "--system", "40", "--now", "120", "--want", "50"), "between 0 (water) and 100 %"),
        (("coolant", "--system", "40", "--now", "30", "--want", "120"), "between 0 (water) and 100 %"),
        (("coolant", "--system", "40", "--now", "30", "--freeze", "-60 C"), "down to -52.0 °C"),
        (("coolant", "--system", "40", "--now", "30", "--want", "50", "--with", "40"), "cannot raise"),
        (("coolant", "--system", "40", "--now", "30", "--want", "50", "--drainable", "60"), "cannot be drained"),
        (("coolant", "--system", "40", "--now", "30"), "Give its percentage or its freeze point"),
        (("coolant", "--system", "40", "--now", "30", "--want", "50", "--containers", "none"), "Example: 28 L"),
        (
            ("coolant", "--system", "40", "--now", "30", "--want", "50", "--inhibitor-now", "hybrid", "--inhibitor-new",
             "inorganic"), "drain and flush"),
        (("vacuum-fill", "--system", "40", "--reading", "25 inHg", "--altitude", "5,000 ft"), "less than 24.9 inHg"),
        (("vacuum-fill", "--system", "40", "--reading", "3 inHg", "--head", "3 m"), "Raise the vessel"),
        (("vacuum-fill", "--system", "40", "--reading", "25 inHg", "--hose-inside", "1 in"), "bore and its length"),
        (("vacuum-fill", "--system", "40", "--reading", "25 inHg", "--altitude", "30,000 ft"), "between -500 and 6000 m"),
        (("refrigerant", "R-134a", "--temperature", "300 F"), "(160 °F)"),
        (("refrigerant", "R-134a", "--pressure", "500 psi"), "300.0 psi"),
        (("refrigerant", "R-99", "--temperature", "70 F"), "R-134a and R-1234yf"),
        (("refrigerant", "R-134a"), "Give one of them"),
        (("line-charge", "R-134a", "--inside", "8", "--added", "1 m", "--state", "liquid", "--length", "1 m"), "both"),
        (
            ("line-charge", "R-134a", "--inside", "8", "--added", "-3 m", "--state", "liquid", "--old-inside", "8",
             "--length", "1 m"), "more is taken off"),
        (("oil", "--taken-off", "compressor"), "compressor 60 mL"),
        (("suction-drop", "R-134a", "--inside", "16", "--length", "1 m"), "cooling in kW"),
        (("suction-drop", "R-134a", "--inside", "2", "--length", "9 m", "--flow", "90"), "far too narrow"),
        (("vacuum-fill", "--system", "40", "--reading", "20 inHg", "--altitude", "5000"), "could be m or ft"),
        (("evacuation",), "28.5 inHg"),
        (("evacuation", "--rise", "500 micron, 600 micron"), "three times or more"),
        (("evacuation", "--rise", "500 micron, 28 inHg, 600 micron"), "one gauge"),
        (("evacuation", "--reading", "29.95 inHg"), "less than 29.9 inHg"),
        (("evacuation", "--reading", "28 inHg", "--temperature", "-10 C"), "coldest part"),
    ],
)  # fmt: skip
def test_what_is_refused_says_what_is_possible(options, said, run) -> None:
    done = run("fluids", *options)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert said in " ".join(done.stderr.split())
