"""A part with bolt holes, as typed or from the shelf: its hole sets, its pilot, its studs."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass

from kb.errors import AnswerError, MeasurementError
from kb.measure import LENGTH, both_text, read
from kb.mechanics.bolt_circle import HoleSet

EXAMPLE = (
    '"6 x 120.65 mm hole 11 mm, pilot 63.5 mm" or "4 x 3 in or 4 x 3 1/2 in, stud 3/8-16", or a pulley\'s part number'
)
MOST_HOLES = 60
_SET = re.compile(r"(?P<count>[0-9]{1,3})\s*(?:holes?\s*)?(?:x|×|on)\s*(?P<circle>.+)", re.IGNORECASE)
_TYPED = re.compile(r"[0-9]{1,3}\s*(?:holes?\s*)?(?:x|×|on)(?:\s|$|[0-9])", re.IGNORECASE)
_WORD = re.compile(r"\b(pilot deep|pilot|hole|stud|or)\b", re.IGNORECASE)
_METRIC = re.compile(r"m\s*([0-9]{1,3}(?:\.[0-9])?)(?:\s*[x×]\s*[0-9.]+)?", re.IGNORECASE)
_INCH = re.compile(r"((?:[0-9]{1,2}[ -])?[0-9]{1,2}/[0-9]{1,2}|[0-9])\s*(?:in|\")?\s*-\s*[0-9]{1,2}", re.IGNORECASE)

Shelf = Callable[[], AbstractContextManager[sqlite3.Connection]]
"""Opens the shelf, for as long as it is read."""


@dataclass(frozen=True, slots=True)
class HolePart:
    """``pilot_mm`` is a hub's register or the bore that goes over it; ``pilot_deep_mm`` how far it stands out or goes in."""

    name: str
    sets: tuple[HoleSet, ...]
    pilot_mm: float | None = None
    pilot_deep_mm: float | None = None
    stud: str | None = None
    stud_mm: float | None = None
    """Outside diameter of the stud's thread."""

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            "name": self.name, "pilot_mm": self.pilot_mm, "pilot_deep_mm": self.pilot_deep_mm, "stud": self.stud,
            "sets": [
                {"count": one.count, "bolt_circle_mm": round(one.circle_mm, 3), "hole_mm": one.hole_mm}
                for one in self.sets
            ],
        }  # fmt: skip


def set_text(one: HoleSet) -> str:
    """Return a hole set in words."""
    hole = f", {both_text(one.hole_mm)} holes" if one.hole_mm else ""
    return f"{one.count} on {both_text(one.circle_mm)}{hole}"


def hole_part(text: str, shelf: Shelf) -> HolePart:
    """Return the part that is typed, or the pulley of that part number; the shelf is opened only for the latter.

    Raises :class:`~kb.errors.AnswerError`.
    """
    if _TYPED.match(text.strip()):
        return typed(text)
    with shelf() as connection:
        return _from_shelf(text.strip(), connection)


def typed(text: str) -> HolePart:
    """Read ``6 x 120.65 mm hole 11 mm, pilot 63.5 mm, stud M10``. Raises :class:`~kb.errors.AnswerError`.

    >>> part = typed("6 x 120.65 mm hole 11 mm, pilot 63.5 mm deep 8 mm, stud M10 x 1.5")
    >>> part.sets[0], part.pilot_mm, part.pilot_deep_mm, part.stud_mm
    (HoleSet(count=6, circle_mm=120.65, hole_mm=11.0), 63.5, 8.0, 10.0)
    """
    level = re.sub(r"\bdeep\b", "pilot deep", text.strip(), flags=re.IGNORECASE)
    pieces = _WORD.split(f"or {level}")
    sets: list[HoleSet] = []
    told: dict[str, str] = {}
    for word, rest in zip((one.casefold() for one in pieces[1::2]), pieces[2::2], strict=True):
        rest = rest.strip(" ,;")
        if word == "or":
            sets.append(_set(rest, text))
        elif word == "hole":
            last = sets[-1]
            sets[-1] = HoleSet(last.count, last.circle_mm, _length(rest, text, "a hole"))
        elif word in told:
            raise AnswerError(f"{text!r} says {word} twice.", do=f"Example: {EXAMPLE}.")
        else:
            told[word] = rest
    pilot, deep = (_length(told[word], text, f"a {word}") if word in told else None for word in ("pilot", "pilot deep"))
    stud = told.get("stud")
    return HolePart(text.strip(), tuple(sets), pilot, deep, stud, None if stud is None else _stud_mm(stud))


def _set(rest: str, text: str) -> HoleSet:
    match = _SET.fullmatch(rest)
    if match is None or not 2 <= int(match["count"]) <= MOST_HOLES:
        raise AnswerError(f"{rest!r} in {text!r} is no bolt circle.", do=f"Example: {EXAMPLE}.")
    return HoleSet(int(match["count"]), _length(match["circle"], text, "a bolt circle"))


def _length(rest: str, text: str, what: str) -> float:
    try:
        return read(rest, LENGTH, low=0.5, high=2000.0)
    except MeasurementError as error:
        raise AnswerError(
            f"{text!r} has {what} that is not understood: {error.what}", do=f"Example: {EXAMPLE}."
        ) from error


def _stud_mm(stud: str) -> float:
    if match := _METRIC.fullmatch(stud):
        return float(match[1])
    if match := _INCH.fullmatch(stud):
        return read(f"{match[1]} in", LENGTH)
    raise AnswerError(f"{stud!r} is no stud thread.", do="Write M10 x 1.5, M10, or 3/8-16.")


def _from_shelf(text: str, connection: sqlite3.Connection) -> HolePart:
    from kb.spelling import normalise_code

    rows = connection.execute(
        "SELECT part_no, supplier.name AS supplier, bolt_circle_mm, hole_count, pilot_mm FROM pulley "
        "JOIN supplier ON supplier.id = supplier_id WHERE code = ? OR supplier.name || ':' || part_no = ? "
        "ORDER BY supplier.name, part_no",
        (normalise_code(text), text),
    ).fetchall()
    if not rows:
        raise AnswerError(f"no pulley {text!r} is on the shelf, and it is no bolt pattern.", do=f"Example: {EXAMPLE}.")
    drilled = [row for row in rows if row["bolt_circle_mm"] and row["hole_count"]]
    if not drilled:
        raise AnswerError(
            f"the shelf knows no bolt circle and count of {text!r}.", do=f"Measure it, and type it: {EXAMPLE}."
        )
    if len(drilled) > 1:
        found = ", ".join(f"{row['supplier']}:{row['part_no']}" for row in drilled)
        raise AnswerError(f"{text!r} is a part of several suppliers.", do=f"Name one of: {found}.")
    row = drilled[0]
    return HolePart(
        f"{row['supplier']} {row['part_no']}", (HoleSet(row["hole_count"], row["bolt_circle_mm"]),), row["pilot_mm"]
    )
