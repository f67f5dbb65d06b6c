"""Does the belt hold on every pulley: span tensions, tight against slack, and what the wrap can carry.

         belt travels ->
    slack span -> [driven: takes P] -> tighter span -> ... -> tightest span -> [driver: gives all] -> slack span

The belt enters a driven pulley with the lower tension and leaves it with the higher one, by P / v; the driver lets
all of it go again. A tensioner or idler turns freely: the same tension before and behind it.

Two tensions of a moving belt must be kept apart. The gripping tension presses the belt on its pulleys and is what
friction and hubs feel; the whole tension is that plus m v^2, which the belt's own mass takes to go round the bends
and no pulley feels (textbook belt friction; the centrifugal part "adds to both spans, does not load the shaft").

* A sprung tensioner pushes with the same force at any speed, so what it sets is the gripping tension.
* Fixed centres keep the belt's stretch, so the whole tension stays as it was standing, and m v^2 is taken off.

Belt mass, friction and design ratio come from the caller with their source and status, and stand in the result.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


class GripError(ValueError):
    """Pulleys, tensions or limits from which no grip can be told."""


@dataclass(frozen=True, slots=True)
class Assumption:
    """A number that was not measured on this drive: where it comes from and how sure it is."""

    name: str
    value: float
    unit: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Load:
    """One pulley, in the direction of travel. ``takes_kw``: shaft power; nothing for idlers and the driver."""

    name: str
    wrap_rad: float
    grooved: bool
    takes_kw: float = 0.0
    driver: bool = False


@dataclass(frozen=True, slots=True)
class Limits:
    """What a grip is judged against.

    ``friction`` (belt on pulley material), ``groove_angle_deg`` (the whole angle of the groove),
    ``design_ratio_grooved`` and ``design_ratio_flat``: the tight/slack ratio that is designed for at 180 degrees
    of wrap.
    """

    friction: Assumption
    groove_angle_deg: Assumption
    design_ratio_grooved: Assumption
    design_ratio_flat: Assumption


@dataclass(frozen=True, slots=True)
class SpanTensions:
    """Tensions of the spans, N, each (low, high): span k leaves pulley k. See the module for the two kinds.

    ``before_tensioner_kw`` is the power taken between the driver's leaving span and the tensioner.
    """

    gripping_n: tuple[tuple[float, float], ...]
    whole_n: tuple[tuple[float, float], ...]
    centrifugal_n: float
    belt_speed_m_s: float
    before_tensioner_kw: float
    total_kw: float
    assumed: tuple[Assumption, ...]

    @property
    def tensioner_side(self) -> str:
        """``slack side``, ``between``, ``tight side``, or ``no load`` where nothing is driven."""
        if self.total_kw <= 0:
            return "no load"
        share = self.before_tensioner_kw / self.total_kw
        return "slack side" if share < 1e-9 else "tight side" if share > 1 - 1e-9 else "between"


@dataclass(frozen=True, slots=True)
class Grip:
    """How one pulley holds, at the low end of the tension band.

    ``ratio`` is tight/slack (infinite where the slack span hangs loose), ``design_ratio`` what is designed for at
    this wrap, ``ceiling_ratio`` what friction can carry at the very most before all of it slips. ``use`` is
    ln(ratio) / ln(design_ratio): 1 is at the design ratio, more is beyond it.
    """

    name: str
    ratio: float
    design_ratio: float
    ceiling_ratio: float
    use: float
    slack_n: float
    tight_n: float
    verdict: str


@dataclass(frozen=True, slots=True)
class GripReport:
    """All pulleys that carry power, worst first, the spans' tensions, and every number that was assumed."""

    pulleys: tuple[Grip, ...]
    tensions: SpanTensions
    assumed: tuple[Assumption, ...]
    cautions: tuple[str, ...]


def travel_order(
    count: int, *, listed_anticlockwise: bool, driver_anticlockwise: bool, driver_on_back: bool = False
) -> tuple[int, ...]:
    """Indices of the pulleys as the belt meets them, given the way they are listed and the way the driver turns.

    The belt runs the way its driver turns; a driver on the belt's back sends it the other way.

    >>> travel_order(4, listed_anticlockwise=True, driver_anticlockwise=False)
    (3, 2, 1, 0)
    """
    forward = (listed_anticlockwise == driver_anticlockwise) != driver_on_back
    return tuple(range(count)) if forward else tuple(reversed(range(count)))


