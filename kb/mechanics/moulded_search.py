"""Where a wanted shape lies inside a moulded hose, either way round: what differs, where to cut, and what is left over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kb.mechanics.moulded import Shape, angle_apart_deg, corner_saving, developed_length_mm, far_end_off_mm, tangent_mm


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a hose may differ: common practice, no source. ``short_mm`` is for its end legs, which can only be cut."""

    leg_mm: float = 6.0
    bend_deg: float = 5.0
    twist_deg: float = 10.0
    short_mm: float = 3.0

    @classmethod
    def within(cls, leg_mm: float | None, bend_deg: float | None) -> Tolerance:
        """Return tolerances of one's own, where given; twists may be off twice as far as bends."""
        usual = cls()
        bend = usual.bend_deg if bend_deg is None else bend_deg
        return cls(usual.leg_mm if leg_mm is None else leg_mm, bend, 2 * bend)


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut: how much comes off that end of the hose, along its middle, and the bends in the piece that comes off.

    ``past_corner_mm`` is how far the cut is from the kept shape's outermost corner, as the wanted leg has it.
    """

    off_mm: float
    bends_deg: tuple[float, ...]
    past_corner_mm: float


@dataclass(frozen=True, slots=True)
class Match:
    """A place of a wanted shape in a hose; ``turned`` where the wanted first end is at the hose's second.

    ``near`` and ``far`` are the cuts at the wanted shape's ends, ``None`` where legs are not known on both sides; where a leg
    is shorter than wanted within its tolerance, nothing comes off. ``worst_twist_deg`` is ``None`` where twists were not
    compared. ``far_end_off_mm`` is how far the far end comes out with the near end held, where all is known.
    """

    turned: bool
    first_bend: int
    worst_bend_deg: float
    worst_leg_mm: float
    worst_twist_deg: float | None
    near: Cut | None
    far: Cut | None
    kept_mm: float | None
    far_end_off_mm: float | None


@dataclass(frozen=True, slots=True)
class Miss:
    """Why a shape lies nowhere in a hose, the nearest place's reason; ``nearness`` grows with how much of it agreed."""

    nearness: int
    kind: str
    amount: float
    place: int = 0


def find_in(hose: Shape, wanted: Shape, radius_mm: float, tolerance: Tolerance) -> list[Match] | Miss:
    """Return every place of a wanted shape in a hose, the least that is cut off first, or why there is none.

    ``radius_mm`` is the centre-line radius of the hose's bends: a cut must leave the neighbouring bend's arc alone.
    """
    count = wanted.bend_count
    if hose.bend_count < count:
        return Miss(0, "fewer bends", hose.bend_count)
    found: list[Match] = []
    misses: list[Miss] = []
    for turned in (False, True):
        way = hose.turned() if turned else hose
        for first in range(hose.bend_count - count + 1):
            one = _compare(way, wanted, first, radius_mm, tolerance)
            if isinstance(one, Miss):
                misses.append(one)
            else:
                found.append(_match(way, wanted, first, radius_mm, turned, one))
    if found:
        return sorted(found, key=_order)
    return max(misses, key=lambda one: (one.nearness, -one.amount))


def _order(match: Match) -> tuple[float, ...]:
    """The least cut off first, then the fewest cuts, then the nearest bends; as listed before turned."""
    off = [cut.off_mm for cut in (match.near, match.far) if cut is not None]
    return round(sum(off), 3), sum(each > 0 for each in off), match.worst_bend_deg, match.turned


_Differences = tuple[float, float, float | None]


def _compare(way: Shape, wanted: Shape, first: int, radius_mm: float, tolerance: Tolerance) -> _Differences | Miss:
    """What differs at one place (worst bend, inner leg, twist), or the miss."""
    bend = 0.0
    if wanted.bends_deg and way.bends_deg:
        bend = max(abs(has - wants) for has, wants in zip(way.bends_deg[first:], wanted.bends_deg, strict=False))
    if bend > tolerance.bend_deg + 1e-9:
        return Miss(1, "bend", bend)
    leg = 0.0
    for place, (has, wants) in enumerate(_inner_legs(way, wanted, first), 1):
        if abs(has - wants) > tolerance.leg_mm + 1e-9:
            return Miss(2, "inner leg", has - wants, place)
        leg = max(leg, abs(has - wants))
    twist = _twist_apart(way, wanted, first)
    if twist is not None and twist > tolerance.twist_deg + 1e-9:
        other = _twist_apart(way.mirrored(), wanted, first)
        mirror = other is not None and other <= tolerance.twist_deg + 1e-9
        return Miss(4 if mirror else 3, "mirror" if mirror else "twist", twist)
    short = min(_spare(way, wanted, first, radius_mm), default=(0.0, 0))
    if short[0] < -tolerance.short_mm - 1e-9:
        return Miss(5, "end leg", -short[0], short[1])
    return bend, leg, twist


