"""What people write for a measurement, and what is made of it."""

from __future__ import annotations

import math
import time
import unicodedata
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kb.errors import MeasurementError
from kb.measure import (
    LENGTH,
    QUANTITIES,
    UNITS_OF,
    Quantity,
    both_text,
    found_in,
    inches_text,
    millimetres_text,
    read,
    unit_in_heading,
)
from kb.unit_spellings import LONGEST

INCH_MM = 25.4
DENOMINATORS = st.sampled_from([2, 4, 8, 16, 32, 64])
NAMES = sorted(QUANTITIES)


def refusal(
    text: str,
    quantity: Quantity = LENGTH,
    *,
    unit: str | None = None,
    low: float | None = None,
    high: float | None = None,
) -> str:
    with pytest.raises(MeasurementError) as caught:
        read(text, quantity, unit=unit, low=low, high=high)
    return str(caught.value)


# One length in every form of the design; 73 1/8 in = 73.125 x 25.4 mm.
SAME_LENGTH = [
    "73 1/8 in", "73-1/8 in", '73-1/8"', '73 1/8"', "73 1/8 inches", "73 1/8in", "73 1/8 IN.", "73.125 in",
    "73 2/16 in",
    "73⅛ in", '73⅛"', "73 ⅛ in", "73-⅛ in", "73 1\u20448 in", "73 1\u22158 in", "73¹\u2044₈ in", '73⅟8"',
    "73\u00a01/8\u202fin",
    "73\u20091/8\u2009in", "73 1/8″", "73 1/8”", "73 1/8“", "73 1/8''", "73 1/8′′", "73 1/8’’", "73 1/8 zoll",
    "73-1/8-inch",
    "+73 1/8 in", "  73 1/8 in  ", "73 1/8 in\n", "73\u20111/8 in", "73\u20131/8 in", "6 ft 1 1/8 in", "6 ft 1-1/8 in",
    "6' 1-1/8\"", "6' 1 1/8\"", "6′ 1‑1/8″", "6’ 1-1/8”", "6'1⅛\"", "6'-1 1/8\"", "6ft 1.125in", "6 feet 1 1/8 inches",
    "6 ft. 1 1/8 in.", "6' 1 1/8", "6 ft 1 1/8", "1857.375", "1857.375 mm", "1857,375", "1857,3750 mm", "1,857.375 mm",
    "1.857,375 mm", "1 857.375 mm", "1 857,375 mm", "1\u00a0857,375 mm", "1\u202f857.375 mm", "185.7375 cm",
    "1.857375 m",
    "1857.375 millimetres", "Ø 1857.375 mm", "⌀1857.375", "\ufeff1857.375",
]  # fmt: skip


@pytest.mark.parametrize("text", SAME_LENGTH)
def test_one_length_in_every_form(text: str) -> None:
    assert read(text, LENGTH) == 1857.375


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("1857", 1857.0),
        ("1857 mm", 1857.0),
        ("185.7 cm", 1857.0),
        ("73.1 in", 1856.74),
        ("1,857 mm", 1857.0),
        ("1,857", 1857.0),
        ("1857,5 mm", 1857.5),
        ("1,5 mm", 1.5),
        ("1,25 mm", 1.25),
        ("1,2345 mm", 1.2345),
        ("0,857 mm", 0.857),
        ("1857,500 mm", 1857.5),
        ("12,345,678.5 mm", None),
        ("1.234.567 mm", None),
        ("1,857,000.5 in", None),
        ("6 in", 152.4),
        ("6 ft", 1828.8),
        ("6'", 1828.8),
        ("6.5 ft", 1981.2),
        (".5 in", 12.7),
        ("5/4 in", 31.75),
        ('6/4"', 38.1),
        ("00123 mm", 123.0),
    ],
)
def test_commas_points_and_plain_forms(text: str, millimetres: float | None) -> None:
    if millimetres is None:
        assert "at most 1000000 mm" in refusal(text)
    else:
        assert read(text, LENGTH) == millimetres


