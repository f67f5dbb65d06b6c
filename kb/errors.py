"""The errors that a user can meet, each with what is wrong, where, and what to do.

BayshelfError
  MeasurementError     a text that is no measurement, or a number outside what the quantity can be
  SheetError           a sheet that cannot be read at all
    HeadingError       its columns could not be told
  DriveError           a drive that cannot be
  LineError            a hose or line that cannot be, or that is not made from here
  ShelfError           the shelf's file
    NoShelfError       there is none yet
    NotAShelfError     the file is something else, or damaged
    NewerShelfError    a newer version wrote it
    BusyShelfError     another process has held it too long
  AnswerError          a question that cannot be answered as asked
"""

from __future__ import annotations

_LONGEST = 1_000
"""Characters of each part of an error: it may repeat a text of the sheet, and a page or terminal must still be read."""


class BayshelfError(Exception):
    """Something a user can mend: says what is wrong, where, and what to do about it."""

    def __init__(self, what: str, *, where: str | None = None, do: str | None = None) -> None:
        self.what = _shortened(what)
        self.where = _shortened(where) if where else where
        self.do = _shortened(do) if do else do
        super().__init__(self.what)

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        advice = f" {self.do}" if self.do else ""
        return f"{place}{self.what}{advice}"


def _shortened(text: str) -> str:
    """Leave out the middle of a long text: what was read begins it, what was expected often ends it."""
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 300]} … {text[-297:]}"


class MeasurementError(BayshelfError, ValueError):
    """A text that is no measurement, or a number outside what the quantity can be."""


class SheetError(BayshelfError):
    """A sheet that cannot be read at all."""


class HeadingError(SheetError):
    """A sheet whose columns could not be told."""


class DriveError(BayshelfError):
    """A drive that cannot be: pulleys that overlap, an order that no belt can follow, too few distances."""


class LineError(BayshelfError):
    """A line that cannot be: a bend that no hose makes, a route with one point; or one that is not made from here."""


class ShelfError(BayshelfError):
    """The shelf's file cannot be used as asked."""


class NoShelfError(ShelfError):
    """There is no shelf at that place yet."""


class NotAShelfError(ShelfError):
    """The file is not a shelf, or is damaged."""


class NewerShelfError(ShelfError):
    """The shelf was written by a newer version."""


class BusyShelfError(ShelfError):
    """Another process has been writing for too long."""


class AnswerError(BayshelfError):
    """A question that cannot be answered as it was asked."""
