"""A line as SVG, black on white: its route from four sides, its ends, and the clock face of its elbows.

Near end A, far end B, corners by their number, things to keep clear of by small roman numbers. Only presentation
attributes are used, no styles: the explorer's pages allow none inline.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from kb.mechanics.route import followed
from kb.mechanics.space import Vector
from kb.sheets.line_fields import EndSheet
from queries.lines import LineAnswer

WIDE, TALL = 220, 212
FOOT = 44
"""Room below a view for its axes."""
EDGE = 18
"""Room round a view for its labels."""
ROMAN = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x")
Flat = tuple[float, float]


@dataclass(frozen=True, slots=True)
class View:
    """One way of looking at the route: its title, and a place's right and up on the paper."""

    title: str
    right: Vector
    up: Vector

    def flat(self, place: Vector) -> Flat:
        """Return a place as it is seen, in mm, up counted up."""
        return (
            math.fsum(a * b for a, b in zip(self.right, place, strict=True)),
            math.fsum(a * b for a, b in zip(self.up, place, strict=True)),
        )


_HALF, _THIRD = math.sqrt(1 / 2), math.sqrt(1 / 6)
VIEWS = (
    View("From the front, the right and above", (_HALF, 0.0, -_HALF), (-_THIRD, 2 * _THIRD, -_THIRD)),
    View("From the front", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    View("From the right", (0.0, 0.0, -1.0), (0.0, 1.0, 0.0)),
    View("From above", (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)),
)
"""The isometric view and the three square ones; x is right, y up, z forward, all to one scale."""


def key_of(place: int) -> str:
    """Return the mark of a thing to keep clear of: small roman numbers, plain ones after ten."""
    return ROMAN[place] if place < len(ROMAN) else str(place + 1)


def route_views(answer: LineAnswer) -> list[tuple[str, str]]:
    """Return the views of a route: each its title and its SVG."""
    scale = _scale(answer)
    return [(view.title, _view(answer, view, scale)) for view in VIEWS]


def _scale(answer: LineAnswer) -> float:
    """Units per mm, such that the route fits every view."""
    largest = 1e-9
    for view in VIEWS:
        flat = [view.flat(place) for place in answer.sheet.points]
        across = max(x for x, _ in flat) - min(x for x, _ in flat)
        high = max(y for _, y in flat) - min(y for _, y in flat)
        largest = max(largest, across / (WIDE - 2 * EDGE), high / (TALL - FOOT - 2 * EDGE))
    return 1 / largest


def _placed(answer: LineAnswer, view: View, scale: float) -> Callable[[Vector], Flat]:
    flat = [view.flat(place) for place in answer.sheet.points]
    middle_x = (max(x for x, _ in flat) + min(x for x, _ in flat)) / 2
    middle_y = (max(y for _, y in flat) + min(y for _, y in flat)) / 2

    def place(where: Vector) -> Flat:
        x, y = view.flat(where)
        return (WIDE / 2 + (x - middle_x) * scale, (TALL - FOOT) / 2 - (y - middle_y) * scale)

    return place


def _view(answer: LineAnswer, view: View, scale: float) -> str:
    place = _placed(answer, view, scale)
    parts = []
    for number, thing in enumerate(answer.sheet.keep_clear):
        parts.append(_thing(place(thing.start), place(thing.end), thing.across_mm * scale, key_of(number)))
    chain = [place(one) for one in followed(answer.route, 0.5)]
    width = min(max((answer.sheet.hose_outside_mm or 0.0) * scale, 5.0), 16.0)
    parts.append(_chain(chain, width, "#000"))
    parts.append(_chain(chain, width - 2.4, "#fff"))
    parts.append(_chain(chain, 0.8, "#000", "7 2 1 2"))
    for bend in answer.route.bends:
        parts.append(_corner(place(bend.at), str(bend.point), bend.possible))
    parts.append(_named(place(answer.sheet.points[0]), "A"))
    parts.append(_named(place(answer.sheet.points[-1]), "B"))
    parts.append(_axes(view))
    near, far = answer.sheet.ends
    label = f"The route seen {view.title[0].lower()}{view.title[1:]}, from {near.name} (A) to {far.name} (B)"
    return _svg(WIDE, TALL, label, parts)


def _svg(wide: float, tall: float, label: str, parts: Sequence[str]) -> str:
    inside = "".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {tall:g}" role="img" aria-label="{escape(label)}" '
        f'font-family="sans-serif" font-size="12"><rect width="{wide:g}" height="{tall:g}" fill="#fff"/>{inside}</svg>'
    )


