"""Reading a drive sheet: the TOML text of one drive, as it was measured, into a :class:`DriveSheet`.

Every refusal says which file, table and key, what was read, and what is expected there. The keys and what each may be
stand in :mod:`kb.sheets.drive_fields`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from kb.errors import DriveError
from kb.sheets.drive_fields import (
    ARM_KEYS,
    DISTANCE_KEYS,
    DOUBT_KEYS,
    PULLEY_KEYS,
    SHEET_KEYS,
    STRAIGHTEDGE_KEYS,
    ArmSheet,
    BeltSheet,
    DistanceSheet,
    Doubts,
    DriveSheet,
    PulleySheet,
    StraightedgeSheet,
)
from kb.sheets.drive_tables import TableReader, nearest
from kb.sheets.toml_text import read_toml

__all__ = ["ArmSheet", "DistanceSheet", "Doubts", "DriveSheet", "PulleySheet", "read_drive"]

RIBBED_PROFILES = ("PH", "PJ", "PK", "PL", "PM")
"""The V-ribbed profiles of ISO 9982 (PK: ISO 9981)."""
PK_BELT_OVER_RIM_MM = 2.5
PK_BELT_THICKNESS_MM = 4.6
"""Both filled in only where a PK sheet is silent, and said: common practice, no source."""


def read_drive(source: Path | str, *, name: str | None = None) -> DriveSheet:
    """Read a drive sheet from a file, or from a text that holds a line break or an equals sign.

    ``name`` is what errors call the sheet; by default the file's name, or "drive sheet" for a text. Raises
    :class:`~kb.errors.DriveError`.

    >>> sheet = read_drive('''
    ... name = "Pump"
    ... profile = "PK"
    ... ribs = 4
    ... [[pulley]]
    ... name = "crank"
    ... outside_diameter = "7 1/4 in"
    ... face = "grooved"
    ... at = [0, 0]
    ... driver = true
    ... [[pulley]]
    ... name = "pump"
    ... effective_diameter = 120
    ... face = "grooved"
    ... at = ["12 in", 0]
    ... ''')
    >>> round(sheet.pulleys[0].outside_diameter_mm, 2), round(sheet.pulleys[1].x, 2)
    (184.15, 304.8)
    """
    tables, text, called, stem = read_toml(source, name, "drive", DriveError)
    return _DriveReader(called, "mm").sheet(tables, text, stem)


@dataclass(frozen=True, slots=True)
class _DriveReader(TableReader):
    """Reads the tables of one drive sheet."""

    def sheet(self, tables: dict[str, Any], text: str, stem: str | None) -> DriveSheet:
        """Read the whole sheet."""
        if "unit" in tables:
            unit = self.choice(tables["unit"], SHEET_KEYS["unit"], "unit")
            return _DriveReader(self.called, unit)._sheet(tables, text, stem)
        return self._sheet(tables, text, stem)

    def _sheet(self, tables: dict[str, Any], text: str, stem: str | None) -> DriveSheet:
        values = self.table(tables, SHEET_KEYS, "")
        values.setdefault("name", stem)
        if not values["name"]:
            raise self.refuse("", "the drive has no name.", f"Add name = {SHEET_KEYS['name'].example}.")
        pulleys = tuple(
            self.pulley(one, place)
            for place, one in enumerate(self.tables(tables.get("pulley", []), "pulley", ""), start=1)
        )
        self._check_pulleys(pulleys)
        names = {one.point_name.casefold(): one.point_name for one in pulleys}
        arms = {one.name.casefold(): one.point_name for one in pulleys if one.arm}
        distances = tuple(
            self.distance(one, names, arms, place)
            for place, one in enumerate(self.tables(tables.get("distance", []), "distance", ""), start=1)
        )
        self._check_placed(pulleys, distances)
        self._check_straightedges(pulleys)
        assumed = self._belt(values, pulleys)
        self._check_speeds(values)
        return DriveSheet(
            name=values["name"],
            profile=values["profile"],
            ribs=_whole(values.get("ribs")),
            unit=self.unit,
            rotation=values.get("rotation"),
            idle_rpm=values.get("idle_rpm"),
            governed_rpm=values.get("governed_rpm"),
            belt_over_rim_mm=values["belt_over_rim_mm"],
            belt_thickness_mm=values["belt_thickness_mm"],
            rim_climb_mm=values["rim_climb_mm"],
            pulleys=pulleys,
            distances=distances,
            doubt=Doubts(**self.table(tables.get("doubt", {}), DOUBT_KEYS, "[doubt]")),
            text=text,
            source=self.called,
            assumed=assumed,
            belt=BeltSheet(**{one.name: values.get(one.name) for one in fields(BeltSheet)}),
        )

    def _belt(self, values: dict[str, Any], pulleys: tuple[PulleySheet, ...]) -> tuple[str, ...]:
        """Fill in what a sheet may leave open of its belt; say what was filled in."""
        assumed: list[str] = []
        if "profile" not in values:
            values["profile"] = "PK"
            assumed.append("profile: PK, as the sheet gives none")
        profile = values["profile"] = values["profile"].upper()
        if profile in RIBBED_PROFILES and "ribs" not in values:
            raise self.refuse("", f"how many ribs the {profile} belt has is not given.", "Add ribs = 8, as it is.")
        over_rim, thickness = values.get("belt_over_rim_mm"), values.get("belt_thickness_mm")
        if profile == "PK" and over_rim is None:
            over_rim = PK_BELT_OVER_RIM_MM
            assumed.append(f"belt_over_rim: {over_rim:g} mm (common practice, no source)")
        if profile == "PK" and thickness is None:
            thickness = PK_BELT_THICKNESS_MM
            assumed.append(f"belt_thickness: {thickness:g} mm (common practice, no source)")
        flat = next((one.name for one in pulleys if one.face == "flat"), None)
        if flat and over_rim is None:
            raise self.refuse(
                "",
                f"the belt's back runs on {flat!r}, but belt_over_rim is not given.",
                'Lay a caliper over belt and rim, take the rim off, halve it: belt_over_rim = "2.5 mm".',
            )
        if over_rim is not None and thickness is not None and over_rim > thickness:
            raise self.refuse(
                "belt_over_rim", f"it is {over_rim:g} mm, more than the belt is thick ({thickness:g} mm)."
            )
        values["belt_over_rim_mm"], values["belt_thickness_mm"] = over_rim, thickness
        if values.get("rim_climb_mm") is None:
            values["rim_climb_mm"] = None if over_rim is None or thickness is None else thickness - over_rim
        return tuple(assumed)

    def _check_speeds(self, values: dict[str, Any]) -> None:
        idle, governed = values.get("idle_rpm"), values.get("governed_rpm")
        if idle is not None and governed is not None and idle > governed:
            raise self.refuse("idle_rpm", f"idle speed {idle:g} rpm is above the governed speed {governed:g} rpm.")

    def _check_pulleys(self, pulleys: tuple[PulleySheet, ...]) -> None:
        if len(pulleys) < 2:
            raise self.refuse("", f"{len(pulleys)} pulleys were read; a belt runs round two or more.")
        seen: dict[str, str] = {}
        for name in (name for one in pulleys for name in dict.fromkeys((one.name, one.point_name))):
            if name.casefold() in seen:
                raise self.refuse(f"pulley {name!r}", "two pulleys have that name.", "Give each a name of its own.")
            seen[name.casefold()] = name
        drivers = [one.name for one in pulleys if one.driver]
        if not drivers:
            raise self.refuse("", "no pulley drives the others.", "Add driver = true to the one that does.")
        if len(drivers) > 1:
            raise self.refuse("", f"{' and '.join(drivers)} are all marked as the driver.", "Keep one driver = true.")
        arms = [one.name for one in pulleys if one.arm]
        if len(arms) > 1:
            raise self.refuse("", f"{' and '.join(arms)} both swing on an arm.", "Give one tensioner to a belt.")

    def _check_placed(self, pulleys: tuple[PulleySheet, ...], distances: tuple[DistanceSheet, ...]) -> None:
        taped = {name for one in distances for name in (one.first, one.second)}
        for one, (point, x, _) in zip(pulleys, [(p.point_name, *_place(p)) for p in pulleys], strict=True):
            if x is None and point not in taped:
                key = "pivot" if one.arm else "at"
                raise self.refuse(
                    f"pulley {one.name!r}",
                    f"where {point} sits is not given.",
                    f"Add {key} = [x, y], or [[distance]] tables with between = [{point!r}, …].",
                )

    def pulley(self, table: dict[str, Any], number: int) -> PulleySheet:
        """Read one pulley, the ``number``-th of the sheet."""
        place = f"pulley {table['name']!r}" if isinstance(table.get("name"), str) else f"pulley {number}"
        values = self.table(table, PULLEY_KEYS, place)
        for needed in ("name", "face"):
            if needed not in values:
                raise self.refuse(
                    place, f"its {needed} is not given.", f"Add {needed} = {PULLEY_KEYS[needed].example}."
                )
        given = [key for key in ("outside_diameter", "effective_diameter", "over_balls") if key in table]
        if len(given) != 1:
            said = " and ".join(given) if given else "no diameter"
            raise self.refuse(
                place,
                f"{said} {'are' if given else 'is'} given.",
                "Give one of outside_diameter, effective_diameter and over_balls.",
            )
        if values["face"] == "flat" and given[0] != "outside_diameter":
            raise self.refuse(f"{place}, {given[0]}", "a flat face has an outside_diameter only.")
        if "slot_travel_mm" in values and "slot_deg" not in values:
            raise self.refuse(f"{place}, slot_travel", "which way the slot runs is not given.", "Add slot = 270.")
        x, y = values.pop("at", (None, None))
        if "arm" in table:
            values["arm"] = self.arm(table["arm"], f"{place}, [pulley.arm]")
            self._check_armed(values, place)
        if "straightedge" in table:
            values["straightedge"] = self.straightedge(table["straightedge"], f"{place}, [pulley.straightedge]")
        self._check_plane(values, place)
        values["grooves"] = _whole(values.get("grooves"))
        return PulleySheet(**values, x=x, y=y)

    def _check_armed(self, values: dict[str, Any], place: str) -> None:
        for attribute, said in (("slot_deg", "runs in a slot"), ("driver", "drives the others")):
            if values.get(attribute) not in (None, False):
                raise self.refuse(place, f"it {said} and swings on a tensioner's arm.", "Keep one of the two.")

    def _check_plane(self, values: dict[str, Any], place: str) -> None:
        """Hold apart the ways of telling where a groove sits, and ask for what each needs."""
        ways = [key for key in ("plane", "hub_face") if f"{key}_mm" in values]
        ways += ["straightedge"] if "straightedge" in values else []
        if "plane" in ways and len(ways) > 1:
            raise self.refuse(place, f"{' and '.join(ways)} are given.", "Give plane, or what it follows from.")
        for key in ("spacer", "pulley_offset"):
            if f"{key}_mm" in values and "hub_face" not in ways:
                raise self.refuse(f"{place}, {key}", "hub_face, on which it is stacked, is not given.")
        if "hub_face" in ways and "pulley_offset_mm" not in values:
            raise self.refuse(
                place,
                "hub_face is given without pulley_offset.",
                'From the pulley\'s mounting face to its first groove, forward counted up: pulley_offset = "-8.2 mm".',
            )
        if "straightedge" in ways and "tilt_deg" in values:
            raise self.refuse(
                f"{place}, tilt", "the straightedge's two gaps tell the tilt already.", "Keep one of them."
            )
        if "tilt_towards_deg" in values and "tilt_deg" not in values:
            raise self.refuse(f"{place}, tilt_towards", "how far it tilts is not given.", "Add tilt = 0.3.")

    def straightedge(self, table: Any, place: str) -> StraightedgeSheet:
        """Read the two gaps under a straightedge."""
        values = self.table(table, STRAIGHTEDGE_KEYS, place)
        for needed, form in STRAIGHTEDGE_KEYS.items():
            if needed != "against" and form.attribute not in values:
                raise self.refuse(place, f"its {needed} is not given.", f"Add {needed} = {form.example}, as read.")
        if abs(values["second_at_mm"] - values["first_at_mm"]) < 1.0:
            raise self.refuse(
                place, "both gaps were read at the same place.", "Read them as far apart as the rim allows."
            )
        return StraightedgeSheet(**values)

    def _check_straightedges(self, pulleys: tuple[PulleySheet, ...]) -> None:
        """Every straightedge must lie against another pulley of the drive."""
        names = {one.name.casefold(): one.name for one in pulleys}
        for one in pulleys:
            against = one.straightedge.against if one.straightedge else None
            if one.straightedge is None or (against is None and not one.driver):
                continue
            place = f"pulley {one.name!r}, [pulley.straightedge], against"
            if against is None or against.casefold() == one.name.casefold():
                raise self.refuse(place, "a straightedge lies across another pulley.", "Name it.")
            if against.casefold() not in names:
                raise self.refuse(place, f"no pulley is called {against!r}.", nearest(against, list(names.values())))

    def arm(self, table: Any, place: str) -> ArmSheet:
        """Read a tensioner's arm."""
        values = self.table(table, ARM_KEYS, place)
        for needed in ("length", "slack_stop", "free_stop"):
            if ARM_KEYS[needed].attribute not in values:
                raise self.refuse(
                    place, f"its {needed} is not given.", f"Add {needed} = {ARM_KEYS[needed].example}, as measured."
                )
        if ("work_from_deg" in values) != ("work_to_deg" in values):
            raise self.refuse(place, "only one of work_from and work_to is given.", "Give both, or neither.")
        for key in ("torque_at_deg", "rate_nm_per_deg", "damping"):
            if key in values and "torque_nm" not in values:
                raise self.refuse(place, f"{key.removesuffix('_deg')} is given without torque_nm.")
        if "rate_nm_per_deg" in values and "torque_at_deg" not in values:
            raise self.refuse(place, "the arm angle at which torque_nm was read is not given.", "Add torque_at = 90.")
        self._check_stops(values, place)
        pivot_x, pivot_y = values.pop("pivot", (None, None))
        return ArmSheet(**values, pivot_x=pivot_x, pivot_y=pivot_y)

    def _check_stops(self, values: dict[str, Any], place: str) -> None:
        slack, free = values["slack_stop_deg"], values["free_stop_deg"]
        travel = math.remainder(free - slack, 360.0)
        if abs(travel) < 0.1 or abs(travel) > 179.9:
            raise self.refuse(
                place,
                f"from slack_stop {slack:g} to free_stop {free:g} degrees the arm's way cannot be told.",
                "Give both as the direction of the arm, in degrees anticlockwise from the x axis.",
            )
        for key in ("work_from", "work_to"):
            mark = values.get(f"{key}_deg")
            if mark is not None and not -1e-9 <= math.remainder(mark - slack, 360.0) / travel <= 1 + 1e-9:
                raise self.refuse(f"{place}, {key}", f"{mark:g} degrees lies outside the stops {slack:g} to {free:g}.")

    def distance(
        self, table: dict[str, Any], names: Mapping[str, str], arms: Mapping[str, str], number: int
    ) -> DistanceSheet:
        """Read one tape measurement, the ``number``-th of the sheet."""
        between = table.get("between")
        pair = between if isinstance(between, list) and all(isinstance(one, str) for one in between) else []
        place = f"distance between {pair[0]!r} and {pair[1]!r}" if len(pair) == 2 else f"distance {number}"
        values = self.table(table, DISTANCE_KEYS, place)
        if len(pair) != 2:
            example = DISTANCE_KEYS["between"].example
            raise self.refuse(place, "between which two pulleys is not given.", f"Example: between = {example}.")
        if "distance_mm" not in values:
            raise self.refuse(place, "its length is not given.", 'Example: is = "14 3/8 in".')
        first, second = (self._point(one, names, arms, place) for one in pair)
        if first == second:
            raise self.refuse(place, "a distance runs between two different pulleys.")
        return DistanceSheet(first, second, values["distance_mm"])

    def _point(self, name: str, names: Mapping[str, str], arms: Mapping[str, str], place: str) -> str:
        key = " ".join(name.split()).casefold()
        if key in names:
            return names[key]
        if key in arms:
            raise self.refuse(
                place,
                f"{name!r} swings on its arm, so its centre has no fixed distance.",
                f"Tape to the pivot, and name it {arms[key]!r}.",
            )
        raise self.refuse(place, f"no pulley is called {name!r}.", nearest(name, list(names.values())))


def _place(pulley: PulleySheet) -> tuple[float | None, float | None]:
    return (pulley.arm.pivot_x, pulley.arm.pivot_y) if pulley.arm else (pulley.x, pulley.y)


def _whole(number: float | None) -> int | None:
    return None if number is None else int(number)
