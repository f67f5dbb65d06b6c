"""How to measure each thing, drawn: what the tape, the caliper or the gauge touches. Line drawings, black on paper.

Each function returns one drawing, 320 wide; measured distances have arrow heads at both ends and a letter.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from queries.drawings.svg import INK, PAPER, drawing, element, number, text

WIDTH, HEIGHT = 320.0, 170.0
SIZE = 13.0
Parts = Iterator[str]


def _line(x1: float, y1: float, x2: float, y2: float, width: float = 2.0, dashes: str | None = None) -> str:
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=INK, stroke_width=width, stroke_dasharray=dashes)


def _circle(x: float, y: float, r: float, width: float = 2.0, dashes: str | None = None, fill: str = "none") -> str:
    return element("circle", cx=x, cy=y, r=r, fill=fill, stroke=INK, stroke_width=width, stroke_dasharray=dashes)


def _path(d: str, width: float = 2.0, dashes: str | None = None, fill: str = "none") -> str:
    return element("path", d=d, fill=fill, stroke=INK, stroke_width=width, stroke_dasharray=dashes)


def _head(x: float, y: float, angle: float) -> str:
    points = [(x - 9 * math.cos(angle + turn), y - 9 * math.sin(angle + turn)) for turn in (0.35, -0.35)]
    corners = " ".join(f"{number(a)},{number(b)}" for a, b in ((x, y), *points))
    return element("polygon", points=corners, fill=INK)


def _measured(x1: float, y1: float, x2: float, y2: float, said: str, away: float = 14.0) -> Parts:
    """A distance: a thin line with a head at either end and what it is."""
    angle = math.atan2(y2 - y1, x2 - x1)
    yield _line(x1, y1, x2, y2, 1.2)
    yield _head(x2, y2, angle)
    yield _head(x1, y1, angle + math.pi)
    x, y = (x1 + x2) / 2 - away * math.sin(angle), (y1 + y2) / 2 + away * math.cos(angle)
    yield text(x, y + 4, said, SIZE)


def _jaw(x: float, y: float, down: bool) -> str:
    tip = 26.0 if down else -26.0
    return _path(f"M{number(x - 5)} {number(y - tip)}V{number(y)}H{number(x + 5)}V{number(y - tip)}Z", 1.5, fill=PAPER)


def outside_length() -> Parts:
    """A tape round the back of a belt in a round loop."""
    yield _circle(160, 85, 60, 4)
    yield _circle(160, 85, 55, 3, "2 4")
    yield _circle(160, 85, 67, 1.5, "6 3")
    yield _path("M222 62 L250 40", 1.2)
    yield text(268, 34, "tape", SIZE)
    yield text(160, 82, "ribs inside,", SIZE)
    yield text(160, 98, "tape on the back", SIZE)


def effective_length() -> Parts:
    """The length that is printed, and where it is meant on the belt."""
    yield _path("M30 60 H290 V100 H30 Z", 2)
    yield text(160, 85, "8PK1854", 22.0, font_weight=700)
    yield text(160, 130, "ribs · profile · effective length in mm", SIZE)
    yield _line(118, 108, 118, 116, 1.2)


def ribs() -> Parts:
    """A belt's section: ribs counted, not grooves."""
    top = "M40 50 H280 V80"
    teeth = "".join(" l-15 40 l-15 -40" for _ in range(8))
    yield _path(f"{top}{teeth} Z", 2)
    for count in range(8):
        yield text(265 - 30 * count, 142, str(8 - count), SIZE)
    yield text(160, 36, "back", SIZE)


def pulley_diameter() -> Parts:
    """A caliper across the rib tips."""
    yield _circle(160, 90, 58, 2)
    yield _circle(160, 90, 50, 2, "3 3")
    yield _circle(160, 90, 8, 2)
    yield _jaw(102, 90, True)
    yield _jaw(218, 90, True)
    yield from _measured(102, 110, 218, 110, "across the rib tips", 18)


def centre_distance() -> Parts:
    """A tape from bolt centre to bolt centre."""
    yield _circle(80, 90, 46)
    yield _circle(240, 90, 32)
    for x in (80, 240):
        yield _circle(x, 90, 5, 2, fill=PAPER)
    yield from _measured(80, 90, 240, 90, "centre to centre", -12)
    yield text(160, 160, "tape level with both bolt heads", SIZE)


def arm_angle() -> Parts:
    """The arm's direction at its stops, anticlockwise from level."""
    yield _line(60, 130, 300, 130, 1.2, "6 4")
    yield text(282, 146, "level", SIZE)
    for degrees, letter, dashes in ((35, "S", "6 4"), (65, "rest", None), (95, "F", "6 4")):
        angle = math.radians(degrees)
        x, y = 120 + 100 * math.cos(angle), 130 - 100 * math.sin(angle)
        yield _line(120, 130, x, y, 2.5 if dashes is None else 1.5, dashes)
        yield _circle(x, y, 13, 2 if dashes is None else 1.2, dashes, PAPER)
        yield text(x, y + 4, letter, 11.0)
    yield _circle(120, 130, 6, 2, fill=PAPER)
    yield _path("M190 130 A70 70 0 0 0 149.6 66.6", 1.2)
    yield _head(149.6, 66.6, math.radians(205))
    yield text(120, 158, "pivot", SIZE)


