"""Which thread this is, what else it could be, what would settle it, and the parts that have it."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import dataclass, field

from kb.mechanics.threads import (
    Seen,
    diameter_likelihood,
    pitch_likelihood,
    seat_likelihood,
    taper_likelihood,
)
from kb.reference.tables import is_checked, number, table
from queries.answers import Answer, caliper_text

WORTH_SHOWING = 0.02
"""Threads less likely than this, against the likeliest, are not shown."""

MOST_PARTS = 12


@dataclass(frozen=True, slots=True)
class FittingQuestion:
    """What was measured on a thread, or the thread's name as ``text``; lengths in mm, angles in degrees."""

    text: str | None = None
    outside_mm: float | None = None
    inside_mm: float | None = None
    pitch_mm: float | None = None
    seat_deg: float | None = None
    taper: bool | None = None
    limit: int = 10


@dataclass(frozen=True, slots=True)
class FittingRow:
    """One family that uses a thread."""

    standard: str
    end: str
    dash: str | None
    thread: str
    outside_diameter_mm: float
    threads_per_inch: float | None
    pitch_mm: float
    seat_deg: float | None
    taper: bool
    seals_on: str
    difference_mm: float | None
    fit: float
    why: str
    source: str
    checked: bool
    parts: list[dict[str, str]] = field(default_factory=list)

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True)
class _Family:
    row: dict[str, str]
    taper: bool
    likelihood: float

    @property
    def key(self) -> tuple[float, float, bool]:
        """What makes two families' threads the same thread."""
        return (round(float(self.row["male_major_nominal_mm"]), 1), round(float(self.row["pitch_mm"]), 2), self.taper)


def ask_fittings(connection: sqlite3.Connection | None, question: FittingQuestion) -> Answer[FittingRow]:
    """Tell which threads fit what was measured, likeliest first, a row per family; without a shelf no parts are named."""
    families = [_judged(row, question) for row in table("threads")]
    found = sorted((one for one in families if one.likelihood > 0), key=lambda one: -one.likelihood)
    best = found[0].likelihood if found else 0.0
    shown = [one for one in found if best > 1e-4 and one.likelihood >= WORTH_SHOWING * best]
    order: dict[tuple[float, float, bool], None] = dict.fromkeys(one.key for one in shown)
    grouped = [one for key in order for one in shown if one.key == key][: question.limit]
    rows = [_row(one, question, best, grouped, connection) for one in grouped]
    misses = [] if rows else [_row(one, question, best or 1.0, found[:3], connection) for one in _nearest(question)]
    notes = (_settling(grouped, question),) if len(grouped) > 1 else ()
    return Answer(rows, misses, _understood(question), tuple(note for note in notes if note))


def _judged(row: dict[str, str], question: FittingQuestion) -> _Family:
    taper = "taper" in row["gender_and_use"]
    likelihood = 1.0 if is_checked(row) else 0.9
    if question.text:
        likelihood *= _named_so(row["thread"], question.text)
    nominal = _nominal(row, question)
    measured = question.inside_mm if question.inside_mm is not None else question.outside_mm
    if measured is not None and nominal is not None:
        seen = Seen(measured, question.inside_mm is not None)
        likelihood *= diameter_likelihood(nominal, seen, taper)
    elif measured is not None:
        likelihood = 0.0
    likelihood *= pitch_likelihood(float(row["pitch_mm"]), question.pitch_mm)
    half, included = number(row["seat_half_angle_deg"]), number(row["seat_included_angle_deg"])
    likelihood *= seat_likelihood(half, included, question.seat_deg)
    return _Family(row, taper, likelihood * taper_likelihood(taper, question.taper))


def _nominal(row: dict[str, str], question: FittingQuestion) -> float | None:
    return number(row["female_minor_basic_mm"] if question.inside_mm is not None else row["male_major_nominal_mm"])


def _named_so(thread: str, text: str) -> float:
    def plain(name: str) -> str:
        return re.sub(r"[^a-z0-9/.]+", "", name.casefold().replace("\u00d7", "x"))

    asked, name = plain(text), plain(thread)
    bare = re.sub(r"(unf|unc|uns|un|npt|nptf)$", "", name)
    return 1.0 if asked in (name, bare) else 0.0


def _nearest(question: FittingQuestion) -> list[_Family]:
    """The three threads nearest in diameter, where nothing fits."""
    measured = question.inside_mm if question.inside_mm is not None else question.outside_mm
    if measured is None:
        return []
    rows = [row for row in table("threads") if _nominal(row, question) is not None]
    rows.sort(key=lambda row: abs((_nominal(row, question) or 0.0) - measured))
    return [_Family(row, "taper" in row["gender_and_use"], 0.0) for row in rows[:3]]


