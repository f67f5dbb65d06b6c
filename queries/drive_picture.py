"""The picture of a drive: with a belt, with a pulley moved."""

from __future__ import annotations

from kb.errors import AnswerError, DriveError
from kb.measure import LENGTH, read
from kb.mechanics.path import PathError, find_route
from kb.mechanics.tensioner import arm_angle_rad
from queries.drawings.drive import draw_drive
from queries.drives import KnownDrive, Moved, moved_drive


def ask_picture(known: KnownDrive, belt_length_mm: float | None = None, moved: Moved | None = None) -> str:
    """Return the drive as SVG: the arm where the belt puts it, a moved pulley with a ghost where it stood.

    ``moved`` names a pulley and how far it goes, right and up, in mm. Raises :class:`~kb.errors.DriveError` where it
    cannot go there.
    """
    shown = known if moved is None else moved_drive(known, moved)
    arm_rad = _arm_rad(shown, belt_length_mm)
    try:
        route = find_route(shown.drive.pulleys_at(arm_rad))
    except PathError as error:
        raise DriveError(str(error), where=known.sheet.source, do="Move it less, or another way.") from error
    ghosts = [] if moved is None else [known.drive.pulleys_at(known.shown_rad)[known.place_of(moved[0])]]
    return draw_drive(shown, route, arm_rad, ghosts)


def _arm_rad(known: KnownDrive, belt_length_mm: float | None) -> float | None:
    window = known.window
    if window is None or belt_length_mm is None:
        return known.shown_rad
    resting = arm_angle_rad(known.drive, window, belt_length_mm)
    if resting is not None:
        return resting
    # A belt too short is shown at the slack stop, one too long at the free one: that is where the arm ends up.
    return window.low_rad if belt_length_mm < window.low_mm else window.high_rad


def read_move(text: str) -> tuple[float, float]:
    """Read a move such as ``0, -1/4 in``: how far right and up, in mm.

    >>> read_move("0, -1/4 in")
    (0.0, -6.35)
    """
    parts = [part.strip() for part in text.split(";" if ";" in text else ",")]
    if len(parts) != 2 or not all(parts):
        raise AnswerError(f"{text!r} is no move.", do='Give how far right and how far up, such as "0, -1/4 in".')
    right, up = (read(part, LENGTH, low=-1000.0, high=1000.0) for part in parts)
    return right, up
