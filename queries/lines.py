"""What a line sheet asks: its order and cut length, its bends, the clock angle between its ends, and what it passes.

Order length = the centre line between the reference points with its bends rounded to the hose's least radius, and what
the sheet asks for movement and for shortening under pressure. It is counted as the trade does: to the seat of a straight
end, to the crossing of hose and seat axis of an elbow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from kb.errors import LineError
from kb.mechanics.route import Route, RouteError, clock_angle_rad, followed, rounded
from kb.mechanics.route_clear import chain_to_piece_mm
from kb.mechanics.space import Vector, angle_between_rad, minus, unit
from kb.reference.tables import number, table
from kb.sheets.line_fields import KeepClear, LineSheet

ALONG_HOSE_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Clearance:
    """How far the hose's outside passes from a thing's surface; below nothing they overlap."""

    thing: KeepClear
    gap_mm: float

    @property
    def clear(self) -> bool:
        """Whether it stays as far away as was asked."""
        return self.gap_mm >= self.thing.by_mm - 1e-9

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            "name": self.thing.name, "gap_mm": round(self.gap_mm, 2), "by_mm": round(self.thing.by_mm, 2),
            "clear": self.clear,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class LineAnswer:
    """A line worked out. Lengths are ``None`` where a bend has not the legs it needs."""

    sheet: LineSheet
    route: Route
    developed_length_mm: float | None
    slack_mm: float | None
    shortening_mm: float
    cut_length_mm: float | None
    clock_deg: float | None
    length_tolerance_mm: float | None
    clock_tolerance_deg: float | None
    clearances: tuple[Clearance, ...]
    cautions: tuple[str, ...] = ()

    @property
    def order_length_mm(self) -> float | None:
        """What to order: the centre line and the slack."""
        if self.developed_length_mm is None or self.slack_mm is None:
            return None
        return self.developed_length_mm + self.slack_mm

    @property
    def difference_from_old_mm(self) -> float | None:
        """How much longer it is than the line it replaces."""
        if self.order_length_mm is None or self.sheet.old_length_mm is None:
            return None
        return self.order_length_mm - self.sheet.old_length_mm

    @property
    def clock_anticlockwise_deg(self) -> float | None:
        """The same angle counted the other way round, as SAE J517 counts it from the near end."""
        return None if self.clock_deg is None else (360.0 - self.clock_deg) % 360.0

    @property
    def viewpoint(self) -> str:
        """From where the clock angle is read, in words."""
        near, far = self.sheet.ends
        return (
            f"looking along the hose from {near.name} to {far.name}, {near.name}'s elbow at 12 o'clock is 0, counted "
            f"clockwise to {far.name}'s elbow; from the other end, with {far.name}'s elbow at 12 o'clock, it is the same"
        )

    def bend_rows(self) -> list[dict[str, object]]:
        """Return the bends, one row each: which corner it is and the documented keys of ``bends``."""
        return [
            {
                "bend": bend.point,
                "at": [round(value, 3) for value in bend.at],
                "angle_deg": round(math.degrees(bend.turn_rad), 3),
                "radius_mm": round(bend.radius_mm, 3),
                "possible": bend.possible,
                "largest_radius_mm": round(bend.largest_radius_mm, 3),
                "twist_deg": None if bend.twist_rad is None else round(math.degrees(bend.twist_rad), 3),
            }
            for bend in self.route.bends
        ]

    def as_json(self) -> dict[str, object]:
        """Return the documented form of ``line route``."""
        sheet = self.sheet
        return {
            "name": sheet.name,
            "service": sheet.service,
            "order_length_mm": _rounded(self.order_length_mm),
            "cut_length_mm": _rounded(self.cut_length_mm),
            "developed_length_mm": _rounded(self.developed_length_mm),
            "slack_mm": _rounded(self.slack_mm),
            "length_tolerance_mm": self.length_tolerance_mm,
            "clock_deg": _rounded(self.clock_deg),
            "clock_anticlockwise_deg": _rounded(self.clock_anticlockwise_deg),
            "clock_tolerance_deg": self.clock_tolerance_deg,
            "viewpoint": None if self.clock_deg is None else self.viewpoint,
            "old_length_mm": sheet.old_length_mm,
            "difference_from_old_mm": _rounded(self.difference_from_old_mm),
            "points": [[round(value, 3) for value in point] for point in sheet.points],
            "order_of_points": sheet.order_said,
            "legs": [
                {"length_mm": round(leg.length_mm, 3), "straight_mm": round(leg.straight_mm, 3)}
                for leg in self.route.legs
            ],
            "bends": [{name: value for name, value in row.items() if name != "bend"} for row in self.bend_rows()],
            "clearances": [one.as_json() for one in self.clearances],
            "cautions": list(self.cautions),
        }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def ask_line(sheet: LineSheet) -> LineAnswer:
    """Work a line sheet out. Raises :class:`~kb.errors.LineError` for a route that cannot be followed at all."""
    from queries.line_cautions import cautions_of

    rigid = [end.cut_off_mm or 0.0 for end in sheet.ends]
    try:
        route = rounded(sheet.points, sheet.centre_radius_mm, *rigid)
        clock = _clock_deg(sheet)
    except RouteError as error:
        raise LineError(f"{error}.", where=sheet.source, do="Look at the points next to it.") from error
    developed = route.length_mm if route.possible else None
    share = sheet.shortening_percent / 100.0
    # What keeps the free length once it is that much shorter: free / (1 - share), so share / (1 - share) more.
    shortening = 0.0 if developed is None else share / (1.0 - share) * max(developed - sum(rigid), 0.0)
    slack = None if developed is None else sheet.movement_mm + shortening
    order = None if developed is None or slack is None else developed + slack
    both_known = all(end.cut_off_mm is not None for end in sheet.ends)
    cut = order - sum(rigid) if order is not None and both_known else None
    chain = followed(route)
    answer = LineAnswer(
        sheet, route, developed, slack, shortening, cut, clock,
        length_tolerance_mm(sheet, order),
        None if clock is None or order is None else _tolerance("clock angle", order, "plus_minus_deg"),
        tuple(_clearance(sheet, chain, thing) for thing in sheet.keep_clear),
    )  # fmt: skip
    return replace(answer, cautions=cautions_of(answer))


def _clock_deg(sheet: LineSheet) -> float | None:
    """The clock angle between two elbows; ``None`` where an end is straight or does not say where it faces."""
    near, far = sheet.ends
    if not (near.is_elbow and far.is_elbow) or near.faces is None or far.faces is None:
        return None
    return math.degrees(clock_angle_rad(sheet.points, near.faces, far.faces))


def _clearance(sheet: LineSheet, chain: list[Vector], thing: KeepClear) -> Clearance:
    between = chain_to_piece_mm(chain, thing.start, thing.end)
    return Clearance(thing, between - (sheet.hose_outside_mm or 0.0) / 2 - thing.across_mm / 2)


def length_tolerance_mm(sheet: LineSheet, order_mm: float | None) -> float | None:
    """Return how far off the order length may be: the sheet's own, else the trade's for hose cut to length, in mm."""
    if sheet.length_tolerance_mm is not None or order_mm is None:
        return sheet.length_tolerance_mm
    return _tolerance("cut length", order_mm, "plus_minus_mm")


def _tolerance(what: str, length_mm: float, column: str) -> float:
    """The tolerance of ``hose_making.csv`` for a length; a percentage is turned into mm."""
    for row in table("hose_making"):
        up_to = number(row["up_to_mm"])
        if row["what"] == what and (up_to is None or length_mm <= up_to):
            value = number(row[column])
            return value if value is not None else length_mm * (number(row["plus_minus_percent"]) or 0.0) / 100.0
    raise LookupError(what)


def faces_off_deg(sheet: LineSheet) -> tuple[float, float]:
    """Return how far each end's seat is from where its angle puts it, in degrees; 0 where the sheet does not say."""
    outward = (unit(minus(sheet.points[0], sheet.points[1])), unit(minus(sheet.points[-1], sheet.points[-2])))
    near, far = (
        0.0 if end.faces is None else abs(math.degrees(angle_between_rad(end.faces, way)) - end.angle_deg)
        for end, way in zip(sheet.ends, outward, strict=True)
    )
    return near, far
