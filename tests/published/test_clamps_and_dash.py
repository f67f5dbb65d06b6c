"""Clamp bands against SAE J1508, dash sizes against the SAE J517 convention and FAA AC 43.13-1B table 9-3."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from fractions import Fraction

import pytest

from kb.reference.sizes import clamp_bands
from kb.reference.tables import HoseSizeRow, hose_sizes, threads
from kb.shelf import open_to_write
from queries.clamps import ClampQuestion, ask_clamps


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    """A shelf with nothing on it: only the sizes of the standard answer."""
    connection = open_to_write(tmp_path_factory.mktemp("empty") / "shelf.db")
    yield connection
    connection.close()


CLAMP_ROWS = [row for row in hose_sizes() if row.table.startswith("worm-drive") and row.size != "all"]
TUBE_FRACTIONS = {
    # Tube outside diameter in inches by dash: FAA AC 43.13-1B table 9-3 (public domain), as the rows' notes print it.
    3: "3/16", 4: "1/4", 5: "5/16", 6: "3/8", 8: "1/2", 10: "5/8", 12: "3/4", 16: "1", 20: "1 1/4", 24: "1 1/2", 32: "2",
}  # fmt: skip


def _inches(text: str) -> float:
    return float(sum(Fraction(part) for part in text.split()))


def test_every_clamp_row_of_sae_j1508_is_read() -> None:
    assert all(row.checked for row in CLAMP_ROWS)
    assert [(band.size, band.smallest_mm, band.largest_mm) for band in clamp_bands()] == [
        (row.size, row.smallest_mm, row.largest_mm) for row in CLAMP_ROWS
    ]


@pytest.mark.parametrize("row", CLAMP_ROWS, ids=lambda row: row.size)
def test_bands_in_mm_are_the_inch_bands_of_the_standard(row) -> None:
    # SAE J1508 Type F: the note's inch fractions are from memory, the mm from a second public table. Measured: the
    # open ends agree to 0.08 mm, the closed ends to 0.27 mm, a sixth of the fractions' step.
    smallest, largest = row.note.split(" in;")[0].split(" to ")
    assert row.smallest_mm == pytest.approx(25.4 * _inches(smallest), abs=0.27)
    assert row.largest_mm == pytest.approx(25.4 * _inches(largest), abs=0.1)


@pytest.mark.parametrize("row", CLAMP_ROWS, ids=lambda row: row.size)
def test_a_size_closes_on_its_own_band_and_nothing_beyond(row, empty) -> None:
    def sizes(around: float) -> list[str]:
        rows = ask_clamps(empty, ClampQuestion(around, 40)).rows
        return [one.size_number for one in rows if not one.supplier]

    assert sizes((row.smallest_mm + row.largest_mm) / 2)[0] == row.size
    assert all(row.size in sizes(inside) for inside in (row.smallest_mm, row.largest_mm))
    assert not any(row.size in sizes(beyond) for beyond in (row.smallest_mm - 0.05, row.largest_mm + 0.05))


def _dash_mm(dash: str) -> float:
    return int(dash.lstrip("-")) * 25.4 / 16


def _bore(table: str, dash: str) -> HoseSizeRow:
    return next(
        row
        for row in hose_sizes()
        if row.table.startswith(table) and row.size == dash and row.quantity.endswith("inside diameter")
    )


@pytest.mark.parametrize("dash", TUBE_FRACTIONS)
def test_dash_sizes_are_sixteenths_of_the_tube(dash) -> None:
    assert _dash_mm(f"-{dash}") == pytest.approx(25.4 * _inches(TUBE_FRACTIONS[dash]))
    row = _bore("tube-OD", f"-{dash}")
    assert row.checked
    assert f"tube OD {TUBE_FRACTIONS[dash]} in" in row.note
    assert row.value_mm < _dash_mm(f"-{dash}")


@pytest.mark.parametrize(
    "row", [r for r in hose_sizes() if r.table.startswith("general hose") and r.value_mm], ids=lambda r: r.size
)
def test_general_hose_is_sixteenths_of_the_bore(row) -> None:
    # SAE J517: a dash size is the nominal inside diameter in sixteenths of an inch; the table rounds to 0.01 mm.
    assert row.value_mm == pytest.approx(_dash_mm(row.size), abs=0.0101)


def test_refrigerant_hose_is_smaller_than_its_dash_and_says_that_it_is_from_memory() -> None:
    # The trap: size 8 refrigerant hose is 13/32 in inside, not 8/16. Same series as FAA AC 43.13-1B table 9-3.
    for dash in ("-6", "-8", "-10", "-12"):
        assert _bore("refrigerant", dash).value_mm == _bore("tube-OD", dash).value_mm
        assert not _bore("refrigerant", dash).checked


def test_fittings_name_tubes_by_the_same_dash() -> None:
    # SAE J514, J512, J1926-1, J1453: the dash is the tube's outside diameter in sixteenths.
    rows = [row for row in threads() if row.dash.startswith("-") and row.tube_outside_diameter_mm is not None]
    assert len(rows) > 50
    for row in rows:
        assert row.tube_outside_diameter_mm == pytest.approx(_dash_mm(row.dash), abs=0.001)