@pytest.mark.parametrize(
    "text",
    ["", " ", "\u200b", "abc", "mm", "in", '"', "1e5", "1E5", "inf", "nan", "-inf", "٣", "١٨٥٧", "𝟏𝟖", "½½",
    "8PK1854", "1857 furlong",
     "73 9/8 in", "73 8/8 in", "3/0 in", "73 1/0 in", "1/1 in", "1/5000 in", "73/8 in", "17/16 in", "1/2/3 in",
     "73 1/8 1/8 in",
     "73.5 1/8 in", "1 857 1/8 in", "73 -1/8 in", "73 - 1/8 in", "70-73 mm", "70..73 mm", "1857 ± 4 mm", "~1857",
     "1857,", "1,23,456",
     "1.23.456", "1,857,5", "1 857 5", "--5", "+-5", "- ", "1857 mm mm", "1857 m m", "73 in-", "5' 13\"", "6.5' 3\"",
     "6' 40 mm", "0x10",
     "1_857", "1857%", "18\u200b57", "=1857", "1857;1900", "73 1/8 in x 2", "1'857", '"73 1/8', "9" * 16, "9" * 70],
)  # fmt: skip
def test_what_is_no_length_is_refused_in_words(text: str) -> None:
    said = refusal(text)
    assert "is not understood as a length" in said
    assert said.endswith("Example: 73 1/8 in")


@pytest.mark.parametrize("text", ["0", "0 mm", "-5", "−5 mm", "0/8 in", "↉ in", "-73 1/8 in", "-6' 1\""])
def test_nothing_and_less_is_refused_unless_the_bound_allows_it(text: str) -> None:
    assert "more than nothing" in refusal(text)
    assert read(text, LENGTH, low=-3000.0) <= 0.0


def test_a_sign_is_of_the_whole_number() -> None:
    assert read("-73 1/8 in", LENGTH, low=-3000.0) == -1857.375
    assert read("\u22126' 1 1/8\"", LENGTH, low=-3000.0) == -1857.375


@pytest.mark.parametrize("text", ["73,125 in", '73,125"', "73 125 in", "6,125 ft", "1,857 m", "185,700 cm"])
def test_three_digits_in_a_unit_not_counted_in_thousands_are_not_guessed(text: str) -> None:
    first, second = text[: text.index("," if "," in text else " ")], text.replace(",", " ").split()[1][:3]
    said = refusal(text)
    assert f"{first}{second} or {first}.{second}" in said


def test_three_digits_without_a_unit_follow_the_unit_that_is_meant() -> None:
    assert "73125 or 73.125 in" in refusal("73,125", unit="in")
    assert read("1,857", LENGTH, unit="mm") == 1857.0
    assert read("3,000 psi", QUANTITIES["pressure"]) == pytest.approx(20684.27, abs=0.01)
    assert "1250 or 1.250 kg" in refusal("1,250 kg", QUANTITIES["mass"])


def test_a_number_outside_is_refused_with_its_other_reading() -> None:
    assert "1.857 mm and should be between 150 and 12000 mm; if 1857 is meant" in refusal(
        "1.857 mm", low=150.0, high=12_000.0
    )
    assert "72125 mm and should be between 150 and 12000 mm; if 72.125 is meant" in refusal(
        "72,125 mm", low=150.0, high=12_000.0
    )
    assert "if" not in refusal("20000 mm", low=150.0, high=12_000.0)
    assert "at least 150 mm" in refusal("20 mm", Quantity("x", "mm", "a length", "1", LENGTH.table), low=150.0)


def test_bounds_are_where_they_are_said_to_be() -> None:
    assert read("6 in", LENGTH, low=152.4, high=152.4) == 152.4
    assert read("12000", LENGTH, low=150.0, high=12_000.0) == 12000.0
    assert read("12000", LENGTH, high=12_000.0) == 12000.0
    assert read("6' 11\"", LENGTH) == pytest.approx(83 * INCH_MM)
    assert "less than 12 inches" in refusal("6' 12\"")
    assert read("9" * 15, QUANTITIES["number"]) == float("9" * 15)
    assert "more than 15 digits" in refusal("9" * 16, QUANTITIES["number"])
    refusal("12000.01", low=150.0, high=12_000.0)
    refusal("149.99", low=150.0, high=12_000.0)


def test_a_fraction_without_its_unit_is_no_millimetres() -> None:
    for unit in (None, "mm", "cm"):
        assert 'Write 73 1/8 in or 73 1/8", if inches are meant.' in refusal("73 1/8", unit=unit)
    assert read("73 1/8", LENGTH, unit="in") == read("73⅛", LENGTH, unit='"') == 1857.375
    assert read("73 1/8 mm", LENGTH) == 73.125
    assert read("1 1/2", QUANTITIES["hours"]) == 1.5


