"""What a drive sheet holds, as typed objects, and what each of its keys may be.

Lengths are millimetres and angles degrees, as a person reads them off; positions are millimetres too, except in a
sheet that was read off a photo (``unit = "px"``), where they are pixels until a layout has found the scale.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from kb.fields import FACES
from kb.sheets.drive_tables import KeyForm


def _length(attribute: str, example: str, low: float | None = None, high: float | None = None) -> KeyForm:
    return KeyForm("length", attribute, low=low, high=high, example=example)


ROTATIONS = {
    "clockwise": "clockwise", "cw": "clockwise",
    "anticlockwise": "anticlockwise", "anti-clockwise": "anticlockwise", "counterclockwise": "anticlockwise",
    "counter-clockwise": "anticlockwise", "ccw": "anticlockwise",
}  # fmt: skip
UNITS = {
    "mm": "mm", "millimetres": "mm", "millimeters": "mm", "cm": "cm", "m": "m",
    "in": "in", "inch": "in", "inches": "in", '"': "in", "px": "px", "pixel": "px", "pixels": "px",
}  # fmt: skip
SHEET_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "name": KeyForm("text", "name", example='"Tender 4, fan plane"'),
    "profile": KeyForm("text", "profile", example='"PK"'),
    "ribs": KeyForm("count", "ribs", low=1, high=40, example="8"),
    "unit": KeyForm("choice", "unit", choices=UNITS, example='"in"'),
    "rotation": KeyForm("choice", "rotation", choices=ROTATIONS, example='"clockwise"'),
    "idle_rpm": KeyForm("speed", "idle_rpm", example="700"),
    "governed_rpm": KeyForm("speed", "governed_rpm", example="2100"),
    "belt_over_rim": _length("belt_over_rim_mm", '"2.5 mm"', 0.0, 30.0),
    "belt_thickness": _length("belt_thickness_mm", '"4.6 mm"', None, 60.0),
    "rim_climb": _length("rim_climb_mm", '"2.1 mm"', 0.0, 60.0),
    "pulley": KeyForm("table", "pulleys", example="[[pulley]]"),
    "distance": KeyForm("table", "distances", example="[[distance]]"),
    "doubt": KeyForm("table", "doubt", example="[doubt]"),
})  # fmt: skip
PULLEY_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "name": KeyForm("text", "name", example='"fan"'),
    "drives": KeyForm("text", "drives", example='"alternator"'),
    "face": KeyForm("choice", "face", choices=FACES, example='"grooved" or "flat"'),
    "outside_diameter": _length("outside_diameter_mm", "7.25", None, 2000.0),
    "effective_diameter": _length("effective_diameter_mm", '"8 in"', None, 2000.0),
    "over_balls": _length("over_balls_mm", '"204.2 mm"', None, 2000.0),
    "seen_diameter": KeyForm("number", "seen_diameter_px", low=0.001, high=1e5, example="312"),
    "grooves": KeyForm("count", "grooves", low=1, high=60, example="8"),
    "at": KeyForm("point", "at", example="[6.5, 4.75]"),
    "driver": KeyForm("yes", "driver", example="true"),
    "plane": _length("plane_mm", '"1 mm"', -1000.0, 1000.0),
    "tilt": KeyForm("angle", "tilt_deg", low=-45.0, high=45.0, example="0.3"),
    "slot": KeyForm("angle", "slot_deg", example="270"),
    "slot_travel": _length("slot_travel_mm", '"3/4 in"', None, 1000.0),
    "load_kw": KeyForm("power", "load_kw", low=0.0, example="18"),
    "flange": _length("flange_mm", '"2 mm"', 0.0, 100.0),
    "arm": KeyForm("table", "arm", example="[pulley.arm]"),
})  # fmt: skip
ARM_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "pivot": KeyForm("point", "pivot", example="[6.5, 4.75]"),
    "length": _length("length_mm", "3.5", None, 1000.0),
    "slack_stop": KeyForm("angle", "slack_stop_deg", example="71.7"),
    "free_stop": KeyForm("angle", "free_stop_deg", example="105.7"),
    "work_from": KeyForm("angle", "work_from_deg", example="80"),
    "work_to": KeyForm("angle", "work_to_deg", example="98"),
    "torque_nm": KeyForm("torque", "torque_nm", low=0.0, example="45"),
    "torque_at": KeyForm("angle", "torque_at_deg", example="90"),
    "rate_nm_per_deg": KeyForm("torque rate", "rate_nm_per_deg", low=0.0, example="0.6"),
    "damping": KeyForm("number", "damping", low=0.0, high=0.99, example="0.2"),
})  # fmt: skip
DISTANCE_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "between": KeyForm("table", "between", example='["crank", "fan"]'),
    "is": _length("distance_mm", '"14 3/8 in"', None, 10_000.0),
})  # fmt: skip
DOUBT_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "centre": _length("centre_mm", '"1 mm"', 0.0, 100.0),
    "diameter": _length("diameter_mm", '"0.3 mm"', 0.0, 100.0),
    "distance": _length("distance_mm", '"1.5 mm"', 0.0, 100.0),
    "arm": _length("arm_mm", '"0.5 mm"', 0.0, 100.0),
    "angle": KeyForm("angle", "angle_deg", low=0.0, high=45.0, example="2"),
    "belt": _length("belt_mm", '"4.5 mm"', 0.0, 100.0),
    "belt_over_rim": _length("belt_over_rim_mm", '"0.5 mm"', 0.0, 10.0),
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Doubts:
    """One standard deviation of each kind of measurement; the defaults are the sheet's."""

    centre_mm: float = 1.0
    diameter_mm: float = 0.3
    distance_mm: float = 1.5
    arm_mm: float = 0.5
    angle_deg: float = 2.0
    belt_mm: float = 4.5
    belt_over_rim_mm: float = 0.5


