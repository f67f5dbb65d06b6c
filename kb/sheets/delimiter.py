"""Which character parts the cells of a text file, told by its first rows."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

CANDIDATES = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma"}
"""In the order in which they are believed where all else is equal: commas also stand inside numbers and texts."""

_ROWS_LOOKED_AT = 400
_HEADING_WITHIN = 40
"""Rows among which the headings are looked for: titles, addresses and dates may stand above them."""


@dataclass(frozen=True, slots=True)
class Layout:
    """How a text file's lines are parted into cells."""

    delimiter: str | None
    """None: one column."""
    width: int
    """How many cells most rows have."""


@dataclass(frozen=True, slots=True)
class _Guess:
    score: float
    layout: Layout


def find_layout(sample: str) -> Layout:
    """Tell the delimiter from the beginning of a file.

    A delimiter is believed as far as it parts a row into several heading-like cells, and the rows below into as many.

    >>> find_layout("Part;Length mm\\nA1;1857,5\\nA2;1900,0\\n")
    Layout(delimiter=';', width=2)
    >>> find_layout("Part number\\n8PK1857\\n8PK1900\\n").delimiter is None
    True
    """
    lines = list(io.StringIO(sample, newline=""))  # str.splitlines would also part lines at form feeds and the like
    if lines and not sample.endswith(("\n", "\r")) and len(lines) > 1:
        lines.pop()  # the sample may end inside a row
    named = named_delimiter(sample)
    if named:
        return Layout(named, max(1, _guess(lines[1:], named).layout.width))
    best = _Guess(0.0, Layout(None, 1))
    for delimiter in CANDIDATES:
        guess = _guess(lines, delimiter)
        if guess.score > best.score * 1.001:
            best = guess
    return best.layout


def named_delimiter(text: str) -> str | None:
    """Return the delimiter that a first line such as ``sep=;`` names, which some spreadsheets write above the table."""
    found = re.match(r"sep=([^\w\s\"]|\t)\r?$", text.split("\n", 1)[0], re.IGNORECASE)
    return found[1] if found else None


def _guess(lines: Sequence[str], delimiter: str) -> _Guess:
    rows, unbroken = _rows(lines, delimiter)
    widths = Counter(len(row) for row in rows if len(row) > 1)
    if not widths:
        return _Guess(0.0, Layout(None, 1))
    usual, count = max(widths.items(), key=lambda item: (item[1], item[0]))
    share = count / len(rows)
    plain = (usual - 1) * share * unbroken if share >= 0.3 else 0.0
    heading = max(
        (index for index, row in enumerate(rows[:_HEADING_WITHIN]) if _is_heading(row)),
        key=lambda index: (len(rows[index]), -index),
        default=None,
    )
    if heading is None:
        return _Guess(plain, Layout(delimiter, usual))
    width = len(rows[heading])
    below = rows[heading + 1 :]
    alike = sum(len(row) == width for row in below) / len(below) if below else 1.0
    # Titles and texts with a comma look like headings too, but hardly a row below has as many cells; their commas are
    # followed by a space; and headings stand near the top.
    spaced = sum(cell.startswith(" ") for cell in rows[heading][1:]) > (width - 1) / 2
    alone = 0.0 if spaced else 0.15
    score = (width - 1) * (alone + 2 * alike) * (0.7 if spaced else 1.0) * unbroken * 0.98**heading
    return _Guess(max(score, plain), Layout(delimiter, width if score >= plain else usual))


def _rows(lines: Sequence[str], delimiter: str) -> tuple[list[list[str]], float]:
    """Return rows that hold something, and the share of all whose quote marks fit the delimiter."""
    rows: list[list[str]] = []
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    broken = 0
    while len(rows) + broken < _ROWS_LOOKED_AT:
        try:
            row = next(reader, None)
        except csv.Error:
            broken += 1
            continue
        if row is None:
            break
        if any(cell.strip() for cell in row):
            rows.append(row)
    return rows, len(rows) / max(1, len(rows) + broken)


def _is_heading(row: Sequence[str]) -> bool:
    """Whether a row could hold headings: several cells, nearly all filled, and each with a letter or sign in front."""
    if len(row) < 2:
        return False
    cells = [cell.strip() for cell in row]
    filled = [cell for cell in cells if cell]
    numbers = sum(cell[0].isdigit() or cell[0] in "+-." for cell in filled)
    return len(filled) >= max(2, 0.7 * len(cells)) and not numbers
