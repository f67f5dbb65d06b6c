"""Which characters a text file's bytes stand for, decided on the whole file before its first row is read."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from kb.errors import SheetError
from kb.sheets.cells import CHUNK_BYTES, chunks, opened

_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_SAVE_AS_UTF8 = "Save it again as CSV with the encoding UTF-8."
_SAMPLE_CHARACTERS = 200_000
_STRAY = re.compile("[\x01-\x08\x0e-\x1a\x1c-\x1f\x7f]")
_SOMETHING = re.compile('[^\\s,;|"\ufeff]')
_WELL_FORMED = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
_SEPARATORS = "\x1f\x1e\x1d\x1c"


@dataclass(slots=True)
class Encoding:
    """How to decode a text file, and what was seen of it on the way."""

    name: str
    """A codec of Python's."""
    damaged: bool = False
    """Some bytes mean nothing in it: they are read as U+FFFD, and such cells are not to be trusted."""
    note: str = ""
    sample: str = ""
    """The text it begins with: up to 200,000 characters."""
    separator: str = _SEPARATORS[0]
    """A character that stands nowhere in the file."""


@dataclass(slots=True)
class _Look:
    """What a pass over the whole text found."""

    sample: str = ""
    holds_something: bool = False
    separators: list[str] = field(default_factory=lambda: list(_SEPARATORS))


def survey(path: Path) -> Encoding:
    """Read a text file once and decide on its encoding.

    UTF-8 where all of it is; UTF-16 and UTF-32 by their mark, UTF-16 also without one where every other byte says so;
    else CP1252. Where most of what is beyond ASCII is good UTF-8 and single bytes are not, it is damaged UTF-8.

    Raises :class:`~kb.errors.SheetError` where the file is empty, blank, binary, or has a line beyond all bounds.
    """
    with opened(path) as file:
        start = file.read(4096)
    if not start:
        raise SheetError("is empty.", where=path.name, do="Was the right file saved?")
    for encoding in _candidates(start, path):
        look = _look(path, encoding)
        if look is None:
            continue
        _refuse_no_table(path, encoding, look)
        encoding.sample = look.sample
        encoding.separator = look.separators[0] if look.separators else "\ue000"
        return encoding
    raise SheetError("is in no encoding that is known here.", where=path.name, do=_SAVE_AS_UTF8)


def _refuse_no_table(path: Path, encoding: Encoding, look: _Look) -> None:
    if not look.holds_something:
        raise SheetError("has only blank rows.", where=path.name, do="Was the right file saved?")
    unmarked = encoding.name in ("utf-8", "cp1252")
    if unmarked and len(_STRAY.findall(look.sample)) > 8 + 0.02 * len(look.sample):
        raise SheetError("is not text: most likely a binary file.", where=path.name, do="Save the table as CSV.")


def _candidates(start: bytes, path: Path) -> Iterator[Encoding]:
    """Yield encodings to try in turn; the last one takes any bytes."""
    for mark, codec, words in _BYTE_ORDER_MARKS:
        if start.startswith(mark):
            note = f"Read as {words}, as the mark at its beginning says."
            yield Encoding(codec, note=note if codec != "utf-8-sig" else "")
            yield _damaged(codec, words)
            return
    even, odd = start[0::2].count(0), start[1::2].count(0)
    for zeros, others, codec in ((odd, even, "utf-16-le"), (even, odd, "utf-16-be")):
        if zeros > 0.4 * (len(start) // 2) and others <= 0.02 * len(start):
            yield Encoding(codec, note="Read as UTF-16: every other byte says so.")
            yield _damaged(codec, "UTF-16")
            return
    yield Encoding("utf-8")
    yield _fallback(path)


def _damaged(codec: str, words: str) -> Encoding:
    return Encoding(codec, True, f"Read as {words}; some of its bytes mean nothing there, and their cells are refused.")


def _fallback(path: Path) -> Encoding:
    good, bad, undefined = _beyond_ascii(path)
    if good > bad:
        return _damaged("utf-8", "UTF-8")
    note = "It is not UTF-8: read as Windows-1252 (Western European)."
    if not undefined:
        return Encoding("cp1252", note=note)
    return Encoding("cp1252", True, f"{note} Some bytes mean nothing there, and their cells are refused.")


def _beyond_ascii(path: Path) -> tuple[int, int, int]:
    """Count well-formed UTF-8 characters, bytes that are in none, and bytes that CP1252 leaves undefined."""
    good = bad = undefined = 0
    with opened(path) as file:
        for chunk in chunks(file, path):
            beyond = sum(map(len, re.findall(rb"[\x80-\xff]+", chunk)))
            found = _WELL_FORMED.findall(chunk)
            good += len(found)
            bad += beyond - sum(map(len, found))
            undefined += len(re.findall(rb"[\x81\x8d\x8f\x90\x9d]", chunk))
    return good, bad, undefined


def _look(path: Path, encoding: Encoding) -> _Look | None:
    """Decode the whole file; None where it cannot be."""
    decoder = codecs.getincrementaldecoder(encoding.name)("replace" if encoding.damaged else "strict")
    look = _Look()
    lines = 0
    with opened(path) as file:
        for chunk in chunks(file, path):
            try:
                text = decoder.decode(chunk)
            except UnicodeDecodeError:
                return None
            lines = _look_at(text, look, lines, path, full=len(chunk) == CHUNK_BYTES)
    try:
        _look_at(decoder.decode(b"", final=True), look, lines, path, full=False)
    except UnicodeDecodeError:
        return None
    return look


def _look_at(text: str, look: _Look, lines: int, path: Path, *, full: bool) -> int:
    """Add a piece of text, a full chunk's or a shorter one's, to what was seen; return the lines seen so far."""
    if "\0" in text:
        line = lines + _line_breaks(text[: text.index("\0")]) + 1
        raise SheetError(
            "holds a NUL byte: it is a binary file, or it was damaged.",
            where=f"{path.name}, line {line}",
            do="Save the table as CSV or .xlsx again.",
        )
    breaks = _line_breaks(text)
    if full and not breaks:
        raise SheetError(
            f"has a line of more than {CHUNK_BYTES // 1_000_000} MB.",
            where=f"{path.name}, line {lines + 1}",
            do="Is it a table? Save it as CSV or .xlsx again.",
        )
    look.holds_something = look.holds_something or _SOMETHING.search(text) is not None
    look.separators = [each for each in look.separators if each not in text]
    if len(look.sample) < _SAMPLE_CHARACTERS:
        look.sample += text[: _SAMPLE_CHARACTERS - len(look.sample)]
    return lines + breaks


def _line_breaks(text: str) -> int:
    return text.count("\n") or text.count("\r")
