"""Reading CSV and its relatives, row by row in flat memory, with nothing swallowed by a stray quote mark."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from kb.sheets.cells import MOST_CHARACTERS, MOST_COLUMNS, NO_FAULTS, Progress, Row, Worksheet, opened, unreadable
from kb.sheets.delimiter import CANDIDATES, Layout, find_layout, named_delimiter
from kb.sheets.encoding import Encoding, survey
from kb.sheets.quotes import read_alone, split_plainly, swallows_rows
from kb.sheets.written import unguarded

_ROWS_BETWEEN_REPORTS = 5_000
_NOT_TEXT = "\ufffd"
_MOST_LINES_IN_ROW = 1_000
"""Our own bound: a description of more lines than this is a quote mark that was never closed."""
_FEWEST_LINES_IN_ROW = 20
"""What that bound falls to, by halves, where reading had to go back over more lines than this: such a file's quote marks do
not pair, and reading a thousand lines again for each of its lines would take hours."""


def read_delimited(path: Path, progress: Progress | None = None) -> Worksheet:
    """Return the one table of a text file.

    The encoding is decided on the whole file and the delimiter on its beginning, before this returns. A row whose quote
    marks do not pair is given with its reason, and reading goes on at the next line. Rows are numbered as a spreadsheet
    shows them: a line break inside quote marks starts no new row, blank rows count.

    Raises :class:`~kb.errors.SheetError` where the file is empty, binary or cannot be read.
    """
    encoding = survey(path)
    layout = find_layout(encoding.sample)
    return Worksheet(path.name, _rows(path, encoding, layout, progress), _notes(encoding, layout))


def _notes(encoding: Encoding, layout: Layout) -> list[str]:
    notes = [encoding.note] if encoding.note else []
    if layout.delimiter is None:
        notes.append("Read as a single column: no delimiter parts its rows.")
    elif layout.delimiter != ",":
        notes.append(f"The cells are parted by the {CANDIDATES.get(layout.delimiter, layout.delimiter)}.")
    return notes


class _Lines:
    """The file's lines, with those of the record being read kept, so that reading can go on behind its first line."""

    def __init__(self, lines: Iterator[str]) -> None:
        self._next = lines.__next__
        self._held: list[str] = []
        self.record: list[str] = []
        self._size = 0
        self._most_lines = _MOST_LINES_IN_ROW

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        record = self.record
        if record:
            self._size += len(record[-1])
            if len(record) > self._most_lines or self._size > MOST_CHARACTERS:
                raise StopIteration  # for the csv module the text ends inside quote marks
        line = self._held.pop() if self._held else self._next()
        record.append(line)
        return line

    def start_row(self) -> None:
        """Forget the record that was read."""
        self.record.clear()
        self._size = 0

    def back_to(self, count: int) -> None:
        """Give the record's lines out again, but for its first ``count``."""
        if len(self.record) - count > _FEWEST_LINES_IN_ROW:
            self._most_lines = max(_FEWEST_LINES_IN_ROW, self._most_lines // 2)
        self._held.extend(reversed(self.record[count:]))
        del self.record[count:]


def _rows(path: Path, encoding: Encoding, layout: Layout, progress: Progress | None) -> Iterator[Row]:
    with opened(path) as file:
        text = io.TextIOWrapper(file, encoding.name, errors="replace" if encoding.damaged else "strict", newline="")
        if named_delimiter(encoding.sample):
            next(text, "")
        rows = _records(_Lines(iter(text)), layout.delimiter or encoding.separator, layout.width)
        if encoding.damaged:
            rows = map(_with_damage, rows)
        if progress is not None:
            rows = _reported(rows, file, progress)
        try:
            yield from rows
        except (UnicodeDecodeError, OSError) as error:
            raise unreadable(path, error) from error


def _records(lines: _Lines, delimiter: str, width: int) -> Iterator[Row]:
    """The inner loop: what it does for a plain row must stay small beside the csv module's own work."""
    number = 0
    record = lines.record
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    while True:
        try:
            for cells in reader:
                number += 1
                if len(record) > 1 or len(cells) > MOST_COLUMNS:
                    yield _settled(number, cells, lines, delimiter, width)
                elif "'" in record[0]:
                    yield Row(number, [unguarded(cell) for cell in cells], NO_FAULTS, None)
                else:
                    yield Row(number, cells, NO_FAULTS, None)
                lines.start_row()
            return
        except csv.Error as error:
            number += 1
            yield _first_line(number, lines, delimiter, width, error)
            lines.start_row()


def _settled(number: int, cells: list[str], lines: _Lines, delimiter: str, width: int) -> Row:
    """Return a row of several lines, or only its first line where it would swallow rows."""
    if swallows_rows(lines.record, len(cells), delimiter, width):
        return _first_line(number, lines, delimiter, width)
    cells = [unguarded(cell) for cell in cells]
    if len(cells) > MOST_COLUMNS:
        reason = f"it has {len(cells):,} cells, and more than {MOST_COLUMNS:,} are not read. Is the delimiter right?"
        rest = delimiter.join(cells[MOST_COLUMNS - 1 :])  # a list of half a million cells takes fifty times its text
        return Row(number, [*cells[: MOST_COLUMNS - 1], rest], NO_FAULTS, reason)
    return Row(number, cells)


def _first_line(number: int, lines: _Lines, delimiter: str, width: int, error: csv.Error | None = None) -> Row:
    """Read the first line of a record by itself; reading goes on at the line below."""
    lines.back_to(1)
    if error is not None and str(error).startswith("field larger"):
        cells = split_plainly(lines.record[0], delimiter)
        return Row(number, cells, NO_FAULTS, f"it holds a cell of more than {csv.field_size_limit():,} characters.")
    cells, reason = read_alone(lines.record[0], delimiter, width)
    return Row(number, [unguarded(cell) for cell in cells], NO_FAULTS, reason)


def _with_damage(row: Row) -> Row:
    """Mark the cells in which bytes could not be read."""
    faults = {
        place: "some of its bytes mean nothing in the file's encoding. Save the sheet again as UTF-8."
        for place, cell in enumerate(row.cells)
        if _NOT_TEXT in cell
    }
    return Row(row.number, row.cells, faults, row.reason) if faults else row


def _reported(rows: Iterator[Row], file: BinaryIO, progress: Progress) -> Iterator[Row]:
    for row in rows:
        yield row
        if not row.number % _ROWS_BETWEEN_REPORTS:
            progress(file.tell())
    progress(file.tell())
