"""Where each pulley's first groove sits, from what a sheet says of it: given, stacked up, or read under a straightedge.

z counts forward, away from the engine, in mm. The belt plane is where the belt's first rib runs: at ``belt_plane`` from the
engine's datum where the sheet gives it, else in the driver's first groove.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from kb.errors import DriveError
from kb.mechanics.planes import stack_z_mm, straightedge_plane
from kb.sheets.drive_fields import DriveSheet, PulleySheet, StraightedgeSheet

DISAGREE_DOUBTS = 3.0
"""A stack and a straightedge further apart than so many doubts are said to disagree."""


@dataclass(frozen=True, slots=True)
class PlaneReading:
    """How far forward of the belt plane a pulley's first groove sits, mm, and how the pulley leans.

    ``slope_x`` and ``slope_y``: mm forward per mm to the right and up. ``tilt_deg``: a tilt whose direction was not read.
    ``how``: ``driver``, ``given``, ``stack`` or ``straightedge``.
    """

    name: str
    z_mm: float
    doubt_mm: float
    how: str
    slope_x: float = 0.0
    slope_y: float = 0.0
    tilt_deg: float = 0.0

    @property
    def lean_deg(self) -> float:
        """The whole lean, whether or not its direction is known."""
        return self.tilt_deg or math.degrees(math.atan(math.hypot(self.slope_x, self.slope_y)))


def read_planes(sheet: DriveSheet) -> tuple[dict[str, PlaneReading], tuple[str, ...]]:
    """Return, by pulley name, what the sheet tells of each plane, and what was assumed or left out, in words.

    Pulleys of which nothing was read are left out; where nothing at all was read, nothing is returned. Raises
    :class:`~kb.errors.DriveError` for straightedges that lie against each other in a ring.
    """
    if not any(_was_read(one) for one in sheet.pulleys):
        return {}, ()
    reader = _Planes(sheet)
    for one in sheet.pulleys:
        reader.of(one, ())
    return reader.found, tuple(dict.fromkeys(reader.notes))


def _was_read(one: PulleySheet) -> bool:
    return one.plane_mm is not None or one.hub_face_mm is not None or one.straightedge is not None


class _Planes:
    def __init__(self, sheet: DriveSheet) -> None:
        self.sheet = sheet
        self.driver = sheet.pulleys[sheet.driver_index]
        self.named = {one.name.casefold(): one for one in sheet.pulleys}
        self.found: dict[str, PlaneReading] = {}
        self.notes: list[str] = []

    def of(self, one: PulleySheet, asking: tuple[str, ...]) -> PlaneReading | None:
        """Return a pulley's reading; ``asking`` are the pulleys whose straightedge leads here."""
        if one.name in asking:
            ring = " and ".join(dict.fromkeys(asking))
            raise DriveError(
                f"the straightedges of {ring} lie against each other.",
                where=self.sheet.source,
                do="Read one of them against a pulley whose plane is known.",
            )
        if one.name not in self.found:
            found = self._leaning(one, self._read(one, (*asking, one.name)))
            if found is None:
                return None
            self.found[one.name] = found
        return self.found[one.name]

    def _read(self, one: PulleySheet, asking: tuple[str, ...]) -> PlaneReading | None:
        if one.plane_mm is not None:
            return PlaneReading(one.name, one.plane_mm, self.sheet.doubt.plane_mm, "given")
        stacked = self._stacked(one)
        if one.straightedge is not None:
            return self._straightedge(one, one.straightedge, stacked, asking)
        if stacked is not None:
            return stacked
        if not one.driver:
            return None
        self.notes.append(f"the belt plane is taken at the first groove of {one.name}, whose own plane is not given")
        return PlaneReading(one.name, 0.0, 0.0, "driver")

    def _stack(self, one: PulleySheet) -> tuple[float, float] | None:
        if one.hub_face_mm is None:
            return None
        assert one.pulley_offset_mm is not None
        doubt = self.sheet.doubt.plane_mm
        parts = [(one.hub_face_mm, doubt), (one.pulley_offset_mm, doubt)]
        return stack_z_mm(*parts, *([] if one.spacer_mm is None else [(one.spacer_mm, doubt)]))

    def _stacked(self, one: PulleySheet) -> PlaneReading | None:
        stack = self._stack(one)
        if stack is None:
            return None
        z_mm, doubt_mm = stack
        if self.sheet.belt.belt_plane_mm is not None:
            return PlaneReading(one.name, z_mm - self.sheet.belt.belt_plane_mm, doubt_mm, "stack")
        base = self._stack(self.driver)
        if base is None:
            self.notes.append(
                f"the stack of {one.name} is known, but not the belt plane: add belt_plane, or hub_face and pulley_offset "
                f"to {self.driver.name}"
            )
            return None
        if one.driver:
            return PlaneReading(one.name, 0.0, 0.0, "stack")
        return PlaneReading(one.name, z_mm - base[0], math.hypot(doubt_mm, base[1]), "stack")

    def _straightedge(
        self, one: PulleySheet, read: StraightedgeSheet, stacked: PlaneReading | None, asking: tuple[str, ...]
    ) -> PlaneReading | None:
        against = self.driver if read.against is None else self.named[read.against.casefold()]
        base = self.of(against, asking)
        if base is None:
            self.notes.append(f"{one.name} was read against {against.name}, whose own plane is not known")
            return None
        if (one.rim_to_groove_mm is None) != (against.rim_to_groove_mm is None):
            without = one.name if one.rim_to_groove_mm is None else against.name
            raise DriveError(
                f"rim_to_groove is given for one of {one.name} and {against.name} only, and the straightedge lay on both.",
                where=f"{self.sheet.source}, pulley {without!r}",
                do="Give both: from the front rim back to the first groove.",
            )
        if one.rim_to_groove_mm is None:
            self.notes.append(f"rim to first groove: taken as the same on {one.name} and {against.name}")
        offset, slope_x, slope_y = straightedge_plane(
            (read.first_at_mm, read.first_gap_mm),
            (read.second_at_mm, read.second_gap_mm),
            along_deg=read.along_deg,
            reference_edge_mm=against.rim_to_groove_mm or 0.0,
            edge_mm=one.rim_to_groove_mm or 0.0,
        )
        share = -read.first_at_mm / (read.second_at_mm - read.first_at_mm)  # the centre, between the two gaps
        doubt_mm = math.hypot(base.doubt_mm, self.sheet.doubt.plane_mm * math.hypot(1 - share, share))
        found = PlaneReading(
            one.name, base.z_mm + offset, doubt_mm, "straightedge", base.slope_x + slope_x, base.slope_y + slope_y
        )
        if stacked is not None:
            self._both(found, stacked)
        return found

    def _both(self, read: PlaneReading, stacked: PlaneReading) -> None:
        apart = read.z_mm - stacked.z_mm
        if abs(apart) > DISAGREE_DOUBTS * math.hypot(read.doubt_mm, stacked.doubt_mm):
            self.notes.append(
                f"{read.name}: the straightedge puts it {abs(apart):.1f} mm {'before' if apart > 0 else 'behind'} what its "
                "stack adds up to; the straightedge was taken: look for what sits between the faces"
            )

    def _leaning(self, one: PulleySheet, found: PlaneReading | None) -> PlaneReading | None:
        if found is None or one.tilt_deg is None:
            return found
        if one.tilt_towards_deg is None:
            self.notes.append(f"{one.name}: which way it tilts was not read; the worst way is taken for every span")
            return replace(found, tilt_deg=abs(one.tilt_deg))
        slope, towards = math.tan(math.radians(one.tilt_deg)), math.radians(one.tilt_towards_deg)
        return replace(found, slope_x=slope * math.cos(towards), slope_y=slope * math.sin(towards))
