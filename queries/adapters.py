"""Two given ends joined by one or two fittings from the shelf, fewest pieces first.

A joint holds where a male and a female end have one thread, and seals where they are of one family as well: NPT and NPTF
alone seal on each other with sealant (common practice, no source). Seats that only share a thread are told as misses.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import ClassVar

from kb.errors import AnswerError
from kb.mechanics.threads import Use
from queries.answers import Answer
from queries.given_ends import HOW_TO_WRITE, GivenEnd, read_end
from queries.shelf_ends import ShelfEnd, end_of, rows_with, spellings

HOSE_WINDOW_MM = 0.5
"""How far a hose's bore may be from the tail that goes in: common practice, no source."""

_NEAREST = 5
_FITS = {"male": "female", "female": "male"}

CAUTION = "Pressure off and cold before a line is opened. Not for brake, steering or fuel lines."


@dataclass(frozen=True, slots=True)
class AdapterQuestion:
    """The two ends to be joined, as someone wrote them."""

    first: str
    second: str
    limit: int = 10


@dataclass(frozen=True, slots=True)
class AdapterRow:
    """One way to join the ends: ``pieces`` in order from the first end, ``joints`` from end to end, one more than pieces.

    ``lead_time_hours`` is the longest of the pieces' suppliers, ``None`` where one of them is not known.
    """

    KEYS: ClassVar[tuple[str, ...]] = (
        "piece_count", "pieces", "joints", "seals", "same_supplier", "lead_time_hours", "angles_deg", "checked", "why",
    )  # fmt: skip

    piece_count: int
    pieces: list[dict[str, object]]
    joints: list[dict[str, object]]
    seals: bool
    same_supplier: bool
    lead_time_hours: float | None
    angles_deg: list[float | None]
    checked: bool
    why: str

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.KEYS}


