"""A drive sheet, understood: laid out, its belt followed, its window and the doubts of both found.

What every question about a drive starts from. Nothing here needs a shelf.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from kb.errors import DriveError
from kb.measure import both_text
from kb.mechanics.last_pulley import LastPulley, default_need_mm, last_pulleys
from kb.mechanics.path import PathError, Route
from kb.mechanics.path_cautions import path_cautions
from kb.mechanics.slots import slot_reach
from kb.mechanics.tensioner import ArmError, Drive, Window, find_window
from kb.mechanics.window import Marks, arm_marks, fixed_marks
from kb.sheets.drive import DriveSheet, read_drive
from kb.sheets.drive_layout import LaidOut, lay_out, layout_cautions
from kb.sheets.drive_numbers import DriveNumbers, path_pulleys, wrap_limits
from queries.answers import apart

Moved = tuple[str, tuple[float, float]]
"""A pulley's name, and how far it is moved, right and up, in mm."""


@dataclass(frozen=True)
class KnownDrive:
    """A drive in numbers. ``slackest`` is the drive as a belt goes on: pulleys in slots at their slackest places.

    ``window`` is ``None`` without an arm; ``tightest`` without pulleys that move in slots.
    """

    sheet: DriveSheet
    laid: LaidOut
    numbers: DriveNumbers
    window: Window | None
    slackest: Drive
    tightest: Drive | None
    marks: Marks

    @property
    def drive(self) -> Drive:
        """The drive as the sheet has it."""
        return self.numbers.drive

    @property
    def slack_rad(self) -> float | None:
        """The arm's angle with most slack: its slack stop where the belt can lie there; ``None`` without an arm."""
        return self.window.low_rad if self.window else None

    @cached_property
    def slack_route(self) -> Route:
        """The route as a belt goes on: the arm at its slack stop, pulleys in slots at their slackest."""
        return self.slackest.route_at(self.slack_rad)

    @cached_property
    def shown_rad(self) -> float | None:
        """Where the arm is shown without a belt: in the middle of its working window."""
        return None if self.window is None else (self.window.work_low_rad + self.window.work_high_rad) / 2

    @property
    def length_doubt_mm(self) -> float:
        """One standard deviation of the route's length as a belt goes on."""
        return self.marks.slack_doubt_mm

    def lasts(self, belt_length_mm: float, reachable: tuple[str, ...] = ()) -> list[LastPulley]:
        """Return what each pulley needs to go on last; empty where the belt's width or rim climb is not known."""
        width, climb = self.numbers.belt_width_mm, self.numbers.rim_climb_mm
        if width is None or climb is None:
            return []
        slack = belt_length_mm - self.slack_route.length_mm
        return last_pulleys(
            self.slack_route, slack, width, climb, self.numbers.flanges_mm, reachable if reachable else None
        )

    @cached_property
    def default_need_mm(self) -> float:
        """The slack a belt should leave where nobody says: half the upper bound of the easiest pulley; else nothing."""
        lasts = self.lasts(self.marks.middle_mm)
        return default_need_mm(lasts) if lasts else 0.0

    def cautions(self, route: Route) -> list[str]:
        """Return what to look at twice in a route and in the layout, in words."""
        found = path_cautions(
            route,
            belt_thickness_mm=self.numbers.belt_thickness_mm,
            wrap_limits=wrap_limits(self.sheet),
            least_effective_diameter_mm=self.numbers.least_effective_diameter_mm,
            diameter_source=f"profile {self.sheet.profile}",
        )
        said = [one.words(apart) for one in found]
        window = self.window.notes if self.window else ()
        return [*layout_cautions(self.laid, apart), *window, *said, *self._grooves()]

    def _grooves(self) -> list[str]:
        ribs = self.sheet.ribs
        return [
            f"{one.name} has {one.grooves} grooves, fewer than the belt's {ribs} ribs."
            for one in self.sheet.pulleys
            if ribs and one.face == "grooved" and one.grooves is not None and one.grooves < ribs
        ]

    def place_of(self, name: str) -> int:
        """Return where a pulley stands in the belt order. Raises :class:`~kb.errors.DriveError` with the names there are."""
        key = " ".join(name.split()).casefold()
        for place, one in enumerate(self.sheet.pulleys):
            if key in (one.name.casefold(), one.point_name.casefold()):
                return place
        known = ", ".join(one.name for one in self.sheet.pulleys)
        raise DriveError(f"no pulley is called {name!r}.", where=self.sheet.source, do=f"The sheet has: {known}.")


def known_drive(sheet: DriveSheet) -> KnownDrive:
    """Lay a sheet out and follow its belt. Raises :class:`~kb.errors.DriveError` for a drive that cannot be."""
    return _known(sheet, lay_out(sheet))


def moved_drive(known: KnownDrive, moved: Moved) -> KnownDrive:
    """Return the drive with one pulley, or an arm's pivot, moved: its window, doubts and all. Raises as known_drive does."""
    place = known.place_of(moved[0])
    centres = list(known.laid.centres_mm)
    centres[place] = (centres[place][0] + moved[1][0], centres[place][1] + moved[1][1])
    return _known(known.sheet, replace(known.laid, centres_mm=tuple(centres)))


def _known(sheet: DriveSheet, laid: LaidOut) -> KnownDrive:
    numbers = path_pulleys(sheet, laid.centres_mm, laid.covariance_mm2)
    drive = numbers.drive
    try:
        window = find_window(drive) if drive.arm else None
        reach = None if drive.arm else slot_reach(drive, numbers.slots)
        slackest, tightest = reach or (drive, None)
        # Where no belt can lie, the grooved pulleys' turning is found nowhere, and that is said.
        marks = arm_marks(drive, window, numbers.doubts) if window else fixed_marks(slackest, tightest, numbers.doubts)
    except (PathError, ArmError) as error:
        raise DriveError(
            str(error), where=sheet.source, do="Check the pulleys' places, diameters, faces and order."
        ) from error
    return KnownDrive(sheet, laid, numbers, window, slackest, tightest, marks)


def drive_sheet(named: str, shelf: Callable[[], sqlite3.Connection]) -> DriveSheet:
    """Read a drive sheet from the file of that name, else from the shelf's drive of that name.

    ``shelf`` is asked only where there is no such file. Raises :class:`~kb.errors.DriveError`.
    """
    path = Path(named)
    if path.is_file() or path.suffix.casefold() == ".toml" or len(path.parts) > 1:
        return read_drive(path)
    connection = shelf()
    try:
        return stored_drive(connection, named)
    finally:
        connection.close()


def stored_drive(connection: sqlite3.Connection, name: str) -> DriveSheet:
    """Read a drive that was loaded onto the shelf, by its name. Raises :class:`~kb.errors.DriveError`."""
    found = connection.execute("SELECT name, sheet_text FROM drive WHERE name = ?", (name.strip(),)).fetchone()
    if found is None:
        known = [row[0] for row in connection.execute("SELECT name FROM drive ORDER BY name LIMIT 20")]
        do = f"It has: {'; '.join(known)}." if known else "Give a drive sheet (.toml), or load one onto the shelf."
        raise DriveError(f"no file and no drive on the shelf is called {name!r}.", do=do)
    return read_drive(str(found[1]), name=str(found[0]))


def lengths_text(mm: float | None) -> str:
    """Return a length in inches and millimetres, or a dash where it is not known."""
    return "–" if mm is None or math.isnan(mm) else both_text(mm)
