"""A belt drive with a sprung tensioner: where its arm comes to rest, what is left of its travel, how tight it pulls.

 free stop                    The arm turns about its pivot between two stops. Its spring turns it towards the
   o  . rest                  free stop, where the path is longest; wound back to the slack stop the path is short
    \\  o                      and the belt goes on. Angles in radians, anticlockwise from the x axis.
     \\ /   slack stop
pivot o-----o
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from kb.mechanics.path import PathError, Pulley, Route, find_route, follow, path_length_mm
from kb.mechanics.path_faults import overlaps, route_faults
from kb.mechanics.roots import find_root

STEP_RAD = math.radians(0.5)
"""The usable range is looked for in steps of this size, its ends then narrowed down."""


class ArmError(ValueError):
    """A tensioner's arm that cannot do its work."""


@dataclass(frozen=True, slots=True)
class Arm:
    """A tensioner's arm. Angles are brought to the slack stop's turn: the arm swings the short way between its stops.

    ``torque_nm`` is the spring's at ``torque_at_rad``, rising by ``rate_nm_per_rad`` as the arm is wound towards the slack
    stop; ``damping`` is the share of the torque that friction holds back or adds.

    >>> arm = Arm(math.radians(350), math.radians(20), 90.0)
    >>> round(math.degrees(arm.free_rad)), round(math.degrees(arm.travel_rad))
    (380, 30)
    """

    slack_rad: float
    free_rad: float
    length_mm: float
    work_from_rad: float | None = None
    work_to_rad: float | None = None
    torque_nm: float | None = None
    torque_at_rad: float | None = None
    rate_nm_per_rad: float = 0.0
    damping: float = 0.0

    def __post_init__(self) -> None:
        for name in ("free_rad", "work_from_rad", "work_to_rad", "torque_at_rad"):
            angle = getattr(self, name)
            if angle is not None:
                near = self.slack_rad + math.remainder(angle - self.slack_rad, 2 * math.pi)
                object.__setattr__(self, name, near)
        if self.travel_rad == 0.0:
            raise ArmError("The arm's two stops are the same: it has no travel.")
        if not self.length_mm > 0.0:
            raise ArmError(f"The arm is {self.length_mm:g} mm long.")

    @property
    def travel_rad(self) -> float:
        """From the slack stop to the free stop, anticlockwise counted up."""
        return self.free_rad - self.slack_rad

    @property
    def towards_free(self) -> int:
        """+1 where the spring turns the arm anticlockwise, else -1."""
        return 1 if self.travel_rad > 0 else -1

    def travel_used(self, arm_rad: float) -> float:
        """Return how far along its travel the arm is: 0 at the slack stop, 1 at the free stop."""
        return (arm_rad - self.slack_rad) / self.travel_rad

    def spring_torque_nm(self, arm_rad: float) -> float | None:
        """Return the spring's torque with the arm there, friction left out; ``None`` where none is known."""
        if self.torque_nm is None:
            return None
        at = arm_rad if self.torque_at_rad is None else self.torque_at_rad
        return self.torque_nm + self.rate_nm_per_rad * (at - arm_rad) * self.towards_free


