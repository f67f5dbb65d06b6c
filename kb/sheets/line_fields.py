"""What a line sheet holds, as typed objects, and what each of its keys may be.

Lengths are millimetres, angles degrees as a person reads them off, pressures kPa gauge as printed on parts. Places are
x to the right, y up and z forward, seen from the front of the machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from kb.fields import END_FORMS, SERVICES
from kb.mechanics.space import Vector
from kb.sheets.drive_tables import KeyForm

SIDES: Mapping[str, Vector] = MappingProxyType({
    "right": (1.0, 0.0, 0.0), "left": (-1.0, 0.0, 0.0), "up": (0.0, 1.0, 0.0), "down": (0.0, -1.0, 0.0),
    "forward": (0.0, 0.0, 1.0), "back": (0.0, 0.0, -1.0),
})  # fmt: skip
"""Directions in words."""
UNITS = {"mm": "mm", "millimetres": "mm", "millimeters": "mm", "cm": "cm", "m": "m", "in": "in", "inch": "in",
         "inches": "in", '"': "in"}  # fmt: skip
SHARPEST_DEG = 175.0
"""No single corner of a hose or line turns further."""


def _length(attribute: str, example: str, low: float | None = None, high: float | None = 100_000.0) -> KeyForm:
    return KeyForm("length", attribute, low=low, high=high, example=example)


SHEET_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "name": KeyForm("text", "name", example='"Tender 4, compressor to condenser"'),
    "machine": KeyForm("text", "machine", example='"Water tender 4"'),
    "service": KeyForm("choice", "service", choices=SERVICES, example='"coolant"'),
    "unit": KeyForm("choice", "unit", choices=UNITS, example='"in"'),
    "quantity": KeyForm("count", "quantity", low=1, high=1000, example="1"),
    "hose": KeyForm("text", "hose", example='"barrier refrigerant hose"'),
    "hose_inside": _length("hose_inside_mm", '"13/32 in"', None, 300.0),
    "hose_outside": _length("hose_outside_mm", '"0.94 in"', None, 320.0),
    "min_bend_radius": _length("min_bend_radius_mm", '"3 in"', None, 5000.0),
    "movement": _length("movement_mm", '"1/2 in"', 0.0, 1000.0),
    "shortening": KeyForm("percent", "shortening_percent", low=0.0, high=10.0, example='"4 %"'),
    "old_length": _length("old_length_mm", '"31 in"'),
    "length_tolerance": _length("length_tolerance_mm", '"1/4 in"', None, 500.0),
    "pressure": KeyForm("pressure", "pressure_kpa", low=0.0, example='"350 psi"'),
    "temperature": KeyForm("temperature", "temperature_c", low=-60.0, high=400.0, example='"120 C"'),
    "notes": KeyForm("text", "notes", example='"sleeve it over the frame rail"'),
    "end": KeyForm("table", "ends", example="[[end]]"),
    "point": KeyForm("table", "points", example="[[point]]"),
    "run": KeyForm("table", "runs", example="[[run]]"),
    "keep_clear": KeyForm("table", "keep_clear", example="[[keep_clear]]"),
})  # fmt: skip
END_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "name": KeyForm("text", "name", example='"compressor"'),
    "form": KeyForm("choice", "form", choices=END_FORMS, example='"female"'),
    "thread": KeyForm("text", "thread", example='"3/4-16"'),
    "standard": KeyForm("text", "standard", example='"ORB"'),
    "dash": KeyForm("text", "dash", example='"-8"'),
    "seat": KeyForm("angle", "seat_deg", low=1.0, high=90.0, example="37"),
    "stub": _length("stub_mm", '"1 1/2 in"', None, 300.0),
    "angle": KeyForm("angle", "angle_deg", low=0.0, high=120.0, example="90 for an elbow, 0 for a straight end"),
    "faces": KeyForm("direction", "faces", example='"up" or [0, 0, 1], where its seat points'),
    "cut_off": _length("cut_off_mm", '"1.2 in"', 0.0, 1000.0),
    "drop": _length("drop_mm", '"1 1/8 in"', 0.0, 1000.0),
    "part_no": KeyForm("text", "part_no", example='"00123"'),
})  # fmt: skip
POINT_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "at": KeyForm("space", "at", example="[4, 2.5, 0]"),
    "height": _length("height_mm", '"12 in"', -100_000.0),
    "place": KeyForm("count", "place", low=1, high=100, example="3"),
    "end": KeyForm("text", "end", example='"near" or "far"'),
    "name": KeyForm("text", "name", example='"over the frame rail"'),
})  # fmt: skip
RUN_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "length": _length("length_mm", '"10 in"'),
    "toward": KeyForm("direction", "toward", example='"forward" or [1, 1, 0]'),
    "bend": KeyForm("angle", "bend_deg", low=0.1, high=SHARPEST_DEG, example="90 (a U is two bends of 90)"),
    "turning": KeyForm("direction", "turning", example='"up"'),
    "twist": KeyForm("angle", "twist_deg", example="90"),
})  # fmt: skip
KEEP_CLEAR_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "name": KeyForm("text", "name", example='"exhaust manifold"'),
    "at": KeyForm("space", "at", example="[4, 2, 0]"),
    "from": KeyForm("space", "start", example="[4, 2, 0]"),
    "to": KeyForm("space", "end", example="[9, 2, 0]"),
    "across": _length("across_mm", '"2 in"', 0.0, 5000.0),
    "by": _length("by_mm", '"1 in"', 0.0, 5000.0),
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class EndSheet:
    """One end: what it screws or pushes onto, its angle between hose and seat, and where its seat points."""

    name: str
    form: str | None = None
    thread: str | None = None
    standard: str | None = None
    dash: str | None = None
    seat_deg: float | None = None
    stub_mm: float | None = None
    """The outside diameter of the stub that a plain hose end is clamped on."""
    angle_deg: float = 0.0
    faces: Vector | None = None
    """Unit vector from the reference point to the seat; ``None`` where the sheet does not say."""
    cut_off_mm: float | None = None
    """What the fitting itself takes of the order length; 0 for a plain hose end."""
    drop_mm: float | None = None
    """Of an elbow, from the hose's axis to the seat."""
    part_no: str | None = None

    @property
    def is_elbow(self) -> bool:
        """Whether the seat points elsewhere than along the hose."""
        return self.angle_deg > 0.0


