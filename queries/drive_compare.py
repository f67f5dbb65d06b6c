"""A front before and after: speeds, fan power, parts that turn the wrong way, planes, grip, and which belt goes on first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kb.errors import AnswerError, DriveError
from kb.mechanics.grip import Assumption
from kb.mechanics.speeds import (
    SpeedRow,
    compare_speeds,
    fan_power_factor,
    turns_clockwise,
    wrong_way,
)
from kb.sheets.drive_fields import DriveSheet
from queries.drive_assumed import practice, was_given
from queries.drive_front import Front, read_front, said_of_pulley
from queries.drive_grip import GripAnswer, ask_grip
from queries.drive_laid import said_of
from queries.drive_planes import Order, PlanesAnswer, ask_order, ask_planes
from queries.drive_running import run_drive

SHARE = 0.1
"""Changes of speed beyond this share are flagged, unless another is asked for."""
LOAD_DIFFERS = 0.1
"""A fan's load that is further than this share from the cube of its speed is said."""
SPEED_PRACTICE = (
    (("alternator", "generator"), "idle", "low", "alternator shaft speed at idle for useful output"),
    (("alternator", "generator"), "governed", "high", "alternator maximum continuous, heavy frame"),
    (("a/c", "air conditioning", "refrigerant"), "governed", "high", "A/C compressor maximum continuous"),
)
"""Words in a pulley's name or ``drives``, at which speed, which bound, and the row of practice limits that it asks for."""


@dataclass(frozen=True, slots=True)
class CompareQuestion:
    """Sheets of the front before and after, each main belt first; ``share``: 0.1 flags changes beyond 10 %."""

    before: tuple[DriveSheet, ...]
    after: tuple[DriveSheet, ...]
    share: float = SHARE
    belt_length_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Speed:
    """One part before and after, rpm; directions are those seen from the front."""

    row: SpeedRow
    turns_before: str | None
    turns_after: str | None

    def as_json(self) -> dict[str, object]:
        """Return the documented form; ``change_pct`` is that at governed speed."""
        one = self.row
        return {
            "name": one.name,
            "idle_before_rpm": one.idle_before_rpm,
            "idle_after_rpm": one.idle_after_rpm,
            "governed_before_rpm": one.governed_before_rpm,
            "governed_after_rpm": one.governed_after_rpm,
            "change_pct": None if one.change is None else one.change * 100,
            "flagged": one.flagged,
            "turns_before": self.turns_before,
            "turns_after": self.turns_after,
        }


@dataclass(frozen=True, slots=True)
class FanPower:
    """A fan's power by the cube of its speed; ``sheet_kw`` is what the sheet after says, where it does."""

    name: str
    factor: float
    before_kw: float | None
    after_kw: float | None
    sheet_kw: float | None

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            "name": self.name,
            "power_factor": self.factor,
            "before_kw": self.before_kw,
            "after_kw": self.after_kw,
            "sheet_kw": self.sheet_kw,
        }


