"""Rows whose quote marks do not pair: what of them can still be read, and why the rest cannot."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence

_CLOSED_AFTER_DIGIT = re.compile(r'[0-9¼½¾⅐-⅞]"\s*$')


def swallows_rows(record: Sequence[str], cells: int, delimiter: str, width: int) -> bool:
    """Whether one row that was read from several lines is rather several rows, with a stray quote mark in the first.

    An inch mark in front of a number opens a quoted cell that the next inch mark closes, lines below. It is told by the
    first line having as many cells as a row has, where the record (of ``cells``) has not; by the lines between having
    as many; of two lines, by both having as many and the closing mark standing behind a digit. A record of as many
    cells as a row has, all of them quoted, is what it says.
    """
    if len(record) < 2 or width < 2 or (cells == width and _all_quoted("".join(record), delimiter)):
        return False
    first, last = (split_plainly(line, delimiter) for line in (record[0], record[-1]))
    if len(first) == width != cells:
        return True
    between = record[1:-1]
    if between:
        return 2 * sum(_cell_count(line, delimiter) == width for line in between) >= len(between)
    closing = next((cell for cell in last if '"' in cell), "")
    return len(first) == len(last) == width and _CLOSED_AFTER_DIGIT.search(closing) is not None


def _all_quoted(record: str, delimiter: str) -> bool:
    cell = '"(?:[^"]|"")*"'
    return re.fullmatch(f"{cell}(?:{re.escape(delimiter)}{cell})*\r?\n?", record) is not None


def _cell_count(line: str, delimiter: str) -> int:
    try:
        return len(next(csv.reader([line], delimiter=delimiter, strict=True)))
    except csv.Error:
        return len(split_plainly(line, delimiter))


def split_plainly(line: str, delimiter: str) -> list[str]:
    """Part a line at every delimiter, quote marks or not."""
    return line.rstrip("\r\n").split(delimiter)


def read_alone(line: str, delimiter: str, width: int) -> tuple[list[str], str | None]:
    """Read a line whose quote marks do not pair, by itself: its cells, and the reason where they cannot be told.

    Where the delimiters alone give as many cells as the sheet has columns, a cell between quote marks is what stands
    between the outer two.

    >>> read_alone('A1,"73 1/8"",8', ",", 3)
    (['A1', '73 1/8"', '8'], None)
    >>> read_alone('A1,"73 1/8,8', ",", 3)[1]
    'cell 2 opens a quote mark that is not closed: "73 1/8. Take it out, or double the marks inside and close it.'
    """
    cells = split_plainly(line, delimiter)
    read = [_between_marks(cell) for cell in cells]
    for place, cell in enumerate(read):
        if cell is None:
            return cells, (
                f"cell {place + 1} opens a quote mark that is not closed: {_shortened(cells[place])}. "
                "Take it out, or double the marks inside and close it."
            )
    if width < 2 or len(cells) != width:
        return cells, (
            f"its quote marks do not pair, and without them it has {len(cells)} cells where the sheet has {width}. "
            "Double the marks inside a quoted cell."
        )
    return [cell for cell in read if cell is not None], None


def _between_marks(cell: str) -> str | None:
    """Return a cell without its outer marks; None where it opens one and does not end with one."""
    if not cell.startswith('"'):
        return cell
    if len(cell) < 2 or not cell.endswith('"'):
        return None
    return cell[1:-1].replace('""', '"')


def _shortened(cell: str) -> str:
    return cell if len(cell) <= 40 else f"{cell[:40]}…"
