"""Does the belt of a drive hold on every pulley: span tensions, ratios against design ratio and ceiling, worst first."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from kb.errors import DriveError
from kb.mechanics.grip import (
    Assumption,
    GripReport,
    Load,
    SpanTensions,
    belt_speed_m_s,
    judge_grip,
    walk_tensions,
)
from kb.mechanics.standing import standing_tensions
from kb.mechanics.tensioner import tension_band_n
from queries.drive_assumed import belt_mass, family, grip_limits, practice
from queries.drive_laid import said_of
from queries.drive_running import RunningDrive

FASTEST = "PK belt speed"
PER_RIB = "static tension per rib, PK, automatic tensioner"


@dataclass(frozen=True)
class SpanRow:
    """One span in the direction of travel: gripping tensions and whole tensions, N, (low, high) of the band."""

    leaves: str
    reaches: str
    grip_low_n: float
    grip_high_n: float
    whole_low_n: float
    whole_high_n: float

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return dict(vars(self))


@dataclass(frozen=True)
class GripRow:
    """How one pulley holds at the low end of the band; ``ratio`` and ``use`` are none where its slack span hangs loose."""

    pulley: str
    wrap_deg: float
    takes_kw: float
    slack_n: float
    tight_n: float
    ratio: float | None
    design_ratio: float
    ceiling_ratio: float
    use: float | None
    verdict: str

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return dict(vars(self))


@dataclass(frozen=True)
class GripAnswer:
    """The pulleys worst first, the spans in the direction of travel; or, in ``missing``, why nothing can be told."""

    pulleys: tuple[GripRow, ...] = ()
    spans: tuple[SpanRow, ...] = ()
    driver_rpm: float | None = None
    belt_speed_m_s: float | None = None
    centrifugal_n: float | None = None
    held_by: str = ""
    tension_low_n: float | None = None
    tension_high_n: float | None = None
    tensioner_side: str | None = None
    assumed: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...] = ()
    missing: tuple[str, ...] = field(default=())

    def as_json(self) -> dict[str, object]:
        """Return the documented form, without what was assumed and the cautions."""
        kept = ("driver_rpm", "belt_speed_m_s", "centrifugal_n", "held_by", "tension_low_n", "tension_high_n")
        return {
            "pulleys": [one.as_json() for one in self.pulleys],
            "spans": [one.as_json() for one in self.spans],
            **{name: getattr(self, name) for name in (*kept, "tensioner_side")},
            "missing": list(self.missing),
        }


@dataclass(frozen=True)
class Held:
    """What tension a drive's belt has, N, standing; ``sprung`` where a spring sets it. ``how`` says it in words."""

    low_n: float
    high_n: float
    sprung: bool
    how: str
    cautions: tuple[str, ...] = ()


def held_tension(drive: RunningDrive) -> Held | None:
    """Return the tension that the spring, or else a measurement on the standing engine, gives; ``None`` without either."""
    measured = drive.sheet.belt.tension_n
    arm = drive.numbers.drive.arm
    if arm is not None and drive.arm_rad is not None and arm.torque_nm is not None:
        low, high = tension_band_n(drive.numbers.drive, drive.arm_rad)
        if low is not None and high is not None:
            return Held(low, high, True, "the tensioner's spring", _beside(measured, low, high))
    if measured is not None:
        how = "measured standing" if arm is None else "measured standing, the spring not being known"
        return Held(measured, measured, arm is not None, how)
    return None


def _beside(measured: float | None, low: float, high: float) -> tuple[str, ...]:
    if measured is None or low <= measured <= high:
        return ()
    return (
        f"the tension measured standing, {measured:.0f} N, lies outside what the spring gives ({low:.0f} to {high:.0f} N): "
        "the spring's band was taken; look at the tensioner",
    )


def ask_grip(drive: RunningDrive, taken_kw: Mapping[str, float] | None = None) -> GripAnswer:
    """Judge the grip at governed speed. ``taken_kw``: shaft power by pulley name where the sheet gives none.

    Raises :class:`~kb.errors.DriveError` for a tensioner or driver that takes power.
    """
    sheet, held, mass = drive.sheet, held_tension(drive), belt_mass(drive.sheet)
    missing = _missing(drive, held, mass)
    if missing or held is None or mass is None or sheet.governed_rpm is None:
        return GripAnswer(missing=missing)
    _check_loads(drive)
    with said_of(sheet):
        speed = belt_speed_m_s(sheet.governed_rpm, drive.numbers.pitch_diameters_mm[drive.numbers.driver_index])
        loads = loads_of(drive, taken_kw or {})
        tensions = _tensions(drive, loads, held, speed, mass)
        report = judge_grip(loads, tensions, grip_limits(sheet))
    return GripAnswer(
        pulleys=_rows(report, loads),
        spans=_span_rows(loads, tensions),
        driver_rpm=sheet.governed_rpm,
        belt_speed_m_s=speed,
        centrifugal_n=tensions.centrifugal_n,
        held_by=held.how,
        tension_low_n=held.low_n,
        tension_high_n=held.high_n,
        tensioner_side=tensions.tensioner_side if held.sprung else None,
        assumed=report.assumed,
        cautions=(*report.cautions, *held.cautions, *_practice_cautions(drive, held, speed)),
    )


