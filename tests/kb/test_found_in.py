"""Measurements found in sentences, as they are typed into a search box."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.errors import MeasurementError
from kb.measure import LENGTH, QUANTITIES, found_in, read

NAMES = sorted(QUANTITIES)

FOUND = [
    ("8 rib 73 1/8 in", ["73 1/8 in"]),
    ("8PK1854", []),
    ("8 pk 1854", ["1854"]),
    ("belt 1857", ["1857"]),
    ("1857 plow belt", ["1857"]),
    ("belt 1857, 8 ribs", ["1857"]),
    ("1857.", ["1857"]),
    ("8-rib belt, 185.7 cm.", ["185.7 cm"]),
    ("8 in stock", []),
    ("8 holes on 4 in", ["4 in"]),
    ("6' 1-1/8\" belt", ["6' 1-1/8\""]),
    ("10 ft 2 in hose", ["10 ft 2 in"]),
    ("73⅛″ 8 rib", ["73⅛″"]),
    ("hose 1 3/8 in x 22 in", ["1 3/8 in", "22 in"]),
    ("1,857 mm", ["1,857 mm"]),
    ("1 857 mm 8 ribs", ["1 857 mm"]),
    ("73-inch belt", ["73-inch"]),
    ('"73 1/8 in"', ["73 1/8 in"]),
    ("(73 1/8 in)", ["73 1/8 in"]),
    ("70-73 in", []),
    ("73 9/8 in", []),
    ("A-1857", []),
    ("A-73 1/8 in", []),
    ('"73 1/8"', ['73 1/8"']),
    ("73 1/8 x 2", ["2"]),
    ("8 73 1/8 in", ["8", "73 1/8 in"]),
    ("#73 1/8 in", []),
    ("1857-A", []),
    ("00123", []),
    ("3/4-16 fitting", []),
    ("24 V alternator", []),
    ("90 deg elbow", []),
    ("25 inHg", []),
    ("30 ft-lb", []),
    ("12 mm/s", []),
    ("15 psi 3/8 in", ["3/8 in"]),
    ("73,125 in", []),
    ("1e5", []),
    ("", []),
]


@pytest.mark.parametrize(("text", "written"), FOUND)
def test_measurements_are_found_in_sentences(text: str, written: list[str]) -> None:
    assert [one.written for one in found_in(text, LENGTH)] == written


def test_a_bare_number_found_says_so_and_is_in_the_unit_that_is_meant() -> None:
    (bare,) = found_in("belt 73", LENGTH, unit="in")
    assert (bare.value, bare.unit_written) == (1854.2, False)
    (named,) = found_in("8 rib 73 in", LENGTH)
    assert (named.start, named.end, named.unit_written) == (6, 11, True)
    assert found_in("tender 4 belt 1857", LENGTH, low=150.0, high=12_000.0)[0].value == 1857.0
    with pytest.raises(MeasurementError, match="'furlong'"):
        found_in("belt 73", LENGTH, unit="furlong")


def test_other_quantities_are_found_too() -> None:
    assert [one.value for one in found_in("10 psi cap on a 1/2 in neck", QUANTITIES["pressure"])] == [
        pytest.approx(68.948, abs=0.001)
    ]
    assert [one.written for one in found_in("45 N m at 90 deg", QUANTITIES["torque"])] == ["45 N m"]
    assert [one.written for one in found_in("3/4 in 16 tpi", QUANTITIES["pitch"])][-1] == "16 tpi"
    assert [one.written for one in found_in("-20 °C to 110 °C", QUANTITIES["temperature"])] == ["-20 °C", "110 °C"]
    assert found_in("110 °C", QUANTITIES["angle"]) == []


@given(st.text(alphabet="0123456789 /.,'\"-½⅛infmtxribPK⁄′″\u00a0", max_size=40), st.sampled_from(NAMES))
def test_what_is_found_stands_in_the_text_and_reads_alone(text: str, name: str) -> None:
    end = 0
    for one in found_in(text, QUANTITIES[name]):
        assert end <= one.start < one.end
        end = one.end
        assert text[one.start : one.end] == one.written
        assert read(one.written, QUANTITIES[name]) == one.value