@pytest.mark.parametrize(
    ("text", "apart"),
    [
        ("73/8 in", "7 3/8"), ("17/16 in", "1 7/16"), ("16/16 in", "1 6/16"), ("11/4 in", "1 1/4"),
        ("123/64 in", "12 3/64 or 1 23/64"), ("105/64 in", "10 5/64"), ("1015/16 in", "101 5/16 or 10 15/16"),
    ],
)  # fmt: skip
def test_a_fraction_that_may_be_a_whole_number_and_a_fraction_is_refused_with_both(text: str, apart: str) -> None:
    assert f"is one or more, and may be {apart} run together" in refusal(text)


@pytest.mark.parametrize(
    ("text", "inches"), [("10/8 in", 1.25), ("18/8 in", 2.25), ("19/8 in", 2.375), ("100/8 in", 12.5), ("8/8 in", 1.0)]
)
def test_a_fraction_above_one_that_cannot_be_run_together_is_one(text: str, inches: float) -> None:
    assert read(text, LENGTH) == pytest.approx(inches * INCH_MM)  # no inch rule has nought eighths, nor nine of them


def test_the_finest_fraction_and_the_longest_text_are_still_read() -> None:
    assert read("1/1024 in", LENGTH) == pytest.approx(INCH_MM / 1024)
    assert "with 1025 below the line" in refusal("1/1025 in")
    assert read("1" + " " * (LONGEST - 3) + "mm", LENGTH) == 1.0
    assert "characters long" in refusal("1" + " " * (LONGEST - 2) + "mm")


def test_a_hyphen_before_any_unit_is_none_of_the_number() -> None:
    assert read("45-N·m", QUANTITIES["torque"]) == read("45-Nm", QUANTITIES["torque"]) == 45.0


def test_a_converted_value_has_nine_decimals() -> None:
    assert read("0.123456789 in", LENGTH) == 3.135802441  # 0.123456789 x 25.4 = 3.1358024406
    assert read("14 tpi", QUANTITIES["pitch"]) == 1.814285714  # 25.4 / 14 = 1.8142857143


def test_bounds_count_for_whole_numbers_and_where_there_is_but_one() -> None:
    count = QUANTITIES["count"]
    assert [read(text, count, low=8, high=10) for text in ("8", "10")] == [8.0, 10.0]
    assert "no whole number" in refusal("8.5", count, low=8, high=10)
    assert "between 8 and 10" in refusal("7", count, low=8, high=10)
    bare = Quantity("x", "mm", "a length", "1", LENGTH.table)
    assert (read("150 mm", bare, low=150.0), read("200 mm", bare, low=150.0)) == (150.0, 200.0)


def test_a_refusal_shows_forty_characters_and_the_units_there_are() -> None:
    assert f"'{'x' * 40}' is not" in refusal("x" * 40)
    assert f"'{'x' * 40}…' is not" in refusal("x" * 41)
    for name, quantity in QUANTITIES.items():
        units = list(dict.fromkeys(quantity.short.values()))
        told = f"with its unit ({', '.join(units)})" in refusal("?", quantity)
        assert told is (len(units) > 1), name
    assert {len(set(one.short.values())) for one in QUANTITIES.values()} >= {1, 2}


def test_a_bare_number_means_the_unit_that_is_said_and_a_written_unit_wins() -> None:
    assert read("73.125", LENGTH, unit="in") == read(73.125, LENGTH, unit="Inches") == 1857.375
    assert read("92 mm", LENGTH, unit="in") == 92.0
    assert "'furlong' is no unit of it" in refusal("1857", unit="furlong")


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, 10**400, True, None, b"1857", 1j])
def test_what_is_no_number_is_refused(number: object) -> None:
    with pytest.raises(MeasurementError):
        read(number, LENGTH)  # type: ignore[arg-type] # a sheet can hold anything


