"""Do the pulleys stand in one plane: stacks, straightedge readings, misalignment per span, register and shims.

    side view, front to the right (z):      |<- hub face ->|<- spacer ->|<- pulley offset ->|
                                         datum          mounting      mounting           first
                                                        face          face               groove

z is forward, away from the engine, in mm; x and y are the drive's own (right and up). A tilted pulley's plane comes
forward by ``slope_x`` per mm to the right and ``slope_y`` per mm up. Plane geometry throughout; the limits, practice
that is, come from the caller. Readings are taken with the engine off, its key out, and the belt off.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


class PlaneError(ValueError):
    """Readings or positions from which no plane can be told."""


@dataclass(frozen=True, slots=True)
class Plane:
    """Where a pulley's first groove sits: z at its centre, and how its plane leans."""

    name: str
    z_mm: float
    slope_x: float = 0.0
    slope_y: float = 0.0


@dataclass(frozen=True, slots=True)
class Span:
    """One span by its tangent points, (x, y) mm, each with its pulley's centre, and the two pulleys' indices."""

    leaves: int
    reaches: int
    leaves_at_mm: tuple[float, float]
    reaches_at_mm: tuple[float, float]
    leaves_centre_mm: tuple[float, float]
    reaches_centre_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class SpanAlignment:
    """How one span lies: z at its end less z at its start, the angle it is skewed by, and the entry angle at each
    pulley (between the span and that pulley's own plane), degrees."""

    names: tuple[str, str]
    offset_mm: float
    skew_deg: float
    leaving_deg: float
    reaching_deg: float
    limit_deg: float

    @property
    def worst_deg(self) -> float:
        """The larger of the two entry angles, without its sign."""
        return max(abs(self.leaving_deg), abs(self.reaching_deg))

    @property
    def within(self) -> bool:
        """Whether the worst entry angle keeps the limit."""
        return self.worst_deg <= self.limit_deg


@dataclass(frozen=True, slots=True)
class Register:
    """How the belt's ribs meet a pulley's grooves: which groove takes the belt's first rib, and what is left over."""

    first_groove: int
    offset_mm: float
    enough_grooves: bool


@dataclass(frozen=True, slots=True)
class BeltPlane:
    """One belt on a front: z of its middle, and its width, mm."""

    name: str
    z_mm: float
    width_mm: float


def stack_z_mm(*parts_mm: tuple[float, float]) -> tuple[float, float]:
    """Where the first groove sits and its doubt: (z, doubt) of hub face, spacer and pulley offset added up, mm.

    Each part is (length, doubt), forward positive; independent doubts add in squares.

    >>> stack_z_mm((52.0, 0.3), (12.7, 0.0), (-8.2, 0.4))
    (56.5, 0.5)
    """
    if not parts_mm:
        raise PlaneError("a stack needs at least one part")
    return round(math.fsum(length for length, _ in parts_mm), 9), math.hypot(*(doubt for _, doubt in parts_mm))


def straightedge_plane(
    first: tuple[float, float],
    second: tuple[float, float],
    *,
    along_deg: float,
    reference_edge_mm: float = 0.0,
    edge_mm: float = 0.0,
) -> tuple[float, float, float]:
    """Offset and lean of a pulley from two gaps under a straightedge laid across the reference pulley's front rim.

    Each reading is (where, gap): ``where`` is the distance along the straightedge from the pulley's centre, mm,
    positive in the direction ``along_deg`` (anticlockwise from x); ``gap`` from the straightedge back to the
    pulley's rim, mm, negative where the rim stands proud of it. ``..._edge_mm``: from the rim's front back to the
    first groove, of the reference pulley and of this one.

    Returns (offset, slope_x, slope_y): how far forward of the reference's first groove this one's sits at its
    centre, mm, and how its plane leans in the direction of the straightedge, against the reference pulley's own
    plane. Across the straightedge nothing was read, and no lean is assumed.

    >>> offset, slope_x, _ = straightedge_plane((-80.0, 2.0), (80.0, 1.0), along_deg=0.0)
    >>> offset, slope_x
    (-1.5, 0.00625)
    """
    (first_at, first_gap), (second_at, second_gap) = first, second
    if abs(second_at - first_at) < 1e-6:
        raise PlaneError("the two straightedge readings must be taken at two different places")
    slope = -(second_gap - first_gap) / (second_at - first_at)
    at_centre = -first_gap - slope * first_at
    along = math.radians(along_deg)
    return at_centre + reference_edge_mm - edge_mm, slope * math.cos(along), slope * math.sin(along)


def tilt_deg(slope_x: float, slope_y: float) -> float:
    """The angle of the whole lean, degrees: atan of the steepest slope.

    >>> round(tilt_deg(0.00625, 0.0), 3)
    0.358
    """
    return math.degrees(math.atan(math.hypot(slope_x, slope_y)))


def misalignment_deg(offset_mm: float, span_mm: float) -> float:
    """Angle of a span between two parallel planes, degrees: atan(offset / span).

    >>> round(misalignment_deg(2.6, 300.0), 6)
    0.496551
    """
    if not span_mm > 0:
        raise PlaneError(f"a span must be longer than nothing, not {span_mm:g} mm")
    return math.degrees(math.atan(offset_mm / span_mm))


