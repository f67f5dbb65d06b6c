"""Every belt on the shelf of a drive's profile and ribs, judged on that drive: the likeliest to fit first."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from kb.errors import AnswerError
from kb.mechanics.window import JudgedBelts, judge_belts
from queries.answers import Answer, apart
from queries.belt_rows import COLUMNS, BeltRow, Compared, Listed, belt_rows, listed
from queries.drive_jobs import jobs_on_drive
from queries.drive_path import degrees_or_none
from queries.drives import KnownDrive
from queries.history import Record

ALIKE = 0.05
"""Chances that differ by less are no different to a mechanic: how the jobs ended, then the length, ranks those belts."""

BESIDE = 40
"""How many belts beyond the limit are looked at: their jobs may put them first."""

LIKELY = 0.5
"""A belt is named as one that does where it is likelier to fit than not."""

TOLERANCE_DOUBTS = 2.0
"""A listed length tolerance is taken as so many doubts of the belt's length (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class DriveBeltRow:
    """One belt on one drive. ``travel_used``: 0 at the slack stop, 1 at the free stop; ``None`` where the arm cannot rest."""

    KEYS: ClassVar[tuple[str, ...]] = (
        *BeltRow.KEYS, "arm_deg", "travel_used", "slack_at_stop_mm", "chance_it_fits", "jobs_on_this_drive",
    )  # fmt: skip

    belt: BeltRow
    arm_deg: float | None
    travel_used: float | None
    slack_at_stop_mm: float
    chance_it_fits: float
    difference_mm: float
    """To the length at the middle of the arm's window."""
    here: tuple[tuple[str, str], ...] = ()
    """Jobs that used it on this drive: id and outcome."""

    @property
    def why(self) -> str:
        """What becomes of the belt, in words, and how it did."""
        slack = (
            f"{apart(self.slack_at_stop_mm)} of slack to go on"
            if self.slack_at_stop_mm >= 0
            else f"{apart(self.slack_at_stop_mm)} too short to go on"
        )
        rests = "" if self.travel_used is None else f"arm rests after {100 * self.travel_used:.0f} % of its travel"
        here = ", ".join(f"job {name}: {outcome}" for name, outcome in self.here)
        told = (slack, rests, self.belt.record.says, here and f"on this drive {here}")
        return "; ".join(filter(None, told))

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            **self.belt.as_json(),
            "difference_mm": round(self.difference_mm, 3),
            "fit": round(100 * self.chance_it_fits, 1),
            "why": self.why,
            "arm_deg": self.arm_deg,
            "travel_used": None if self.travel_used is None else round(self.travel_used, 4),
            "slack_at_stop_mm": round(self.slack_at_stop_mm, 3),
            "chance_it_fits": round(self.chance_it_fits, 4),
            "jobs_on_this_drive": [{"id": name, "outcome": outcome} for name, outcome in self.here],
        }


def ask_drive_belts(
    connection: sqlite3.Connection, known: KnownDrive, need_mm: float | None = None, limit: int = 10
) -> Answer[DriveBeltRow]:
    """Judge every belt of the drive's profile and ribs in one pass; the best ``limit`` come back.

    A belt's doubt is its own length tolerance where its sheet gives one, else the drive sheet's ``belt``. Raises
    :class:`~kb.errors.AnswerError` where the drive's belt can have no length on a shelf.
    """
    need = known.default_need_mm if need_mm is None else need_mm
    ids, lengths, doubts = _candidates(connection, known)
    said = _understood(known, need)
    if not len(ids):
        raise AnswerError(
            f"no {belt_text(known)} belt with an effective length is on the shelf.",
            do="Load a supplier's belt sheet, or check profile and ribs of the drive sheet.",
        )
    judged = judge_belts(known.drive, known.window, known.marks, lengths, need, doubts)
    best = np.lexsort((np.abs(judged.difference_mm), -judged.chance_it_fits))[: limit + BESIDE]
    rows = _rows(connection, known, judged, ids, best)
    rows.sort(key=_rank)
    notes = [f"{len(ids)} {belt_text(known)} belts of the shelf were judged."]
    if rows[0].chance_it_fits < LIKELY:
        notes.append("No belt on the shelf is likely to fit: `drive shift` says what could be moved for one of these.")
    return Answer(rows[:limit], [], said, tuple(notes))


def belt_text(known: KnownDrive) -> str:
    """Return what kind of belt a drive takes: ``8PK``, or a V-belt's section."""
    return f"{known.sheet.ribs}{known.sheet.profile}" if known.sheet.ribs else known.sheet.profile