def belt_speed_m_s(driver_rpm: float, driver_pitch_diameter_mm: float) -> float:
    """Speed of the belt, m/s: pi d n (kinematics), with the driver's pitch diameter.

    >>> round(belt_speed_m_s(2100.0, 204.0), 3)
    22.431
    """
    for value, what in ((driver_rpm, "the driver's speed (rpm)"), (driver_pitch_diameter_mm, "its pitch diameter")):
        _positive(value, what)
    return math.pi * driver_pitch_diameter_mm / 1000 * driver_rpm / 60


def centrifugal_tension_n(mass_kg_per_m: float, speed_m_s: float) -> float:
    """The part of a moving belt's tension that only bends its own path, N: m v^2 (textbook belt friction).

    >>> centrifugal_tension_n(0.105, 35.0)
    128.625
    """
    return mass_kg_per_m * speed_m_s**2


def capstan_ratio(friction: float, wrap_rad: float, groove_angle_deg: float | None = None) -> float:
    """Tight/slack ratio at which a belt slips bodily: exp(mu wrap), in a groove exp(mu wrap / sin(angle / 2)).

    Euler-Eytelwein; the wedge presses each flank 1 / (2 sin(angle / 2)) of what presses the belt inwards.
    Gripping tensions only. A ceiling: belts creep, wear and squeal long before it.

    >>> round(capstan_ratio(0.30, math.pi), 6), round(capstan_ratio(0.30, math.radians(160), 40.0), 5)
    (2.566332, 11.58187)
    """
    _positive(friction, "the friction coefficient")
    if not 0 <= wrap_rad <= 2 * math.pi:
        raise GripError(f"a wrap must lie between 0 and one turn, not {wrap_rad:g} rad")
    if groove_angle_deg is not None and not 0 < groove_angle_deg <= 180:
        raise GripError(f"a groove's whole angle must lie between 0 and 180 degrees, not {groove_angle_deg:g}")
    wedge = 1.0 if groove_angle_deg is None else math.sin(math.radians(groove_angle_deg / 2))
    return math.exp(friction * wrap_rad / wedge)


def hub_load_n(first_n: float, second_n: float, wrap_rad: float) -> float:
    """Force of the belt on a pulley's hub, N, from the gripping tensions before and behind it.

    F = sqrt(T1^2 + T2^2 - 2 T1 T2 cos(wrap)) (balance of forces: the two pulls, added as vectors).

    >>> round(hub_load_n(900.0, 250.0, math.radians(150)), 3)
    1123.482
    """
    return math.sqrt(max(first_n**2 + second_n**2 - 2 * first_n * second_n * math.cos(wrap_rad), 0.0))


def span_rises_n(pulleys: Sequence[Load], belt_speed_m_s: float) -> tuple[float, ...]:
    """How far each span's tension stands above that of the span which leaves the driver, N; span k leaves pulley k.

    Each driven pulley adds P / v (power over the belt's speed). Raises :class:`GripError` for no driver or two.

    >>> span_rises_n([Load("crank", 3.0, True, driver=True), Load("idler", 1.0, False), Load("fan", 3.0, True, 18.0)], 20.0)
    (0.0, 0.0, 900.0)
    """
    driver = _driver(pulleys)
    _positive(belt_speed_m_s, "the belt's speed (m/s)")
    count = len(pulleys)
    above = {driver: 0.0}
    for step in range(1, count):
        here = (driver + step) % count
        above[here] = above[(here - 1) % count] + pulleys[here].takes_kw * 1000 / belt_speed_m_s
    return tuple(above[k] for k in range(count))


def walk_tensions(
    pulleys: Sequence[Load],
    *,
    tensioner: int,
    tension_n: tuple[float, float],
    sprung: bool,
    belt_speed_m_s: float,
    mass_kg_per_m: Assumption,
) -> SpanTensions:
    """Walk round the belt from the spans at the tensioner, whose tension is known, and give every span its own.

    ``pulleys`` in the direction of travel (:func:`travel_order`); ``tensioner`` is the index of the pulley whose two
    spans have ``tension_n``, (low, high), N: the spring's band with its damping, or what was measured standing.
    ``sprung``: whether a spring holds it (see the module). Each driven pulley adds its power over the belt's speed;
    the driver takes their sum off.

    Raises :class:`GripError` for no driver or two, a tensioner that takes power, or a band that is none.
    """
    above = span_rises_n(pulleys, belt_speed_m_s)
    _positive(mass_kg_per_m.value, "the belt's mass (kg/m)")
    low, high = tension_n
    if not 0 <= low <= high < math.inf:
        raise GripError(f"a tension band runs from low to high, not from {low:g} to {high:g} N")
    if not 0 <= tensioner < len(pulleys) or pulleys[tensioner].driver or pulleys[tensioner].takes_kw:
        raise GripError("the tensioner must be one of the pulleys, take no power, and not be the driver")
    total_kw = math.fsum(pulley.takes_kw for pulley in pulleys)
    pull_n = centrifugal_tension_n(mass_kg_per_m.value, belt_speed_m_s)
    taken_off = 0.0 if sprung else pull_n
    rises = [one - above[tensioner] for one in above]
    gripping = tuple((low - taken_off + rise, high - taken_off + rise) for rise in rises)
    return SpanTensions(
        gripping_n=gripping,
        whole_n=tuple((one + pull_n, other + pull_n) for one, other in gripping),
        centrifugal_n=pull_n,
        belt_speed_m_s=belt_speed_m_s,
        before_tensioner_kw=above[tensioner] * belt_speed_m_s / 1000,
        total_kw=total_kw,
        assumed=(mass_kg_per_m,),
    )


