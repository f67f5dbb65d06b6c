"""One part with everything known of it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from importers.load import Settings, load_file
from kb.shelf import open_to_read, open_to_write
from queries.parts import ask_part


@pytest.fixture
def loaded(tmp_path: Path):
    """A shelf with two suppliers' sheets, loaded as a shop would."""
    shelf = tmp_path / "shelf.db"
    sheets = {
        "Supplier A": [
            ["Part No", "Description", "No. of ribs", "Eff. Length", "Price", "Shade"],
            ["00123", "eight rib belt", "8", '73 1/8"', "41.90", "black"],
        ],
        "Supplier B": [["Part No", "Ribs", "Effective length (mm)"], ["B/7", "8", "1857,4"], ["B/8", "8", "1870"]],
    }
    connection = open_to_write(shelf)
    for supplier, rows in sheets.items():
        path = tmp_path / f"{supplier[-1].lower()}_belts.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file, delimiter=";").writerows(rows)
        load_file(connection, shelf, path, Settings(supplier=supplier))
    connection.close()
    reading = open_to_read(shelf)
    yield reading
    reading.close()


def test_what_was_understood_beside_what_was_written(loaded) -> None:
    part = ask_part(loaded, "belt", "Supplier A", "00123")
    assert part is not None
    fields = {field["name"]: field for field in part["fields"]}
    assert fields["effective_length_mm"]["shown"] == "73 1/8 in (1857.4 mm)"  # 73.125 x 25.4 = 1857.375
    assert fields["effective_length_mm"]["written"] == '73 1/8"'
    assert fields["effective_length_mm"]["label"] == "Effective length"
    assert fields["ribs"]["written"] == "8"
    assert fields["outside_length_mm"]["written"] is None  # worked out, not on the sheet
    assert part["part_no"] == "00123"
    assert part["title"] == "eight rib belt"


def test_where_it_came_from(loaded) -> None:
    part = ask_part(loaded, "belt", "Supplier B", "B/8")
    assert part["load"]["sheet"] == "b_belts.csv"
    assert part["load"]["row"] == 3
    assert part["load"]["loaded_at"].endswith("Z")


def test_no_price_anywhere(loaded) -> None:
    assert loaded.execute("SELECT price FROM private_price").fetchone()[0] == "41.90"  # it is on the shelf
    assert "41.90" not in repr(ask_part(loaded, "belt", "Supplier A", "00123"))


def test_equivalents_of_other_suppliers(loaded) -> None:
    # 1857.4 is 0.025 mm from 1857.375; 1870 is not within 1 mm.
    part = ask_part(loaded, "belt", "Supplier A", "00123")
    assert part["equivalents"] == [{"supplier": "Supplier B", "part_no": "B/7"}]


@pytest.mark.parametrize(
    ("kind", "supplier", "part_no"),
    [
        ("belt", "Supplier A", "123"),
        ("belt", "Nobody", "00123"),
        ("sqlite_master", "Supplier A", "00123"),
        ("job", "", ""),
    ],
)
def test_what_there_is_not(loaded, kind, supplier, part_no) -> None:
    assert ask_part(loaded, kind, supplier, part_no) is None


def test_every_quantity_in_both_units(filled) -> None:
    filled.part(
        "hose", "H1", inside_diameter_mm=38.1, legs_mm="[101.6, 177.8]", bends_deg="[90.0]", pressure_kpa=1724.0,
        temperature_c=125.0,
    )  # fmt: skip
    filled.part("tensioner", "T1", outside_diameter_mm=76.2, torque_nm=45.0, rate_nm_per_deg=0.6, travel_deg=34.0)
    shown = {
        field["name"]: field["shown"]
        for kind, part_no in (("hose", "H1"), ("tensioner", "T1"))
        for field in ask_part(filled.connection, kind, "Supplier A", part_no)["fields"]
    }
    assert shown["inside_diameter_mm"] == "1 1/2 in (38.1 mm)"
    assert shown["legs_mm"] == "4 in (101.6 mm), 7 in (177.8 mm)"
    assert shown["bends_deg"] == "90°"
    # NIST SP 811: 1 psi = 6.894757 kPa, 1 lbf ft = 1.355818 Nm; 125 x 9/5 + 32 = 257.
    assert shown["pressure_kpa"] == "1724 kPa (250 psi)"
    assert shown["temperature_c"] == "125 °C (257 °F)"
    assert shown["torque_nm"] == "45 Nm (33.2 lbf ft)"
    assert shown["rate_nm_per_deg"] == "0.6 Nm/deg (0.443 lbf ft/deg)"
    assert shown["travel_deg"] == "34°"


def test_the_jobs_that_used_it(filled) -> None:
    filled.belt("B1", 1854.0)
    filled.job("J1", "worked", ("B1", "Supplier A"))
    history = ask_part(filled.connection, "belt", "Supplier A", "B1")["history"]
    assert [(job["id"], job["outcome"]) for job in history] == [("J1", "worked")]