@dataclass(frozen=True)
class Drive:
    """Pulleys in belt order, and the arm that one of them may swing on: that one stands here at its arm's pivot."""

    fixed: tuple[Pulley, ...]
    arm: Arm | None = None
    arm_index: int | None = None

    def pulleys_at(self, arm_rad: float | None = None) -> tuple[Pulley, ...]:
        """Return the pulleys with the arm at that angle; without an arm, as they are."""
        if self.arm is None or self.arm_index is None:
            return self.fixed
        if arm_rad is None:
            raise ArmError("Where the arm is must be said.")
        held = self.fixed[self.arm_index]
        swung = held.at(
            held.x_mm + self.arm.length_mm * math.cos(arm_rad), held.y_mm + self.arm.length_mm * math.sin(arm_rad)
        )
        return (*self.fixed[: self.arm_index], swung, *self.fixed[self.arm_index + 1 :])

    @cached_property
    def grooved_sense(self) -> int:
        """Which way the grooved pulleys turn in the order of the list, found where the arm is most likely to be.

        Raises :class:`~kb.mechanics.path.PathError` where no belt can lie anywhere in the arm's travel.
        """
        if self.arm is None:
            return find_route(self.fixed).grooved_sense
        refused: PathError | None = None
        for share in (0.5, 0.0, 0.25, 0.75, 1.0):
            try:
                return find_route(self.pulleys_at(self.arm.slack_rad + share * self.arm.travel_rad)).grooved_sense
            except PathError as error:
                refused = refused or error
        assert refused is not None
        raise refused

    def route_at(self, arm_rad: float | None = None) -> Route:
        """Return the route with the arm at that angle, whether or not a belt can lie so."""
        return follow(self.pulleys_at(arm_rad), self.grooved_sense)

    def length_at_mm(self, arm_rad: float | None = None) -> float:
        """Return the route's length with the arm at that angle."""
        return path_length_mm(self.pulleys_at(arm_rad), self.grooved_sense)

    def take_up_mm_per_rad(self, arm_rad: float) -> float:
        """Return what a radian of arm, anticlockwise, adds to the route: arm x t . (u_in - u_out) (virtual work)."""
        assert self.arm is not None
        assert self.arm_index is not None
        along_x, along_y = self.route_at(arm_rad).centre_gradients[self.arm_index]
        return self.arm.length_mm * (along_y * math.cos(arm_rad) - along_x * math.sin(arm_rad))

    def with_pulley(self, place: int, pulley: Pulley) -> Drive:
        """Return the drive with another pulley in that place, the belt still running the same way round."""
        changed = replace(self, fixed=(*self.fixed[:place], pulley, *self.fixed[place + 1 :]))
        changed.__dict__["grooved_sense"] = self.grooved_sense
        return changed


@dataclass(frozen=True, slots=True)
class Window:
    """The part of an arm's travel in which it takes up belt, and the route's length at each of its marks.

    ``low``/``high`` bound the usable range, ``work_low``/``work_high`` the working window in it: the working marks, or the
    stops where the arm has none. ``low_mm`` is the slackest the drive gets, at the slack stop where that lies in the
    range; lengths at stops where no belt can lie are NaN. ``notes`` say, in words, where stops lie outside the range.
    """

    slack_stop_mm: float
    free_stop_mm: float
    low_rad: float
    high_rad: float
    low_mm: float
    high_mm: float
    work_low_rad: float
    work_high_rad: float
    work_low_mm: float
    work_high_mm: float
    middle_mm: float
    notes: tuple[str, ...] = ()


def find_window(drive: Drive) -> Window:
    """Find where, between its stops, the arm takes up belt as its spring turns it, and a belt can lie.

    The length need not rise all the way: of several rising stretches the one that takes up most is used. Raises
    :class:`ArmError` where there is none, :class:`~kb.mechanics.path.PathError` where no belt can lie at all.

    >>> fixed = (Pulley("crank", 0, 0, 95), Pulley("pump", 310, -10, 60), Pulley("idler", 300, 200, 38, flat=True),
    ...          Pulley("alternator", 330, 330, 30), Pulley("fan", 40, 310, 75))
    >>> window = find_window(Drive(fixed, Arm(math.radians(205), math.radians(150), 80.0), 2))
    >>> round(math.degrees(window.high_rad), 1)  # geometry example G24: maximum near 167.7 degrees
    167.7
    """
    arm = drive.arm
    if arm is None:
        raise ArmError("The drive has no tensioner's arm.")
    count = max(4, math.ceil(abs(arm.travel_rad) / STEP_RAD))
    angles = [arm.slack_rad + arm.travel_rad * step / count for step in range(count + 1)]
    takes_up = [_takes_up(drive, angle) for angle in angles]
    stretches = _stretches(takes_up)
    if not stretches:
        raise _no_use(drive)
    ranges = [
        (
            angles[0] if begin == 0 else _edge(drive, angles[begin], angles[begin - 1]),
            angles[-1] if end == count else _edge(drive, angles[end], angles[end + 1]),
        )
        for begin, end in stretches
    ]
    low, high = max(ranges, key=lambda pair: drive.length_at_mm(pair[1]) - drive.length_at_mm(pair[0]))
    return _window(drive, arm, low, high)