def _candidates(connection: sqlite3.Connection, known: KnownDrive) -> tuple[list[int], np.ndarray, np.ndarray]:
    cursor = connection.cursor()
    cursor.row_factory = None
    kind = "profile = ? AND ribs = ?" if known.sheet.ribs else "section = ?"
    values = (known.sheet.profile, known.sheet.ribs) if known.sheet.ribs else (known.sheet.profile,)
    found = cursor.execute(
        "SELECT id, effective_length_mm, length_tolerance_mm FROM belt "
        f"WHERE {kind} AND effective_length_mm IS NOT NULL ORDER BY effective_length_mm, id",
        values,
    ).fetchall()
    ids = [row[0] for row in found]
    lengths = np.array([row[1] for row in found], dtype=np.float64)
    usual = known.sheet.doubt.belt_mm
    doubts = np.array([usual if row[2] is None else row[2] / TOLERANCE_DOUBTS for row in found], dtype=np.float64)
    return ids, lengths, doubts


def _rows(
    connection: sqlite3.Connection, known: KnownDrive, judged: JudgedBelts, ids: list[int], best: Iterable[int]
) -> list[DriveBeltRow]:
    places = {ids[place]: int(place) for place in best}
    found = list(
        listed(
            connection,
            f"SELECT 0.0, {COLUMNS} FROM belt JOIN supplier ON supplier.id = supplier_id "
            f"WHERE belt.id IN ({', '.join(map(str, places))})",
            (),
        )
    )
    compared = Compared("effective_length_mm", known.marks.middle_mm, known.sheet.doubt.belt_mm)
    rows = {(row.supplier, row.part_no): row for row in belt_rows(connection, found, compared, len(found))}
    here = _jobs_here(connection, known.sheet.name, found)
    return [_row(rows[belt.supplier, belt.part_no], judged, places[belt.id], here.get(belt.id, ())) for belt in found]


def _row(belt: BeltRow, judged: JudgedBelts, place: int, here: tuple[tuple[str, str], ...]) -> DriveBeltRow:
    travel = float(judged.travel_used[place])
    return DriveBeltRow(
        belt,
        degrees_or_none(float(judged.arm_rad[place])),
        None if np.isnan(travel) else travel,
        float(judged.slack_at_stop_mm[place]),
        float(judged.chance_it_fits[place]),
        float(judged.difference_mm[place]),
        here,
    )


def _rank(row: DriveBeltRow) -> tuple[float, int, int, float, str, str]:
    worked_here = sum(outcome.startswith("worked") for _, outcome in row.here)
    record: Record = row.belt.record
    here = len(row.here) - 2 * worked_here
    return (
        -round(row.chance_it_fits / ALIKE),
        here,
        record.failed - record.worked,
        abs(row.difference_mm),
        row.belt.supplier,
        row.belt.part_no,
    )


def _jobs_here(
    connection: sqlite3.Connection, drive: str, belts: list[Listed]
) -> dict[int, tuple[tuple[str, str], ...]]:
    """Return, by belt, the jobs on the drive of that name that used it, and how they ended."""
    codes = {belt.code for belt in belts}
    try:
        jobs = jobs_on_drive(connection, drive)
    except AnswerError:  # the sheet of a drive that the shelf does not know yet
        return {}
    rows = connection.execute(
        "SELECT code, job_part.supplier, id, outcome FROM job JOIN job_part ON job_number = job.number "
        f"WHERE job.number IN ({', '.join(map(str, jobs))}) AND outcome IS NOT NULL "
        f"AND code IN ({', '.join('?' * len(codes))}) ORDER BY id",
        tuple(codes),
    ).fetchall()
    found: dict[int, tuple[tuple[str, str], ...]] = {}
    for belt in belts:
        who = (None, belt.supplier.casefold())
        ended = {row[2]: row[3] for row in rows if row[0] == belt.code and (row[1] and row[1].casefold()) in who}
        if ended:
            found[belt.id] = tuple(ended.items())
    return found


def _understood(known: KnownDrive, need_mm: float) -> str:
    marks = known.marks
    window = (
        f"its window {apart(marks.low_mm)} to {apart(marks.high_mm)}"
        if marks.bounds_high
        else f"its route {apart(marks.slack_mm)}, nothing takes up a longer belt"
    )
    return f"{belt_text(known)} belts for {known.sheet.name}: {window}; {apart(need_mm)} of slack wanted to go on"


def nearest_belt(
    connection: sqlite3.Connection, known: KnownDrive, need_mm: float, too_long: bool
) -> dict[str, object] | None:
    """Return the shortest belt on the shelf that is likelier than not to fit; the longest where shorter is wanted."""
    ids, lengths, doubts = _candidates(connection, known)
    if not ids:
        return None
    judged = judge_belts(known.drive, known.window, known.marks, lengths, need_mm, doubts)
    likely = np.flatnonzero(judged.chance_it_fits >= LIKELY)
    if not likely.size:
        return None
    return _rows(connection, known, judged, ids, [int(likely[-1 if too_long else 0])])[0].as_json()