@dataclass(frozen=True, slots=True)
class _Joint:
    """What happens where two ends meet: the family they seal as, or why they do not."""

    said: str
    seals: bool
    use: Use | None = None
    thread: str | None = None

    def as_json(self) -> dict[str, object]:
        return {
            "thread": self.thread, "standard": self.use.family if self.use else None,
            "seals_on": self.use.sealing if self.use and self.seals else None, "seals": self.seals, "said": self.said,
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Piece:
    """A fitting the way round it would be screwed in: the end toward the first given end, then the other."""

    row: sqlite3.Row
    near: ShelfEnd
    far: ShelfEnd

    @property
    def key(self) -> tuple[str, str]:
        return self.row["supplier"], self.row["part_no"]

    def turned(self) -> _Piece:
        return _Piece(self.row, self.far, self.near)


def ask_adapters(connection: sqlite3.Connection, question: AdapterQuestion) -> Answer[AdapterRow]:
    """Find what joins two ends: fewest pieces first, then one supplier, the shorter wait, the straighter way.

    Two pieces are looked for only where no single one does. Raises :class:`~kb.errors.AnswerError` for an end that is not
    understood, and for two hoses.
    """
    first, second = read_end(question.first), read_end(question.second)
    if first.form == second.form == "hose":
        raise AnswerError("two hoses are joined by a mender, not by adapters.", do=HOW_TO_WRITE)
    near, far = _fitting(connection, first), [piece.turned() for piece in _fitting(connection, second)]
    rows = [row for piece in near for row in _joined(first, (piece,), second) if row.seals]
    if not rows:
        pairs = _pairs(
            [piece for piece in near if _do_seal(first, piece.near)],
            [piece for piece in far if _do_seal(piece.far, second)],
        )
        rows = [row for pair in pairs for row in _joined(first, pair, second)]
    rows = sorted(_once(rows), key=_order)
    misses = [] if rows else sorted(_once(_misses(first, near, far, second)), key=_order_of_misses)[:_NEAREST]
    return Answer(
        rows[: question.limit], misses, f"{first.said}, to {second.said}", _notes(first, second, bool(near), bool(far))
    )


def _fitting(connection: sqlite3.Connection, end: GivenEnd) -> list[_Piece]:
    """The shelf's fittings that go onto an end by their thread, or into it where it is a hose; seats not looked at."""
    if end.thread is None:
        assert end.hose_mm is not None
        found = _hose_tails(connection, end.hose_mm)
    else:
        found = rows_with(connection, spellings(connection).get(end.thread, []), _FITS[end.form])
    pieces = []
    for letter, row in found:
        near, far = end_of(row, letter), end_of(row, "b" if letter == "a" else "a")
        if near is not None and far is not None:
            pieces.append(_Piece(row, near, far))
    return pieces


def _hose_tails(connection: sqlite3.Connection, bore_mm: float) -> list[tuple[str, sqlite3.Row]]:
    found: list[tuple[str, sqlite3.Row]] = []
    for letter in "ab":
        rows = connection.execute(
            "SELECT fitting.*, supplier.name AS supplier, supplier.lead_time_hours FROM fitting JOIN supplier "
            f"ON supplier.id = supplier_id WHERE end_{letter}_form = 'hose' AND end_{letter}_hose_mm BETWEEN ? AND ?",
            (bore_mm - HOSE_WINDOW_MM, bore_mm + HOSE_WINDOW_MM),
        )
        found += [(letter, row) for row in rows]
    return found


def _pairs(near: Iterable[_Piece], far: Iterable[_Piece]) -> Iterator[tuple[_Piece, _Piece]]:
    """Every two fittings whose free ends seal on each other."""
    free: dict[tuple[object, str], list[_Piece]] = {}
    for piece in far:
        free.setdefault((piece.near.thread, piece.near.form), []).append(piece)
    for piece in near:
        if piece.far.thread is not None:
            for other in free.get((piece.far.thread, _FITS[piece.far.form]), ()):
                if _do_seal(piece.far, other.near):
                    yield piece, other


def _joined(first: GivenEnd, pieces: tuple[_Piece, ...], second: GivenEnd) -> Iterator[AdapterRow]:
    """The row for pieces in a chain, if their ends meet at all."""
    ends: list[GivenEnd | ShelfEnd] = [first]
    for piece in pieces:
        ends += [piece.near, piece.far]
    ends.append(second)
    joints = [_meet(one, other) for one, other in zip(ends[::2], ends[1::2], strict=True)]
    if all(joint is not None for joint in joints):
        yield _row(pieces, [joint for joint in joints if joint is not None])


def _meet(one: GivenEnd | ShelfEnd, other: GivenEnd | ShelfEnd) -> _Joint | None:
    """What comes of two ends: ``None`` where they do not go together at all."""
    if "hose" in (one.form, other.form):
        bores = (one.hose_mm, other.hose_mm)
        if one.form != other.form or None in bores or abs(bores[0] - bores[1]) > HOSE_WINDOW_MM:  # type: ignore[operator] # neither is None
            return None
        return _Joint("the hose on its tail, clamped or crimped as the hose asks", True)
    if one.thread is None or one.thread != other.thread or other.form != _FITS.get(one.form):
        return None
    for use in one.uses:
        if any(_seal(use, each) for each in other.uses):
            assumed = [end for end in (one, other) if isinstance(end, ShelfEnd) and not end.seat_said]
            doubt = "; its sheet names no seat, taken for one without a cone: look before ordering" if assumed else ""
            memory = "" if use.checked else " (from memory: check before ordering)"
            return _Joint(f"{use.thread} as {use.family}{memory}, seals on {use.sealing}{doubt}", True, use, use.thread)
    families = [" or ".join(dict.fromkeys(use.family for use in end.uses)) or "an unknown seat" for end in (one, other)]
    said = f"{one.thread.name} screws in, yet {families[1]} does not seal on {families[0]}"
    return _Joint(said, False, None, one.thread.name)


def _do_seal(one: GivenEnd | ShelfEnd, other: GivenEnd | ShelfEnd) -> bool:
    joint = _meet(one, other)
    return joint is not None and joint.seals


def _seal(one: Use, other: Use) -> bool:
    """Whether two families seal on each other, their thread being the same."""
    return one.family == other.family or {one.family, other.family} == {"NPT", "NPTF"}


def _row(pieces: tuple[_Piece, ...], joints: list[_Joint]) -> AdapterRow:
    suppliers = {piece.row["supplier"] for piece in pieces}
    waits = [piece.row["lead_time_hours"] for piece in pieces]
    lead = None if any(wait is None for wait in waits) else max(waits)
    seals = all(joint.seals for joint in joints)
    said = [joint.said for joint in joints]
    if len(pieces) > 1:
        said.append("all from one supplier" if len(suppliers) == 1 else f"from {len(suppliers)} suppliers")
    said.append(wait_text(lead))
    return AdapterRow(
        piece_count=len(pieces),
        pieces=[_piece_json(piece) for piece in pieces],
        joints=[joint.as_json() for joint in joints],
        seals=seals,
        same_supplier=len(suppliers) == 1,
        lead_time_hours=lead,
        angles_deg=[piece.row["angle_deg"] for piece in pieces],
        checked=all(joint.use is None or joint.use.checked for joint in joints),
        why="; ".join(said),
    )


def _piece_json(piece: _Piece) -> dict[str, object]:
    names = ("part_no", "supplier", "description", "angle_deg", "lead_time_hours")
    return {name: piece.row[name] for name in names}


def wait_text(hours: float | None) -> str:
    """Return how long a supplier takes.

    >>> wait_text(6), wait_text(96), wait_text(None)
    ('there in 6 hours', 'there in 4 days', 'lead time not known')
    """
    if hours is None:
        return "lead time not known"
    return f"there in {hours:g} hours" if hours < 48 else f"there in {hours / 24:.3g} days"


def _order(row: AdapterRow) -> tuple[object, ...]:
    wait = float("inf") if row.lead_time_hours is None else row.lead_time_hours
    bent = sum(abs(angle or 0.0) for angle in row.angles_deg)
    names = [(str(piece["supplier"]), str(piece["part_no"])) for piece in row.pieces]
    return row.piece_count, not row.same_supplier, wait, not row.checked, bent, names


def _order_of_misses(row: AdapterRow) -> tuple[object, ...]:
    """Nearest first: what goes in at both ends and only fails to seal, then what goes onto one end."""
    return (
        -sum(joint["thread"] is not None for joint in row.joints),
        -sum(bool(joint["seals"]) for joint in row.joints),
        _order(row),
    )


def _once(rows: Iterable[AdapterRow]) -> list[AdapterRow]:
    """Each set of pieces once: a fitting alike at both ends is found either way round."""
    found: dict[tuple[tuple[object, object], ...], AdapterRow] = {}
    for row in rows:
        key = tuple(sorted((piece["supplier"], piece["part_no"]) for piece in row.pieces))
        if key not in found or _order_of_misses(row) < _order_of_misses(found[key]):
            found[key] = row
    return list(found.values())


def _misses(first: GivenEnd, near: list[_Piece], far: list[_Piece], second: GivenEnd) -> Iterator[AdapterRow]:
    """What goes in at both ends and does not seal, and what goes onto one end; hose ends only where a hose was given."""
    for piece in near:
        both = list(_joined(first, (piece,), second))
        yield from both
        if not both and piece.far.thread is not None:
            yield _row((piece,), [*_met(first, piece.near), _open(piece.far, second)])
    for piece in far:
        if piece.near.thread is not None and not list(_joined(first, (piece,), second)):
            yield _row((piece,), [_open(piece.near, first), *_met(piece.far, second)])


def _met(one: GivenEnd | ShelfEnd, other: GivenEnd | ShelfEnd) -> list[_Joint]:
    joint = _meet(one, other)
    return [] if joint is None else [joint]


def _open(end: ShelfEnd, given: GivenEnd) -> _Joint:
    """A miss's other end, which does not go onto the given one."""
    assert end.thread is not None
    families = " or ".join(dict.fromkeys(use.family for use in end.uses)) or "seat unknown"
    return _Joint(
        f"its other end is {end.form} {end.thread.name}, {families}, which does not go onto {given.said}", False
    )


def _notes(first: GivenEnd, second: GivenEnd, near: bool, far: bool) -> tuple[str, ...]:
    notes = []
    direct = _meet(first, second)
    if direct is not None and direct.seals:
        notes.append(f"These two ends go together as they are: {direct.said}.")
    elif direct is not None:
        notes.append(f"Do not screw them together as they are: {direct.said}.")
    for end, has in ((first, near), (second, far)):
        if not has:
            notes.append(f"Nothing on the shelf goes onto {end.said}.")
        if len({use.family for use in end.uses} - {"NPTF"}) > 1:
            notes.append(f"What kind of end {end.text!r} is was not said: look at its seat before ordering.")
    return (*notes, CAUTION)
