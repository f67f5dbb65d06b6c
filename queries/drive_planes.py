"""Do the pulleys of a drive stand in one plane: each pulley's groove and shim, each span's angle against a limit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kb.mechanics.grip import Assumption
from kb.mechanics.planes import BeltPlane, Plane, Span, align_span, fitting_order, register, shim_mm
from kb.sheets.drive_fields import DriveSheet, PulleySheet
from kb.sheets.drive_planes import PlaneReading, read_planes
from queries.drive_assumed import ENTRY_ANGLE, family, misalignment_limit, practice, profile_row
from queries.drive_laid import said_of
from queries.drive_running import RunningDrive

SEEN_MM = 0.05
"""An offset below this is no offset: no shim is that thin."""


@dataclass(frozen=True, slots=True)
class PulleyPlane:
    """One pulley: where its first groove sits, the groove that takes the belt's first rib, and the shim that mends it.

    ``plane_mm``: forward of the belt plane. ``first_groove`` is counted from the front; ``register_mm``: that groove less the
    first rib. ``shim_mm`` is none where nothing is off; ``shim_needed`` where a span here breaks the limit.
    """

    name: str
    how: str
    plane_mm: float
    doubt_mm: float
    tilt_deg: float
    grooves: int | None
    first_groove: int | None
    register_mm: float
    enough_grooves: bool | None
    shim_mm: float
    shim_do: str
    shim_needed: bool

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True)
class SpanPlane:
    """One span: how far it climbs forward, its larger entry angle, and whether that keeps the limit, doubts considered."""

    leaves: str
    reaches: str
    span_mm: float
    offset_mm: float
    entry_deg: float
    doubt_deg: float
    limit_deg: float
    state: str
    """``within``, ``over``, or ``too close to tell``."""

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True)
class _Run:
    """The plane in which the belt runs on a pulley, its doubt; ``carried`` where a flat face leaves it where it arrives."""

    plane: Plane
    doubt_mm: float
    tilt_deg: float = 0.0
    carried: bool = False

    def z_at(self, span: Span) -> float:
        """Return where the belt leaves this pulley along a span."""
        right = span.leaves_at_mm[0] - span.leaves_centre_mm[0]
        up = span.leaves_at_mm[1] - span.leaves_centre_mm[1]
        return self.plane.z_mm + self.plane.slope_x * right + self.plane.slope_y * up


@dataclass(frozen=True, slots=True)
class PlanesAnswer:
    """What was read of a drive's planes; ``not_read`` names the grooved pulleys of which nothing was."""

    pulleys: tuple[PulleyPlane, ...]
    spans: tuple[SpanPlane, ...]
    not_read: tuple[str, ...]
    limit: Assumption
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


def ask_planes(drive: RunningDrive) -> PlanesAnswer:
    """Judge the planes of a drive that runs. Raises :class:`~kb.errors.DriveError`."""
    sheet = drive.sheet
    readings, notes = read_planes(sheet)
    limit = misalignment_limit(sheet)
    with said_of(sheet):
        registers = {name: _register(sheet, _pulley(sheet, name), one) for name, one in readings.items()}
        spans = _spans(drive, readings, registers, limit.value)
    over = {name for span in spans if span.state == "over" for name in (span.leaves, span.reaches)}
    pulleys = tuple(_pulley_plane(sheet, one, registers[name], name in over) for name, one in readings.items())
    not_read = tuple(one.name for one in sheet.pulleys if one.face == "grooved" and one.name not in readings)
    if readings and any(one.face == "flat" and one.name not in readings for one in sheet.pulleys):
        notes += ("a flat pulley whose plane was not read carries the belt on as it arrives",)
    return PlanesAnswer(
        pulleys, spans, not_read, limit, (*_groove_cautions(sheet), *_span_cautions(sheet, spans)), notes
    )


def _pulley(sheet: DriveSheet, name: str) -> PulleySheet:
    return next(one for one in sheet.pulleys if one.name == name)


def _pitch_mm(sheet: DriveSheet) -> float | None:
    row = profile_row(sheet, "groove pitch")
    return None if row is None else float(row["value"])


