"""Reading the tables of a TOML sheet by a declared form: every refusal names the sheet, the table and the key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from kb.errors import BayshelfError, DriveError, MeasurementError
from kb.measure import LENGTH, QUANTITIES, read

_MOST_TABLES = {"pulley": 40, "distance": 1_000}
_MOST_OF_OTHERS = 200
"""Our own bounds on what one sheet lists, far beyond any machine's: forty pulleys taped every way take 3 s, eighty 46."""


@dataclass(frozen=True, slots=True)
class KeyForm:
    """How one key is read: a quantity of :mod:`kb.measure`, or ``text``, ``yes``, ``choice``, ``point``, ``table``."""

    quantity: str
    attribute: str
    low: float | None = None
    high: float | None = None
    choices: Mapping[str, str] = field(default_factory=dict)
    example: str = ""


def nearest(word: str, known: list[str]) -> str:
    """Return advice for an unknown word: the nearest known one, else all of them."""
    from difflib import get_close_matches  # only an error needs it

    close = get_close_matches(word, known, n=1, cutoff=0.5)
    return f"Is {close[0]!r} meant?" if close else f"Known here: {', '.join(known)}."


def _shown(value: object) -> str:
    said = repr(value)
    return said if len(said) <= 60 else said[:57] + "…"


@dataclass(frozen=True, slots=True)
class TableReader:
    """Reads the tables of one sheet; ``unit`` is what its bare numbers mean."""

    called: str
    unit: str

    def refuse(self, place: str, what: str, do: str | None = None) -> BayshelfError:
        """Return the error to raise, its place named; a reader of other sheets raises its own."""
        return DriveError(what, where=f"{self.called}, {place}" if place else self.called, do=do)

    def table(self, value: Any, keys: Mapping[str, KeyForm], place: str) -> dict[str, Any]:
        """Read a table's keys but its inner tables, by the attribute each fills."""
        if not isinstance(value, dict):
            raise self.refuse(place, f"a table of keys is expected, not {_shown(value)}.")
        read_so_far: dict[str, Any] = {}
        for key, entry in value.items():
            if key not in keys:
                raise self.refuse(place, f"the key {key!r} is not known.", nearest(key, list(keys)))
            form = keys[key]
            if form.quantity != "table":
                read_so_far[form.attribute] = self.entry(entry, form, f"{place}, {key}" if place else key)
        return read_so_far

    def entry(self, value: Any, form: KeyForm, place: str) -> Any:
        """Read one entry as its form says."""
        if form.quantity == "text":
            return self.text(value, form, place)
        if form.quantity == "choice":
            return self.choice(value, form, place)
        if form.quantity == "yes":
            return self.yes(value, place)
        if form.quantity == "point":
            return self.point(value, form, place)
        if form.quantity == "length":
            return self.length(value, form, place)
        return self.measurement(value, form, place)

    def text(self, value: Any, form: KeyForm, place: str) -> str:
        """Read a text, runs of space made one."""
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(place, f"a text is expected, not {_shown(value)}.", f"Example: {form.example}.")
        return " ".join(value.split())

    def choice(self, value: Any, form: KeyForm, place: str) -> str:
        """Read one of a few words, whatever its case."""
        found = form.choices.get(value.strip().casefold()) if isinstance(value, str) else None
        if found is None:
            known = " or ".join(f'"{one}"' for one in dict.fromkeys(form.choices.values()))
            raise self.refuse(place, f"{_shown(value)} was read; {known} is expected.")
        return found

    def yes(self, value: Any, place: str) -> bool:
        """Read true or false."""
        if not isinstance(value, bool):
            raise self.refuse(place, f"{_shown(value)} was read; true or false is expected, without quotes.")
        return value

    def point(self, value: Any, form: KeyForm, place: str) -> tuple[float, float]:
        """Read a position: x to the right and y up, in mm, or in pixels where bare numbers are pixels."""
        if not isinstance(value, list) or len(value) != 2:
            raise self.refuse(
                place,
                f"{_shown(value)} was read; two numbers are expected, x to the right and y up.",
                f"Example: {form.example}.",
            )
        x, y = (self._coordinate(one, form, f"{place}, {axis}") for one, axis in zip(value, "xy", strict=True))
        return x, y

    def _coordinate(self, value: Any, form: KeyForm, place: str) -> float:
        if self.unit == "px":
            pixels = KeyForm("number", form.attribute, low=-1e5, high=1e5, example=form.example)
            return self.measurement(value, pixels, place)
        return self.length(value, KeyForm("length", form.attribute, low=-1e5, high=1e5, example="6.5"), place)

    def length(self, value: Any, form: KeyForm, place: str) -> float:
        """Read a length in mm; where bare numbers are pixels it must name its unit."""
        if self.unit == "px" and not _names_its_unit(value):
            raise self.refuse(
                place,
                f"{_shown(value)} has no unit, and bare numbers are pixels here.",
                'Write the length with its unit, as "3 1/2 in".',
            )
        return self.measurement(value, form, place, None if self.unit == "px" else self.unit)

    def measurement(self, value: Any, form: KeyForm, place: str, unit: str | None = None) -> float:
        """Read a measurement in its quantity's own unit; ``unit`` is what a bare number means."""
        if isinstance(value, bool) or not isinstance(value, (int, float, str)):
            raise self.refuse(place, f"{_shown(value)} was read; a number is expected.", f"Example: {form.example}.")
        quantity = LENGTH if form.quantity == "length" else QUANTITIES[form.quantity]
        try:
            return read(value, quantity, unit=unit, low=form.low, high=form.high)
        except MeasurementError as error:
            raise self.refuse(place, error.what, f"Example: {form.example}.") from error

    def tables(self, value: Any, key: str, place: str) -> list[Any]:
        """Check that a key holds a list of tables."""
        if not isinstance(value, list) or any(not isinstance(one, dict) for one in value):
            raise self.refuse(place, f"{key!r} is a list of tables, each beginning with [[{key}]].")
        most = _MOST_TABLES.get(key, _MOST_OF_OTHERS)
        if len(value) > most:
            raise self.refuse(place, f"it has {len(value):,} [[{key}]] tables; more than {most:,} are not worked out.")
        return value


def _names_its_unit(value: Any) -> bool:
    return isinstance(value, str) and any(character.isalpha() or character in "\"'″′”’“‘" for character in value)