def _chain(points: Sequence[Flat], width: float, colour: str, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    listed = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return (
        f'<polyline points="{listed}" fill="none" stroke="{colour}" stroke-width="{width:.1f}" '
        f'stroke-linejoin="round"{dashed}/>'
    )


def _line(start: Flat, end: Flat, width: float = 1.0, dashes: str = "") -> str:
    return _chain([start, end], width, "#000", dashes)


def _text(at: Flat, text: str, anchor: str = "middle", size: float = 12, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{at[0]:.1f}" y="{at[1]:.1f}" text-anchor="{anchor}" font-size="{size:g}" fill="#000"{weight}>'
        f"{escape(text)}</text>"
    )


def _axes(view: View) -> str:
    """The small cross in the corner that says which way is which."""
    parts = []
    for name, axis in (("right", (1.0, 0.0, 0.0)), ("up", (0.0, 1.0, 0.0)), ("fwd", (0.0, 0.0, 1.0))):
        x, y = view.flat(axis)
        if math.hypot(x, y) < 0.1:
            continue
        start = (40.0, TALL - 30.0)
        tip = (start[0] + 16 * x, start[1] - 16 * y)
        parts.append(_line(start, tip) + _arrowhead(start, tip))
        parts.append(_text((start[0] + 28 * x, start[1] - 22 * y + 3), name, size=8))
    return "".join(parts)


def _arrowhead(start: Flat, tip: Flat, size: float = 5.0) -> str:
    angle = math.atan2(tip[1] - start[1], tip[0] - start[0])
    sides = [(tip[0] - size * math.cos(angle + turn), tip[1] - size * math.sin(angle + turn)) for turn in (0.4, -0.4)]
    listed = " ".join(f"{x:.1f},{y:.1f}" for x, y in (tip, *sides))
    return f'<polygon points="{listed}" fill="#000"/>'


def _thing(start: Flat, end: Flat, across: float, key: str) -> str:
    """Something to keep clear of: a hollow bar with a dashed outline's look, or a ring where it is seen end on."""
    width = max(across, 4.0)
    if math.dist(start, end) < 1.0:
        return _ring(start, width / 2, "#ddd", 1, "3 2") + _text((start[0] + width / 2 + 7, start[1] + 4), key, size=10)
    bar = _chain([start, end], width, "#999", "4 2") + _chain([start, end], max(width - 2, 1), "#ddd")
    shares = sorted((step / 20 for step in range(21)), key=lambda share: abs(share - 0.5))
    seen = (at for at in (_between(start, end, share) for share in shares) if _in_view(at))
    return bar + "".join(_text((x + (0 if width > 12 else 8), y + 4), key, size=10) for x, y in [*seen][:1])


def _in_view(at: Flat) -> bool:
    return 8 < at[0] < WIDE - 14 and 12 < at[1] < TALL - FOOT


def _ring(at: Flat, radius: float, colour: str = "#fff", width: float = 1, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{radius:.1f}" fill="{colour}" stroke="#000" '
        f'stroke-width="{width:g}"{dashed}/>'
    )


def _corner(at: Flat, number: str, possible: bool) -> str:
    x, y = at
    ring = _ring(at, 8) + _text((x, y + 4), number, size=10)
    if possible:
        return ring
    return ring + _line((x - 12, y - 12), (x + 12, y + 12), 2.5) + _line((x - 12, y + 12), (x + 12, y - 12), 2.5)


def _named(at: Flat, name: str) -> str:
    x, y = at
    return (
        f'<rect x="{x - 8:.1f}" y="{y - 8:.1f}" width="16" height="16" fill="#000"/><text x="{x:.1f}" y="{y + 4.5:.1f}" '
        f'text-anchor="middle" font-size="12" font-weight="bold" fill="#fff">{name}</text>'
    )


def clock_face(answer: LineAnswer) -> str | None:
    """Return the clock face of the two elbows, seen from the near end; ``None`` where there is no clock angle."""
    if answer.clock_deg is None:
        return None
    turn = math.radians(answer.clock_deg)
    middle, radius = (110.0, 104.0), 50.0

    def on(angle: float, size: float) -> Flat:
        return (middle[0] + size * math.sin(angle), middle[1] - size * math.cos(angle))

    parts = [_ring(middle, radius)]
    for hour in range(12):
        angle = math.tau * hour / 12
        parts.append(_line(on(angle, radius - (8 if hour % 3 == 0 else 4)), on(angle, radius)))
    for angle, dashes in ((0.0, ""), (turn, "5 3")):
        tip = on(angle, radius - 12)
        parts.append(_line(middle, tip, 3, dashes) + _arrowhead(middle, tip, 9))
    parts.append(_ring(middle, 9, width=2))
    parts += [_text((110, 38), "A · 0°", bold=True), _far_label(on(turn, radius + 8), answer.clock_deg)]
    if answer.clock_deg > 4:
        arc = [on(turn * step / 48, 24) for step in range(49)]
        parts.append(_chain(arc, 1.2, "#000") + _arrowhead(arc[-3], arc[-1], 7))
    parts.append(_text((110, 196), "looking from A to B, clockwise", size=11))
    return _svg(WIDE, TALL, f"Clock angle {answer.clock_deg:.0f} degrees: {answer.viewpoint}", parts)


def _far_label(at: Flat, clock_deg: float) -> str:
    x, y = at
    if clock_deg < 20 or clock_deg > 340:
        return _text((x + (34 if clock_deg < 180 else -34), y + 4), f"B · {clock_deg:.0f}°", bold=True)
    anchor = "start" if clock_deg < 160 else "end" if clock_deg > 200 else "middle"
    return _text((x, y + 6), f"B · {clock_deg:.0f}°", anchor, bold=True)


def end_drawing(end: EndSheet, key: str) -> str:
    """Return one end from its side: hose, fitting, and the point that the order length counts to."""
    parts = [_chain([(6, 120), (78, 120)], 30, "#000"), _chain([(4, 120), (78, 120)], 27, "#fff")]
    counts_to: Flat = (150.0, 120.0)
    if end.form == "hose":
        counts_to = (120.0, 120.0)
        parts += [
            _chain([(70, 120), (206, 120)], 22, "#000"), _chain([(70, 120), (207, 120)], 19, "#fff"),
            _chain([(20, 120), (120, 120)], 32, "#000"), _chain([(18, 120), (118.8, 120)], 29, "#fff"),
            '<rect x="88" y="101" width="16" height="38" fill="#fff" stroke="#000" stroke-width="2"/>',
        ]  # fmt: skip
    else:
        parts += _fitting(end)
        if not end.is_elbow:
            counts_to = (206.0, 120.0)
    parts.append(_line((counts_to[0], 120 - 60), (counts_to[0], 172), 0.8, "8 3 1 3"))
    parts.append(_line((8, 166), counts_to_foot := (counts_to[0], 166.0), 0.8) + _arrowhead((8, 166), counts_to_foot))
    parts.append(_text((max(counts_to[0] - 6, 100), 182), "length counts to here", "end", 10))
    parts.append(_text((6, 20), f"{key}  {end.name}", "start", 13, bold=True))
    parts.append(_text((6, 37), _thread_text(end), "start", 11))
    return _svg(WIDE, TALL, f"End {key}, {end.name}: {end_words(end)}", parts)


def _fitting(end: EndSheet) -> list[str]:
    """Ferrule, tube and nut, the seat's axis turned up by the end's angle."""
    turn = math.radians(end.angle_deg)
    crossing: Flat = (150.0, 120.0)
    along: Flat = (math.cos(turn), -math.sin(turn))
    reach = 56.0 if end.is_elbow else 40.0
    nut: Flat = (crossing[0] + along[0] * reach, crossing[1] + along[1] * reach)
    tube = [(100.0, 120.0), crossing, nut]
    parts = [_chain(tube, 14, "#000"), _chain(tube, 11.5, "#fff")]
    parts.append('<rect x="60" y="102" width="46" height="36" fill="#fff" stroke="#000" stroke-width="1.5"/>')
    parts += [_line((x, 102), (x, 138), 0.8) for x in (72, 83, 94)]
    start = (nut[0] - along[0] * 22, nut[1] - along[1] * 22)
    parts += [
        _chain([start, nut], 34, "#000"),
        _chain([_between(start, nut, 0.07), _between(start, nut, 0.93)], 31, "#fff"),
    ]
    parts.append(_chain([start, nut], 1, "#000"))
    if end.is_elbow:
        far = (crossing[0] - along[0] * 20, crossing[1] - along[1] * 20)
        parts.append(_line(far, (nut[0] + along[0] * 8, nut[1] + along[1] * 8), 0.8, "8 3 1 3"))
        parts.append(_ring(crossing, 3.5, "#000"))
        parts.append(_text((100, 92), f"{end.angle_deg:g}°", "middle", 13, bold=True))
    return parts


def _between(start: Flat, end: Flat, share: float) -> Flat:
    return (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)


def _thread_text(end: EndSheet) -> str:
    if end.stub_mm is not None:
        return f"on a stub {end.stub_mm / 25.4:.2f} in ({end.stub_mm:.1f} mm)"
    said = " ".join(filter(None, (end.form, end.thread, end.standard, f"dash {end.dash}" if end.dash else None)))
    return said or "thread not given"


def end_words(end: EndSheet) -> str:
    """Return an end in words, as a person would order it.

    >>> end_words(EndSheet("pump", form="female", thread="3/4-16", dash="-8", angle_deg=90))
    'female 3/4-16 dash -8, 90° elbow'
    """
    said = [_thread_text(end)]
    if end.seat_deg is not None:
        said.append(f"seat {end.seat_deg:g}°")
    if end.form != "hose":
        said.append(f"{end.angle_deg:g}° elbow" if end.is_elbow else "straight")
    if end.part_no:
        said.append(f"part {end.part_no}")
    return ", ".join(said)
