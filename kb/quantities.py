"""The quantities that are measured in a shop, and the units they are written in.

A unit is declared once: its short name, its scale into the unit the number is kept in, and its other spellings in lower
case. A full stop inside a spelling stands for a space, a dot, a hyphen or nothing: ``lbf.ft`` is also ``lbf-ft``.

Scales are those of NIST Special Publication 811 (2008), appendix B: the inch is 25.4 mm, the pound 453.59237 g, the
pound-force 4.4482216152605 N, the US gallon 231 cubic inches, all exact; the conventional inch of mercury 3.386389 kPa.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

_INCH_MM = 25.4
_POUND_FORCE_N = 4.4482216152605
_PSI_KPA = _POUND_FORCE_N / (_INCH_MM * _INCH_MM) * 1000.0
_FOOT_POUND_NM = _POUND_FORCE_N * 0.3048
_INCH_POUND_NM = _POUND_FORCE_N * 0.0254
_GALLON_L = 231 * 2.54**3 / 1000
_POUND_G = 453.59237
_HORSEPOWER_KW = 550 * _FOOT_POUND_NM / 1000


@dataclass(frozen=True, slots=True, eq=False)
class Quantity:
    """Something that is measured; ``unit`` is how its number is kept, ``said`` how a sentence calls it.

    ``table`` and ``inverse`` declare the units. From them, by spelling in lower case and without separators: ``units``
    gives (scale, offset) into ``unit``; ``reciprocal`` gives the dividend for units that count how many go into a
    length, as threads per inch do. ``low`` and ``high`` are physical bounds, in ``unit``; a field's own replace them.
    """

    name: str
    unit: str
    said: str
    example: str
    table: Mapping[str, tuple[float, float, str]]
    low: float | None = None
    high: float | None = None
    whole: bool = False
    positive: bool = True
    """Zero and less make no sense, unless a lower bound says otherwise."""
    needs_unit: bool = False
    """A bare number is refused: people mean one of several units by it, and a wrong guess is not seen in the answer."""
    inverse: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    either_comma: frozenset[str] = frozenset()
    """Units seldom counted in thousands: ``6,125 in`` could be 6125 or 6.125, and is refused."""
    decimal_units: frozenset[str] = frozenset()
    """Units that nobody writes in fractions: a bare ``73 1/8`` is not taken for one of these."""
    units: Mapping[str, tuple[float, float]] = field(init=False)
    reciprocal: Mapping[str, float] = field(init=False)
    short: Mapping[str, str] = field(init=False)
    """Every spelling with the short name of its unit, as people read it: ``inches`` is ``in``."""
    jointed: frozenset[str] = field(init=False)
    """The spellings that may have separators inside."""
    written: tuple[str, ...] = field(init=False)
    """Every spelling as declared, longest first."""

    def __post_init__(self) -> None:
        units: dict[str, tuple[float, float]] = {}
        reciprocal: dict[str, float] = {}
        short: dict[str, str] = {}
        written: list[str] = []
        for name, (scale, offset, others) in self.table.items():
            for spelling in (name.casefold(), *others.split()):
                written.append(spelling)
                units[spelling.replace(".", "")] = (scale, offset)
                short[spelling.replace(".", "")] = name.replace(".", " ")
        for name, (dividend, others) in self.inverse.items():
            for spelling in (name, *others.split()):
                written.append(spelling)
                reciprocal[spelling.replace(".", "")] = dividend
                short[spelling.replace(".", "")] = name
        object.__setattr__(self, "units", units)
        object.__setattr__(self, "reciprocal", reciprocal)
        object.__setattr__(self, "short", short)
        object.__setattr__(self, "jointed", frozenset(one.replace(".", "") for one in written if "." in one))
        object.__setattr__(self, "written", tuple(sorted(written, key=lambda one: (-len(one), one))))


LENGTH = Quantity(
    "length", "mm", "a length", "73 1/8 in",
    {
        "mm": (1.0, 0.0, "mms millimetre millimetres millimeter millimeters"),
        "cm": (10.0, 0.0, "cms centimetre centimetres centimeter centimeters"),
        "m": (1000.0, 0.0, "metre metres meter meters"),
        "in": (_INCH_MM, 0.0, '" ins inch inches zoll'),
        "ft": (12 * _INCH_MM, 0.0, "' foot feet"),
    },
    high=1_000_000.0,
    either_comma=frozenset({"cm", "m", "in", "ft"}), decimal_units=frozenset({"mm", "cm", "m"}),
)  # fmt: skip
ALTITUDE = Quantity(
    "altitude", "m", "an altitude", "5,000 ft",
    {"m": (1.0, 0.0, "metre metres meter meters"), "ft": (0.3048, 0.0, "' foot feet")},
    low=-500.0, high=6000.0, positive=False, needs_unit=True,
)  # fmt: skip
"""Height above the sea, which is counted in thousands: ``5,000 ft`` is five thousand. ``5000`` alone is feet in one shop
and metres in the next, and would draw half as much into a vacuum fill."""
ANGLE = Quantity(
    "angle", "deg", "an angle", "45 deg",
    {"deg": (1.0, 0.0, "° degree degrees degs grad"), "rad": (math.degrees(1.0), 0.0, "radian radians")},
    low=-360.0, high=360.0, positive=False, either_comma=frozenset({"deg", "rad"}),
)  # fmt: skip
TEMPERATURE = Quantity(
    "temperature", "degC", "a temperature", "90 C",
    {
        "degC": (1.0, 0.0, "c °.c deg.c celsius"),
        "degF": (5 / 9, -160 / 9, "f °.f deg.f fahrenheit"),
    },
    low=-273.15, high=1500.0, positive=False,
)  # fmt: skip
PRESSURE = Quantity(
    "pressure", "kPa", "a pressure", "15 psi",
    {
        "kPa": (1.0, 0.0, ""),
        "Pa": (0.001, 0.0, ""),
        "MPa": (1000.0, 0.0, ""),
        "bar": (100.0, 0.0, "bars barg bar.g bar.gauge"),
        "mbar": (0.1, 0.0, ""),
        "psi": (_PSI_KPA, 0.0, "psig psi.g psi.gauge lb/in2 lbf/in2"),
        "inHg": (3.386389, 0.0, 'in.hg "hg ".hg'),
        "mmHg": (0.133322387415, 0.0, "mm.hg"),
        "kg/cm2": (98.0665, 0.0, "kgf/cm2 kp/cm2"),
    },
    high=1_000_000.0, either_comma=frozenset({"bar", "MPa"}),
)  # fmt: skip
"""A pressure as gauges show it, above or below the air outside, or a difference of two.