def _inner_legs(way: Shape, wanted: Shape, first: int) -> Iterator[tuple[float, float]]:
    if way.legs_mm is not None and wanted.legs_mm is not None:
        count = wanted.bend_count
        yield from zip(way.legs_mm[first + 1 : first + count], wanted.legs_mm[1:count], strict=True)


def _twist_apart(way: Shape, wanted: Shape, first: int) -> float | None:
    if way.twists_deg is None or wanted.twists_deg is None:
        return None
    pairs = zip(way.twists_deg[first:], wanted.twists_deg, strict=False)
    return max((angle_apart_deg(has, wants) for has, wants in pairs), default=0.0)


def _spare(way: Shape, wanted: Shape, first: int, radius_mm: float) -> list[tuple[float, int]]:
    """How much longer the hose is than wanted at each end, up to a neighbouring bend's arc; which leg (1 is the first)."""
    if way.legs_mm is None or wanted.legs_mm is None:
        return []
    count = wanted.bend_count
    before = tangent_mm(way.bends_deg[first - 1], radius_mm) if first > 0 and way.bends_deg else 0.0
    after = 0.0
    if way.bends_deg and first + count < way.bend_count:
        after = tangent_mm(way.bends_deg[first + count], radius_mm)
    if count == 0:  # one straight piece out of one leg
        return [(way.legs_mm[first] - before - after - wanted.legs_mm[0], 1)]
    return [
        (way.legs_mm[first] - before - wanted.legs_mm[0], 1),
        (way.legs_mm[first + count] - after - wanted.legs_mm[-1], count + 1),
    ]


def _match(way: Shape, wanted: Shape, first: int, radius_mm: float, turned: bool, differences: _Differences) -> Match:
    bend, leg, twist = differences
    near = far = kept = off = None
    if way.legs_mm is not None and wanted.legs_mm is not None and way.bends_deg is not None:
        near, far = _cuts(way, wanted, first, radius_mm)
        kept = developed_length_mm(way, radius_mm) - near.off_mm - far.off_mm
        off = _far_end_off_mm(way, wanted, first)
    return Match(turned, first, bend, leg, twist, near, far, kept, off)


def _cuts(way: Shape, wanted: Shape, first: int, radius_mm: float) -> tuple[Cut, Cut]:
    """The cuts at the wanted shape's ends; a straight piece begins where the arc before it ends."""
    assert way.legs_mm is not None
    assert way.bends_deg is not None
    assert wanted.legs_mm is not None
    before, after = way.bends_deg[:first], way.bends_deg[first + wanted.bend_count :]
    if wanted.bend_count == 0:
        start = _along(way.legs_mm[:first], before, radius_mm)
        start += tangent_mm(before[-1], radius_mm) if before else 0.0
        rest = developed_length_mm(way, radius_mm) - start - wanted.legs_mm[0]
        return Cut(start, before, 0.0), Cut(max(0.0, rest), after, 0.0)
    near = _along(way.legs_mm[: first + 1], before, radius_mm) - wanted.legs_mm[0]
    far = _along(way.legs_mm[first + wanted.bend_count :], after, radius_mm) - wanted.legs_mm[-1]
    return Cut(max(0.0, near), before, wanted.legs_mm[0]), Cut(max(0.0, far), after, wanted.legs_mm[-1])


def _along(legs_mm: tuple[float, ...], bends_deg: tuple[float, ...], radius_mm: float) -> float:
    """Along the middle over legs and the arcs of the bends between them."""
    return sum(legs_mm) - radius_mm * sum(map(corner_saving, bends_deg))


def _far_end_off_mm(way: Shape, wanted: Shape, first: int) -> float | None:
    """How far the far end comes out once cut; ``None`` where bends or twists are not known on both sides."""
    count = wanted.bend_count
    if wanted.bends_deg is None or way.bends_deg is None or way.legs_mm is None or wanted.legs_mm is None:
        return None
    if count == 0:
        return 0.0
    if count > 1 and (way.twists_deg is None or wanted.twists_deg is None):
        return None
    legs = (wanted.legs_mm[0], *way.legs_mm[first + 1 : first + count], wanted.legs_mm[-1])
    twists = None if way.twists_deg is None else way.twists_deg[first : first + count - 1]
    return far_end_off_mm(Shape(legs, way.bends_deg[first : first + count], twists), wanted)
