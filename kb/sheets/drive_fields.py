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
    "belt_length": _length("belt_length_mm", '"73 1/8 in"', 100.0, 20_000.0),
    "belt_width": _length("belt_width_mm", '"28.5 mm"', 1.0, 500.0),
    "belt_plane": _length("belt_plane_mm", '"52 mm"', -3000.0, 3000.0),
    "belt_mass_kg_per_m": KeyForm("number", "belt_mass_kg_per_m", low=0.001, high=20.0, example="0.15"),
    "tension_n": KeyForm("number", "tension_n", low=1.0, high=50_000.0, example="550"),
    "friction": KeyForm("number", "friction", low=0.01, high=2.0, example="0.3"),
    "groove_angle": KeyForm("angle", "groove_angle_deg", low=20.0, high=90.0, example="40"),
    "design_ratio": KeyForm("number", "design_ratio", low=1.01, high=50.0, example="4"),
    "design_ratio_flat": KeyForm("number", "design_ratio_flat", low=1.01, high=50.0, example="2"),
    "misalignment_limit": KeyForm("angle", "misalignment_limit_deg", low=0.01, high=10.0, example="0.5"),
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
    "tilt_towards": KeyForm("angle", "tilt_towards_deg", low=-360.0, high=360.0, example="90"),
    "hub_face": _length("hub_face_mm", '"52 mm"', -3000.0, 3000.0),
    "spacer": _length("spacer_mm", '"1/2 in"', 0.0, 1000.0),
    "pulley_offset": _length("pulley_offset_mm", '"-8.2 mm"', -1000.0, 1000.0),
    "rim_to_groove": _length("rim_to_groove_mm", '"4 mm"', 0.0, 500.0),
    "must_turn": KeyForm("choice", "must_turn", choices=ROTATIONS, example='"clockwise"'),
    "slot": KeyForm("angle", "slot_deg", example="270"),
    "slot_travel": _length("slot_travel_mm", '"3/4 in"', None, 1000.0),
    "load_kw": KeyForm("power", "load_kw", low=0.0, example="18"),
    "flange": _length("flange_mm", '"2 mm"', 0.0, 100.0),
    "arm": KeyForm("table", "arm", example="[pulley.arm]"),
    "straightedge": KeyForm("table", "straightedge", example="[pulley.straightedge]"),
})  # fmt: skip
STRAIGHTEDGE_KEYS: Mapping[str, KeyForm] = MappingProxyType({
    "against": KeyForm("text", "against", example='"crank"'),
    "along": KeyForm("angle", "along_deg", low=-360.0, high=360.0, example="90"),
    "first_at": _length("first_at_mm", '"-80 mm"', -2000.0, 2000.0),
    "first_gap": _length("first_gap_mm", '"2 mm"', -500.0, 500.0),
    "second_at": _length("second_at_mm", '"80 mm"', -2000.0, 2000.0),
    "second_gap": _length("second_gap_mm", '"1 mm"', -500.0, 500.0),
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
    "plane": _length("plane_mm", '"0.5 mm"', 0.0, 100.0),
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
    plane_mm: float = 0.5
    """Of each reading that tells where a groove sits: hub face, spacer, pulley offset, gap under a straightedge."""


@dataclass(frozen=True, slots=True)
class BeltSheet:
    """What a sheet may say of its belt and what it is judged against; ``None`` where it says nothing.

    ``belt_plane_mm``: from the engine's datum forward to the belt's first rib, as ``hub_face`` counts. ``tension_n``: of a
    span, measured with the engine standing. ``design_ratio``: tight by slack tension that is designed for at 180 degrees.
    """

    belt_length_mm: float | None = None
    belt_width_mm: float | None = None
    belt_plane_mm: float | None = None
    belt_mass_kg_per_m: float | None = None
    tension_n: float | None = None
    friction: float | None = None
    groove_angle_deg: float | None = None
    design_ratio: float | None = None
    design_ratio_flat: float | None = None
    misalignment_limit_deg: float | None = None


@dataclass(frozen=True, slots=True)
class StraightedgeSheet:
    """Two gaps under a straightedge laid across another pulley's front rim; ``against`` names it, else it is the driver.

    ``along_deg``: the straightedge's direction, anticlockwise from x. ``..._at_mm``: along it from this pulley's centre.
    """

    along_deg: float
    first_at_mm: float
    first_gap_mm: float
    second_at_mm: float
    second_gap_mm: float
    against: str | None = None


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
    tilt_towards_deg: float | None = None
    """The direction in which its rim comes forward, degrees anticlockwise from x."""
    hub_face_mm: float | None = None
    spacer_mm: float | None = None
    pulley_offset_mm: float | None = None
    rim_to_groove_mm: float | None = None
    """From its front rim back to its first groove, for readings under a straightedge."""
    must_turn: str | None = None
    """Which way round what it drives must turn, seen from the front."""
    slot_deg: float | None = None
    slot_travel_mm: float | None = None
    load_kw: float | None = None
    flange_mm: float | None = None
    arm: ArmSheet | None = None
    straightedge: StraightedgeSheet | None = None

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
    belt: BeltSheet = BeltSheet()

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