def _missing(drive: RunningDrive, held: Held | None, mass: Assumption | None) -> tuple[str, ...]:
    said = []
    if drive.sheet.governed_rpm is None:
        said.append("the engine's speed is not given: add governed_rpm")
    if held is None and drive.sheet.arm_index is not None:
        said.append("the belt's tension is not known: add the arm's torque_nm, or tension_n as measured standing")
    elif held is None:
        said.append(
            "the belt's tension is not known: pluck a span with the engine off and its key out, turn its note into a tension "
            "with `bayshelf drive frequency`, and add tension_n"
        )
    if mass is None:
        said.append(
            f"the mass of {drive.sheet.profile} belts is not known: weigh one, divide by its length, add belt_mass_kg_per_m"
        )
    return tuple(said)


def _check_loads(drive: RunningDrive) -> None:
    for one in drive.sheet.pulleys:
        if one.load_kw and (one.driver or one.arm is not None):
            what = "drives the belt" if one.driver else "is the tensioner"
            raise DriveError(
                f"it {what}, and load_kw says that it takes {one.load_kw:g} kW.",
                where=f"{drive.sheet.source}, pulley {one.name!r}",
                do="Leave its load_kw out.",
            )


def loads_of(drive: RunningDrive, taken_kw: Mapping[str, float]) -> list[Load]:
    """Return the pulleys in the direction of travel with their wraps and what each takes, kW."""
    loads = []
    for place, one in zip(drive.order, drive.pulleys, strict=True):
        takes = 0.0 if one.driver or one.arm else taken_kw.get(one.name, 0.0) if one.load_kw is None else one.load_kw
        loads.append(Load(one.name, max(drive.route.wraps_rad[place], 0.0), one.face == "grooved", takes, one.driver))
    return loads


def _tensions(drive: RunningDrive, loads: list[Load], held: Held, speed: float, mass: Assumption) -> SpanTensions:
    band = (held.low_n, held.high_n)
    if held.sprung:
        arm = drive.numbers.drive.arm_index
        assert arm is not None
        return walk_tensions(
            loads,
            tensioner=drive.order.index(arm),
            tension_n=band,
            sprung=True,
            belt_speed_m_s=speed,
            mass_kg_per_m=mass,
        )
    return standing_tensions(
        loads,
        spans_mm=[drive.route.spans[drive.span_place(step)].length_mm for step in range(len(loads))],
        arcs_mm=[
            load.wrap_rad * drive.route.pulleys[place].radius_mm for load, place in zip(loads, drive.order, strict=True)
        ],
        tension_n=band,
        belt_speed_m_s=speed,
        mass_kg_per_m=mass,
    )


def _rows(report: GripReport, loads: list[Load]) -> tuple[GripRow, ...]:
    by_name = {one.name: one for one in loads}
    return tuple(
        GripRow(
            pulley=one.name,
            wrap_deg=math.degrees(by_name[one.name].wrap_rad),
            takes_kw=by_name[one.name].takes_kw,
            slack_n=one.slack_n,
            tight_n=one.tight_n,
            ratio=one.ratio if math.isfinite(one.ratio) else None,
            design_ratio=one.design_ratio,
            ceiling_ratio=one.ceiling_ratio,
            use=one.use if math.isfinite(one.use) else None,
            verdict=one.verdict,
        )
        for one in report.pulleys
    )


def _span_rows(loads: list[Load], tensions: SpanTensions) -> tuple[SpanRow, ...]:
    return tuple(
        SpanRow(one.name, loads[(k + 1) % len(loads)].name, *tensions.gripping_n[k], *tensions.whole_n[k])
        for k, one in enumerate(loads)
    )


def _practice_cautions(drive: RunningDrive, held: Held, speed: float) -> list[str]:
    """Set belt speed and standing tension beside what is usual; from memory, so it only cautions."""
    sheet = drive.sheet
    if sheet.profile != "PK":
        return []
    said = []
    fastest = practice(FASTEST)
    if speed > fastest.value:
        said.append(
            f"the belt runs at {speed:.1f} m/s, over {fastest.value:g} {fastest.unit} ({fastest.source}, {fastest.status})"
        )
    if sheet.ribs and family(sheet) == "V-ribbed":
        low, high = practice(PER_RIB, upper=False), practice(PER_RIB)
        per_rib = [one / sheet.ribs for one in (held.low_n, held.high_n)]
        if per_rib[0] < low.value or per_rib[1] > high.value:
            said.append(
                f"{per_rib[0]:.0f} to {per_rib[1]:.0f} N of tension per rib; usual are {low.value:g} to {high.value:g} "
                f"({high.source}, {high.status})"
            )
    return said
