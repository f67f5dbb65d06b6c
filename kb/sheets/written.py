"""Writing rows out as CSV that a spreadsheet shows and does not run, and that reads back as it was."""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from kb.errors import BayshelfError

_RUNS = re.compile("'*[=+\\-@\t\r\n]")
"""What a spreadsheet takes for a formula, behind any apostrophes: those of the text itself are guarded as well."""

_GUARDED = re.compile("''*[=+\\-@\t\r\n]")
_MISLEADING = re.compile("[\r\n\t;|]")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)
_UNWRITABLE = re.compile("[\0\ud800-\udfff]")

Cell = str | int | float | None


def guarded(text: str) -> str:
    """Return a text with an apostrophe in front where a spreadsheet would run it; a plain number needs none.

    >>> guarded("=1+1"), guarded("-12.5"), guarded("'=1")
    ("'=1+1", '-12.5', "''=1")
    """
    return f"'{text}" if _RUNS.match(text) and not _NUMBER.fullmatch(text) else text


def unguarded(text: str) -> str:
    """Take off again what :func:`guarded` put in front.

    >>> unguarded("'=1+1"), unguarded("'8 in")
    ('=1+1', "'8 in")
    """
    return text[1:] if _GUARDED.match(text) else text


def csv_text(headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return a table as CSV: comma, quote marks where needed, CRLF at the end of a row as RFC 4180 has it.

    What no text file can hold (NUL, half a surrogate pair) becomes U+FFFD.
    """
    out = io.StringIO(newline="")
    spare = csv.writer(out)
    # With every cell in quote marks, a reader takes neither a line break for a stray mark nor ; for a delimiter.
    full = csv.writer(out, quoting=csv.QUOTE_ALL)
    for row in (headings, *rows):
        cells = [_text(cell) for cell in row]
        misleading = any(_MISLEADING.search(cell) for cell in cells)
        (full if misleading else spare).writerow(cells)
    return out.getvalue()


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    return guarded(_UNWRITABLE.sub("\ufffd", cell)) if isinstance(cell, str) else repr(cell)


def write_csv(path: Path, headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a table as CSV in UTF-8 with the mark that spreadsheets look for; all of it or nothing.

    Raises :class:`~kb.errors.BayshelfError` where it cannot be written; a file that was there is then as it was.
    """
    write_whole(path, csv_text(headings, rows), encoding="utf-8-sig")


def write_whole(path: Path, text: str, *, encoding: str = "utf-8") -> None:
    """Write a text file, all of it or nothing; one that was there is replaced in one step.

    Raises :class:`~kb.errors.BayshelfError` where it cannot be written; a file that was there is then as it was.
    """
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "w", encoding=encoding, newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, _usual_mode(path))
        os.replace(temporary, path)
    except OSError as error:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)
        raise BayshelfError(
            f"cannot be written ({error.strerror}).", where=str(path), do="Name another file, or free some space."
        ) from error


def _usual_mode(path: Path) -> int:
    """Return the mode of the file that is replaced, else what a new file gets: a temporary one is closed to others."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
