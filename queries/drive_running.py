"""A drive as it runs: laid out, its arm resting on a belt, its pulleys in the order in which the belt meets them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.errors import DriveError
from kb.measure import both_text
from kb.sheets.drive_fields import DriveSheet, PulleySheet
from queries.drive_laid import laid_out, said_of

if TYPE_CHECKING:
    from kb.mechanics.path import Route
    from kb.sheets.drive_numbers import DriveNumbers


@dataclass(frozen=True)
class RunningDrive:
    """``order``: places in the sheet's list, as the belt meets them. ``notes``: what was assumed, in words."""

    sheet: DriveSheet
    numbers: DriveNumbers
    arm_rad: float | None
    route: Route
    order: tuple[int, ...]
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

    @property
    def forward(self) -> bool:
        """Whether the belt travels in the order of the sheet's list."""
        return self.order[0] == 0

    def span_place(self, step: int) -> int:
        """Return the place in the route of the span that leaves the ``step``-th pulley in the direction of travel."""
        place = self.order[step % len(self.order)]
        return place if self.forward else (place - 1) % len(self.order)


def run_drive(sheet: DriveSheet, belt_length_mm: float | None = None) -> RunningDrive:
    """Lay a drive out and let its arm rest on the belt of that effective length.

    Without a length the sheet's ``belt_length`` is taken, else the middle of the arm's window, which is said. Raises
    :class:`~kb.errors.DriveError`.
    """
    from kb.mechanics.grip import travel_order

    numbers = laid_out(sheet)
    notes = list(numbers.notes)
    with said_of(sheet):
        arm_rad = _arm_rad(sheet, numbers, belt_length_mm, notes)
        route = numbers.drive.route_at(arm_rad)
    if sheet.rotation is None:
        notes.append("rotation: clockwise, seen from the front, as the sheet gives none (common practice, no source)")
    clockwise = sheet.rotation != "anticlockwise"
    order = travel_order(
        len(sheet.pulleys),
        listed_anticlockwise=route.grooved_sense > 0,
        driver_anticlockwise=not clockwise,
        driver_on_back=sheet.pulleys[sheet.driver_index].face == "flat",
    )
    return RunningDrive(sheet, numbers, arm_rad, route, order, clockwise, tuple(dict.fromkeys(notes)))


def _arm_rad(
    sheet: DriveSheet, numbers: DriveNumbers, belt_length_mm: float | None, notes: list[str]
) -> float | None:
    from kb.mechanics.tensioner import find_window, rest

    asked_mm = sheet.belt.belt_length_mm if belt_length_mm is None else belt_length_mm
    if numbers.drive.arm is None:
        _ = numbers.drive.grooved_sense  # refuses, in words, what no belt can follow
        if asked_mm is not None:
            notes.append("the centres are fixed: the belt's length changes nothing here")
        return None
    window = find_window(numbers.drive)
    notes += window.notes
    if asked_mm is None:
        notes.append("the belt's length is not given (belt_length): the arm is taken at the middle of its window")
        return (window.work_low_rad + window.work_high_rad) / 2
    found = rest(numbers.drive, window, asked_mm)
    if found.arm_rad is None:
        raise DriveError(
            f"a belt of {both_text(asked_mm)} does not hold the arm between its stops: it takes {both_text(window.low_mm)} "
            f"to {both_text(window.high_mm)}.",
            where=sheet.source,
            do="Give a belt of that range, or leave it out: the arm is then taken at the middle of its window.",
        )
    return found.arm_rad