def offset_at_limit_mm(limit_deg: float, span_mm: float) -> float:
    """The offset at which a span of that length reaches the limit, mm: span tan(limit).

    >>> round(offset_at_limit_mm(0.5, 300.0), 5)
    2.61806
    """
    if not (span_mm > 0 and 0 <= limit_deg < 90):
        raise PlaneError("a span must be longer than nothing, and a limit an angle below 90 degrees")
    return span_mm * math.tan(math.radians(limit_deg))


def align_span(planes: Sequence[Plane], span: Span, limit_deg: float) -> SpanAlignment:
    """How one span lies between its two pulleys, each with its own lean.

    The belt leaves a pulley where its plane is at the tangent point, z = z0 + slope . (tangent - centre). Its entry
    angle is the angle by which the span climbs, less that by which the pulley's own plane climbs in the span's
    direction.
    """
    ahead = (span.reaches_at_mm[0] - span.leaves_at_mm[0], span.reaches_at_mm[1] - span.leaves_at_mm[1])
    length_mm = math.hypot(*ahead)
    if not length_mm > 0:
        raise PlaneError(f"the span from {planes[span.leaves].name} to {planes[span.reaches].name} has no length")
    one, other = planes[span.leaves], planes[span.reaches]
    start = _z_at(one, span.leaves_at_mm, span.leaves_centre_mm)
    end = _z_at(other, span.reaches_at_mm, span.reaches_centre_mm)
    skew = misalignment_deg(end - start, length_mm)
    leans = [
        math.degrees(math.atan((plane.slope_x * ahead[0] + plane.slope_y * ahead[1]) / length_mm))
        for plane in (one, other)
    ]
    return SpanAlignment((one.name, other.name), end - start, skew, skew - leans[0], skew - leans[1], limit_deg)


def _z_at(plane: Plane, point_mm: tuple[float, float], centre_mm: tuple[float, float]) -> float:
    right, up = point_mm[0] - centre_mm[0], point_mm[1] - centre_mm[1]
    return plane.z_mm + plane.slope_x * right + plane.slope_y * up


def register(z_mm: float, belt_z_mm: float, grooves: int, ribs: int, pitch_mm: float) -> Register:
    """Which groove should take the belt's first rib, and how far off it still is.

    ``z_mm``: the pulley's first groove, the frontmost; the others lie behind it, ``pitch_mm`` apart. ``belt_z_mm``:
    the belt's first rib, its frontmost. A pulley with grooves to spare may carry the belt further back; the groove
    that leaves the smallest offset is told, counted from 1 at the front. ``offset_mm`` is groove less rib, forward
    positive. With fewer grooves than ribs, ``enough_grooves`` is false and the first groove is told.

    >>> register(3.4, 0.0, 10, 8, 3.56)
    Register(first_groove=2, offset_mm=-0.16, enough_grooves=True)
    """
    if grooves < 1 or ribs < 1 or not pitch_mm > 0:
        raise PlaneError("grooves and ribs are counted from one, and their pitch is more than nothing")
    spare = max(grooves - ribs, 0)
    behind = min(range(spare + 1), key=lambda k: abs(z_mm - k * pitch_mm - belt_z_mm))
    return Register(behind + 1, round(z_mm - behind * pitch_mm - belt_z_mm, 9), grooves >= ribs)


def shim_mm(z_mm: float, wanted_z_mm: float) -> tuple[float, str]:
    """The shim that brings a pulley into its plane: (thickness, what to do), mm.

    >>> shim_mm(-1.5, 0.0)
    (1.5, 'put it behind the pulley')
    """
    need = wanted_z_mm - z_mm
    if need > 0:
        return need, "put it behind the pulley"
    if need < 0:
        return -need, "take it off the spacer, or shim the other pulleys forward by as much"
    return 0.0, "none is needed"


def fitting_order(belts: Sequence[BeltPlane]) -> list[tuple[str, str]]:
    """Two or more belts on one front, in the order in which they go on, each with the reason.

    The plane nearest to the engine goes on first: a belt further forward would stand in its way, and must come off
    before the one behind it can be changed (common practice, no source; it follows from the geometry).

    Raises :class:`PlaneError` for belts that would share the same place.
    """
    for belt in belts:
        if not belt.width_mm > 0:
            raise PlaneError(f"{belt.name} must be wider than nothing, not {belt.width_mm:g} mm")
    ordered = sorted(belts, key=lambda belt: belt.z_mm)
    told = []
    for k, belt in enumerate(ordered):
        if k == 0:
            told.append((belt.name, "nearest to the engine: it goes on first"))
            continue
        behind = ordered[k - 1]
        gap = (belt.z_mm - belt.width_mm / 2) - (behind.z_mm + behind.width_mm / 2)
        if gap <= 0:
            raise PlaneError(f"{behind.name} and {belt.name} overlap by {-gap:.1f} mm: their planes are read wrongly")
        told.append((belt.name, f"{gap:.1f} mm in front of {behind.name}, and in its way once it is on"))
    return told