@dataclass(frozen=True)
class CompareAnswer:
    """All that changes. Planes and grip are those of the main belt after, with its arm at ``arm_deg``."""

    before: str
    after: str
    arm_deg: float | None
    speeds: tuple[Speed, ...]
    fans: tuple[FanPower, ...]
    wrong_way: tuple[tuple[str, str], ...]
    planes: PlanesAnswer
    grip: GripAnswer
    order: tuple[Order, ...]
    assumed: tuple[Assumption, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {
            "before": self.before,
            "after": self.after,
            "arm_deg": self.arm_deg,
            "speeds": [one.as_json() for one in self.speeds],
            "fan_power": [one.as_json() for one in self.fans],
            "wrong_way": [{"name": name, "why": why} for name, why in self.wrong_way],
            "planes": {
                "pulleys": [one.as_json() for one in self.planes.pulleys],
                "spans": [one.as_json() for one in self.planes.spans],
                "not_read": list(self.planes.not_read),
            },
            "grip": self.grip.as_json(),
            "order": [one.as_json() for one in self.order],
            "assumed": [
                {name: getattr(one, name) for name in ("name", "value", "unit", "source", "status")}
                for one in self.assumed
            ],
            "cautions": list(self.cautions),
            "notes": list(self.notes),
        }


def ask_compare(question: CompareQuestion) -> CompareAnswer:
    """Set two fronts side by side. Raises :class:`~kb.errors.DriveError` for a drive that cannot be."""
    if not question.share >= 0:
        raise AnswerError("a share cannot be less than nothing.", do="Give --share 10 for ten per cent.")
    before, after = read_front(question.before), read_front(question.after)
    notes = [*before.notes, *after.notes]
    idle, governed = (_engine_speed(before.main, after.main, name, notes) for name in ("idle_rpm", "governed_rpm"))
    clockwise = _rotation(before.main, after.main, notes)
    with said_of(after.main):
        rows = compare_speeds(
            before.turned(), after.turned(), idle_rpm=idle, governed_rpm=governed, flag_share=question.share
        )
    fans = _fans(before, after, rows)
    taken = _taken_over(before, after, fans, notes)
    running = run_drive(_with_engine(after.main, governed[1], clockwise[1]), question.belt_length_mm)
    planes, grip = ask_planes(running), ask_grip(running, taken)
    order, untold = ask_order(list(after.sheets))
    used = [*grip.assumed, *([planes.limit] if planes.spans else [])]
    return CompareAnswer(
        before=" + ".join(one.name for one in before.sheets),
        after=" + ".join(one.name for one in after.sheets),
        arm_deg=running.arm_deg,
        speeds=tuple(_speed(row, before, after, clockwise) for row in rows),
        fans=fans,
        wrong_way=_wrong_way(before, after, clockwise),
        planes=planes,
        grip=grip,
        order=order,
        assumed=tuple(one for one in used if not was_given(one)),
        cautions=(
            *_left_behind(before, after),
            *_fan_cautions(fans),
            *_speed_cautions(after, rows),
            *planes.cautions,
            *grip.cautions,
            *untold,
        ),
        notes=tuple(dict.fromkeys([*notes, *running.notes, *planes.notes])),
    )


def _engine_speed(before: DriveSheet, after: DriveSheet, name: str, notes: list[str]) -> tuple[float, float]:
    old, new = getattr(before, name), getattr(after, name)
    if old is None and new is None:
        example = "700" if name == "idle_rpm" else "2100"
        raise DriveError(
            f"{name} is given neither here nor in {before.source}.", where=after.source, do=f"Add {name} = {example}."
        )
    if old is None or new is None:
        without = before if old is None else after
        notes.append(f"{name}: {without.name} gives none; that of the other sheet was taken, as of the same engine")
    return (new if old is None else old, old if new is None else new)


def _rotation(before: DriveSheet, after: DriveSheet, notes: list[str]) -> tuple[bool, bool]:
    """Return whether the drivers turn clockwise; a sheet that does not say is taken as the other one."""
    old, new = before.rotation or after.rotation, after.rotation or before.rotation
    if before.rotation is None or after.rotation is None:
        said = old or "clockwise (common practice, no source)"
        missing = [one.name for one in (before, after) if one.rotation is None]
        notes.append(f"rotation: not given by {' and '.join(dict.fromkeys(missing))}; the driver taken to turn {said}")
    return old != "anticlockwise", new != "anticlockwise"


def _with_engine(sheet: DriveSheet, governed_rpm: float, clockwise: bool) -> DriveSheet:
    return replace(sheet, governed_rpm=governed_rpm, rotation="clockwise" if clockwise else "anticlockwise")


def _way(front: Front, name: str, driver_clockwise: bool) -> str | None:
    if name not in front.parts:
        return None
    return "clockwise" if front.parts[name].turned.with_driver == driver_clockwise else "anticlockwise"


def _speed(row: SpeedRow, before: Front, after: Front, clockwise: tuple[bool, bool]) -> Speed:
    return Speed(row, _way(before, row.name, clockwise[0]), _way(after, row.name, clockwise[1]))


def _wrong_way(before: Front, after: Front, clockwise: tuple[bool, bool]) -> tuple[tuple[str, str], ...]:
    """Return the parts that turn against what their sheet asks for, or else against how they turned before."""
    was = turns_clockwise(before.turned(), driver_clockwise=clockwise[0])
    must: dict[str, bool] = {}
    for name, part in after.parts.items():
        old = before.parts.get(name)
        asked = part.pulley.must_turn or (old.pulley.must_turn if old else None)
        if asked is not None:
            must[name] = asked == "clockwise"
        elif old is not None and not part.is_idler:
            must[name] = was[name]
    found = wrong_way(after.turned(), must, driver_clockwise=clockwise[1])
    return tuple((one.name, one.why) for one in found)


def _fans(before: Front, after: Front, rows: Sequence[SpeedRow]) -> tuple[FanPower, ...]:
    found = []
    for row in rows:
        if row.governed_before_rpm is None or row.governed_after_rpm is None:
            continue
        if not (before.parts[row.name].is_fan or after.parts[row.name].is_fan):
            continue
        factor = fan_power_factor(row.governed_before_rpm, row.governed_after_rpm)
        old = before.load_kw(row.name)
        found.append(FanPower(row.name, factor, old, None if old is None else old * factor, after.load_kw(row.name)))
    return tuple(found)


def _taken_over(before: Front, after: Front, fans: Sequence[FanPower], notes: list[str]) -> dict[str, float]:
    """Return what parts take, kW, where only the sheet before says: fans by the cube of their speed, others as before."""
    by_cube = {one.name: one.after_kw for one in fans}
    taken: dict[str, float] = {}
    for name, part in after.parts.items():
        old = before.load_kw(name)
        if old is None or part.pulley.load_kw is not None or part.pulley.driver:
            continue
        scaled = by_cube.get(name)
        taken[name] = old if scaled is None else scaled
        how = "as before" if scaled is None else f"{old:g} kW before, by the cube of its speed"
        notes.append(f"{name}: the sheet after gives no load_kw; {taken[name]:.1f} kW was taken ({how})")
    return taken


def _fan_cautions(fans: Sequence[FanPower]) -> list[str]:
    return [
        f"{one.name}: the sheet after says {one.sheet_kw:g} kW; by the cube of its speed the {one.before_kw:g} kW of before "
        f"become {one.after_kw:.1f} kW"
        for one in fans
        if one.after_kw is not None
        and one.sheet_kw is not None
        and abs(one.sheet_kw - one.after_kw) > LOAD_DIFFERS * one.after_kw
    ]


def _left_behind(before: Front, after: Front) -> list[str]:
    return [
        f"{name} was turned before and is turned by no belt after"
        for name, part in before.parts.items()
        if name not in after.parts and not part.is_idler
    ]


def _speed_cautions(after: Front, rows: Sequence[SpeedRow]) -> list[str]:
    """Set speeds beside the table of practice limits, whose status is said."""
    said = []
    for row in rows:
        if row.name not in after.parts:
            continue
        words = said_of_pulley(after.parts[row.name].pulley).casefold()
        for known, at, bound, parameter in SPEED_PRACTICE:
            rpm = row.idle_after_rpm if at == "idle" else row.governed_after_rpm
            if rpm is None or not any(word in words for word in known):
                continue
            limit = practice(parameter, upper=bound == "high")
            if rpm > limit.value if bound == "high" else rpm < limit.value:
                beyond = "over" if bound == "high" else "under"
                said.append(
                    f"{row.name} turns at {rpm:.0f} rpm at {at} speed, {beyond} {limit.value:g} ({parameter}; "
                    f"{limit.source}, {limit.status}): read its label"
                )
    return said
