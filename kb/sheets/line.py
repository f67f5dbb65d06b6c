"""Reading a line sheet: the TOML text of one hose or line, as it was measured, into a :class:`LineSheet`.

Every refusal says which file, table and key, what was read, and what is expected there. The keys and what each may be
stand in :mod:`kb.sheets.line_fields`. Brake, steering and fuel lines are not read at all: bayshelf tells which thread an
end has, and no more.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from kb.errors import LineError, MeasurementError
from kb.measure import QUANTITIES, read
from kb.mechanics.route import RouteError, directions
from kb.mechanics.space import Vector, angle_between_rad, minus, times, unit
from kb.sheets.drive_tables import KeyForm, TableReader
from kb.sheets.line_fields import (
    END_KEYS,
    KEEP_CLEAR_KEYS,
    SHARPEST_DEG,
    SHEET_KEYS,
    SIDES,
    EndSheet,
    KeepClear,
    LineSheet,
)
from kb.sheets.line_points import PointTable, points_in_order, read_run, runs_laid
from kb.sheets.toml_text import read_toml

__all__ = ["EndSheet", "KeepClear", "LineSheet", "read_line"]

FACES_OFF_DEG = 10.0
"""How far an elbow's seat may point from where its angle puts it: a tape's and an eye's doubt; common practice, no source."""
_NOT_FROM_HERE = re.compile(
    r"\b(?:brak(?:e|es|ing)|steer\w*|(?:bio)?fuel\w*|petrol|gasoline|brems\w*|lenk\w*|kraftstoff\w*)\b", re.IGNORECASE
)


def read_line(source: Path | str, *, name: str | None = None) -> LineSheet:
    """Read a line sheet from a file, or from a text that holds a line break or an equals sign.

    ``name`` is what errors call the sheet; by default the file's name, or "line sheet" for a text. Raises
    :class:`~kb.errors.LineError`.

    >>> sheet = read_line('''
    ... name = "Heater return"
    ... hose_outside = "1 in"
    ... min_bend_radius = "3 in"
    ... [[end]]
    ... name = "pump"
    ... [[end]]
    ... name = "heater"
    ... [[run]]
    ... length = "10 in"
    ... toward = "up"
    ... [[run]]
    ... length = "8 in"
    ... bend = 90
    ... turning = "right"
    ... ''')
    >>> sheet.points[-1], sheet.centre_radius_mm
    ((203.2, 254.0, 0.0), 88.9)
    """
    tables, text, called, stem = read_toml(source, name, "line", LineError)
    unit_reader = _LineReader(called, "mm")
    if "unit" in tables:
        unit_reader = _LineReader(called, unit_reader.choice(tables["unit"], SHEET_KEYS["unit"], "unit"))
    return unit_reader.sheet(tables, text, stem)


