"""A drive sheet as the plain numbers that the mechanics take: effective radii, pitch diameters, the arm, the doubts.

Effective diameters, by how they were measured (ISO 9981 groove geometry; see the design of the belt arithmetic):

* across the tips of a PK pulley's ribs: d_e = OD + 0.35 mm, doubt 0.2 mm: with the sharpest tips the two are the same, with
  rounder ones the outside is up to about 0.7 mm smaller;
* over balls: d_e = K - 2X, for PK K - 0.99 mm;
* a flat face: the belt's effective line runs ``belt_over_rim`` above it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kb.errors import DriveError
from kb.mechanics.path import Pulley
from kb.mechanics.path_cautions import WrapLimit
from kb.mechanics.slots import Slot
from kb.mechanics.tensioner import Arm, Drive
from kb.mechanics.window import DriveDoubts, independent_centres
from kb.reference.tables import is_checked, table
from kb.sheets.drive_fields import ArmSheet, DriveSheet, PulleySheet

Floats = npt.NDArray[np.float64]
PK_TIP_MM = 0.35
PK_TIP_DOUBT_MM = 0.2
CORD_TO_BACK_MM = 1.0
"""From a belt's cord to its back: from memory. Only speed ratios of flat pulleys use it."""
WRAP_WORDS: Mapping[str, tuple[str, ...]] = {
    "tensioner pulley wrap": ("tensioner",),
    "plain idler wrap": ("idler",),
    "alternator pulley wrap, V-ribbed": ("alternator", "generator"),
    "A/C compressor pulley wrap, V-ribbed": ("a/c", "air conditioning", "refrigerant"),
    "water pump / fan drive pulley wrap": ("fan", "water pump"),
    "power steering / air compressor pulley wrap": ("compressor",),
    "crankshaft pulley wrap, V-ribbed multi-accessory": ("crank",),
}
"""Which words in a pulley's name, or in what it ``drives``, ask for which wrap of the table of practice limits."""


@dataclass(frozen=True)
class DriveNumbers:
    """A drive in numbers. Diameters and lengths in mm; ``slots`` by the pulley's place, ``flanges_mm`` by its name.

    ``speed_ratios``: turns of each pulley per turn of the driver, from pitch diameters. ``notes`` say, in words, which
    values were assumed or come from memory.
    """

    drive: Drive
    doubts: DriveDoubts
    driver_index: int
    pitch_diameters_mm: tuple[float, ...]
    speed_ratios: tuple[float, ...]
    turns_with_driver: tuple[bool, ...]
    slots: dict[int, Slot]
    flanges_mm: dict[str, float]
    belt_width_mm: float | None
    rim_climb_mm: float | None
    belt_thickness_mm: float | None
    least_effective_diameter_mm: float | None
    notes: tuple[str, ...]


