"""The belt's path, and what becomes of one belt on it: arm angle, slack, tension, the chance that it fits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kb.errors import DriveError
from kb.mechanics.path import Route
from kb.mechanics.tensioner import Rest, after_wear, rest
from kb.mechanics.window import judge_belts
from queries.answers import apart
from queries.drives import KnownDrive


@dataclass(frozen=True, slots=True)
class BeltOn:
    """One belt on a drive. ``easiest`` is the pulley that needs least slack to go on last; lengths in mm."""

    length_mm: float
    rest: Rest | None
    slack_at_stop_mm: float
    need_mm: float
    chance_it_fits: float
    easiest: str | None
    longer: tuple[tuple[float, Rest], ...] = ()
    """Percent longer by wear or warmth, and where the arm then rests."""

    @property
    def arm_deg(self) -> float | None:
        """The arm's direction, degrees anticlockwise from x, 0 to 360; ``None`` where it cannot rest on the belt."""
        return degrees_or_none(self.rest.arm_rad if self.rest else None)


@dataclass(frozen=True, slots=True)
class PathAnswer:
    """A drive's path with the arm where the belt, or the middle of its window, puts it."""

    known: KnownDrive
    route: Route
    arm_rad: float | None
    belt: BeltOn | None
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        known, window = self.known, self.known.window
        said: dict[str, object] = {"name": known.sheet.name, "profile": known.sheet.profile, "ribs": known.sheet.ribs}
        if window is not None:
            said["length_at_slack_stop_mm"] = _number(window.slack_stop_mm)
            said["length_at_free_stop_mm"] = _number(window.free_stop_mm)
            said["window_mm"] = [_number(window.work_low_mm), _number(window.work_high_mm)]
        else:
            said["route_length_mm"] = _number(known.drive.route_at().length_mm)
            if known.tightest is not None:
                said["window_mm"] = [_number(known.marks.low_mm), _number(known.marks.high_mm)]
        said["length_doubt_mm"] = _number(known.length_doubt_mm)
        said["pulleys"] = [self._pulley(place) for place in range(len(self.route.pulleys))]
        said["cautions"] = list(self.cautions)
        said["assumed"] = list(self.notes)
        said["layout"] = _layout(known)
        if self.belt is not None:
            said |= self._belt(self.belt)
        return said

    def _pulley(self, place: int) -> dict[str, object]:
        known, one, sheet = self.known, self.route.pulleys[place], self.known.sheet.pulleys[place]
        doubts = known.laid.fitted.doubts_mm[place] if known.laid.fitted else [known.sheet.doubt.centre_mm] * 2
        return {
            "name": one.name,
            "face": sheet.face,
            "x_mm": _number(one.x_mm),
            "y_mm": _number(one.y_mm),
            "doubt_mm": [_number(float(doubts[0])), _number(float(doubts[1]))],
            "effective_diameter_mm": _number(2 * one.radius_mm),
            "turns": turns_text(known, place),
            "wrap_deg": _number(math.degrees(self.route.wraps_rad[place])),
            "span_to_next_mm": _number(self.route.spans[place].length_mm),
            "speed_ratio": _number(known.numbers.speed_ratios[place]),
        }

    def _belt(self, belt: BeltOn) -> dict[str, object]:
        resting = belt.rest
        tension = (resting.tension_low_n, resting.tension_high_n) if resting else (None, None)
        return {
            "belt_length_mm": belt.length_mm,
            "arm_deg": _number(belt.arm_deg),
            "travel_used": _number(resting.travel_used if resting else None),
            "slack_at_stop_mm": _number(belt.slack_at_stop_mm),
            "need_mm": _number(belt.need_mm),
            "chance_it_fits": _number(belt.chance_it_fits),
            "last_pulley": belt.easiest,
            "tension_n": None if tension[0] is None else [_number(tension[0]), _number(tension[1])],
            "when_longer": [
                {
                    "percent": percent,
                    "arm_deg": degrees_or_none(then.arm_rad),
                    "travel_used": _number(then.travel_used),
                    "tension_n": None if then.tension_low_n is None else [
                        _number(then.tension_low_n), _number(then.tension_high_n)
                    ],
                }
                for percent, then in belt.longer
            ],
        }  # fmt: skip


