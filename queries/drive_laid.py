"""A drive sheet, its pulleys laid out, as numbers; what mechanics refuse is told with the sheet's name."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from kb.errors import DriveError
from kb.sheets.drive_fields import DriveSheet

if TYPE_CHECKING:
    from kb.sheets.drive_numbers import DriveNumbers


@contextmanager
def said_of(sheet: DriveSheet) -> Iterator[None]:
    """Tell what the mechanics refuse as an error of this sheet."""
    try:
        yield
    except ValueError as error:  # every error of kb.mechanics is one
        raise DriveError(f"{str(error).rstrip('.')}.", where=sheet.source) from error


def laid_out(sheet: DriveSheet) -> DriveNumbers:
    """Return a sheet's numbers, its centres from ``at``, from tape distances, or both.

    Raises :class:`~kb.errors.DriveError`.
    """
    from kb.sheets.drive_numbers import path_pulleys

    placed = [(x, y) for _, x, y in sheet.points]
    if sheet.unit != "px" and not sheet.distances and all(x is not None for x, _ in placed):
        return path_pulleys(sheet)
    from kb.mechanics.layout import ScaleReading, Survey, Tape, fit_layout

    where = {name: place for place, (name, _, _) in enumerate(sheet.points)}
    survey = Survey(
        names=tuple(where),
        places=tuple(None if x is None or y is None else (x, y) for x, y in placed),
        tapes=tuple(
            Tape(where[one.first], where[one.second], one.distance_mm, sheet.doubt.distance_mm)
            for one in sheet.distances
        ),
        place_doubt=sheet.doubt.centre_mm,
        scaled=sheet.unit == "px",
        scale_readings=tuple(
            ScaleReading(one.outside_diameter_mm, one.seen_diameter_px, sheet.doubt.diameter_mm)
            for one in sheet.pulleys
            if one.outside_diameter_mm and one.seen_diameter_px
        ),
        driver=sheet.driver_index,
    )
    with said_of(sheet):
        layout = fit_layout(survey)
    return path_pulleys(sheet, layout.centres_mm, layout.covariance_mm2)