def path_pulleys(
    sheet: DriveSheet,
    centres_mm: Sequence[tuple[float, float]] | Floats | None = None,
    covariance_mm2: Floats | None = None,
) -> DriveNumbers:
    """Return a sheet's numbers, its fixed points at ``centres_mm`` (n, 2) in the order of ``sheet.points``.

    Without centres every point must be given by ``at`` (an arm's by ``pivot``), each coordinate with the sheet's doubt; with
    a layout's centres comes its full ``covariance_mm2`` (2n, 2n). Raises :class:`~kb.errors.DriveError`.
    """
    centres = _given_centres(sheet) if centres_mm is None else [(float(x), float(y)) for x, y in centres_mm]
    if len(centres) != len(sheet.pulleys):
        raise DriveError(f"{len(centres)} centres were given for {len(sheet.pulleys)} pulleys.", where=sheet.source)
    notes: list[str] = list(sheet.assumed)
    sized = [_sized(sheet, one, notes) for one in sheet.pulleys]
    pulleys = tuple(
        Pulley(one.name, x, y, size.radius_mm, one.face == "flat", size.body_radius_mm)
        for one, (x, y), size in zip(sheet.pulleys, centres, sized, strict=True)
    )
    if covariance_mm2 is None:
        covariance_mm2 = independent_centres(sheet.doubt.centre_mm, len(pulleys))
    arm_index = sheet.arm_index
    arm_sheet = None if arm_index is None else sheet.pulleys[arm_index].arm
    pitch = _pitch_diameters(sheet, sized, notes)
    driver = sheet.driver_index
    return DriveNumbers(
        drive=Drive(pulleys, None if arm_sheet is None else _arm(arm_sheet), arm_index),
        doubts=DriveDoubts(
            centre_covariance_mm2=covariance_mm2,
            radius_mm=tuple(size.doubt_mm for size in sized),
            belt_over_rim_mm=sheet.doubt.belt_over_rim_mm,
            arm_length_mm=sheet.doubt.arm_mm,
            angle_rad=math.radians(sheet.doubt.angle_deg),
            belt_mm=sheet.doubt.belt_mm,
        ),
        driver_index=driver,
        pitch_diameters_mm=pitch,
        speed_ratios=tuple(pitch[driver] / diameter for diameter in pitch),
        turns_with_driver=tuple(one.face == sheet.pulleys[driver].face for one in sheet.pulleys),
        slots={
            place: Slot(math.radians(one.slot_deg), one.slot_travel_mm)
            for place, one in enumerate(sheet.pulleys)
            if one.slot_deg is not None
        },
        flanges_mm={one.name: one.flange_mm for one in sheet.pulleys if one.flange_mm},
        belt_width_mm=_belt_width_mm(sheet, notes),
        rim_climb_mm=sheet.rim_climb_mm,
        belt_thickness_mm=sheet.belt_thickness_mm,
        least_effective_diameter_mm=_profile_value(sheet.profile, "minimum recommended effective diameter", notes),
        notes=tuple(dict.fromkeys(notes)),
    )


def _given_centres(sheet: DriveSheet) -> list[tuple[float, float]]:
    if sheet.unit == "px":
        raise DriveError(
            "its positions are pixels of a photo.",
            where=sheet.source,
            do="Lay the drive out first: the scale is needed.",
        )
    centres = []
    for name, x, y in sheet.points:
        if x is None or y is None:
            raise DriveError(
                f"where {name} sits is taped, not given.", where=sheet.source, do="Lay the drive out first."
            )
        centres.append((x, y))
    return centres


@dataclass(frozen=True, slots=True)
class _Size:
    radius_mm: float
    doubt_mm: float
    body_radius_mm: float


def _sized(sheet: DriveSheet, pulley: PulleySheet, notes: list[str]) -> _Size:
    doubt = sheet.doubt.diameter_mm / 2
    if pulley.face == "flat":
        assert pulley.outside_diameter_mm is not None
        assert sheet.belt_over_rim_mm is not None
        body = pulley.outside_diameter_mm / 2
        return _Size(body + sheet.belt_over_rim_mm, doubt, body + (pulley.flange_mm or 0.0))
    if pulley.outside_diameter_mm is not None:
        body = pulley.outside_diameter_mm / 2
        if sheet.profile == "PK":
            tip = math.hypot(sheet.doubt.diameter_mm, PK_TIP_DOUBT_MM) / 2
            return _Size(body + PK_TIP_MM / 2, tip, body)
        notes.append(
            f"{sheet.profile}: the outside diameter is taken as the effective diameter (common practice, no source)"
        )
        return _Size(body, doubt, body)
    if pulley.effective_diameter_mm is not None:
        return _Size(pulley.effective_diameter_mm / 2, doubt, pulley.effective_diameter_mm / 2)
    assert pulley.over_balls_mm is not None
    over = _profile_value(sheet.profile, "diameter over balls minus effective diameter", notes)
    if over is None:
        raise DriveError(
            f"how far balls stand over the effective diameter of profile {sheet.profile} is not known.",
            where=f"{sheet.source}, pulley {pulley.name!r}, over_balls",
            do="Give its effective_diameter, or its outside_diameter.",
        )
    radius = (pulley.over_balls_mm - over) / 2
    if radius <= 0.0:
        raise DriveError("its diameter over balls leaves no pulley.", where=f"{sheet.source}, pulley {pulley.name!r}")
    return _Size(radius, doubt, radius)


