"""The drives on the shelf, and one of them with everything a page shows of it."""

from __future__ import annotations

import math
import sqlite3
from dataclasses import dataclass

from kb.errors import AnswerError, BayshelfError
from kb.measure import both_text
from kb.mechanics.last_pulley import CAUTION
from queries.answers import apart
from queries.drive_belts import DriveBeltRow, ask_drive_belts, belt_text
from queries.drive_jobs import jobs_on_drive
from queries.drive_last import LastRow, ask_last
from queries.drive_path import PathAnswer, ask_path
from queries.drive_picture import ask_picture
from queries.drive_shift import ShiftAnswer, ShiftQuestion, ask_shift
from queries.drives import KnownDrive, Moved, known_drive, moved_drive, stored_drive

BELTS_SHOWN = 6
JOBS_SHOWN = 50


def drives_listed(connection: sqlite3.Connection) -> list[dict[str, object]]:
    """Return the drives on the shelf by name: name, belt, pulleys in belt order, jobs done on it."""
    rows = connection.execute("SELECT id, name, profile, ribs FROM drive ORDER BY name").fetchall()
    order = "SELECT name FROM drive_pulley WHERE drive_id = ? ORDER BY position"
    return [
        {
            "name": row["name"],
            "belt": f"{row['ribs']}{row['profile']}" if row["ribs"] else row["profile"],
            "pulleys": [one[0] for one in connection.execute(order, (row["id"],))],
            "jobs": len(jobs_on_drive(connection, row["name"])),
        }
        for row in rows
    ]


def drive_named(connection: sqlite3.Connection, name: str) -> str | None:
    """Return a drive's name as its sheet spells it, capitals not counted; ``None`` where the shelf has none of that name."""
    found = connection.execute("SELECT name FROM drive WHERE name = ?", (name.strip(),)).fetchone()
    return str(found[0]) if found else None


def jobs_on(connection: sqlite3.Connection, drive: str) -> list[dict[str, object]]:
    """Return the jobs done on a drive, the newest first: id, title, opened_on, outcome."""
    numbers = jobs_on_drive(connection, drive)[:JOBS_SHOWN]
    told = {
        row["number"]: {key: row[key] for key in ("id", "title", "opened_on", "outcome")}
        for row in connection.execute(
            f"SELECT number, id, title, opened_on, outcome FROM job WHERE number IN ({', '.join(map(str, numbers))})"
        )
    }
    return [told[number] for number in numbers]


@dataclass(frozen=True)
class DrivePage:
    """One drive with a belt and a moved pulley tried on it; what cannot be answered is ``None`` and said in ``troubles``."""

    known: KnownDrive
    path: PathAnswer
    picture: str
    belts: list[DriveBeltRow]
    lasts: list[LastRow]
    ways: ShiftAnswer | None
    jobs: list[dict[str, object]]
    troubles: tuple[str, ...]

    @property
    def belt(self) -> str:
        """What kind of belt it takes."""
        return belt_text(self.known)

    @property
    def caution(self) -> str:
        """What to mind when a belt is put on."""
        return CAUTION

    @property
    def says(self) -> list[str]:
        """The route, and what becomes of the belt asked about, in words."""
        marks, belt = self.known.marks, self.path.belt
        doubt = f"give or take {apart(2 * self.known.length_doubt_mm)}"
        if marks.bounds_high:
            lines = [f"Belts from {both_text(marks.low_mm)} to {both_text(marks.high_mm)} rest in its window, {doubt}."]
        else:
            lines = [f"The route is {both_text(marks.slack_mm)}, {doubt}; nothing on it takes up a longer belt."]
        if belt is None:
            return lines
        stands = "of slack" if belt.slack_at_stop_mm >= 0 else "too short"
        lines.append(
            f"With a belt of {both_text(belt.length_mm)}: {apart(belt.slack_at_stop_mm)} {stands} to go on, "
            f"{apart(belt.need_mm)} wanted; chance that it fits {100 * belt.chance_it_fits:.0f} %."
        )
        if belt.rest and belt.rest.travel_used is not None:
            lines.append(f"The arm rests after {100 * belt.rest.travel_used:.0f} % of its travel.")
        return lines

    @property
    def pulleys(self) -> list[tuple[str, ...]]:
        """The pulleys in belt order, as a table's rows of text."""
        route, sheet, numbers = self.path.route, self.known.sheet, self.known.numbers
        return [
            (
                one.name,
                f"{said.face}, {both_text(2 * one.radius_mm)}",
                f"{math.degrees(wrap):.0f}°",
                both_text(span.length_mm),
                f"{ratio:.3f}" + ("" if turns else ", against the driver"),
            )
            for one, said, wrap, span, ratio, turns in zip(
                route.pulleys, sheet.pulleys, route.wraps_rad, route.spans, numbers.speed_ratios,
                numbers.turns_with_driver, strict=True,
            )
        ]  # fmt: skip


def ask_drive_page(
    connection: sqlite3.Connection, name: str, belt_length_mm: float | None = None, moved: Moved | None = None
) -> DrivePage:
    """Return everything a page shows of a drive on the shelf; all of it with the pulley moved, where one is.

    Raises :class:`~kb.errors.DriveError` for a drive that is not there, or cannot be.
    """
    sheet = stored_drive(connection, name)
    as_it_is = known_drive(sheet)
    troubles: list[str] = []
    picture = ask_picture(as_it_is, belt_length_mm, moved)
    known = as_it_is if moved is None else moved_drive(as_it_is, moved)
    path = ask_path(known, belt_length_mm)
    belts: list[DriveBeltRow] = []
    lasts: list[LastRow] = []
    try:
        belts = ask_drive_belts(connection, known, None, BELTS_SHOWN).rows
        lasts = ask_last(known, belt_length_mm).rows
    except AnswerError as error:
        troubles.append(str(error))
    ways: ShiftAnswer | None = None
    if belt_length_mm is not None:
        try:
            ways = ask_shift(known, ShiftQuestion(belt_length_mm), connection)
        except BayshelfError as error:
            troubles.append(str(error))
    return DrivePage(known, path, picture, belts, lasts, ways, jobs_on(connection, sheet.name), tuple(troubles))
