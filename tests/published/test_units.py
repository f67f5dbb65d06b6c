"""Every unit's scale, against pint and against the conversion factors of NIST Special Publication 811."""

from __future__ import annotations

import pint
import pytest

from kb.measure import QUANTITIES, read

# Source: pint, an open library of units (PyPI); its definitions are independent of ours. Our unit: its name there.
PINT_NAMES = {
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "ft": "foot",
    "deg": "degree", "rad": "radian", "degC": "degC", "degF": "degF",
    "kPa": "kilopascal", "Pa": "pascal", "MPa": "megapascal", "bar": "bar", "mbar": "millibar", "psi": "psi",
    "inHg": "inch_Hg", "mmHg": "mmHg", "kg/cm2": "kilogram_force / centimeter ** 2",
    "Nm": "newton * meter", "lbf ft": "pound_force * foot", "lbf in": "pound_force * inch",
    "Nm/deg": "newton * meter / degree", "lbf ft/deg": "pound_force * foot / degree",
    "lbf in/deg": "pound_force * inch / degree",
    "kW": "kilowatt", "W": "watt", "hp": "horsepower", "PS": "metric_horsepower",
    "g": "gram", "kg": "kilogram", "lb": "pound", "oz": "ounce",
    "L": "liter", "mL": "milliliter", "gal": "gallon", "qt": "quart", "pt": "pint", "fl oz": "fluid_ounce",
    "imp gal": "imperial_gallon", "h": "hour", "min": "minute", "d": "day", "wk": "week",
    "rpm": "revolution / minute", "Hz": "hertz", "kHz": "kilohertz", "V": "volt", "mV": "millivolt", "%": "percent",
}  # fmt: skip
OWN_UNIT = {"torque rate": "Nm/deg", "percent": "%"}
COUNTED = {"count", "number"}
CASES = [
    (name, spelling)
    for name, quantity in QUANTITIES.items()
    if name not in COUNTED
    for spelling in sorted(quantity.units)
]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize(("name", "spelling"), CASES)
def test_every_spelling_scales_as_in_pint(registry: pint.UnitRegistry[float], name: str, spelling: str) -> None:
    quantity = QUANTITIES[name]
    theirs = registry.Unit(PINT_NAMES[quantity.short[spelling]])
    ours = registry.Unit(PINT_NAMES[OWN_UNIT.get(name, quantity.unit)])
    for number in (0.5, 1.0, 7.0):
        expected = registry.Quantity(number, theirs).to(ours).magnitude
        # The conventional inch of mercury is rounded at the seventh digit; all else is exact but for the last bits.
        relative = 2e-7 if quantity.short[spelling] == "inHg" else 1e-12
        value = read(f"{number} {spelling}", quantity, low=-1e9, high=1e9)
        assert value == pytest.approx(expected, rel=relative, abs=1e-9)


# Source: NIST Special Publication 811 (2008), appendix B.8, factors to SI as printed there to seven digits. Copied from
# memory, and each agreed with by pint above.
NIST = [
    ("1 in", "length", 25.4),
    ("1 ft", "length", 304.8),
    ("1 psi", "pressure", 6.894757),
    ("1 inHg", "pressure", 3.386389),
    ("1 mmHg", "pressure", 0.1333224),
    ("1 bar", "pressure", 100.0),
    ("1 kgf/cm2", "pressure", 98.0665),
    ("1 lbf ft", "torque", 1.355818),
    ("1 lbf in", "torque", 0.1129848),
    ("1 hp", "power", 0.7456999),
    ("1 PS", "power", 0.7354988),
    ("1 lb", "mass", 453.5924),
    ("1 oz", "mass", 28.34952),
    ("1 US gal", "volume", 3.785412),
    ("1 qt", "volume", 0.9463529),
    ("1 pt", "volume", 0.4731765),
    ("1 fl oz", "volume", 0.02957353),
    ("1 imp gal", "volume", 4.54609),
]


@pytest.mark.parametrize(("text", "name", "factor"), NIST)
def test_factors_as_printed_by_nist(text: str, name: str, factor: float) -> None:
    assert read(text, QUANTITIES[name]) == pytest.approx(factor, rel=5e-7)  # half a unit in the seventh digit


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    # Source: t(F) = 1.8 t(C) + 32 (NIST SP 811, B.8): ice, steam, and where the scales meet.
    [(32, 0.0), (212, 100.0), (-40, -40.0)],
)
def test_fahrenheit_has_its_fixed_points(fahrenheit: int, celsius: float) -> None:
    assert read(f"{fahrenheit} °F", QUANTITIES["temperature"]) == pytest.approx(celsius, abs=1e-9)


def test_threads_per_inch_and_pitch_are_reciprocal(registry: pint.UnitRegistry[float]) -> None:
    for count in (8, 11, 11.5, 14, 18, 20, 27):
        expected = (1 / registry.Quantity(count, "1 / inch")).to("millimeter").magnitude
        assert read(f"{count} tpi", QUANTITIES["pitch"]) == pytest.approx(expected, abs=1e-9)