Absolute units (``psia``, ``bara``) are no units of it: reading them as plain psi would be wrong by an atmosphere.
"""
TORQUE = Quantity(
    "torque", "Nm", "a torque", "45 Nm",
    {
        "Nm": (1.0, 0.0, "n.m newton.metre newton.metres newton.meter newton.meters"),
        "lbf.ft": (_FOOT_POUND_NM, 0.0, "ft.lbf lb.ft lbs.ft ft.lb ft.lbs foot.pound foot.pounds"),
        "lbf.in": (_INCH_POUND_NM, 0.0, "in.lbf lb.in lbs.in in.lb in.lbs inch.pound inch.pounds"),
    },
    high=100_000.0,
)  # fmt: skip
TORQUE_RATE = Quantity(
    "torque rate", "Nm per deg", "a torque rate", "0.6 Nm/deg",
    {
        "Nm/deg": (1.0, 0.0, "n.m/deg nm/° n.m/° nm.per.deg nm.per.degree n.m.per.deg n.m.per.degree"),
        "lbf.ft/deg": (_FOOT_POUND_NM, 0.0, "ft.lb/deg lb.ft/deg lbf.ft.per.deg ft.lb.per.degree"),
        "lbf.in/deg": (_INCH_POUND_NM, 0.0, "in.lb/deg lb.in/deg lbf.in.per.deg in.lb.per.degree"),
    },
    high=1000.0,
)  # fmt: skip
POWER = Quantity(
    "power", "kW", "a power", "18 kW",
    {
        "kW": (1.0, 0.0, ""),
        "W": (0.001, 0.0, "watt watts"),
        "hp": (_HORSEPOWER_KW, 0.0, "bhp"),
        "PS": (0.73549875, 0.0, ""),
    },
    high=10_000.0, either_comma=frozenset({"kW"}),
)  # fmt: skip
MASS = Quantity(
    "mass", "g", "a mass", "450 g",
    {
        "g": (1.0, 0.0, "gram grams gramme grammes"),
        "kg": (1000.0, 0.0, "kgs kilogram kilograms kilo"),
        "lb": (_POUND_G, 0.0, "lbs pound pounds"),
        "oz": (_POUND_G / 16, 0.0, "ounce ounces"),
    },
    high=1e8, either_comma=frozenset({"kg", "lb", "oz"}),
)  # fmt: skip
VOLUME = Quantity(
    "volume", "L", "a volume", "28 L",
    {
        "L": (1.0, 0.0, "ltr litre litres liter liters"),
        "mL": (0.001, 0.0, "cc cm3"),
        "gal": (_GALLON_L, 0.0, "gals gallon gallons us.gal gal.us us.gallon us.gallons"),
        "qt": (_GALLON_L / 4, 0.0, "qts quart quarts us.qt qt.us us.quart us.quarts"),
        "pt": (_GALLON_L / 8, 0.0, "pts pint pints us.pt"),
        "fl.oz": (_GALLON_L / 128, 0.0, ""),
        "imp.gal": (4.54609, 0.0, "imperial.gallon imperial.gallons"),
    },
    high=100_000.0, either_comma=frozenset({"L", "gal", "qt", "pt"}),
)  # fmt: skip
"""Gallons, quarts and pints are those of the United States, unless the text says imperial."""
HOURS = Quantity(
    "hours", "h", "a time in hours", "1.5 h",
    {
        "h": (1.0, 0.0, "hour hours hr hrs std stunden"),
        "min": (1 / 60, 0.0, "mins minute minutes"),
    },
    positive=False, low=0.0, high=100_000.0, either_comma=frozenset({"h"}),
)  # fmt: skip
"""Hours at work. A day is no unit of it: a mechanic's day has eight hours, a courier's twenty-four."""
LEAD_TIME = Quantity(
    "lead time", "h", "a lead time in hours", "2 days",
    {
        "h": (1.0, 0.0, "hour hours hr hrs std stunden"),
        "min": (1 / 60, 0.0, "mins minute minutes"),
        "d": (24.0, 0.0, "day days tag tage"),
        "wk": (168.0, 0.0, "week weeks wks woche wochen"),
    },
    positive=False, low=0.0, high=100_000.0, either_comma=frozenset({"h", "d", "wk"}),
)  # fmt: skip
"""Time by the clock, nights and weekends included."""
SPEED = Quantity(
    "speed", "rpm", "a speed", "2100 rpm",
    {"rpm": (1.0, 0.0, "1/min /min min.1 r/min rev/min u/min rev revs")}, high=100_000.0,
)  # fmt: skip
FREQUENCY = Quantity(
    "frequency", "Hz", "a frequency", "60 Hz", {"Hz": (1.0, 0.0, "hertz"), "kHz": (1000.0, 0.0, "")}, high=1e6
)
VOLTAGE = Quantity(
    "voltage", "V", "a voltage", "14.2 V", {"V": (1.0, 0.0, "volt volts vdc"), "mV": (0.001, 0.0, "")}, high=1000.0
)
PERCENT = Quantity(
    "percent", "%", "a percentage", "50 %", {"%": (1.0, 0.0, "percent pct")}, low=0.0, high=1000.0, positive=False
)
COUNT = Quantity(
    "count", "", "a whole number", "8",
    {"ribs": (1.0, 0.0, "rib groove grooves hole holes pc pcs piece pieces off")}, high=1e6, whole=True,
)  # fmt: skip
NUMBER = Quantity("number", "", "a number", "12.5", {}, positive=False)
PITCH = Quantity(
    "pitch", "mm", "a thread pitch", "14 tpi or 1.5 mm",
    {"mm": (1.0, 0.0, "millimetre millimetres millimeter millimeters"), "in": (_INCH_MM, 0.0, '" inch inches')},
    inverse={"tpi": (_INCH_MM, "threads.per.inch thread.per.inch threads/inch threads/in per.inch /in /inch /\"")},
    high=7.5, either_comma=frozenset({"mm", "in"}),
)  # fmt: skip
"""The distance from thread to thread; also read from threads per inch.

Above 7.5 mm a bare number is a count of threads per inch whose unit was left out, and is refused: the coarse series of
ISO 261 ends at 6 mm for its largest thread here, M64 (from memory), and 8 threads per inch is the next thing written.
"""

QUANTITIES: Mapping[str, Quantity] = {
    one.name: one
    for one in (
        LENGTH, ALTITUDE, ANGLE, TEMPERATURE, PRESSURE, TORQUE, TORQUE_RATE, POWER, MASS, VOLUME, HOURS, LEAD_TIME, SPEED,
        FREQUENCY, VOLTAGE, PERCENT, COUNT, NUMBER, PITCH,
    )
}  # fmt: skip
UNITS_OF: Mapping[str, frozenset[str]] = {
    name: frozenset(one.units) | frozenset(one.reciprocal) for name, one in QUANTITIES.items()
}
"""Of each quantity the spellings of its units, in lower case and without spaces."""