def test_numbers_of_a_worksheet_are_read_as_they_are() -> None:
    numpy = pytest.importorskip("numpy")
    assert read(1857, LENGTH) == read(1857.0, LENGTH) == read(numpy.int64(1857), LENGTH) == 1857.0


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("14 tpi", "pitch", 25.4 / 14),
        ("14 threads per inch", "pitch", 25.4 / 14),
        ("14 TPI", "pitch", 25.4 / 14),
        ("14/in", "pitch", 25.4 / 14),
        ("11 1/2 tpi", "pitch", 25.4 / 11.5),
        ("1.5 mm", "pitch", 1.5),
        ("1,25", "pitch", 1.25),
        ("2100 1/min", "speed", 2100.0),
        ("2100/min", "speed", 2100.0),
        ("2,100 rpm", "speed", 2100.0),
        ("45 N·m", "torque", 45.0),
        ("45 N m", "torque", 45.0),
        ("45 nm", "torque", 45.0),
        ("0.6 Nm/deg", "torque rate", 0.6),
        ("0.6 N·m/°", "torque rate", 0.6),
        ("-40 °F", "temperature", -40.0),
        ("212 F", "temperature", 100.0),
        ("−20 ºC", "temperature", -20.0),
        ("45°", "angle", 45.0),
        ("180", "angle", 180.0),
        ("-30 deg", "angle", -30.0),
        ("8 ribs", "count", 8.0),
        ("8.0", "count", 8.0),
        ("50 %", "percent", 50.0),
        ("0", "percent", 0.0),
        ("90 min", "hours", 1.5),
        ("2 days", "lead time", 48.0),
        ("-3,5", "number", -3.5),
    ],
)
def test_the_other_quantities(text: str, name: str, value: float) -> None:
    assert read(text, QUANTITIES[name]) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "name", "why"),
    [
        ("14", "pitch", "threads per inch are written 14 tpi"),
        ("0 tpi", "pitch", "more than nothing"),
        ("-14 tpi", "pitch", "more than nothing"),
        ("8.5", "count", "no whole number"),
        ("0", "count", "more than nothing"),
        ("15 psia", "pressure", "'psia' is no unit of it"),
        ("1 day", "hours", "'day' is no unit of it"),
        ("-300 C", "temperature", "between -273.15 and 1500 degC"),
        ("-1 %", "percent", "between 0 and 1000 %"),
        ("45 mm", "angle", "'mm' is no unit of it"),
        ("14 tpi", "length", "'tpi' is no unit of it"),
    ],
)
def test_the_other_quantities_refuse(text: str, name: str, why: str) -> None:
    assert why in refusal(text, QUANTITIES[name])


@pytest.mark.parametrize("name", NAMES)
def test_every_example_and_every_spelling_is_read(name: str) -> None:
    quantity = QUANTITIES[name]
    for sample in quantity.example.split(" or "):
        read(sample, quantity)
        assert refusal("?", quantity).endswith(f"Example: {quantity.example}")
    for spelling in UNITS_OF[name]:
        unit = quantity.short[spelling]
        glued = "" if spelling[0].isdigit() else f"1{spelling}"
        for text in filter(None, (f"1 {spelling}", glued, f"1 {spelling.upper()}", f"1 {unit}")):
            if spelling in quantity.reciprocal or quantity.high is None or quantity.units[spelling][0] <= quantity.high:
                assert read(text, quantity, high=1e9) == read(1, quantity, unit=spelling, high=1e9)


def test_long_texts_are_refused_at_once_and_in_few_words() -> None:
    start = time.perf_counter()
    for text in ("9" * 10_000, "1 " * 5_000, "1/" * 5_000, "x" * 10_000, "½" * 10_000, "6' " * 3_000, "1," * 5_000):
        said = refusal(text)
        assert f"{len(text)} characters long" in said
        assert len(said) < 250
        unit_in_heading(text)
        found_in(text, LENGTH)
    # Quadratic searching would take minutes; the bound leaves room for a busy machine.
    assert time.perf_counter() - start < 5.0


@given(st.text(max_size=LONGEST + 5))
@example("1/-")
@example("1 1/")
@example("- ")
def test_any_text_is_a_number_within_bounds_or_a_refusal(text: str) -> None:
    for quantity in QUANTITIES.values():
        try:
            value = read(text, quantity)
        except MeasurementError:
            continue
        assert math.isfinite(value)
        assert value > 0 or not quantity.positive


@given(st.text(alphabet="0123456789 /.,'\"-½⅛infmt⁄′″+\u00a0", max_size=16), st.sampled_from([None, "in", "mm"]))
def test_texts_like_measurements_are_read_or_refused_the_same_with_spaces_around(text: str, unit: str | None) -> None:
    def outcome(one: str) -> float | str:
        try:
            return read(one, LENGTH, unit=unit)
        except MeasurementError:
            return "refused"

    assert outcome(text) == outcome(f"  {text}\u00a0")


@given(st.integers(0, 999), DENOMINATORS, st.data())
def test_fractions_are_exact(whole: int, bottom: int, data: st.DataObject) -> None:
    top = data.draw(st.integers(1, bottom - 1))
    exact = float((whole + Fraction(top, bottom)) * Fraction(254, 10))
    forms = [f"{whole} {top}/{bottom} in", f'{whole}-{top}/{bottom}"', f"{whole} {top}\u2044{bottom}″"]
    assert [read(form, LENGTH) for form in forms] == pytest.approx([exact] * 3, rel=0, abs=1e-9)