@dataclass(frozen=True, slots=True)
class KeepClear:
    """A point, or a straight piece ``across_mm`` thick, and how far the hose's outside must stay from its surface."""

    name: str
    start: Vector
    end: Vector
    by_mm: float
    across_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class LineSheet:
    """One hose or line as it was measured, and its text as it was written."""

    name: str
    service: str | None
    unit: str
    ends: tuple[EndSheet, EndSheet]
    points: tuple[Vector, ...]
    """Corners of the centre line in their order; the first and last are the ends' reference points."""
    point_names: tuple[str, ...]
    order_said: str
    """How the points came to their order, in words."""
    order_lead_mm: float | None = None
    """Of points put in order here: how much longer the next best chain is."""
    machine: str | None = None
    quantity: int = 1
    hose: str | None = None
    hose_inside_mm: float | None = None
    hose_outside_mm: float | None = None
    min_bend_radius_mm: float | None = None
    """To the inside of the bend, as hose tables give it."""
    movement_mm: float = 0.0
    shortening_percent: float = 0.0
    old_length_mm: float | None = None
    length_tolerance_mm: float | None = None
    pressure_kpa: float | None = None
    temperature_c: float | None = None
    notes: str | None = None
    keep_clear: tuple[KeepClear, ...] = ()
    text: str = field(default="", repr=False)
    source: str = "line sheet"

    @property
    def centre_radius_mm(self) -> float:
        """The radius to the hose's centre line: to the inside of the bend, and half the outside diameter."""
        return (self.min_bend_radius_mm or 0.0) + (self.hose_outside_mm or 0.0) / 2