def _register(sheet: DriveSheet, one: PulleySheet, read: PlaneReading) -> tuple[int | None, float]:
    """Return the groove that takes the belt's first rib, and how far it stands off it, mm."""
    pitch = _pitch_mm(sheet)
    if one.face == "flat" or pitch is None or one.grooves is None or sheet.ribs is None:
        return None, read.z_mm
    found = register(read.z_mm, 0.0, one.grooves, sheet.ribs, pitch)
    return found.first_groove, found.offset_mm


def _pulley_plane(
    sheet: DriveSheet, read: PlaneReading, registered: tuple[int | None, float], over: bool
) -> PulleyPlane:
    one = _pulley(sheet, read.name)
    groove, off_mm = registered
    enough = None if groove is None or one.grooves is None or sheet.ribs is None else one.grooves >= sheet.ribs
    thick, do = shim_mm(off_mm, 0.0) if abs(off_mm) > SEEN_MM and one.face == "grooved" else (0.0, "none is needed")
    return PulleyPlane(
        name=one.name,
        how=read.how,
        plane_mm=read.z_mm,
        doubt_mm=read.doubt_mm,
        tilt_deg=read.lean_deg,
        grooves=one.grooves,
        first_groove=groove,
        register_mm=off_mm,
        enough_grooves=enough,
        shim_mm=thick,
        shim_do=do,
        shim_needed=over and thick > 0.0,
    )


def _spans(
    drive: RunningDrive,
    readings: dict[str, PlaneReading],
    registers: dict[str, tuple[int | None, float]],
    limit_deg: float,
) -> tuple[SpanPlane, ...]:
    count = len(drive.order)
    spans = [_span(drive, step) for step in range(count)]
    runs = _runs(drive, readings, registers, spans)
    found = []
    for step, span in enumerate(spans):
        one, other = runs[step], runs[(step + 1) % count]
        if one is not None and other is not None:
            found.append(_span_plane(one, other, span, limit_deg))
    return tuple(found)


def _span(drive: RunningDrive, step: int) -> Span:
    here, there = drive.order[step], drive.order[(step + 1) % len(drive.order)]
    run = drive.route.spans[drive.span_place(step)]
    ends = (run.leaves, run.arrives) if drive.forward else (run.arrives, run.leaves)
    centres = [(drive.route.pulleys[place].x_mm, drive.route.pulleys[place].y_mm) for place in (here, there)]
    return Span(here, there, *ends, *centres)


def _renumbered(span: Span) -> Span:
    return Span(
        0, 1, span.leaves_at_mm, span.reaches_at_mm, span.leaves_centre_mm, span.reaches_centre_mm
    )  # fmt: skip


def _runs(
    drive: RunningDrive,
    readings: dict[str, PlaneReading],
    registers: dict[str, tuple[int | None, float]],
    spans: list[Span],
) -> list[_Run | None]:
    """Return the plane in which the belt runs on each pulley, in the direction of travel.

    On a flat face of which nothing was read the belt lies where it arrives: it runs on across the face until it enters square
    (common practice, no source), so the whole offset falls on the span that leaves it.
    """
    found: list[_Run | None] = []
    for one in drive.pulleys:
        read = readings.get(one.name)
        if read is None:
            found.append(None)
            continue
        plane = Plane(one.name, registers[one.name][1], read.slope_x, read.slope_y)
        found.append(_Run(plane, read.doubt_mm, read.tilt_deg))
    for step in range(2 * len(found)):  # twice round: the first grooved pulley may stand anywhere
        here = step % len(found)
        before = found[here - 1]
        if found[here] is None and before is not None and drive.pulleys[here].face == "flat":
            z_mm = before.z_at(spans[here - 1])
            found[here] = _Run(Plane(drive.pulleys[here].name, z_mm), before.doubt_mm, carried=True)
    return found


