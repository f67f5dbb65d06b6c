"""Turning a column's texts into values, each distinct text once, many rows at a time."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from datetime import datetime

from kb.errors import MeasurementError
from kb.fields import Field
from kb.measure import QUANTITIES, read
from kb.sheets.headings import plain

Value = str | int | float | None

_SPACES = re.compile(r"[\s\u00a0\u2007\u2009\u202f]+")
_DAY_AND_TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}.*").fullmatch
_NOTHING = frozenset({"", "-", "–", "—"})


class Reader(dict[str, Value]):
    """A column's texts and what they mean, filled in as they are met: ``map(reader.__getitem__, texts)`` runs at C speed.

    A text that cannot be read means ``None`` and stands in ``bad`` with its reason.
    """

    def __init__(self, convert: Callable[[str], Value]) -> None:
        super().__init__()
        self._convert = convert
        self.bad: dict[str, str] = {}

    def __missing__(self, text: str) -> Value:
        try:
            value = self._convert(text)
        except MeasurementError as error:
            self.bad[text] = str(error)
            value = None
        self[text] = value
        return value


def text_of(cell: str) -> str | None:
    """Return a cell's text without the spaces around it, doubled and no-break spaces made plain; ``None`` if empty."""
    bare = cell.strip()
    if bare.isascii() and bare.isprintable() and "  " not in bare:
        return bare or None
    return _SPACES.sub(" ", bare).strip() or None


def texts(column: Sequence[str]) -> list[str | None]:
    """Read a column of words; most columns are clean already, which is seen at once, and then nothing is built.

    >>> texts(["8PK1854", " idler  flat ", ""])
    ['8PK1854', 'idler flat', None]
    """
    joined = f"|{'|'.join(column)}|"
    if joined.isascii() and joined.isprintable() and not ("  " in joined or " |" in joined or "| " in joined):
        return [cell or None for cell in column] if "||" in joined else list(column)
    return [cell if cell.isalnum() else text_of(cell) for cell in column]


def reader(field: Field, unit: str | None) -> Reader:
    """Return the reader for a field whose bare numbers are in ``unit`` (``None``: the quantity's own)."""
    if field.quantity == "choice":
        return Reader(lambda text: _choice(text, field))
    if field.quantity == "date":
        return Reader(lambda text: read_date(text, field.label))
    if field.quantity in ("lengths", "angles"):
        return Reader(lambda text: _list(text, field, unit))
    if field.quantity == "texts":
        return Reader(_text_list)
    if field.quantity == "text":
        return Reader(text_of)
    return Reader(lambda text: _number(text, field, unit))


def _number(text: str, field: Field, unit: str | None) -> float | int | None:
    if not text.strip() or text.isspace():
        return None
    value = read(text, QUANTITIES[field.quantity], unit=unit, low=field.low, high=field.high)
    return int(value) if field.quantity == "count" else value


def _choice(text: str, field: Field) -> str | None:
    key = plain(text)
    if not key:
        return None
    by_words = {plain(word): meaning for word, meaning in field.choices.items()}
    if key in by_words:
        return by_words[key]
    inside = {meaning for word, meaning in by_words.items() if len(word) > 3 and f" {word} " in f" {key} "}
    if len(inside) == 1:
        return inside.pop()
    known = ", ".join(dict.fromkeys(field.choices.values()))
    raise MeasurementError(f"{text.strip()!r} is none of: {known}.")


def read_date(text: str, label: str) -> str | None:
    """Read a day as ``2025-03-14``, ``2025-03-14 00:00:00``, ``14.03.2025`` or ``14 Mar 2025``; return ISO 8601.

    ``03/04/2025`` is refused: it is two days, depending on who reads it.

    >>> read_date("14.03.2025", "Opened on")
    '2025-03-14'
    """
    clean = text_of(text)
    if clean is None:
        return None
    for form in ("%Y-%m-%d", "%d.%m.%Y", "%d %b %Y", "%d %B %Y", "%Y/%m/%d", "%Y%m%d", "%b %d %Y", "%B %d, %Y"):
        try:
            return datetime.strptime(clean, form).date().isoformat()  # a day has no zone
        except ValueError:
            continue
    try:  # a worksheet's time of day is left out; whatever else stands behind a day is not
        return datetime.fromisoformat(clean).date().isoformat() if _DAY_AND_TIME(clean) else _refuse_date(text, label)
    except ValueError:
        return _refuse_date(text, label)


def _refuse_date(text: str, label: str) -> str:
    raise MeasurementError(f"{label}: {text.strip()!r} is no day; write year-month-day, such as 2025-03-14.")


def split_list(text: str) -> list[str]:
    """Split a list at its semicolons, else at bars; places are kept, so that lists can line up.

    >>> split_list("belt short; ;  squeal")
    ['belt short', '', 'squeal']
    """
    separator = ";" if ";" in text else "|"
    return [part.strip() for part in text.split(separator)]


def _text_list(text: str) -> str | None:
    """Keep the places of a list, so that the second remedy stays beside the second trouble."""
    parts = split_list(text)
    return json.dumps(parts, ensure_ascii=False) if any(parts) else None


def _list(text: str, field: Field, unit: str | None) -> str | None:
    clean = text_of(text)
    if clean is None or clean in _NOTHING:
        return None
    quantity = QUANTITIES[{"lengths": "length", "angles": "angle"}[field.quantity]]
    separator = next((mark for mark in (";", "|", "/", " x ", " + ") if mark in clean), ",")
    usual = (0.0, 360.0) if field.quantity == "angles" else (1.0, 100000.0)
    low = usual[0] if field.low is None else field.low
    values = [
        read(part.strip(), quantity, unit=unit, low=low, high=usual[1] if field.high is None else field.high)
        for part in clean.split(separator)
        if part.strip()
    ]
    return json.dumps([round(value, 4) for value in values])
