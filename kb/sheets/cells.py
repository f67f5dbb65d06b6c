"""Any supplier's file as rows of text: which form it has is told by its bytes, not by its name."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import BinaryIO

from kb.errors import SheetError

MOST_COLUMNS = 2_000
"""Our own bound: the widest supplier sheet has some hundred columns; more is a damaged file or a hostile one."""

MOST_CHARACTERS = 1_000_000
"""Our own bound for one cell or one line; a spreadsheet's cell holds no more than 32,767 characters."""

NO_FAULTS: Mapping[int, str] = MappingProxyType({})

Progress = Callable[[int], None]
"""Called now and then with the bytes read so far."""

CHUNK_BYTES = 1 << 20
"""Bytes read at a time; a line that fills such a piece is refused, so that memory stays bounded."""

_SAVE_AS_XLSX = "Open it in a spreadsheet and save it as .xlsx or as CSV."
_ASK_FOR_TABLE = "Ask the supplier for the table as .xlsx or CSV."

_SIGNATURES: tuple[tuple[bytes, str, str], ...] = (
    # The first bytes by which each form's own specification knows it.
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "is an old binary .xls workbook or one with a password.", _SAVE_AS_XLSX),
    (b"%PDF-", "is a PDF: its tables cannot be read.", _ASK_FOR_TABLE),
    (b"{\\rtf", "is a word processor's text (RTF).", _ASK_FOR_TABLE),
    (b"\x89PNG\r\n", "is a picture (PNG).", _ASK_FOR_TABLE),
    (b"\xff\xd8\xff", "is a picture (JPEG).", _ASK_FOR_TABLE),
    (b"GIF8", "is a picture (GIF).", _ASK_FOR_TABLE),
    (b"II*\x00", "is a picture (TIFF).", _ASK_FOR_TABLE),
    (b"MM\x00*", "is a picture (TIFF).", _ASK_FOR_TABLE),
    (b"\x1f\x8b", "is compressed (gzip).", "Unpack it first, then load what was in it."),
    (b"7z\xbc\xaf\x27\x1c", "is compressed (7z).", "Unpack it first, then load what was in it."),
    (b"BZh", "is compressed (bzip2).", "Unpack it first, then load what was in it."),
    (b"\xfd7zXZ\x00", "is compressed (xz).", "Unpack it first, then load what was in it."),
    (b"Rar!\x1a\x07", "is compressed (RAR).", "Unpack it first, then load what was in it."),
    (b"SQLite format 3\x00", "is a database.", "To bring in another shelf, use `bayshelf merge`."),
    (b"\x7fELF", "is a program, not a sheet.", "Check the name."),
)


@dataclass(slots=True)
class Row:
    """One row of a sheet, its cells as text.

    ``number`` is the row's number as a spreadsheet shows it. ``faults`` says, by a cell's index, why its text cannot be
    trusted; ``reason`` says why the whole row cannot be read, and ``cells`` then holds what could be made out.
    """

    number: int
    cells: list[str]
    faults: Mapping[int, str] = field(default_factory=lambda: NO_FAULTS)
    reason: str | None = None


@dataclass(slots=True)
class Worksheet:
    """A table to be read once, from top to bottom, with what had to be decided or could not be kept, in sentences."""

    name: str
    rows: Iterator[Row]
    notes: list[str] = field(default_factory=list)


def read_worksheets(path: Path, progress: Progress | None = None) -> Iterator[Worksheet]:
    """Read a CSV file or a workbook as rows of text.

    The worksheets come one after another: read one's rows before asking for the next. ``progress`` is called now and
    then with the bytes of the file read so far, where that can be told.

    Raises :class:`~kb.errors.SheetError` where the file cannot be read, at once or, if it changes or is damaged further
    down, while its rows are read.
    """
    with opened(path) as file:
        start = file.read(64)
    if start.startswith(b"PK\x03\x04") or start.startswith(b"PK\x05\x06"):
        from kb.sheets.workbook import read_workbook

        return read_workbook(path, progress)
    for signature, what, do in _SIGNATURES:
        if start.startswith(signature):
            raise SheetError(what, where=path.name, do=do)
    if start.lstrip().lower().startswith((b"<!doctype html", b"<html", b"<table", b"<?xml")):
        raise SheetError("is a web page or XML, whatever its name says.", where=path.name, do=_SAVE_AS_XLSX)
    from kb.sheets.delimited import read_delimited

    return iter([read_delimited(path, progress)])


def digest(path: Path) -> str:
    """Return the SHA-256 of a file's bytes as 64 hexadecimal digits.

    Raises :class:`~kb.errors.SheetError` where the file cannot be read.
    """
    total = hashlib.sha256()
    with opened(path) as file:
        for chunk in chunks(file, path):
            total.update(chunk)
    return total.hexdigest()


def opened(path: Path) -> BinaryIO:
    """Open a regular file to read its bytes, or raise :class:`~kb.errors.SheetError` in words."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise SheetError("is a folder, not a sheet.", where=path.name, do="Name the files in it.")
        if not stat.S_ISREG(mode):
            raise SheetError("is no regular file.", where=path.name, do="Save it as a file first, then load that.")
        return path.open("rb")
    except FileNotFoundError as error:
        raise SheetError("there is no such file.", where=str(path), do="Check the name and the folder.") from error
    except (OSError, ValueError) as error:
        raise unreadable(path, error) from error


def chunks(file: BinaryIO, path: Path) -> Iterator[bytes]:
    """Yield a file's bytes piece by piece, or raise :class:`~kb.errors.SheetError` in words."""
    try:
        while chunk := file.read(CHUNK_BYTES):
            yield chunk
    except OSError as error:
        raise unreadable(path, error) from error


def unreadable(path: Path, error: Exception) -> SheetError:
    """Say in words that the system would not give the file's bytes."""
    why = getattr(error, "strerror", None) or str(error)
    return SheetError(
        f"cannot be read ({why}).", where=path.name, do="Check that it is there, whole, and that you may read it."
    )