def _span_plane(one: _Run, other: _Run, span: Span, limit_deg: float) -> SpanPlane:
    judged = align_span((one.plane, other.plane), _renumbered(span), limit_deg)
    span_mm = math.dist(span.leaves_at_mm, span.reaches_at_mm)
    # A belt that is carried on has no offset where it arrives, and so no doubt of one.
    doubt_mm = 0.0 if other.carried else math.hypot(one.doubt_mm, other.doubt_mm)
    entry = max(abs(judged.leaving_deg) + one.tilt_deg, abs(judged.reaching_deg) + other.tilt_deg)
    doubt_deg = math.degrees(math.atan(doubt_mm / span_mm))
    state = _state(entry, doubt_deg, limit_deg)
    return SpanPlane(*judged.names, span_mm, judged.offset_mm, entry, doubt_deg, limit_deg, state)


def _state(entry_deg: float, doubt_deg: float, limit_deg: float) -> str:
    if abs(entry_deg - limit_deg) < doubt_deg:
        return "too close to tell"
    return "within" if entry_deg <= limit_deg else "over"


def _groove_cautions(sheet: DriveSheet) -> list[str]:
    """Say which pulleys have fewer grooves than the belt has ribs."""
    if sheet.ribs is None or family(sheet) != "V-ribbed":
        return []
    return [
        f"{one.name} has {one.grooves} grooves, and the belt {sheet.ribs} ribs: a rib would hang over its edge"
        for one in sheet.pulleys
        if one.face == "grooved" and one.grooves is not None and one.grooves < sheet.ribs
    ]


def _span_cautions(sheet: DriveSheet, spans: tuple[SpanPlane, ...]) -> list[str]:
    quiet = practice(ENTRY_ANGLE)
    said = []
    for one in spans:
        angle = f"the belt from {one.leaves} to {one.reaches} enters at {one.entry_deg:.2f} degrees"
        if one.state != "within":
            said.append(f"{angle} (limit {one.limit_deg:g}): {one.state}")
        elif family(sheet) == "V-ribbed" and one.entry_deg > quiet.value:
            said.append(f"{angle}: it may chirp over {quiet.value:g} ({quiet.source}, {quiet.status})")
    return said


@dataclass(frozen=True, slots=True)
class Order:
    """One belt of a front, in the order in which they go on."""

    belt: str
    why: str

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {"belt": self.belt, "why": self.why}


def ask_order(sheets: list[DriveSheet]) -> tuple[tuple[Order, ...], tuple[str, ...]]:
    """Return the belts of one front in the order in which they go on, and what is missing to tell it.

    Raises :class:`~kb.errors.DriveError` for belts that would share the same place.
    """
    if len(sheets) < 2:
        return (), ()
    missing = tuple(
        f"which belt goes on first cannot be told: {sheet.name} gives no {key}"
        for sheet in sheets
        for key, value in (("belt_plane", belt_plane_mm(sheet)), ("belt_width", belt_width_mm(sheet)))
        if value is None
    )
    if missing:
        return (), missing
    planes = []
    for sheet in sheets:
        front, width, pitch = belt_plane_mm(sheet), belt_width_mm(sheet), _pitch_mm(sheet) or 0.0
        assert front is not None
        assert width is not None
        middle = front - pitch * ((sheet.ribs or 1) - 1) / 2  # from the first rib, the frontmost, back to the middle
        planes.append(BeltPlane(sheet.name, middle, width))
    with said_of(sheets[-1]):
        return tuple(Order(name, why) for name, why in fitting_order(planes)), ()


def belt_plane_mm(sheet: DriveSheet) -> float | None:
    """Return where the belt's first rib runs, from the engine's datum: given, or the driver's stack."""
    if sheet.belt.belt_plane_mm is not None:
        return sheet.belt.belt_plane_mm
    driver = sheet.pulleys[sheet.driver_index]
    if driver.hub_face_mm is None:
        return None
    return driver.hub_face_mm + (driver.spacer_mm or 0.0) + (driver.pulley_offset_mm or 0.0)


def belt_width_mm(sheet: DriveSheet) -> float | None:
    """Return the belt's width: given, ribs times pitch (ISO 9982), or the effective width of one V-belt's groove."""
    pitch = _pitch_mm(sheet)
    if sheet.belt.belt_width_mm is not None:
        return sheet.belt.belt_width_mm
    if pitch is not None:
        return None if sheet.ribs is None else pitch * sheet.ribs
    row = profile_row(sheet, "effective groove width")
    return None if row is None else float(row["value"]) * (25.4 if row["unit"] == "in" else 1.0)