def _row(
    one: _Family, question: FittingQuestion, best: float, shown: list[_Family], connection: sqlite3.Connection | None
) -> FittingRow:
    row = one.row
    measured = question.inside_mm if question.inside_mm is not None else question.outside_mm
    nominal = _nominal(row, question)
    end = "female" if question.inside_mm is not None else "male"
    return FittingRow(
        standard=row["family"],
        end=end,
        dash=row["dash"] or None,
        thread=row["thread"],
        outside_diameter_mm=float(row["male_major_nominal_mm"]),
        threads_per_inch=number(row["threads_per_inch"]),
        pitch_mm=float(row["pitch_mm"]),
        seat_deg=number(row["seat_half_angle_deg"]),
        taper=one.taper,
        seals_on=row["sealing"],
        difference_mm=None if measured is None or nominal is None else round(nominal - measured, 3),
        fit=round(100 * one.likelihood / best, 1),
        why=_why(one, shown),
        source=row["source"],
        checked=is_checked(row),
        parts=_parts(connection, row, end),
    )


def _why(one: _Family, shown: list[_Family]) -> str:
    said = [f"{one.row['thread']}, {'taper' if one.taper else 'parallel'}, seals on {one.row['sealing']}"]
    same = [other.row["family"] for other in shown if other.key == one.key and other is not one]
    if same:
        said.append(f"the same thread serves {', '.join(dict.fromkeys(same))}")
    if not is_checked(one.row):
        said.append("from memory: check before ordering")
    return "; ".join(said)


def _settling(shown: list[_Family], question: FittingQuestion) -> str:
    """Name the one measurement that would part what is left."""
    seats = {one.row["seat_half_angle_deg"] for one in shown if one.key == shown[0].key}
    if question.taper is None and len({one.taper for one in shown}) > 1:
        return "Taper or parallel? Lay a straightedge along the thread, or caliper it at both ends: 1:16 shows in 5 mm."
    if question.pitch_mm is None and len({one.key[1] for one in shown}) > 1:
        return "Which pitch? Put the pitch gauge on, and count threads over an inch (25.4 mm)."
    if question.seat_deg is None and len(seats) > 1:
        angles = " or ".join(f"{float(seat):.0f} degrees" for seat in sorted(filter(None, seats), key=float))
        flat = ", or none" if "" in seats else ""
        return f"Which seat ({angles}{flat})? Put the seat gauge on the cone, and look for an O-ring."
    return ""


def _parts(connection: sqlite3.Connection | None, row: dict[str, str], form: str) -> list[dict[str, str]]:
    """The shelf's parts with an end of this thread and family: seats that share a thread do not seal on each other."""
    if connection is None:
        return []
    ends = " UNION ".join(
        f"SELECT supplier.name AS supplier, part_no, end_{end}_standard AS standard, end_{end}_seat_deg AS seat "
        f"FROM fitting JOIN supplier ON supplier.id = supplier_id WHERE end_{end}_thread = ?1 AND end_{end}_form = ?2"
        for end in "ab"
    )
    found = connection.execute(f"{ends} ORDER BY 1, 2", (row["thread"], form))
    fitting = dict.fromkeys(
        (part["supplier"], part["part_no"]) for part in found if _is_of_family(part["standard"], part["seat"], row)
    )
    return [{"supplier": supplier, "part_no": part_no} for supplier, part_no in list(fitting)[:MOST_PARTS]]


def _is_of_family(standard: str | None, seat_deg: float | None, row: dict[str, str]) -> bool:
    """Whether an end that has the thread belongs to the row's family: by the family it names, else by its seat."""
    named = (standard or "").strip().casefold()
    if named in {each["family"].casefold() for each in table("threads")}:
        return named == row["family"].casefold()
    seats = [number(row["seat_half_angle_deg"]), number(row["seat_included_angle_deg"])]
    return seat_deg in seats if seat_deg is not None else seats == [None, None]


def _understood(question: FittingQuestion) -> str:
    said = []
    if question.text:
        said.append(f"thread {question.text}")
    if question.outside_mm is not None:
        said.append(f"outside {caliper_text(question.outside_mm)}")
    if question.inside_mm is not None:
        said.append(f"inside {caliper_text(question.inside_mm)}")
    if question.pitch_mm is not None:
        said.append(f"pitch {question.pitch_mm:.3g} mm ({25.4 / question.pitch_mm:.3g} per inch)")
    if question.seat_deg is not None:
        said.append(f"seat {question.seat_deg:g} degrees")
    if question.taper is not None:
        said.append("taper" if question.taper else "parallel")
    return ", ".join(said)
