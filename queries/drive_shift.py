"""A belt that does not reach, or is too long: how much is missing, and the ways out, least trouble first.

the belt's slack at the stop  <  what is wanted  ->  a longer belt, a pulley moved, a smaller idler
the belt beyond the far mark of the arm's window ->  a shorter belt, a pulley moved the other way, a larger idler
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from kb.errors import AnswerError, DriveError
from kb.mechanics.fan_gap import FanGapError, Gaps, gaps
from kb.mechanics.path import PathError
from kb.mechanics.shift import (
    Move,
    ShiftError,
    find_move,
    shortfall_seen_mm,
    sixteenths_up_mm,
    ways_out,
    with_radius,
)
from kb.mechanics.shift_effects import Effects, effects
from kb.mechanics.tensioner import Drive, Window, rest
from queries.answers import apart
from queries.drive_belts import belt_text, nearest_belt
from queries.drive_path import degrees_or_none
from queries.drives import KnownDrive

CAUTION = (
    "Engine stopped, key out and battery off before a bracket is loosened; the arm is sprung. A moved bracket carries its "
    "load as before: same bolts, full thread, nothing ground thin."
)
"""Shown with every move. Common practice, no source."""
MOST_IDLERS = 3


@dataclass(frozen=True, slots=True)
class ShiftQuestion:
    """A belt's effective length, or the gap it left at a pulley; what is to be moved; how much slack is wanted. mm.

    ``lay``: how the belt lay when the gap was measured, on its own ``round`` or pulled to a ``point``.
    """

    belt_length_mm: float | None = None
    pulley: str | None = None
    along_deg: float | None = None
    slack_mm: float | None = None
    gap_mm: float | None = None
    gap_at: str | None = None
    lay: str | None = None
    fan_mm: float | None = None
    ring_mm: float | None = None
    fan_offset: tuple[float, float] = (0.0, 0.0)
    """The fan's centre from its ring's, right and up, before anything is moved."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is wanted of the route: so long, with the arm there. ``too_long`` where the belt is beyond the window."""

    belt_length_mm: float
    slack_at_stop_mm: float
    wanted_slack_mm: float
    wanted_route_mm: float
    arm_rad: float | None
    too_long: bool
    fits: bool


@dataclass(frozen=True)
class Shifted:
    """One way out by moving a pulley, with what it does to the rest."""

    move: Move
    place: int
    on_arm: bool
    does: Effects
    slack_at_stop_mm: float
    arm_rad: float | None
    travel_used: float | None
    fan_before: Gaps | None = None
    fan_after: Gaps | None = None
    """The fan in its ring, where the moved pulley turns one and its sizes were given."""

    @property
    def drawn_mm(self) -> float:
        """The move made up to the next sixteenth of an inch."""
        return sixteenths_up_mm(self.move.move_mm)

    def _fan(self) -> dict[str, object] | None:
        if self.fan_before is None or self.fan_after is None:
            return None
        return {
            "smallest_before_mm": round(self.fan_before.smallest, 3),
            "smallest_after_mm": round(self.fan_after.smallest, 3),
            "gaps_after_mm": [round(getattr(self.fan_after, side), 3) for side in ("top", "right", "bottom", "left")],
            "ring_shift_mm": [round(one, 3) for one in self.fan_after.ring_shift],
        }

    @property
    def direction(self) -> str:
        """Where it goes, in degrees and as a person at the front of the engine sees it."""
        dx, dy = self.move.dx_mm, self.move.dy_mm
        size = math.hypot(dx, dy)
        if size < 1e-9:
            return "nowhere"
        parts = (("right", dx), ("left", -dx), ("up", dy), ("down", -dy))
        words = " and ".join(word for word, part in parts if part > 0.38 * size)
        return f"{math.degrees(math.atan2(dy, dx)) % 360:.0f}°, {words}"

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        move, does = self.move, self.does
        return {
            "pulley": move.pulley,
            "along_deg": degrees_or_none(move.along_rad),
            "move_mm": round(move.move_mm, 6),
            "dx_mm": round(move.dx_mm, 6),
            "dy_mm": round(move.dy_mm, 6),
            "slack_at_stop_mm": round(self.slack_at_stop_mm, 6),
            "move_to_sixteenth_mm": round(self.drawn_mm, 4),
            "in_slot": move.in_slot,
            "moves_pivot": self.on_arm,
            "arm_deg": degrees_or_none(self.arm_rad),
            "travel_used": None if self.travel_used is None else round(self.travel_used, 4),
            "window_before_mm": _window(does.window_before),
            "window_after_mm": _window(does.window_after),
            "wraps_deg": {
                one.name: [round(math.degrees(one.before), 2), round(math.degrees(one.after), 2)] for one in does.wraps
            },
            "spans_mm": {one.name: [round(one.before, 2), round(one.after, 2)] for one in does.spans},
            "room_mm": {one.name: [round(one.before, 2), round(one.after, 2)] for one in does.rooms},
            "fan_gap": self._fan(),
            "refused": list(does.refused),
        }


