"""Looking into a workbook's file before anything of it is parsed: what it unpacks to, and what stands in its parts.

An .xlsx file is a ZIP archive of XML parts (ECMA-376 part 2). It may lie about its sizes, hold two parts of one name,
or unpack to a thousand times its size. So the parts are unpacked here, measured as they come, checked to be well-formed
and put into a fresh archive: what is parsed later is what was looked at.
"""

from __future__ import annotations

import copy
import io
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO
from xml.parsers import expat

from kb.errors import SheetError
from kb.sheets.cells import CHUNK_BYTES, Progress

MOST_UNPACKED_BYTES = 512 << 20
"""Our own bound on what a workbook unpacks to."""

MOST_RATIO = 200
"""Our own bound for a part of more than 16 MB: real worksheets pack to a tenth or a fiftieth."""

MOST_MEMBERS = 5_000
_BIG_BYTES = 16 << 20
MOST_DEPTH = 64

_SAVE_AGAIN = "Open it in a spreadsheet and save it again as .xlsx, or as CSV."
_SAVE_AS_CSV = "Save the worksheet as CSV: that is read row by row, however long it is."

ARCHIVE_FAULTS = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    RuntimeError,
    NotImplementedError,
    ValueError,
    KeyError,
    IndexError,
    OverflowError,
    AttributeError,
)
"""What the standard library raises for damaged archives, by its documentation and by feeding it damaged ones."""

Start = Callable[[str, dict[str, str]], None]
"""Called with an element's name and its attributes."""

Attach = Callable[[expat.XMLParserType], None]
"""Sets the handlers of a part's parser."""


@dataclass(slots=True)
class Package:
    """A workbook's parts, each looked at, in a fresh archive."""

    path: Path
    archive: zipfile.ZipFile
    file: BinaryIO
    members: dict[str, zipfile.ZipInfo]
    """By their names in small letters: part names that differ only in case are one name (ECMA-376 part 2)."""
    progress: Progress | None
    clean_file: io.BytesIO
    clean: zipfile.ZipFile
    unpacked: int = 0

    def damaged(self, why: object) -> SheetError:
        """Return the error for a file that is not what it should be."""
        return SheetError(f"is a damaged workbook ({why}).", where=self.path.name, do=_SAVE_AGAIN)

    def refused(self, what: str, do: str = _SAVE_AS_CSV) -> SheetError:
        """Return the error for a workbook that is too big or does what no supplier's sheet does."""
        return SheetError(what, where=self.path.name, do=do)

    def __contains__(self, name: str) -> bool:
        return name.lower() in self.members

    def pass_on(self, name: str, attach: Attach) -> None:
        """Unpack a part, have its elements looked at, and put it into the fresh archive."""
        name = name.lower()
        if self.members[name].filename in self.clean.NameToInfo:
            raise self.damaged(f"{name} is used as two different parts")
        marked: list[bool] = []
        given = 0
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = self._declared
        parser.StartCdataSectionHandler = lambda: marked.append(True)
        parser.EndCdataSectionHandler = marked.clear
        attach(parser)
        with self.clean.open(self.members[name].filename, "w") as out:
            try:
                for chunk in self._unpacked(name):
                    was_marked = bool(marked)
                    parser.Parse(chunk)
                    given += len(chunk)
                    self._refuse_endless(chunk, given - parser.CurrentByteIndex, was_marked and bool(marked))
                    out.write(chunk)
                parser.Parse(b"", True)
            except (expat.ExpatError, *ARCHIVE_FAULTS) as error:
                raise self.damaged(f"{name}: {error}") from error

    def _refuse_endless(self, chunk: bytes, unfinished: int, all_marked: bool) -> None:
        """Refuse a text, a comment or a tag that fills a whole piece of what is read, and whose end was not met yet."""
        full = len(chunk) == CHUNK_BYTES
        if full and (all_marked or b"<" not in chunk or unfinished > CHUNK_BYTES):
            raise self.refused(f"holds a single text of more than {CHUNK_BYTES // 1_000_000} MB.", _SAVE_AGAIN)

    def passed_on(self) -> io.BytesIO:
        """Close the fresh archive and return it, ready to be read."""
        self.clean.close()
        self.clean_file.seek(0)
        return self.clean_file

    def listen(self, started: Start | None = None, text: Callable[[str], None] | None = None) -> Attach:
        """Return what tells of elements, by their name without the namespace's prefix, and bounds their nesting."""
        depth = 0

        def start(name: str, attributes: dict[str, str]) -> None:
            nonlocal depth
            depth += 1
            if depth > MOST_DEPTH:
                raise self.too_deep()
            if started is not None:
                started(name.rpartition(":")[2], attributes)

        def end(_name: str) -> None:
            nonlocal depth
            depth -= 1

        def attach(parser: expat.XMLParserType) -> None:
            parser.StartElementHandler = start
            parser.EndElementHandler = end
            if text is not None:
                parser.CharacterDataHandler = text

        return attach

    def too_deep(self) -> SheetError:
        """Return the error for XML that is made to exhaust its reader."""
        return self.refused("nests its XML deeper than any workbook does.", _SAVE_AGAIN)

    def _declared(self, *_: object) -> None:
        raise self.refused("declares XML entities, which no workbook needs.", _SAVE_AGAIN)

    def _unpacked(self, name: str) -> Iterator[bytes]:
        told = self.members[name]
        unbounded = copy.copy(told)
        unbounded.file_size = MOST_UNPACKED_BYTES + 1  # read on where the archive says less than there is
        size = 0
        with self.archive.open(unbounded) as part:
            while chunk := part.read(CHUNK_BYTES):
                size += len(chunk)
                self.unpacked += len(chunk)
                if size > told.file_size:
                    raise self.damaged(f"{name} is longer than the archive says")
                if self.unpacked > MOST_UNPACKED_BYTES:
                    raise self.refused(f"unpacks to more than {MOST_UNPACKED_BYTES >> 20} MB.")
                yield chunk
                if self.progress is not None:
                    self.progress(self.file.tell())


@contextmanager
def open_package(path: Path, file: BinaryIO, progress: Progress | None) -> Iterator[Package]:
    """Open a workbook's archive, refuse what its directory already gives away, and close it again."""
    clean_file = io.BytesIO()
    with (
        _archive(path, file) as archive,
        zipfile.ZipFile(clean_file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as clean,
    ):
        package = Package(path, archive, file, {}, progress, clean_file, clean)
        infos = archive.infolist()
        if len(infos) > MOST_MEMBERS:
            raise package.refused(f"holds {len(infos):,} parts, and more than {MOST_MEMBERS:,} are not looked at.")
        for info in infos:
            _admit(package, info)
        if sum(info.file_size for info in infos) > MOST_UNPACKED_BYTES:
            raise package.refused(f"unpacks to more than {MOST_UNPACKED_BYTES >> 20} MB.")
        yield package


def _archive(path: Path, file: BinaryIO) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(file)
    except ARCHIVE_FAULTS as error:
        raise SheetError(f"is a damaged workbook ({error}).", where=path.name, do=_SAVE_AGAIN) from error


def _admit(package: Package, info: zipfile.ZipInfo) -> None:
    name = info.filename.lower()
    if info.flag_bits & 0x1:
        raise package.refused("is encrypted.", "Save it without a password.")
    if name in package.members:
        raise package.damaged(f"two parts are called {name}")
    if info.file_size > _BIG_BYTES and info.file_size > MOST_RATIO * max(1, info.compress_size):
        raise package.refused(
            f"{info.filename} unpacks to {info.file_size / max(1, info.compress_size):,.0f} times its size."
        )
    package.members[name] = info