def _pitch_diameters(sheet: DriveSheet, sizes: Sequence[_Size], notes: list[str]) -> tuple[float, ...]:
    """Return the diameters that speeds go by: d_e + 2 b_e on grooves, d + twice cord to back on a flat face."""
    over = _profile_value(sheet.profile, "nominal effective line differential", notes)
    if over is None:
        over = 0.0
        notes.append(f"{sheet.profile}: speed ratios go by effective diameters, as its pitch line is not known")
    if any(one.face == "flat" for one in sheet.pulleys):
        notes.append(f"speed ratios: cord to back of the belt {CORD_TO_BACK_MM:g} mm (from memory)")
    return tuple(
        2 * (size.radius_mm - (sheet.belt_over_rim_mm or 0.0) + CORD_TO_BACK_MM)
        if one.face == "flat"
        else 2 * (size.radius_mm + over)
        for one, size in zip(sheet.pulleys, sizes, strict=True)
    )


def _belt_width_mm(sheet: DriveSheet, notes: list[str]) -> float | None:
    pitch = _profile_value(sheet.profile, "groove pitch", notes)
    return None if pitch is None or sheet.ribs is None else pitch * sheet.ribs


def _profile_value(profile: str, quantity: str, notes: list[str]) -> float | None:
    """Return a value of the table of profiles; one from memory is noted as such."""
    for row in table("belt_profiles"):
        if row["profile"] == profile and row["quantity"] == quantity and row["kind"] == "V-ribbed":
            if not is_checked(row):
                notes.append(f"{profile} {quantity}: {row['value']} {row['unit']} ({row['status']})")
            return float(row["value"])
    return None


def _arm(sheet: ArmSheet) -> Arm:
    def radians(degrees: float | None) -> float | None:
        return None if degrees is None else math.radians(degrees)

    return Arm(
        slack_rad=math.radians(sheet.slack_stop_deg),
        free_rad=math.radians(sheet.free_stop_deg),
        length_mm=sheet.length_mm,
        work_from_rad=radians(sheet.work_from_deg),
        work_to_rad=radians(sheet.work_to_deg),
        torque_nm=sheet.torque_nm,
        torque_at_rad=radians(sheet.torque_at_deg),
        rate_nm_per_rad=math.degrees(sheet.rate_nm_per_deg or 0.0),
        damping=sheet.damping or 0.0,
    )


def wrap_limits(sheet: DriveSheet) -> dict[str, WrapLimit]:
    """Return, by pulley name, the least wrap that what it drives asks for, from the table of practice limits.

    What a pulley drives is told from its ``drives``, else its name; flat pulleys are idlers where nothing else is said.
    A pulley that no word fits is left out: those limits only ever caution.
    """
    rows = {row["parameter"]: row for row in table("practice_limits") if row["topic"] == "belt wrap"}
    found: dict[str, WrapLimit] = {}
    for one in sheet.pulleys:
        said = (one.drives or one.name).casefold()
        word = next((word for words in WRAP_WORDS.values() for word in words if word in said), None)
        if one.arm is not None:
            word = "tensioner"
        elif word is None and one.face == "flat":
            word = "idler"
        row = next((rows[name] for name, words in WRAP_WORDS.items() if word in words), None)
        if row is not None:
            known = row["source"] if is_checked(row) else f"{row['source']}, {row['status']}"
            found[one.name] = WrapLimit(math.radians(float(row["value_low"])), f"usual for: {word}", known)
    return found