@dataclass(frozen=True)
class ShiftAnswer:
    """How the belt stands, and the ways out; ``belt`` and ``idlers`` only where a shelf was there to look on."""

    known: KnownDrive
    asked: Asked
    moves: tuple[Shifted, ...]
    single: bool
    belt: dict[str, object] | None = None
    idlers: tuple[dict[str, object], ...] = ()
    notes: tuple[str, ...] = field(default_factory=tuple)

    @property
    def says(self) -> str:
        """How the belt stands, in words."""
        asked = self.asked
        if asked.too_long:
            beyond = apart(asked.belt_length_mm - self.known.marks.high_mm)
            return f"The belt is {beyond} longer than the tightest that the drive takes up."
        slack = apart(asked.slack_at_stop_mm)
        stands = f"{slack} of slack" if asked.slack_at_stop_mm >= 0 else f"{slack} too short"
        wanted = apart(asked.wanted_slack_mm)
        if asked.fits:
            where = "with the arm at its slack stop" if self.known.window else "with the pulleys at their slackest"
            return f"The belt goes on as the drive is: {stands} {where}, {wanted} wanted."
        missing = apart(asked.wanted_slack_mm - asked.slack_at_stop_mm)
        return (
            f"At its slackest the drive leaves the belt {stands}; {wanted} of slack is wanted, so {missing} is missing."
        )

    def as_json(self) -> dict[str, object]:
        """Return the documented form: of one move where a pulley was named, else of all ways out."""
        if self.single:
            return {**self.moves[0].as_json(), "notes": list(self.notes)}
        return {
            "belt_length_mm": round(self.asked.belt_length_mm, 3),
            "slack_at_stop_mm": round(self.asked.slack_at_stop_mm, 3),
            "slack_wanted_mm": round(self.asked.wanted_slack_mm, 3),
            "too_long": self.asked.too_long,
            "fits": self.asked.fits,
            "belt": self.belt,
            "moves": [one.as_json() for one in self.moves],
            "idlers": list(self.idlers),
            "notes": [self.says, *self.notes],
        }