def _window(drive: Drive, arm: Arm, low_rad: float, high_rad: float) -> Window:
    way = arm.towards_free
    marks = sorted(
        (
            arm.slack_rad if arm.work_from_rad is None else arm.work_from_rad,
            arm.free_rad if arm.work_to_rad is None else arm.work_to_rad,
        ),
        key=lambda angle: way * angle,
    )
    work = [way * min(max(way * mark, way * low_rad), way * high_rad) for mark in marks]
    if work[0] == work[1]:
        raise ArmError("Between its working marks the arm takes up no belt: check the marks and the stops.")
    return Window(
        slack_stop_mm=_length_or_nan(drive, arm.slack_rad),
        free_stop_mm=_length_or_nan(drive, arm.free_rad),
        low_rad=low_rad,
        high_rad=high_rad,
        low_mm=drive.length_at_mm(low_rad),
        high_mm=drive.length_at_mm(high_rad),
        work_low_rad=work[0],
        work_high_rad=work[1],
        work_low_mm=drive.length_at_mm(work[0]),
        work_high_mm=drive.length_at_mm(work[1]),
        middle_mm=drive.length_at_mm((work[0] + work[1]) / 2),
        notes=_notes(drive, arm, low_rad, high_rad),
    )


def _length_or_nan(drive: Drive, arm_rad: float) -> float:
    """Return the route's length with the arm there; NaN where no belt can lie so."""
    return math.nan if _fault(drive, arm_rad) else drive.length_at_mm(arm_rad)


def _takes_up(drive: Drive, arm_rad: float) -> bool:
    assert drive.arm is not None
    return _fault(drive, arm_rad) is None and drive.take_up_mm_per_rad(arm_rad) * drive.arm.towards_free > 0.0


def _fault(drive: Drive, arm_rad: float) -> PathError | None:
    """Return what keeps the belt from lying on the arm's pulley and its neighbours at that angle."""
    pulleys = drive.pulleys_at(arm_rad)
    if together := overlaps(pulleys, drive.arm_index):
        return together[0]
    try:
        faults = route_faults(follow(pulleys, drive.grooved_sense), drive.arm_index)
    except PathError as error:
        return error
    return faults[0] if faults else None


def _stretches(flags: list[bool]) -> list[tuple[int, int]]:
    begins = [at for at, flag in enumerate(flags) if flag and (at == 0 or not flags[at - 1])]
    ends = [at for at, flag in enumerate(flags) if flag and (at == len(flags) - 1 or not flags[at + 1])]
    return list(zip(begins, ends, strict=True))


def _edge(drive: Drive, good_rad: float, bad_rad: float) -> float:
    """Narrow down where taking up belt ends, from an angle where it does and one where it does not."""
    while abs(bad_rad - good_rad) > 1e-12:
        middle = (good_rad + bad_rad) / 2
        if middle in (good_rad, bad_rad):
            break
        if _takes_up(drive, middle):
            good_rad = middle
        else:
            bad_rad = middle
    return good_rad


def _no_use(drive: Drive) -> ArmError:
    assert drive.arm is not None
    for share in (0.5, 0.0, 1.0, 0.25, 0.75):
        angle = drive.arm.slack_rad + share * drive.arm.travel_rad
        if (fault := _fault(drive, angle)) is None:
            return ArmError(
                "From the slack stop to the free stop the route gets shorter, so the arm takes up no belt: are "
                "slack_stop and free_stop the wrong way round?"
            )
    return ArmError(f"Nowhere between its stops can the belt lie on the arm's pulley. {fault}")


