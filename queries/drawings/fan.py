"""A fan in its ring, seen from the front: the gaps at the four sides and the smallest. To scale but for the gaps, which are
drawn larger where they would hardly be seen; every number is written beside its place."""

from __future__ import annotations

import math
from collections.abc import Iterator

from kb.mechanics.fan_gap import DIRECTIONS, Gaps
from queries.drawings.svg import INK, drawing, element, number, text

_RING, _SIZE, _LEAST_GAP = 100.0, 10.0, 26.0
"""Drawn radius of the ring, of a line of text, and the even gap's share that is at least drawn."""


def fan_drawing(ring_mm: float, fan_mm: float, offset: tuple[float, float], gaps: Gaps) -> str:
    """Return an SVG of the ring, the fan standing ``offset`` from its centre, and the gaps in mm.

    >>> from kb.mechanics.fan_gap import gaps
    >>> "15.0 mm" in fan_drawing(800.0, 760.0, (0.0, 5.0), gaps(800.0, 760.0, (0.0, 5.0)))
    True
    """
    even = (ring_mm - fan_mm) / 2
    drawn_even = max(even / (ring_mm / 2) * _RING, _LEAST_GAP)
    scale = drawn_even / even
    x, y = offset[0] * scale, -offset[1] * scale
    limit = 1.3 * drawn_even / (math.hypot(x, y) or 1.0)
    x, y = (x * min(1.0, limit), y * min(1.0, limit))
    radius = _RING - drawn_even
    parts = [
        element("circle", cx=0.0, cy=0.0, r=_RING, fill="none", stroke=INK, stroke_width=3.0),
        element("circle", cx=x, cy=y, r=radius, fill="none", stroke=INK, stroke_width=1.0, stroke_dasharray="5 3"),
        *_blades(x, y, radius),
        _cross(0.0, 0.0, 6.0, 0.8), _cross(x, y, 3.5, 2.0),
        *_sides(x, y, radius, gaps), *_smallest(x, y, radius, gaps),
    ]  # fmt: skip
    said = ", ".join(f"{name} {getattr(gaps, name):.1f} mm" for name in DIRECTIONS)
    exact = "" if drawn_even > _LEAST_GAP else " The gaps are drawn larger than they are."
    return drawing(
        (-158.0, -125.0, 316.0, 275.0), "Fan in its ring, seen from the front",
        f"Gaps: {said}; smallest {gaps.smallest:.1f} mm.{exact}", [*parts, *_legend(exact)],
    )  # fmt: skip


def _blades(x: float, y: float, radius: float) -> Iterator[str]:
    for blade in range(6):
        turn = math.radians(60 * blade + 15)
        lead = turn + 0.28
        hub = 0.25 * radius
        corners = [
            (x + hub * math.cos(turn), y - hub * math.sin(turn)), (x + radius * math.cos(turn), y - radius * math.sin(turn)),
            (x + radius * math.cos(lead), y - radius * math.sin(lead)), (x + hub * math.cos(lead), y - hub * math.sin(lead)),
        ]  # fmt: skip
        path = "M" + "L".join(f"{number(a)} {number(b)}" for a, b in corners) + "Z"
        yield element("path", d=path, fill="none", stroke=INK, stroke_width=0.8)
    yield element("circle", cx=x, cy=y, r=0.25 * radius, fill="none", stroke=INK, stroke_width=1.0)


def _cross(x: float, y: float, arm: float, width: float) -> str:
    path = f"M{number(x - arm)} {number(y)}H{number(x + arm)}M{number(x)} {number(y - arm)}V{number(y + arm)}"
    return element("path", d=path, fill="none", stroke=INK, stroke_width=width)


def _sides(x: float, y: float, radius: float, gaps: Gaps) -> Iterator[str]:
    anchors = {"top": "middle", "bottom": "middle", "right": "start", "left": "end"}
    for name, direction in DIRECTIONS.items():
        turn = math.radians(direction)
        tip = (x + radius * math.cos(turn), y - radius * math.sin(turn))
        length = math.hypot(*tip)
        on_ring = (tip[0] / length * _RING, tip[1] / length * _RING)
        yield _gap_line(tip, on_ring, 1.2)
        at = 1.07 * _RING
        down = {"top": -4.0, "bottom": 8.0}.get(name, 3.0)
        yield text(
            at * math.cos(turn),
            -at * math.sin(turn) + down,
            f"{getattr(gaps, name):.1f} mm",
            _SIZE,
            text_anchor=anchors[name],
        )


def _smallest(x: float, y: float, radius: float, gaps: Gaps) -> Iterator[str]:
    if gaps.at_deg is None:
        return
    turn = math.radians(gaps.at_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    yield _gap_line((x + radius * cos, y - radius * sin), (_RING * cos, -_RING * sin), 3.5)
    where = 0.52 * radius
    yield text(x + where * cos, y - where * sin, f"smallest {gaps.smallest:.1f} mm", _SIZE, font_weight="bold")
    start, end = 0.72 * radius, 0.97 * radius
    path = f"M{number(x + start * cos)} {number(y - start * sin)}L{number(x + end * cos)} {number(y - end * sin)}"
    yield element("path", d=path, fill="none", stroke=INK, stroke_width=1.0)


def _gap_line(tip: tuple[float, float], on_ring: tuple[float, float], width: float) -> str:
    path = f"M{number(tip[0])} {number(tip[1])}L{number(on_ring[0])} {number(on_ring[1])}"
    return element("path", d=path, fill="none", stroke=INK, stroke_width=width)


def _legend(exact: str) -> Iterator[str]:
    yield text(0.0, 128.0, "Thin cross: the ring's centre. Thick: the fan's.", 9.0)
    if exact:
        yield text(0.0, 141.0, exact.strip(), 9.0)