def ask_shift(known: KnownDrive, question: ShiftQuestion, connection: sqlite3.Connection | None = None) -> ShiftAnswer:
    """Say how a belt stands on a drive, and what would make it fit.

    ``connection`` is the shelf to look for another belt or idler on. Raises :class:`~kb.errors.AnswerError` or
    :class:`~kb.errors.DriveError` where too little or the impossible was asked.
    """
    asked = _asked(known, question, _belt_length_mm(known, question))
    notes = [CAUTION]
    if question.pulley is not None:
        moves: Sequence[Shifted] = [_with_fan(known, _named_move(known, question, asked), question)]
    elif asked.fits and question.slack_mm is None:
        moves = []
    else:
        keep = [known.numbers.driver_index]
        found = ways_out(known.drive, asked.wanted_route_mm, asked.arm_rad, known.numbers.slots, keep)
        moves = [_with_fan(known, _shifted(known, move, asked), question) for move in found]
        moves = [one for one in moves if not one.does.refused]
        if not moves:
            notes.append("Moving any one pulley does not bring it: two would have to move, or the belt be another.")
    if question.fan_mm is None and any(turns_fan(known, one.place) for one in moves):
        notes.append(
            "A fan that turns on a moved pulley moves in its ring with it: give --fan and --ring for the gap all round."
        )
    belt: dict[str, object] | None = None
    idlers: tuple[dict[str, object], ...] = ()
    if connection is not None and question.pulley is None and not asked.fits:
        belt = nearest_belt(connection, known, asked.wanted_slack_mm, asked.too_long)
        idlers = tuple(_idlers(connection, known, asked))
        if belt is None:
            notes.append(f"No {belt_text(known)} belt on the shelf is likely to fit as the drive is.")
    return ShiftAnswer(known, asked, tuple(moves), question.pulley is not None, belt, idlers, tuple(notes))


def _belt_length_mm(known: KnownDrive, question: ShiftQuestion) -> float:
    if (question.gap_mm is None) != (question.gap_at is None):
        raise AnswerError("a gap belongs to a pulley.", do="Give both --gap M and --gap-at PULLEY, or neither.")
    if question.gap_mm is None or question.gap_at is None:
        if question.belt_length_mm is None:
            raise AnswerError("no belt was named.", do='Give --belt "73 1/8 in", or --gap M and --gap-at PULLEY.')
        return question.belt_length_mm
    if question.belt_length_mm is not None:
        raise AnswerError("the gap says how long the belt is.", do="Give either --belt or --gap, not both.")
    place, route = known.place_of(question.gap_at), known.slack_route.length_mm
    try:
        short = {
            lay: shortfall_seen_mm(known.slackest, place, question.gap_mm, known.slack_rad, to_a_point=lay == "point")
            for lay in ("round", "point")
        }
    except (ShiftError, PathError) as error:
        raise DriveError(str(error), where=known.sheet.source, do="Measure the gap at another pulley.") from error
    if question.lay is None:
        raise AnswerError(
            f"how the belt lay is not said: held on its own round it is {apart(short['round'])} short of the path, "
            f"pulled to a point {apart(short['point'])}.",
            do="Say --lay round or --lay point.",
        )
    return route - short[question.lay]


def _asked(known: KnownDrive, question: ShiftQuestion, length_mm: float) -> Asked:
    marks = known.marks
    wanted = _usual_slack_mm(known) if question.slack_mm is None else question.slack_mm
    slack = length_mm - marks.slack_mm
    too_long = question.slack_mm is None and marks.bounds_high and length_mm > marks.high_mm
    fits = slack >= wanted and not too_long
    if too_long:
        arm_rad = known.window.work_high_rad if known.window else None
        return Asked(length_mm, slack, wanted, length_mm, arm_rad, True, False)
    return Asked(length_mm, slack, wanted, length_mm - wanted, known.slack_rad, False, fits)


def _usual_slack_mm(known: KnownDrive) -> float:
    """Return the slack that is wanted where nobody says: enough to go on, and for the arm to rest at its working mark."""
    to_mark = known.window.work_low_mm - known.marks.slack_mm if known.window else 0.0
    return max(known.default_need_mm, to_mark)


def _named_move(known: KnownDrive, question: ShiftQuestion, asked: Asked) -> Shifted:
    assert question.pulley is not None
    place = known.place_of(question.pulley)
    along = None if question.along_deg is None else math.radians(question.along_deg)
    slot = known.numbers.slots.get(place) if along is None else None
    wanted = asked.wanted_route_mm
    if asked.fits and question.slack_mm is None and not known.numbers.slots:
        wanted = known.drive.length_at_mm(asked.arm_rad)  # nothing is missing: the least move is none
    try:
        move = find_move(known.drive, place, wanted, asked.arm_rad, along_rad=along, slot=slot)
    except (ShiftError, PathError) as error:
        raise DriveError(
            str(error), where=known.sheet.source, do="Try another pulley, or leave --along out."
        ) from error
    return _shifted(known, move, asked)