@given(st.integers(0, 99), st.integers(0, 11), DENOMINATORS, st.data())
def test_feet_and_inches_add_up(feet: int, inches: int, bottom: int, data: st.DataObject) -> None:
    top = data.draw(st.integers(1, bottom - 1))
    exact = float((12 * feet + inches + Fraction(top, bottom)) * Fraction(254, 10))
    for text in (f"{feet}' {inches}-{top}/{bottom}\"", f"{feet} ft {inches} {top}/{bottom} in"):
        assert read(text, LENGTH) == pytest.approx(exact, rel=0, abs=1e-9)


@given(st.integers(1, 999_999), st.integers(0, 99))
def test_thousands_are_read_as_the_formatter_of_python_sets_them(whole: int, hundredths: int) -> None:
    english = f"{whole:,}.{hundredths:02d} mm"
    german = english.translate(str.maketrans(",.", ".,"))
    spaced = english.replace(",", "\u202f")
    expected = float(f"{whole}.{hundredths:02d}")
    assert [read(text, LENGTH) for text in (english, german, spaced)] == [expected] * 3
    assert read(f"{whole:,} mm", LENGTH) == whole


@given(st.floats(0.8, 12_000), st.sampled_from([1, 2, 8, 16, 32, 64]))
def test_inches_come_back_within_half_a_step(mm: float, denominator: int) -> None:
    text = inches_text(mm, denominator)
    assert abs(read(text, LENGTH, low=0.0) - mm) <= INCH_MM / denominator / 2 + 1e-9


@given(st.floats(-12_000, 12_000), st.integers(0, 4))
def test_millimetres_come_back_within_half_a_step(mm: float, decimals: int) -> None:
    assert abs(read(millimetres_text(mm, decimals), LENGTH, low=-1e5) - mm) <= 0.5 * 10**-decimals + 1e-9


@given(st.floats(-12_000, 12_000))
def test_both_texts_stand_side_by_side(mm: float) -> None:
    assert both_text(mm) == f"{inches_text(mm)} ({millimetres_text(mm)})"
    assert both_text(mm, first="mm") == f"{millimetres_text(mm)} ({inches_text(mm)})"
    assert read(inches_text(-mm), LENGTH, low=-1e5) == -read(inches_text(mm), LENGTH, low=-1e5)


@pytest.mark.parametrize(
    ("mm", "text"),
    [(1857.375, "73 1/8 in"), (0.0, "0 in"), (-0.1, "0 in"), (25.4, "1 in"), (-12.7, "-1/2 in"), (-38.1, "-1 1/2 in"),
     (25.3, "1 in"), (1.5875, "1/16 in"), (23.8125, "15/16 in"), (19.05, "3/4 in")],
)  # fmt: skip
def test_inches_are_in_lowest_terms(mm: float, text: str) -> None:
    assert inches_text(mm) == text


def test_millimetres_have_no_idle_zeros() -> None:
    assert [millimetres_text(mm) for mm in (1857.375, 1857.0, 1857.04, -0.04, 100.0)] == [
        "1857.4 mm", "1857 mm", "1857 mm", "0 mm", "100 mm",
    ]  # fmt: skip


@pytest.mark.parametrize("write", [inches_text, millimetres_text, both_text])
def test_what_is_no_number_is_not_written(write: object) -> None:
    for bad in (math.nan, math.inf):
        with pytest.raises(ValueError, match="finite"):
            write(bad)  # type: ignore[operator] # each of the three


def test_every_vulgar_fraction_of_unicode_is_read() -> None:
    found = [chr(code) for code in range(0x110000) if "VULGAR FRACTION" in unicodedata.name(chr(code), "")]
    assert len(found) >= 19
    for character in found:
        # Values: the Unicode character database, through unicodedata.numeric.
        expected = pytest.approx((7 + unicodedata.numeric(character)) * INCH_MM, abs=1e-9)
        assert read(f"7{character} in", LENGTH) == read(f"7 {character}″", LENGTH) == expected
        assert found_in(f"hose 7{character} in", LENGTH)[0].value == expected


@pytest.mark.parametrize("space", [chr(code) for code in range(0x110000) if unicodedata.category(chr(code)) == "Zs"])
def test_every_space_of_unicode_separates(space: str) -> None:
    assert read(f"73{space}1/8{space}in", LENGTH) == 1857.375
    assert read(f"1{space}857{space}mm", LENGTH) == 1857.0
    assert found_in(f"8 rib{space}73{space}1/8{space}in", LENGTH)[0].value == 1857.375