def judge_grip(pulleys: Sequence[Load], tensions: SpanTensions, limits: Limits) -> GripReport:
    """Judge every pulley that carries power at the low end of the tension band, worst first.

    The design ratio is scaled to the wrap as the capstan law would: R(wrap) = R(180 deg)^(wrap / pi).
    """
    driver = _driver(pulleys)
    found = []
    for k, pulley in enumerate(pulleys):
        if not (pulley.driver or pulley.takes_kw):
            continue
        before, behind = tensions.gripping_n[k - 1][0], tensions.gripping_n[k][0]
        slack_n, tight_n = sorted((before, behind))
        found.append(_grip(pulley, slack_n, tight_n, limits))
    ordered = tuple(sorted(found, key=lambda one: -one.use))
    used = (limits.friction, limits.groove_angle_deg, limits.design_ratio_grooved, limits.design_ratio_flat)
    return GripReport(ordered, tensions, tensions.assumed + used, tuple(_cautions(pulleys, driver, tensions)))


def _grip(pulley: Load, slack_n: float, tight_n: float, limits: Limits) -> Grip:
    at_half_a_turn = (limits.design_ratio_grooved if pulley.grooved else limits.design_ratio_flat).value
    if not at_half_a_turn > 1:
        raise GripError(f"a design ratio must be more than 1, not {at_half_a_turn:g}")
    groove = limits.groove_angle_deg.value if pulley.grooved else None
    design = at_half_a_turn ** (pulley.wrap_rad / math.pi)
    ceiling = capstan_ratio(limits.friction.value, pulley.wrap_rad, groove)
    ratio = tight_n / slack_n if slack_n > 0 else math.inf
    use = math.log(ratio) / math.log(design) if design > 1 else math.inf
    return Grip(pulley.name, ratio, design, ceiling, use, slack_n, tight_n, _verdict(ratio, design, ceiling))


def _verdict(ratio: float, design: float, ceiling: float) -> str:
    if math.isinf(ratio):
        return "its slack span hangs loose"
    if ratio > ceiling:
        return "slips: beyond what friction can carry"
    return "beyond the design ratio" if ratio > design else "holds"


def _cautions(pulleys: Sequence[Load], driver: int, tensions: SpanTensions) -> list[str]:
    said = []
    if tensions.tensioner_side == "tight side":
        said.append("the tensioner sits on the tight side: every load pulls against its spring")
    elif tensions.tensioner_side == "between":
        said.append(
            f"the tensioner is not in the slack span: {tensions.before_tensioner_kw:.1f} of {tensions.total_kw:.1f} kW "
            "are taken before it, and the spans before it run slacker than it sets"
        )
    loose = [k for k, (low, _) in enumerate(tensions.gripping_n) if low <= 0]
    said += [
        f"the span from {pulleys[k].name} to {pulleys[(k + 1) % len(pulleys)].name} goes slack at the low end"
        for k in loose
    ]
    if not tensions.total_kw:
        said.append(f"nothing but {pulleys[driver].name} carries power: no load was given for any pulley")
    return said


def _driver(pulleys: Sequence[Load]) -> int:
    drivers = [k for k, pulley in enumerate(pulleys) if pulley.driver]
    if len(drivers) != 1:
        raise GripError(f"one pulley drives the belt, not {len(drivers)}")
    for pulley in pulleys:
        if not 0 <= pulley.takes_kw < math.inf or (pulley.driver and pulley.takes_kw):
            raise GripError(f"{pulley.name} cannot take {pulley.takes_kw:g} kW from the belt")
    return drivers[0]


def _positive(value: float, what: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise GripError(f"{what} must be more than nothing, not {value:g}")