def _notes(drive: Drive, arm: Arm, low_rad: float, high_rad: float) -> tuple[str, ...]:
    notes = []
    for stop, end, name, beyond in (
        (arm.slack_rad, low_rad, "slack stop", -arm.towards_free),
        (arm.free_rad, high_rad, "free stop", arm.towards_free),
    ):
        if stop == end:
            continue
        away = math.degrees(abs(stop - end))
        fault = _fault(drive, stop) or _fault(drive, end + beyond * 1e-6)
        why = str(fault) if fault else "There the arm takes up no belt as its spring turns it."
        notes.append(f"The {name} lies {away:.1f} degrees outside the arm's usable range. {why}")
    return tuple(notes)


@dataclass(frozen=True, slots=True)
class Rest:
    """Where the arm rests with a belt. Tensions in newtons, a band as wide as the arm's friction."""

    belt_length_mm: float
    slack_at_stop_mm: float
    arm_rad: float | None
    """``None`` where the belt is too short or too long for the arm to rest on it."""
    travel_used: float | None
    tension_low_n: float | None
    tension_high_n: float | None


def rest(drive: Drive, window: Window, belt_length_mm: float) -> Rest:
    """Return where the arm rests with a belt of that effective length, and how tight it pulls.

    >>> fixed = (Pulley("crank", 0, 0, 95), Pulley("pump", 310, -10, 60), Pulley("idler", 300, 200, 38, flat=True),
    ...          Pulley("alternator", 330, 330, 30), Pulley("fan", 40, 310, 75))
    >>> drive = Drive(fixed, Arm(math.radians(205), math.radians(170), 80.0), 2)
    >>> found = rest(drive, find_window(drive), 1840.0)
    >>> round(math.degrees(found.arm_rad), 4)  # geometry example G24
    195.3609
    """
    assert drive.arm is not None
    slack = belt_length_mm - window.low_mm
    arm_rad = arm_angle_rad(drive, window, belt_length_mm)
    if arm_rad is None:
        return Rest(belt_length_mm, slack, None, None, None, None)
    low, high = tension_band_n(drive, arm_rad)
    return Rest(belt_length_mm, slack, arm_rad, drive.arm.travel_used(arm_rad), low, high)


def arm_angle_rad(drive: Drive, window: Window, belt_length_mm: float) -> float | None:
    """Return the arm's angle with a belt of that length; ``None`` where no angle in the usable range holds it."""
    if not window.low_mm <= belt_length_mm <= window.high_mm:
        return None
    return find_root(
        lambda angle: drive.length_at_mm(angle) - belt_length_mm,
        window.low_rad,
        window.high_rad,
        drive.take_up_mm_per_rad,
    )


def tension_band_n(drive: Drive, arm_rad: float) -> tuple[float | None, float | None]:
    """Return the lowest and highest belt tension at rest, in newtons; ``None`` where the spring is not known.

    Virtual work: torque x d(angle) = tension x d(length). Friction, as a share of the torque, holds it back or adds to it.
    """
    assert drive.arm is not None
    torque_nm = drive.arm.spring_torque_nm(arm_rad)
    if torque_nm is None:
        return None, None
    take_up_m_per_rad = drive.take_up_mm_per_rad(arm_rad) * drive.arm.towards_free / 1000.0
    if take_up_m_per_rad <= 0.0:
        return None, None
    tension = max(torque_nm, 0.0) / take_up_m_per_rad
    return tension * (1 - drive.arm.damping), tension * (1 + drive.arm.damping)


def after_wear(drive: Drive, window: Window, belt_length_mm: float, longer_percent: float) -> Rest:
    """Return where the arm rests once the belt, worn or warm, has grown by that percentage of its length."""
    return rest(drive, window, belt_length_mm * (1.0 + longer_percent / 100.0))
