"""A drive as it runs: laid out, its arm resting on a belt, its pulleys in the order in which the belt meets them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kb.errors import DriveError
from kb.measure import both_text
from kb.mechanics.grip import travel_order
from kb.mechanics.path import Route
from kb.mechanics.tensioner import rest
from kb.sheets.drive_fields import DriveSheet, PulleySheet
from kb.sheets.drive_layout import layout_cautions
from kb.sheets.drive_numbers import DriveNumbers
from queries.answers import apart
from queries.drive_laid import said_of
from queries.drives import KnownDrive, known_drive


@dataclass(frozen=True)
class RunningDrive:
    """``order``: places in the sheet's list, as the belt meets them from the driver on.

    ``forward`` where that is the list's own way; ``notes``: what was assumed, in words.
    """

    sheet: DriveSheet
    numbers: DriveNumbers
    arm_rad: float | None
    route: Route
    order: tuple[int, ...]
    forward: bool
    driver_clockwise: bool
    notes: tuple[str, ...]

    @property
    def pulleys(self) -> tuple[PulleySheet, ...]:
        """The sheet's pulleys in the direction of travel."""
        return tuple(self.sheet.pulleys[place] for place in self.order)

    @property
    def arm_deg(self) -> float | None:
        """The arm's angle, degrees, from 0 to 360."""
        return None if self.arm_rad is None else math.degrees(self.arm_rad) % 360.0

    def span_place(self, step: int) -> int:
        """Return the place in the route of the span that leaves the ``step``-th pulley in the direction of travel."""
        place = self.order[step % len(self.order)]
        return place if self.forward else (place - 1) % len(self.order)


def run_drive(sheet: DriveSheet, belt_length_mm: float | None = None) -> RunningDrive:
    """Lay a drive out and let its arm rest on the belt of that effective length.

    Without a length the sheet's ``belt_length`` is taken, else the middle of the arm's window, which is said. Raises
    :class:`~kb.errors.DriveError`.
    """
    drive = known_drive(sheet)
    notes = list(drive.numbers.notes)
    with said_of(sheet):
        arm_rad = _arm_rad(drive, belt_length_mm, notes)
        route = drive.drive.route_at(arm_rad)
    if sheet.rotation is None:
        notes.append("rotation: clockwise, seen from the front, as the sheet gives none (common practice, no source)")
    clockwise = sheet.rotation != "anticlockwise"
    order = travel_order(
        len(sheet.pulleys),
        listed_anticlockwise=route.grooved_sense > 0,
        driver_anticlockwise=not clockwise,
        driver_on_back=sheet.pulleys[sheet.driver_index].face == "flat",
    )
    forward = order[0] == 0
    begin = order.index(sheet.driver_index)
    order = (*order[begin:], *order[:begin])
    said = layout_cautions(drive.laid, apart) + (list(drive.window.notes) if drive.window else [])
    told = tuple(dict.fromkeys([*said, *notes]))
    return RunningDrive(sheet, drive.numbers, arm_rad, route, order, forward, clockwise, told)


def _arm_rad(drive: KnownDrive, belt_length_mm: float | None, notes: list[str]) -> float | None:
    asked_mm = drive.sheet.belt.belt_length_mm if belt_length_mm is None else belt_length_mm
    if drive.window is None:
        if asked_mm is not None:
            notes.append("the centres are fixed: the belt's length changes nothing here")
        return None
    if asked_mm is None:
        notes.append("the belt's length is not given (belt_length): the arm is taken at the middle of its window")
        return drive.shown_rad
    found = rest(drive.drive, drive.window, asked_mm)
    if found.arm_rad is None:
        low, high = both_text(drive.window.low_mm), both_text(drive.window.high_mm)
        raise DriveError(
            f"a belt of {both_text(asked_mm)} does not hold the arm between its stops: it takes {low} to {high}.",
            where=drive.sheet.source,
            do="Give a belt of that range, or leave it out: the arm is then taken at the middle of its window.",
        )
    return found.arm_rad
