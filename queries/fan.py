"""A fan in its ring: the gap all round, the shift that evens it, and what is usual."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kb.errors import AnswerError
from kb.mechanics import fan_gap
from kb.mechanics.fan_gap import Gaps
from kb.reference.limits import limit
from queries.answers import apart
from queries.worked import Worked, asking, lengths_in, limit_text

ENGINE_RING_MM = (6.0, 13.0)
"""Of a ring that is carried by the engine with its fan: common practice, no source."""
ROUND_WITHIN_MM = 3.0
"""By how much a ring across and up and down may differ before it is said to be out of round: common practice, no source."""
CAUTIONS = (
    "Engine stopped, key out and battery isolated before hands go near the fan: one with a motor can start by itself.",
    "Turn it once all round by hand and look at every blade before it is started; then stand out of its plane.",
)


@dataclass(frozen=True, slots=True)
class FanQuestion:
    """mm; ``offset`` (the fan's centre from the ring's), ``move`` (of the ring) and ``gaps`` as written."""

    fan_mm: float
    ring_mm: float | None = None
    offset: str | None = None
    gaps: str | None = None
    move: str | None = None
    on_engine: bool = False
    speed_rpm: float | None = None


def ask_fan(question: FanQuestion) -> Worked:
    """Return the gaps. Raises :class:`~kb.errors.AnswerError` for a fan that does not turn in its ring."""
    from queries.drawings.fan import fan_drawing

    ring, offset, notes = _placed(question)
    with asking("Measure across the blade tips, and across the inside of the ring."):
        now = fan_gap.gaps(ring, question.fan_mm, offset)
    values: dict[str, object] = {
        **_json(now),
        "ring_mm": round(ring, 2),
        "offset_mm": [round(one, 2) for one in offset],
    }
    facts = [*_facts(now), ("To even it, move the ring", _way(now.ring_shift))]
    after = None
    if question.move is not None:
        move = lengths_in(question.move, 2, "how far the ring is moved", "1/4 in, 0")
        after = fan_gap.gaps(ring, question.fan_mm, (offset[0] - move[0], offset[1] - move[1]))
        facts += [(f"Then {label[0].lower()}{label[1:]}", said) for label, said in _facts(after)]
    values["after"] = None if after is None else _json(after)
    judged = after or now
    facts.append(("Usual", _usual(judged, question.on_engine)))
    if question.speed_rpm is not None:
        facts.append(("Tips run at", _tip_speed(question, values)))
    if judged.smallest <= 0:
        notes.append(f"The blades cut {apart(judged.smallest)} into the ring: it must not turn.")
    where = "all round" if now.at_deg is None else f"at {_clock(now.at_deg)}"
    says = (
        f"The smallest gap is {apart(now.smallest)} {where}." if now.smallest > 0 else f"It cuts into the ring {where}."
    )
    if after is not None:
        says += f" With the ring moved: {apart(after.smallest) if after.smallest > 0 else 'it cuts'}."
    picture = fan_drawing(ring, question.fan_mm, offset if after is None else after.ring_shift, judged)
    return Worked(says, values, tuple(facts), CAUTIONS, tuple(notes), picture)


def _placed(question: FanQuestion) -> tuple[float, tuple[float, float], list[str]]:
    if question.gaps is not None:
        if question.ring_mm is not None or question.offset is not None:
            raise AnswerError("the fan's place is given twice.", do="Give the four gaps, or the ring and the offset.")
        top, right, bottom, left = lengths_in(
            question.gaps, 4, "gaps at top, right, bottom and left", "15, 20, 25, 20 mm"
        )
        with asking("Measure from a blade's tip to the nearest of the ring, nothing or more."):
            placed = fan_gap.from_gaps(question.fan_mm, top, right, bottom, left)
        notes = []
        if placed.disagree_mm > ROUND_WITHIN_MM:
            notes.append(
                f"Across and up-and-down the ring differs by {apart(placed.disagree_mm)}: it is out of round, or one gap was "
                "read wrong."
            )
        return placed.ring_mm, placed.offset, notes
    if question.ring_mm is None:
        raise AnswerError("the ring is not known.", do="Give its inside diameter, or the gaps at the four sides.")
    offset = (0.0, 0.0)
    if question.offset is not None:
        across, up = lengths_in(question.offset, 2, "an offset", "1/4 in, -3 mm")
        offset = (across, up)
    return question.ring_mm, offset, []


def _json(found: Gaps) -> dict[str, object]:
    return {
        "smallest_gap_mm": round(found.smallest, 2), "largest_gap_mm": round(found.largest, 2),
        "at_deg": None if found.at_deg is None else round(found.at_deg, 1),
        "gaps_mm": {name: round(getattr(found, name), 2) for name in fan_gap.DIRECTIONS},
        "ring_shift_mm": [round(one, 2) for one in found.ring_shift],
    }  # fmt: skip


def _facts(found: Gaps) -> list[tuple[str, str]]:
    sides = ", ".join(f"{name} {_gap(getattr(found, name))}" for name in fan_gap.DIRECTIONS)
    where = "the same all round" if found.at_deg is None else f"at {_clock(found.at_deg)}"
    return [("Gaps", sides), ("Smallest", f"{_gap(found.smallest)}, {where}")]


def _gap(mm: float) -> str:
    return apart(mm) if mm > 0 else f"cuts in by {apart(mm)}"


def _clock(direction_deg: float) -> str:
    """Return a direction as on a clock's face.

    >>> _clock(90.0), _clock(0.0), _clock(200.0)
    ("12 o'clock (90°)", "3 o'clock (0°)", "8 o'clock (200°)")
    """
    hour = round((90 - direction_deg) % 360 / 30) % 12 or 12
    return f"{hour} o'clock ({direction_deg:.0f}°)"


def _way(shift: tuple[float, float]) -> str:
    x, y = shift
    if math.hypot(x, y) < fan_gap.EVEN_WITHIN_MM:
        return "nowhere: it is even"
    told = [f"{apart(x)} {'right' if x > 0 else 'left'}"] if abs(x) >= fan_gap.EVEN_WITHIN_MM else []
    told += [f"{apart(y)} {'up' if y > 0 else 'down'}"] if abs(y) >= fan_gap.EVEN_WITHIN_MM else []
    return " and ".join(told)


def _usual(found: Gaps, on_engine: bool) -> str:
    if on_engine:
        low, high = ENGINE_RING_MM
        inside = "within" if low <= found.smallest and found.largest <= high else "outside"
        return f"{inside} {low:g} to {high:g} mm (ring carried by the engine; common practice, no source)"
    usual = limit("fan", "blade tip to shroud, shroud on chassis")
    worse = found.smallest if usual.low is not None and found.smallest < usual.low else found.largest
    return limit_text(usual, worse)


def _tip_speed(question: FanQuestion, values: dict[str, object]) -> str:
    assert question.speed_rpm is not None
    speed = fan_gap.tip_speed_m_s(question.fan_mm, question.speed_rpm)
    values["tip_speed_m_s"] = round(speed, 2)
    feet = speed * 60 / 0.3048
    return f"{speed:.0f} m/s ({feet:,.0f} ft/min): {limit_text(limit('shaft speed', 'fan tip speed'), feet)}"