@dataclass(frozen=True, slots=True)
class _LineReader(TableReader):
    """Reads the tables of one line sheet."""

    def refuse(self, place: str, what: str, do: str | None = None) -> LineError:
        """Return the error to raise, its place named."""
        return LineError(what, where=f"{self.called}, {place}" if place else self.called, do=do)

    def entry(self, value: Any, form: KeyForm, place: str) -> Any:
        """Read one entry as its form says; a line sheet has places and directions in space too."""
        if form.quantity == "space":
            return self.space(value, form, place)
        if form.quantity == "direction":
            return self.direction(value, form, place)
        if form.quantity == "count":
            return int(self.measurement(value, form, place))
        # ``super()`` needs the class by name where slots have remade it.
        return TableReader.entry(self, value, form, place)

    def space(self, value: Any, form: KeyForm, place: str) -> tuple[float, ...]:
        """Read a place in mm: three numbers, or two where a height stands beside them."""
        if not isinstance(value, list) or len(value) not in (2, 3):
            raise self.refuse(
                place,
                f"{value!r:.60} was read; three numbers are expected: x to the right, y up, z forward.",
                f"Example: {form.example}.",
            )
        coordinate = KeyForm("length", form.attribute, low=-1e5, high=1e5, example="6.5")
        axes = "xyz" if len(value) == 3 else "xz"
        return tuple(self.length(one, coordinate, f"{place}, {axis}") for one, axis in zip(value, axes, strict=True))

    def direction(self, value: Any, form: KeyForm, place: str) -> Vector:
        """Read a direction: a word, or three numbers; return it as a unit vector."""
        if isinstance(value, str) and value.strip().casefold() in SIDES:
            return SIDES[value.strip().casefold()]
        if isinstance(value, list) and len(value) == 3:
            try:
                x, y, z = (read(one, QUANTITIES["number"], low=-1e6, high=1e6) for one in value)
                return unit((x, y, z))
            except (MeasurementError, ValueError):
                pass
        raise self.refuse(
            place,
            f"{value!r:.60} was read; a direction is expected: {', '.join(SIDES)}, or three numbers that are not all 0.",
            f"Example: {form.example}.",
        )

    def sheet(self, tables: dict[str, Any], text: str, stem: str | None) -> LineSheet:
        """Read the whole sheet."""
        self._check_service(tables.get("service"), tables.get("name"), stem)
        values = self.table(tables, SHEET_KEYS, "")
        values.setdefault("name", stem)
        values.setdefault("service", None)
        if not values["name"]:
            raise self.refuse("", "the line has no name.", f"Add name = {SHEET_KEYS['name'].example}.")
        values.pop("unit", None)
        ends = self.ends(tables.get("end", []))
        ordered = self.points(tables, ends)
        clear = tuple(
            self.keep_clear(one, place)
            for place, one in enumerate(self.tables(tables.get("keep_clear", []), "keep_clear", ""), start=1)
        )
        sheet = LineSheet(
            **values, unit=self.unit, ends=ends, points=ordered.points, point_names=ordered.names,
            order_said=ordered.said, order_lead_mm=ordered.lead_mm, keep_clear=clear, text=text, source=self.called,
        )  # fmt: skip
        self._check_hose(sheet)
        return replace(sheet, ends=self._faced(sheet))

    def _check_service(self, *said: Any) -> None:
        """Refuse what is not made from here, whatever else is wrong with the sheet."""
        for one in said:
            found = _NOT_FROM_HERE.search(one) if isinstance(one, str) else None
            if found:
                raise self.refuse(
                    "",
                    f"{found[0]!r} was read: brake, steering and fuel lines are not worked out or ordered from here.",
                    "`bayshelf fittings` tells which thread an end has; have the line made and fitted by those licensed "
                    "for it, to the local code.",
                )

    def ends(self, value: Any) -> tuple[EndSheet, EndSheet]:
        """Read both ends, the near one first."""
        tables = self.tables(value, "end", "")
        if len(tables) != 2:
            raise self.refuse(
                "", f"{len(tables)} ends were read; a line has two, the near one first.", "Give two [[end]] tables."
            )
        near, far = (self.end(one, which) for one, which in zip(tables, ("near", "far"), strict=True))
        if near.name.casefold() == far.name.casefold():
            raise self.refuse("[[end]]", f"both are called {near.name!r}.", "Give each a name of its own.")
        return near, far

    def end(self, table: dict[str, Any], which: str) -> EndSheet:
        """Read one end."""
        place = f"end {table['name']!r}" if isinstance(table.get("name"), str) else f"the {which} end"
        self._check_service(table.get("name"))
        values = self.table(table, END_KEYS, place)
        values.setdefault("name", which)
        if "stub_mm" in values:
            if "thread" in values:
                raise self.refuse(
                    place, "it has a thread and a stub.", "A hose end screws on or is clamped on: keep one."
                )
            values.setdefault("form", "hose")
            values.setdefault("cut_off_mm", 0.0)
        if values.get("form") == "hose" and values.get("angle_deg"):
            raise self.refuse(f"{place}, angle", "a plain hose end has no elbow.", "Give the bend as a point or a run.")
        if values.get("drop_mm") is not None and not values.get("angle_deg"):
            raise self.refuse(f"{place}, drop", "only an elbow has a drop.", "Give angle = 90, or leave the drop out.")
        return EndSheet(**values)

    def points(self, tables: dict[str, Any], ends: tuple[EndSheet, EndSheet]) -> PointTable:
        """Read the route: points or runs, and check that it leads somewhere."""
        if "point" in tables and "run" in tables:
            raise self.refuse("", "it has points and runs.", "Give the route as [[point]] tables or as [[run]] tables.")
        try:
            if "run" in tables:
                runs = [
                    read_run(self, one, number)
                    for number, one in enumerate(self.tables(tables["run"], "run", ""), start=1)
                ]
                ordered = runs_laid(self, runs)
            else:
                ordered = points_in_order(self, self.tables(tables.get("point", []), "point", ""), ends)
            along = directions(ordered.points)
        except RouteError as error:
            raise self.refuse("", f"{error}.", "Give each corner of the centre line, end to end.") from error
        for place, (before, after) in enumerate(pairwise(along), start=2):
            turn_deg = math.degrees(angle_between_rad(before, after))
            if turn_deg > SHARPEST_DEG:
                raise self.refuse(
                    "",
                    f"at point {place} ({ordered.names[place - 1]}) the route turns {turn_deg:.0f} degrees; no single corner "
                    f"turns more than {SHARPEST_DEG:g}.",
                    "A U is two corners of 90 degrees with a leg between; or the points are out of order.",
                )
        return ordered

    def keep_clear(self, table: dict[str, Any], number: int) -> KeepClear:
        """Read one thing to stay away from, the ``number``-th of the sheet."""
        place = f"keep_clear {table['name']!r}" if isinstance(table.get("name"), str) else f"keep_clear {number}"
        values = self.table(table, KEEP_CLEAR_KEYS, place)
        at, start, end = values.pop("at", None), values.pop("start", None), values.pop("end", None)
        if (at is None) == (start is None) or (start is None) != (end is None):
            raise self.refuse(
                place, "where it is cannot be told.", "Give at = [x, y, z], or from = … and to = …, one of the two."
            )
        if "by_mm" not in values:
            raise self.refuse(place, "how far to stay away is not given.", f"Add by = {KEEP_CLEAR_KEYS['by'].example}.")
        corners = (at, at) if at is not None else (start, end)
        if any(len(one) != 3 for one in corners):
            raise self.refuse(
                place, "three numbers are expected: x to the right, y up, z forward.", "Example: at = [4, 2, 0]."
            )
        return KeepClear(values.pop("name", f"thing {number}"), *corners, **values)

    def _check_hose(self, sheet: LineSheet) -> None:
        inside, outside = sheet.hose_inside_mm, sheet.hose_outside_mm
        if inside is not None and outside is not None and inside >= outside:
            raise self.refuse(
                "hose_inside", f"it is {inside:g} mm, and the outside is {outside:g} mm: no wall is left."
            )
        if len(sheet.points) > 2 and (sheet.min_bend_radius_mm is None or outside is None):
            missing = "min_bend_radius" if sheet.min_bend_radius_mm is None else "hose_outside"
            raise self.refuse(
                "",
                f"the route bends, and {missing} is not given.",
                f"Add {missing} = {SHEET_KEYS[missing].example}: the hose's table gives the radius to the inside of the "
                "bend, and half the outside diameter is added to it.",
            )
        if sheet.keep_clear and outside is None:
            raise self.refuse(
                "", "something is to be kept clear, and hose_outside is not given.", 'Add hose_outside = "1 in".'
            )
        cut_offs = [one.cut_off_mm for one in sheet.ends if one.cut_off_mm]
        if cut_offs and sum(cut_offs) >= sum(math.dist(a, b) for a, b in pairwise(sheet.points)):
            raise self.refuse(
                "[[end]], cut_off", "the end fittings take more than the whole line.", "Measure the cut-offs again."
            )

    def _faced(self, sheet: LineSheet) -> tuple[EndSheet, EndSheet]:
        """Check each end's seat against the way its hose leaves; a straight end faces along the hose."""
        near, far = sheet.ends
        outward = (
            unit(minus(sheet.points[0], sheet.points[1])),
            unit(minus(sheet.points[-1], sheet.points[-2])),
        )
        return self._end_faced(near, outward[0]), self._end_faced(far, outward[1])

    def _end_faced(self, end: EndSheet, outward: Vector) -> EndSheet:
        if end.faces is None:
            return end if end.is_elbow else replace(end, faces=times(outward, 1.0))
        seen_deg = math.degrees(angle_between_rad(end.faces, outward))
        if abs(seen_deg - end.angle_deg) > FACES_OFF_DEG:
            raise self.refuse(
                f"end {end.name!r}, faces",
                f"its seat points {seen_deg:.0f} degrees off the way the hose runs into it, and its angle is "
                f"{end.angle_deg:g} degrees.",
                f"Look at faces, at the points next to this end, or give angle = {seen_deg:.0f}.",
            )
        return end