def _shifted(known: KnownDrive, move: Move, asked: Asked) -> Shifted:
    place = known.place_of(move.pulley)
    does = effects(known.drive, move.after, place, asked.arm_rad)
    after = does.window_after
    resting = rest(move.after, after, asked.belt_length_mm) if after else None
    slack = asked.belt_length_mm - move.after.length_at_mm(known.slack_rad)
    return Shifted(
        move,
        place,
        place == known.drive.arm_index,
        does,
        slack,
        resting.arm_rad if resting else None,
        resting.travel_used if resting else None,
    )


def _with_fan(known: KnownDrive, one: Shifted, question: ShiftQuestion) -> Shifted:
    """Add the fan's gaps in its ring where the moved pulley turns a fan: smallest gap = (ring - fan) / 2 - offset."""
    if (question.fan_mm is None) != (question.ring_mm is None):
        raise AnswerError("a fan's gap needs both sizes.", do="Give --fan and --ring, both across.")
    if question.fan_mm is None or question.ring_mm is None or not turns_fan(known, one.place):
        return one
    x, y = question.fan_offset
    try:
        before = gaps(question.ring_mm, question.fan_mm, (x, y))
        after = gaps(question.ring_mm, question.fan_mm, (x + one.move.dx_mm, y + one.move.dy_mm))
    except FanGapError as error:
        raise AnswerError(f"{error}.", do="Measure both across: the ring inside, the fan over its tips.") from error
    return replace(one, fan_before=before, fan_after=after)


def turns_fan(known: KnownDrive, place: int) -> bool:
    """Whether a fan turns on that pulley, by its name or by what it drives."""
    sheet = known.sheet.pulleys[place]
    return "fan" in f"{sheet.name} {sheet.drives or ''}".casefold()


def _window(window: Window | None) -> list[float] | None:
    return None if window is None else [round(window.work_low_mm, 3), round(window.work_high_mm, 3)]


def _idlers(connection: sqlite3.Connection, known: KnownDrive, asked: Asked) -> Iterator[dict[str, object]]:
    """Return flat pulleys on the shelf that, in the place of one that is there, bring the wanted length."""
    over = known.sheet.belt_over_rim_mm
    if over is None:
        return
    rows = connection.execute(
        "SELECT part_no, supplier.name AS supplier, outside_diameter_mm FROM pulley "
        "JOIN supplier ON supplier.id = supplier_id WHERE face = 'flat' AND outside_diameter_mm IS NOT NULL "
        f"ORDER BY outside_diameter_mm {'ASC' if asked.too_long else 'DESC'}, supplier, part_no"
    ).fetchall()
    for place, one in enumerate(known.drive.fixed):
        if not one.flat:
            continue
        found = 0
        for row in rows:
            radius = row["outside_diameter_mm"] / 2 + over
            if found == MOST_IDLERS or (radius > one.radius_mm) != asked.too_long:
                continue
            if (slack := _with_idler(known.drive, place, radius, asked, known.slack_rad)) is not None:
                found += 1
                yield {
                    "pulley": one.name,
                    "part_no": row["part_no"],
                    "supplier": row["supplier"],
                    "outside_diameter_mm": row["outside_diameter_mm"],
                    "slack_at_stop_mm": round(slack, 3),
                }


def _with_idler(drive: Drive, place: int, radius_mm: float, asked: Asked, slack_rad: float | None) -> float | None:
    """Return the slack that another idler leaves; ``None`` where it does not bring the wanted length, or cannot run."""
    after = drive.with_pulley(place, with_radius(drive.fixed[place], radius_mm))
    try:
        length = after.length_at_mm(asked.arm_rad)
    except PathError:
        return None
    enough = length >= asked.wanted_route_mm if asked.too_long else length <= asked.wanted_route_mm
    if not enough or effects(drive, after, place, asked.arm_rad).refused:
        return None
    return asked.belt_length_mm - after.length_at_mm(slack_rad)
