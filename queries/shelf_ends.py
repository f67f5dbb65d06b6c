"""The ends of the shelf's fittings: which thread and which family each is, however its sheet spelt them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from kb.mechanics.threads import Thread, Use
from kb.reference.thread_names import threads_named

ENDS = ("a", "b")


@dataclass(frozen=True, slots=True)
class ShelfEnd:
    """One end of a fitting; ``uses`` are the families that it may belong to, none for a hose's end.

    ``seat_said`` is false where the sheet names neither family nor seat: then an end without a cone is assumed.
    """

    form: str
    thread: Thread | None
    uses: tuple[Use, ...]
    hose_mm: float | None
    seat_said: bool


def end_of(row: sqlite3.Row, letter: str) -> ShelfEnd | None:
    """Return an end of a row of ``fitting``; ``None`` where its sheet does not say enough."""
    form, written = row[f"end_{letter}_form"], row[f"end_{letter}_thread"]
    if form == "hose":
        hose_mm = row[f"end_{letter}_hose_mm"]
        return ShelfEnd(form, None, (), hose_mm, True) if hose_mm else None
    named = threads_named(written or "")
    if form not in ("male", "female") or len(named) != 1:
        return None
    standard, seat_deg = row[f"end_{letter}_standard"], row[f"end_{letter}_seat_deg"]
    uses = tuple(use for use in named[0].uses if is_of_family(standard, seat_deg, use, named[0].uses))
    return ShelfEnd(form, named[0], uses, None, standard is not None or seat_deg is not None)


def is_of_family(standard: str | None, seat_deg: float | None, use: Use, uses: Iterable[Use]) -> bool:
    """Whether an end that has the thread belongs to a family: by the family that it names, else by its seat.

    An end that says nothing of its seat is taken for one without a cone: seats that share a thread do not seal on each
    other, and a stub taken for the wrong one weeps.
    """
    named = (standard or "").strip().casefold()
    if named in {each.family.casefold() for each in uses}:
        return named == use.family.casefold()
    half = use.seat_half_deg
    if seat_deg is None:
        return half is None
    return half is not None and seat_deg in (half, 2 * half)


def spellings(connection: sqlite3.Connection) -> dict[Thread, list[str]]:
    """Return how the shelf's sheets spell each thread that they list."""
    found: dict[Thread, list[str]] = {}
    for letter in ENDS:
        rows = connection.execute(f"SELECT DISTINCT end_{letter}_thread FROM fitting WHERE end_{letter}_thread > ''")
        for (spelt,) in rows:
            named = threads_named(spelt)
            if len(named) == 1 and spelt not in found.setdefault(named[0], []):
                found[named[0]].append(spelt)
    return found


def rows_with(connection: sqlite3.Connection, spelt: Iterable[str], form: str) -> list[tuple[str, sqlite3.Row]]:
    """Return the fittings that have an end of that form with one of these threads, each with that end's letter."""
    spelt = list(spelt)
    found: list[tuple[str, sqlite3.Row]] = []
    for letter in ENDS if spelt else ():
        marks = ", ".join("?" * len(spelt))
        rows = connection.execute(
            "SELECT fitting.*, supplier.name AS supplier, supplier.lead_time_hours FROM fitting "
            f"JOIN supplier ON supplier.id = supplier_id WHERE end_{letter}_thread IN ({marks}) "
            f"AND end_{letter}_form = ? ORDER BY supplier.name, part_no",
            (*spelt, form),
        )
        found += [(letter, row) for row in rows]
    return found