def ask_path(
    known: KnownDrive,
    belt_length_mm: float | None = None,
    need_mm: float | None = None,
    longer_percent: tuple[float, ...] = (),
) -> PathAnswer:
    """Follow the belt; with a belt's effective length, say where the arm rests on it and whether it goes on."""
    belt = None if belt_length_mm is None else _belt_on(known, belt_length_mm, need_mm, longer_percent)
    arm_rad = belt.rest.arm_rad if belt and belt.rest and belt.rest.arm_rad is not None else known.shown_rad
    route = known.drive.route_at(arm_rad)
    cautions = known.cautions(route)
    if belt is not None:
        cautions = [*_belt_cautions(known, belt), *cautions]
    return PathAnswer(known, route, arm_rad, belt, tuple(cautions), known.numbers.notes)


def _belt_on(known: KnownDrive, length_mm: float, need_mm: float | None, longer: tuple[float, ...]) -> BeltOn:
    if not 0.0 < length_mm < 1e5:
        raise DriveError(f"a belt of {length_mm:g} mm is none.", do='Give its effective length, such as "73 1/8 in".')
    need = known.default_need_mm if need_mm is None else need_mm
    judged = judge_belts(known.drive, known.window, known.marks, np.array([length_mm]), need, known.sheet.doubt.belt_mm)
    resting = rest(known.drive, known.window, length_mm) if known.window else None
    lasts = known.lasts(length_mm)
    return BeltOn(
        length_mm,
        resting,
        length_mm - known.marks.slack_mm,
        need,
        float(judged.chance_it_fits[0]),
        lasts[0].pulley if lasts else None,
        tuple(
            (percent, after_wear(known.drive, known.window, length_mm, percent)) for percent in longer if known.window
        ),
    )


def _belt_cautions(known: KnownDrive, belt: BeltOn) -> list[str]:
    said = []
    if belt.slack_at_stop_mm < 0.0:
        said.append(
            f"The belt is {apart(belt.slack_at_stop_mm)} shorter than the path at its slackest: it does not go on."
        )
    elif belt.slack_at_stop_mm < belt.need_mm:
        said.append(
            f"The belt leaves {apart(belt.slack_at_stop_mm)} of slack to go on; {apart(belt.need_mm)} are wanted."
        )
    high = known.marks.high_mm
    if known.marks.bounds_high and belt.length_mm > high:
        said.append(f"The belt is {apart(belt.length_mm - high)} longer than the tightest that the drive takes up.")
    if known.window and belt.rest and belt.rest.arm_rad is not None and belt.length_mm < known.window.work_low_mm:
        said.append("The arm rests before its working marks: the belt is on the short side.")
    return said


def turns_text(known: KnownDrive, place: int) -> str:
    """Return whether a pulley turns the driver's way."""
    return "with driver" if known.numbers.turns_with_driver[place] else "against driver"


def degrees_or_none(rad: float | None) -> float | None:
    """Return a direction in degrees, 0 to 360, rounded to what an angle finder could never read."""
    return None if rad is None or math.isnan(rad) else round(math.degrees(rad) % 360.0, 4)


def _layout(known: KnownDrive) -> dict[str, object] | None:
    fitted = known.laid.fitted
    if fitted is None:
        return None
    tape, out = known.laid.next_tape, known.laid.left_out
    return {
        "check": fitted.check,
        "left_out": None if out is None else {"what": list(out.names), "off_mm": [_number(one) for one in out.off_mm]},
        "next_tape": None if tape is None else {
            "between": list(tape[0]), "doubt_now_mm": _number(tape[1]), "doubt_then_mm": _number(tape[2])
        },
        "scale_mm_per_px": None if fitted.scale is None else fitted.scale[0],
    }  # fmt: skip


def _number(value: float | None) -> float | None:
    """Return a number as JSON shows it: no digits that mean nothing, and no NaN."""
    return None if value is None or math.isnan(value) else round(float(value), 6)
