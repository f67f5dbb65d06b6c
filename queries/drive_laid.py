"""A drive's numbers for questions that need no belt on it; what the mechanics refuse is told with the sheet's name."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from kb.errors import DriveError
from kb.sheets.drive_fields import DriveSheet
from kb.sheets.drive_layout import lay_out
from kb.sheets.drive_numbers import DriveNumbers, path_pulleys


@contextmanager
def said_of(sheet: DriveSheet) -> Iterator[None]:
    """Tell what the mechanics refuse as an error of this sheet."""
    try:
        yield
    except DriveError:
        raise
    except ValueError as error:  # every error of kb.mechanics is one
        raise DriveError(f"{str(error).rstrip('.')}.", where=sheet.source) from error


def laid_out(sheet: DriveSheet) -> DriveNumbers:
    """Return a sheet's numbers, whether or not a belt can lie on it. Raises :class:`~kb.errors.DriveError`."""
    laid = lay_out(sheet)
    return path_pulleys(sheet, laid.centres_mm, laid.covariance_mm2)
