"""Belt lengths and designations against ISO 9981, dash sizes against the SAE J517 convention."""

from __future__ import annotations

import math

import pytest

from kb.mechanics import belt_lengths
from kb.reference.tables import is_checked, table

PK = {row["quantity"]: row for row in table("belt_profiles") if row["profile"] == "PK"}


def test_pk_groove_geometry_closes() -> None:
    # ISO 9981: a 2.5 mm ball in a 40 degree groove of 3.56 mm pitch, tips rounded 0.25 mm, stands 2X over the effective line.
    ball = float(PK["checking ball or pin diameter"]["value"])
    pitch = float(PK["groove pitch"]["value"])
    tip = float(PK["groove tip radius minimum"]["value"])
    half = math.radians(float(PK["groove angle"]["value"]) / 2)
    twice_x = ball * (1 + 1 / math.sin(half)) - pitch / math.tan(half) + 2 * tip * (1 / math.sin(half) - 1)
    row = PK["diameter over balls minus effective diameter"]
    assert is_checked(row)
    assert twice_x == pytest.approx(float(row["value"]), abs=0.01)


def test_pitch_length_uses_the_standard_differential() -> None:
    row = PK["nominal effective line differential"]
    assert is_checked(row)
    assert float(row["value"]) == belt_lengths.PITCH_LINE_OVER_EFFECTIVE_MM
    assert belt_lengths.pitch_from_effective(1000.0) == pytest.approx(1000.0 + 2 * math.pi * 2.0)


@pytest.mark.parametrize("text", ["6PK1500", "6 PK 1500", "6pk-1500"])
def test_designation_of_iso_9981(text) -> None:
    # The standard's own example, 6 PK 1500: six ribs, profile PK, effective length 1500 mm.
    assert belt_lengths.parse_designation(text) == (6, "PK", 1500.0)


@pytest.mark.parametrize("way", ["outside", "pitch"])
@pytest.mark.parametrize("length", [400.0, 1854.0, 3200.0])
def test_lengths_come_back(way, length) -> None:
    there = getattr(belt_lengths, f"{way}_from_effective")(length)
    assert getattr(belt_lengths, f"effective_from_{way}")(there) == pytest.approx(length)


def test_dash_sizes_are_sixteenths() -> None:
    # SAE J517: a dash size is the nominal bore in sixteenths of an inch.
    rows = [
        row
        for row in table("hose_sizes")
        if row["table"].startswith("general hose") and "nominal inside" in row["quantity"]
    ]
    assert rows
    for row in rows:
        assert float(row["value_in"]) == pytest.approx(-float(row["dash_or_size"]) / 16)
