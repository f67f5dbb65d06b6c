"""The quantities that are measured in a shop, and the units they are written in.

Scales are exact by definition: the inch is 25.4 mm, the pound-force 4.4482216152605 N, the US gallon 231 cubic inches
(NIST Special Publication 811, 2008 edition, appendix B).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

_INCH_MM = 25.4
_POUND_FORCE_N = 4.4482216152605
_PSI_KPA = _POUND_FORCE_N / (_INCH_MM * _INCH_MM) * 1000.0
_GALLON_L = 231 * 2.54**3 / 1000
_POUND_G = 453.59237


@dataclass(frozen=True, slots=True)
class Quantity:
    """Something that is measured: ``unit`` is how it is kept, ``units`` maps spellings to (scale, offset) into it."""

    name: str
    unit: str
    units: Mapping[str, tuple[float, float]]
    example: str
    low: float | None = None
    high: float | None = None
    whole: bool = False
    positive: bool = True
    """Zero and less make no sense, unless a field's own lower bound allows them."""
    spellings: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "spellings", frozenset(self.units))


def _units(**scales: float) -> dict[str, tuple[float, float]]:
    return {name: (scale, 0.0) for name, scale in scales.items()}


def _also(units: dict[str, tuple[float, float]], **same: str) -> dict[str, tuple[float, float]]:
    """Add other spellings: ``inch="in"`` reads as *inch is the same as in*."""
    return {**units, **{name: units[base] for name, base in same.items()}}


LENGTH = Quantity(
    "length", "mm",
    _also(
        {**_units(mm=1.0, cm=10.0, m=1000.0, ft=12 * _INCH_MM), "in": (_INCH_MM, 0.0), '"': (_INCH_MM, 0.0),
         "'": (12 * _INCH_MM, 0.0)},
        inch="in", inches="in", ins="in", zoll="in", millimetre="mm", millimetres="mm", millimeter="mm",
        millimeters="mm", mms="mm", centimetre="cm", centimetres="cm", centimeter="cm", centimeters="cm",
        metre="m", metres="m", meter="m", meters="m", foot="ft", feet="ft",
    ),
    "73 1/8 in", high=1_000_000.0,
)  # fmt: skip
ANGLE = Quantity(
    "angle", "deg", _also({"deg": (1.0, 0.0), "rad": (57.29577951308232, 0.0)}, degree="deg", degrees="deg", grad="deg")
    | {"°": (1.0, 0.0)},
    "45", low=-360.0, high=360.0, positive=False,
)  # fmt: skip
TEMPERATURE = Quantity(
    "temperature", "degC",
    {"degc": (1.0, 0.0), "c": (1.0, 0.0), "°c": (1.0, 0.0), "degf": (5 / 9, -160 / 9), "f": (5 / 9, -160 / 9),
     "°f": (5 / 9, -160 / 9)},
    "90 C", low=-273.15, high=1500.0, positive=False,
)  # fmt: skip
PRESSURE = Quantity(
    "pressure", "kPa",
    _also(_units(kpa=1.0, pa=0.001, mpa=1000.0, bar=100.0, psi=_PSI_KPA, inhg=3.386389, mmhg=0.133322387415),
          psig="psi", kgcm2="kpa") | {"kg/cm2": (98.0665, 0.0), "kgcm2": (98.0665, 0.0), "lb/in2": (_PSI_KPA, 0.0)},
    "15 psi", high=1_000_000.0,
)  # fmt: skip
TORQUE = Quantity(
    "torque", "Nm",
    _also(_units(nm=1.0, lbft=_POUND_FORCE_N * 0.3048, lbin=_POUND_FORCE_N * 0.0254),
          ftlb="lbft", ftlbs="lbft", inlb="lbin", inlbs="lbin", lbfft="lbft", lbfin="lbin")
    | {"n m": (1.0, 0.0), "n·m": (1.0, 0.0), "lbf ft": (_POUND_FORCE_N * 0.3048, 0.0),
       "ft lb": (_POUND_FORCE_N * 0.3048, 0.0), "lb ft": (_POUND_FORCE_N * 0.3048, 0.0),
       "ft-lb": (_POUND_FORCE_N * 0.3048, 0.0)},
    "45 Nm", high=100_000.0,
)  # fmt: skip
TORQUE_RATE = Quantity(
    "torque rate", "Nm per deg", {"nm/deg": (1.0, 0.0), "nm per deg": (1.0, 0.0), "nm/°": (1.0, 0.0)}, "0.6",
    high=1000.0,
)  # fmt: skip
POWER = Quantity("power", "kW", _units(kw=1.0, w=0.001, hp=0.745699871582270), "18 kW", high=10_000.0)
MASS = Quantity(
    "mass", "g", _also(_units(g=1.0, kg=1000.0, lb=_POUND_G, oz=_POUND_G / 16), lbs="lb"), "450 g", high=1e8
)
VOLUME = Quantity(
    "volume", "L",
    _also(_units(l=1.0, ml=0.001, gal=_GALLON_L, qt=_GALLON_L / 4, pt=_GALLON_L / 8),
          litre="l", litres="l", liter="l", liters="l", gallon="gal", gallons="gal", quart="qt", quarts="qt"),
    "28 L", high=100_000.0,
)  # fmt: skip
HOURS = Quantity(
    "hours", "h",
    _also(_units(h=1.0, min=1 / 60, d=24.0), hour="h", hours="h", hr="h", hrs="h", minute="min", minutes="min",
          mins="min", day="d", days="d"),
    "1.5", positive=False, low=0.0, high=100_000.0,
)  # fmt: skip
SPEED = Quantity("speed", "rpm", _also(_units(rpm=1.0), rev="rpm") | {"1/min": (1.0, 0.0)}, "2100 rpm", high=100_000.0)
FREQUENCY = Quantity("frequency", "Hz", _units(hz=1.0, khz=1000.0), "60 Hz", high=1e6)
VOLTAGE = Quantity("voltage", "V", _also(_units(v=1.0, mv=0.001), volt="v", volts="v"), "14.2 V", high=1000.0)
PERCENT = Quantity("percent", "%", {"%": (1.0, 0.0), "percent": (1.0, 0.0)}, "50 %", low=0.0, positive=False)
COUNT = Quantity(
    "count", "", _also(_units(ribs=1.0), rib="ribs", grooves="ribs", holes="ribs", pcs="ribs"), "8", high=1e6, whole=True
)
NUMBER = Quantity("number", "", {}, "12.5", positive=False)
PITCH = Quantity("pitch", "mm", {"mm": (1.0, 0.0)}, "14 tpi or 1.5 mm", high=100.0)
"""The distance from thread to thread; :func:`kb.measure.read` also takes threads per inch."""

QUANTITIES: dict[str, Quantity] = {
    one.name: one
    for one in (
        LENGTH, ANGLE, TEMPERATURE, PRESSURE, TORQUE, TORQUE_RATE, POWER, MASS, VOLUME, HOURS, SPEED, FREQUENCY,
        VOLTAGE, PERCENT, COUNT, NUMBER, PITCH,
    )
}  # fmt: skip
UNITS_OF: dict[str, frozenset[str]] = {name: one.spellings for name, one in QUANTITIES.items()}