@dataclass(frozen=True, slots=True)
class ArmSheet:
    """A tensioner's arm. ``pivot_x`` and ``pivot_y`` are ``None`` where the pivot is taped, not given."""

    length_mm: float
    slack_stop_deg: float
    free_stop_deg: float
    pivot_x: float | None = None
    pivot_y: float | None = None
    work_from_deg: float | None = None
    work_to_deg: float | None = None
    torque_nm: float | None = None
    torque_at_deg: float | None = None
    rate_nm_per_deg: float | None = None
    damping: float | None = None


@dataclass(frozen=True, slots=True)
class PulleySheet:
    """One pulley as it was measured: exactly one of its three diameters is given."""

    name: str
    face: str
    outside_diameter_mm: float | None = None
    effective_diameter_mm: float | None = None
    over_balls_mm: float | None = None
    seen_diameter_px: float | None = None
    """Its diameter as a photo shows it: with its true diameter, the photo's scale."""
    grooves: int | None = None
    x: float | None = None
    y: float | None = None
    driver: bool = False
    drives: str | None = None
    """What turns on it, where the name does not say."""
    plane_mm: float | None = None
    tilt_deg: float | None = None
    slot_deg: float | None = None
    slot_travel_mm: float | None = None
    load_kw: float | None = None
    flange_mm: float | None = None
    arm: ArmSheet | None = None

    @property
    def point_name(self) -> str:
        """What its fixed point is called in tape distances: the pulley, or the pivot of the arm that it swings on."""
        return f"{self.name} pivot" if self.arm else self.name


@dataclass(frozen=True, slots=True)
class DistanceSheet:
    """A tape measurement between two fixed points, by the points' names."""

    first: str
    second: str
    distance_mm: float


@dataclass(frozen=True, slots=True)
class DriveSheet:
    """One drive as it was measured, and its text as it was written."""

    name: str
    profile: str
    ribs: int | None
    unit: str
    rotation: str | None
    idle_rpm: float | None
    governed_rpm: float | None
    belt_over_rim_mm: float | None
    belt_thickness_mm: float | None
    rim_climb_mm: float | None
    pulleys: tuple[PulleySheet, ...]
    distances: tuple[DistanceSheet, ...]
    doubt: Doubts
    text: str = field(repr=False)
    source: str
    assumed: tuple[str, ...] = ()
    """What the sheet left open and was filled in, in words."""

    @property
    def driver_index(self) -> int:
        """Where in the belt order the driver stands."""
        return next(place for place, one in enumerate(self.pulleys) if one.driver)

    @property
    def arm_index(self) -> int | None:
        """Where in the belt order the pulley on the tensioner's arm stands; ``None`` without one."""
        return next((place for place, one in enumerate(self.pulleys) if one.arm), None)

    @property
    def points(self) -> tuple[tuple[str, float | None, float | None], ...]:
        """The fixed points in belt order: name, x, y; of a pulley on an arm, the pivot."""
        return tuple(
            (one.point_name, one.arm.pivot_x, one.arm.pivot_y) if one.arm else (one.name, one.x, one.y)
            for one in self.pulleys
        )
