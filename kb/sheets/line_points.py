"""A line sheet's route: points in their order, whatever order they were taped in, or runs and bends laid end to end.

Points stand in the order of the route, unless they say otherwise. Where every point has a ``place`` (the numbers that
were chalked on), they go by it. Where two of them have an ``end`` (``near`` and ``far``, or the ends' names), they were
taped in any order: the shortest chain from the one to the other through all the rest is taken, and said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from kb.errors import BayshelfError
from kb.mechanics.route import RouteError
from kb.mechanics.route_points import Run, in_order, laid
from kb.mechanics.space import Vector
from kb.sheets.drive_tables import TableReader
from kb.sheets.line_fields import POINT_KEYS, RUN_KEYS, EndSheet


@dataclass(frozen=True, slots=True)
class PointTable:
    """A route's points in their order, what each is called, and how they came to it."""

    points: tuple[Vector, ...]
    names: tuple[str, ...]
    said: str
    lead_mm: float | None = None


@dataclass(frozen=True, slots=True)
class _Point:
    at: Vector
    name: str
    place: int | None
    end: str | None


def read_run(reader: TableReader, table: dict[str, Any], number: int) -> Run:
    """Read one run, the ``number``-th of the sheet. Raises the reader's error."""
    place = f"run {number}"
    values = reader.table(table, RUN_KEYS, place)
    if "length_mm" not in values:
        raise reader.refuse(place, "its length is not given.", f"Add length = {RUN_KEYS['length'].example}.")
    _check_run(reader, values, number)
    bend, twist = values.get("bend_deg"), values.get("twist_deg")
    return Run(
        values["length_mm"], values.get("toward"), None if bend is None else math.radians(bend), values.get("turning"),
        None if twist is None else math.radians(twist),
    )  # fmt: skip


def _check_run(reader: TableReader, values: dict[str, Any], number: int) -> None:
    place = f"run {number}"
    if "toward" in values:
        for key in ("bend", "turning", "twist"):
            if key in values or f"{key}_deg" in values:
                raise reader.refuse(
                    place, f"it has toward and {key}.", "Say where it goes, or how it bends: one of the two."
                )
        return
    if number == 1:
        raise reader.refuse(
            place, "where the first run goes is not given.", f"Add toward = {RUN_KEYS['toward'].example}."
        )
    if "bend_deg" not in values:
        raise reader.refuse(
            place, "how it leaves the run before is not given.", 'Add bend = 90 and turning = "up", or toward = "up".'
        )
    if ("turning" in values) == ("twist_deg" in values):
        raise reader.refuse(
            place,
            "which way it bends is not given." if "turning" not in values else "it has turning and twist.",
            'Give turning = "up", or twist = 90: clockwise from the side of the bend before, looking along the line.',
        )


def runs_laid(reader: TableReader, runs: Sequence[Run]) -> PointTable:
    """Lay the runs end to end, the near end's reference point at nought."""
    if not runs:
        raise reader.refuse("", "the route has no runs.", "Give [[run]] tables with length and toward.")
    points = tuple(laid(runs))
    names = tuple(f"point {number}" for number in range(1, len(points) + 1))
    return PointTable(points, names, f"{len(runs)} runs laid end to end")


def points_in_order(reader: TableReader, tables: list[dict[str, Any]], ends: tuple[EndSheet, EndSheet]) -> PointTable:
    """Read the points and put them in the order of the route. Raises the reader's error, or a ``RouteError``."""
    found = [_point(reader, table, number, ends) for number, table in enumerate(tables, start=1)]
    if len(found) < 2:
        raise reader.refuse(
            "",
            f"{len(found)} {'point was' if len(found) == 1 else 'points were'} read; a route has two or more: the "
            "reference point of each end, and every corner between.",
            "Give [[point]] tables with at = [x, y, z].",
        )
    placed = [one for one in found if one.place is not None]
    if placed:
        return _by_place(reader, found, len(placed), ends)
    marked = [one.end for one in found if one.end is not None]
    if marked:
        return _by_nearness(reader, found, marked, ends)
    return _table(found, "in the order of the sheet")


def _table(points: Sequence[_Point], said: str, lead_mm: float | None = None) -> PointTable:
    return PointTable(tuple(one.at for one in points), tuple(one.name for one in points), said, lead_mm)


def _by_place(reader: TableReader, found: list[_Point], placed: int, ends: tuple[EndSheet, EndSheet]) -> PointTable:
    if placed < len(found):
        raise reader.refuse(
            "[[point]]", f"{placed} of {len(found)} points have a place.", "Give every point its place, or none."
        )
    places = [one.place for one in found]
    twice = next((place for place in places if places.count(place) > 1), None)
    if twice is not None:
        raise reader.refuse("[[point]], place", f"two points have place {twice}.", "Give each a place of its own.")
    ordered = sorted(found, key=lambda one: one.place or 0)
    return _table(ordered, f"by their places: {_named(ordered, ends)}")


def _by_nearness(
    reader: TableReader, found: list[_Point], marked: list[str], ends: tuple[EndSheet, EndSheet]
) -> PointTable:
    if sorted(marked) != ["far", "near"]:
        raise reader.refuse(
            "[[point]], end",
            f"{' and '.join(marked)} are marked; the reference point of each end is, once.",
            'Give one point end = "near" and one end = "far".',
        )
    marks = [one.end for one in found]
    try:
        order, lead_mm = in_order([one.at for one in found], marks.index("near"), marks.index("far"))
    except RouteError as error:
        raise reader.refuse("[[point]]", f"{error}.", "Give the points places: place = 1, 2, 3.") from error
    ordered = [found[place] for place in order]
    return _table(
        ordered, f"put into the shortest chain: {_named(ordered, ends)}", lead_mm if math.isfinite(lead_mm) else None
    )


def _named(ordered: Sequence[_Point], ends: tuple[EndSheet, EndSheet]) -> str:
    return " – ".join([ends[0].name, *(one.name for one in ordered[1:-1]), ends[1].name])


def _point(reader: TableReader, table: dict[str, Any], number: int, ends: tuple[EndSheet, EndSheet]) -> _Point:
    place = f"point {number}"
    values = reader.table(table, POINT_KEYS, place)
    if "at" not in values:
        raise reader.refuse(place, "where it is is not given.", f"Add at = {POINT_KEYS['at'].example}.")
    at, height = values["at"], values.get("height_mm")
    if (len(at) == 2) != (height is not None):
        raise reader.refuse(
            place,
            "its height is given twice." if height is not None else "its height is not given.",
            "Give at = [x, y, z] (y is the height), or at = [x, z] and height.",
        )
    x, y, z = at if height is None else (at[0], height, at[1])
    return _Point((x, y, z), values.get("name", place), values.get("place"), _end_mark(reader, values, place, ends))


def _end_mark(reader: TableReader, values: dict[str, Any], place: str, ends: tuple[EndSheet, EndSheet]) -> str | None:
    said = values.get("end")
    if said is None:
        return None
    known = {"near": "near", "far": "far", ends[0].name.casefold(): "near", ends[1].name.casefold(): "far"}
    if said.casefold() not in known:
        error: BayshelfError = reader.refuse(
            f"{place}, end", f"{said!r} is no end of this line.", f"Use one of: {', '.join(known)}."
        )
        raise error
    return known[said.casefold()]
