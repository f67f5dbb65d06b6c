"""Groove geometry and belt sizes against ISO 9981, ISO 9982, SAE J1459 and SAE J636, as the rows of the table name them."""

from __future__ import annotations

import math

import pytest

from kb.mechanics import belt_lengths, grooves
from kb.reference.tables import belt_profiles, profile_row, profile_value

RIBBED = ("PH", "PJ", "PK", "PL", "PM")
OVER_BALLS = "diameter over balls minus effective diameter at"
SAE_V = [
    row
    for row in belt_profiles()
    if row.kind == "V-belt pulley" and row.quantity.startswith(OVER_BALLS) and row.checked
]


@pytest.mark.parametrize("profile", RIBBED)
def test_ball_in_groove_closes(profile) -> None:
    # ISO 9982 table 1: pitch, angle, ball and tip radius of a profile give its 2X. The rows are good to 0.01 mm.
    row = profile_row(profile, "diameter over balls minus effective diameter")
    assert row.checked
    got = grooves.over_balls_minus_effective_mm(
        profile_value(profile, "groove pitch"),
        math.radians(profile_value(profile, "groove angle")),
        profile_value(profile, "checking ball or pin diameter"),
        profile_value(profile, "groove tip radius minimum"),
    )
    assert got == pytest.approx(row.value, abs=0.01)


@pytest.mark.parametrize("profile", RIBBED)
def test_sharp_corner_diameter(profile) -> None:
    # For PK a public summary of SAE J1459 (2022) prints the same 0.028 mm.
    row = profile_row(profile, "diameter over balls minus flank-intersection (sharp tip) diameter")
    got = grooves.over_balls_minus_corner_mm(
        profile_value(profile, "groove pitch"),
        math.radians(profile_value(profile, "groove angle")),
        profile_value(profile, "checking ball or pin diameter"),
    )
    assert got == pytest.approx(row.value, abs=0.0006)


def test_effective_line_of_pk_lies_at_the_sharpest_tips() -> None:
    angle = math.radians(profile_value("PK", "groove angle"))
    line = grooves.effective_line_over_crossing_mm(
        angle,
        profile_value("PK", "checking ball or pin diameter"),
        profile_value("PK", "diameter over balls minus effective diameter"),
    )
    tip = grooves.tip_over_crossing_mm(
        profile_value("PK", "groove pitch"), angle, profile_value("PK", "groove tip radius minimum")
    )
    assert line == pytest.approx(tip, abs=0.005)
    # Rounder tips, down to the diameter that 2N max of ISO 9982 (from memory) allows, are about 0.7 mm smaller.
    least = profile_value("PK", "diameter over balls minus outside diameter, maximum")
    assert least - profile_value("PK", "diameter over balls minus effective diameter") == pytest.approx(0.7, abs=0.05)


def test_ball_touches_the_flank_it_is_said_to_touch() -> None:
    # Independent: the distance from the ball's centre to the flank's line equals its radius (plane geometry).
    half, ball = math.radians(20), 2.5
    centre_height = grooves.effective_line_over_crossing_mm(2 * half, ball, 0.0) - ball / 2
    assert centre_height * math.sin(half) == pytest.approx(ball / 2)


@pytest.mark.parametrize("row", SAE_V, ids=lambda row: f"{row.profile} {row.quantity[-9:]}")
def test_balls_in_v_grooves_of_sae_j636(row) -> None:
    # SAE J636 tables 1A/1B, inches; the recalled 2K agree with the geometry to 0.0015 in.
    angle = float(row.quantity.split(" at ")[1].removesuffix(" deg"))
    got = grooves.over_balls_minus_effective_v_mm(
        profile_value(row.profile, "effective groove width"),
        math.radians(angle),
        profile_value(row.profile, "ball or rod diameter"),
    )
    assert got == pytest.approx(row.value, abs=0.0015)


def test_there_are_v_grooves_to_test() -> None:
    assert len(SAE_V) >= 8


@pytest.mark.parametrize("ribs", [3, 4, 5, 6, 7, 8, 10, 12])
def test_belt_width_is_ribs_times_pitch(ribs) -> None:
    # ISO 9982: belt width = n x e.
    row = profile_row("PK", f"approximate belt width, {ribs} ribs")
    assert grooves.belt_width_mm(ribs, profile_value("PK", "groove pitch")) == pytest.approx(row.value, abs=0.005)


def test_measuring_pulley_of_iso_9981() -> None:
    # K = U_e / pi + 2X with the recalled U_e = 300 mm: the standard prints 96.48 mm.
    row = profile_row("PK", "measuring pulley diameter over balls")
    assert row.checked
    effective = profile_value("PK", "measuring pulley effective circumference") / math.pi
    assert grooves.effective_diameter_over_balls_mm(row.value) == pytest.approx(effective, abs=0.01)


def test_pitch_length_uses_the_differential_of_iso_9981() -> None:
    row = profile_row("PK", "nominal effective line differential")
    assert row.checked
    assert row.value == belt_lengths.PITCH_LINE_OVER_EFFECTIVE_MM
    # Two pulleys of the effective circumference U_e: L_e = U_e + 2E, L_p the same with diameters 2 b_e larger.
    pitch = math.pi * (300 / math.pi + 2 * row.value) + 2 * 750.0
    assert belt_lengths.pitch_from_effective(300 + 2 * 750.0) == pytest.approx(pitch)


def test_designation_of_the_standards_own_example() -> None:
    # ISO 9981 designation clause (from memory): 6 PK 1500 has six ribs, profile PK, effective length 1500 mm.
    assert belt_lengths.parse_designation(profile_row("PK", "belt designation").written) == (6, "PK", 1500.0)
    # ISO 2790 (from memory): AV10 x 1000.
    assert belt_lengths.parse_v_designation(profile_row("AV10", "belt designation").written) == (
        "AV10",
        1000.0,
        "effective",
    )


@pytest.mark.parametrize("way", list(belt_lengths.WAYS))
def test_every_default_doubt_says_where_it_comes_from(way) -> None:
    assert belt_lengths.WAYS[way].source
    assert belt_lengths.WAYS[way].doubt_mm > 0