def thread() -> Parts:
    """A caliper over the crests, a pitch gauge in the valleys."""
    teeth = "".join(" l7 -12 l7 12" for _ in range(10))
    yield _path(f"M60 70{teeth} V120 H60 Z", 2)
    yield _jaw(95, 58, True)
    yield _line(85, 120, 105, 120, 4)
    yield from _measured(238, 58, 238, 120, "", 0)
    yield text(278, 94, "across", SIZE)
    yield from _measured(123, 42, 179, 42, "", 0)
    yield text(190, 26, "pitch: crests over a length", SIZE)
    yield text(150, 146, "caliper over the crests, near the end", SIZE)


def seat() -> Parts:
    """The cone's angle against the thread's axis."""
    yield _line(30, 90, 300, 90, 1, "8 4 2 4")
    yield _path("M60 50 H190 L240 78 V102 L190 130 H60 Z", 2)
    yield _line(190, 50, 290, 106, 1.2)
    yield _path("M284 90 A70 70 0 0 1 276 98", 1.2)
    yield text(236, 40, "gauge on the cone", SIZE)
    yield text(272, 124, "37° or 45°", SIZE)
    yield text(110, 94, "thread", SIZE)


def hose_bends() -> Parts:
    """Legs to the crossing of the middles; how far each bend turns."""
    yield _path("M40 130 H150 A30 30 0 0 0 180 100 V40", 16)
    yield _path("M40 130 H150 A30 30 0 0 0 180 100 V40", 12).replace(INK, PAPER)
    yield _line(40, 130, 180, 130, 1, "6 3")
    yield _line(180, 130, 180, 40, 1, "6 3")
    yield from _measured(40, 154, 180, 154, "leg", -10)
    yield from _measured(206, 130, 206, 40, "leg", 16)
    yield text(250, 140, "turns 90°", SIZE)


def clock_angle() -> Parts:
    """Two elbows seen along the hose."""
    yield _circle(160, 85, 60, 1, "2 4")
    yield _circle(160, 85, 22, 3)
    yield _line(160, 63, 160, 22, 5)
    yield _line(182, 92, 217, 104, 5, "7 4")
    yield _path("M160 30 A55 55 0 0 1 212 102", 1.2)
    yield _head(212, 102, math.radians(108))
    yield text(160, 14, "near elbow: 12 o'clock", SIZE)
    yield text(266, 118, "far elbow", SIZE)
    yield text(160, 164, "look from near to far; clockwise", SIZE)


def bolt_circle() -> Parts:
    """Holes on a circle: across two opposite ones, or between neighbours."""
    yield _circle(160, 85, 55, 1, "6 3")
    for turn in range(6):
        angle = math.radians(60 * turn)
        yield _circle(160 + 55 * math.cos(angle), 85 + 55 * math.sin(angle), 7, 2, fill=PAPER)
    yield _circle(160, 85, 16)
    yield from _measured(105, 85, 215, 85, "across", -26)
    first, second = math.radians(60), math.radians(120)
    ends = [(160 + 55 * math.cos(one), 85 + 55 * math.sin(one)) for one in (second, first)]
    yield from _measured(*ends[0], *ends[1], "adjacent", 24)


def fan_clearance() -> Parts:
    """From the blade's tip to the ring, all round."""
    yield _circle(160, 85, 74, 3)
    for turn in range(6):
        angle = math.radians(60 * turn + 20)
        yield _path(
            f"M160 88 L{number(160 + 66 * math.cos(angle - 0.12))} {number(88 + 66 * math.sin(angle - 0.12))} "
            f"A66 66 0 0 1 {number(160 + 66 * math.cos(angle + 0.12))} {number(88 + 66 * math.sin(angle + 0.12))} Z",
            1.5, fill=PAPER,
        )  # fmt: skip
    yield _circle(160, 88, 12, 2, fill=PAPER)
    yield _line(160, 11, 160, 22, 4)
    yield text(222, 14, "tightest place", SIZE)
    yield text(278, 90, "ring", SIZE)


DRAWN: dict[str, Callable[[], Parts]] = {
    "outside-length": outside_length,
    "effective-length": effective_length,
    "ribs": ribs,
    "pulley-diameter": pulley_diameter,
    "centre-distance": centre_distance,
    "arm-angle": arm_angle,
    "thread": thread,
    "seat": seat,
    "hose-bends": hose_bends,
    "clock-angle": clock_angle,
    "bolt-circle": bolt_circle,
    "fan-clearance": fan_clearance,
}


def measuring_svg(name: str, title: str) -> str:
    """Return the drawing for a guide of that name; ``KeyError`` where there is none."""
    make = DRAWN[name]
    return drawing((0, 0, WIDTH, HEIGHT), title, (make.__doc__ or "").strip(), make())
