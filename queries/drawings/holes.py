"""Bolt circles drawn to scale: one with its spacings, or a part's holes laid over a hub's."""

from __future__ import annotations

import math
from collections.abc import Iterator

from kb.mechanics.bolt_circle import HoleSet, chord_mm
from queries.drawings.svg import INK, PAPER, drawing, element, number, text

_RADIUS, _SIZE = 80.0, 9.0


def holes_drawing(holes: HoleSet) -> str:
    """Return an SVG of a bolt circle with the spacing of two holes beside each other and of the farthest two.

    >>> "120.7 mm" in holes_drawing(HoleSet(6, 120.65))
    True
    """
    hole = _hole_radius(holes, _RADIUS / (holes.circle_mm / 2))
    places = [_at(_RADIUS, holes.count, index) for index in range(holes.count)]
    far = holes.count // 2
    parts = [
        element("circle", cx=0.0, cy=0.0, r=_RADIUS, fill="none", stroke=INK, stroke_width=0.8, stroke_dasharray="5 3"),
        *(element("circle", cx=x, cy=y, r=hole, fill=PAPER, stroke=INK, stroke_width=2.0) for x, y in places),
        _chord(places[0], places[far]),
    ]
    labels = [*_label(places[0], places[far], f"{chord_mm(holes.count, holes.circle_mm, far):.1f} mm", 0.55)]
    if far > 1:
        beside = places[holes.count - 1]
        parts += [_chord(places[0], beside)]
        labels += _label(places[0], beside, f"{chord_mm(holes.count, holes.circle_mm):.1f} mm", 0.5)
    parts += labels
    parts.append(text(0.0, 113.0, f"bolt circle {holes.circle_mm:.1f} mm ({holes.circle_mm / 25.4:.3f} in)", _SIZE))
    return drawing(
        (-115.0, -100.0, 230.0, 220.0), f"{holes.count} holes on a bolt circle",
        f"Bolt circle {holes.circle_mm:.2f} mm; beside each other {chord_mm(holes.count, holes.circle_mm):.2f} mm.", parts,
    )  # fmt: skip


def match_drawing(hub: HoleSet, part: HoleSet, fits: bool) -> str:
    """Return an SVG of a part's holes, open rings, over a hub's studs, solid dots, one hole laid on one stud."""
    scale = _RADIUS / (max(hub.circle_mm, part.circle_mm) / 2)
    dot = 0.6 * _hole_radius(hub, scale)
    parts = [
        element(
            "circle", cx=0.0, cy=0.0, r=one.circle_mm / 2 * scale, fill="none", stroke=INK, stroke_width=0.8,
            stroke_dasharray=dashes,
        )
        for one, dashes in ((hub, None), (part, "5 3"))
    ]  # fmt: skip
    for index in range(part.count):
        x, y = _at(part.circle_mm / 2 * scale, part.count, index)
        parts.append(
            element("circle", cx=x, cy=y, r=_hole_radius(part, scale), fill="none", stroke=INK, stroke_width=2.0)
        )
    for index in range(hub.count):
        x, y = _at(hub.circle_mm / 2 * scale, hub.count, index)
        parts.append(element("circle", cx=x, cy=y, r=dot, fill=INK, stroke=PAPER, stroke_width=0.6))
    parts.append(text(0.0, 104.0, "Dots: the hub's studs.", 8.0))
    parts.append(text(0.0, 115.0, "Rings, dashed circle: the part's holes.", 8.0))
    said = "They go on each other." if fits else "They do not go on each other."
    return drawing(
        (-115.0, -100.0, 230.0, 220.0), "The part's holes over the hub's studs",
        f"Hub: {hub.count} on {hub.circle_mm:.1f} mm. Part: {part.count} on {part.circle_mm:.1f} mm. {said}", parts,
    )  # fmt: skip


def _hole_radius(holes: HoleSet, scale: float) -> float:
    if holes.hole_mm is not None:
        return min(holes.hole_mm / 2 * scale, 14.0)
    return min(6.0, 0.35 * chord_mm(holes.count, holes.circle_mm) * scale)


def _at(radius: float, count: int, index: int) -> tuple[float, float]:
    turn = 2 * math.pi * index / count
    return radius * math.sin(turn), -radius * math.cos(turn)


def _chord(one: tuple[float, float], other: tuple[float, float]) -> str:
    path = f"M{number(one[0])} {number(one[1])}L{number(other[0])} {number(other[1])}"
    return element("path", d=path, fill="none", stroke=INK, stroke_width=1.2)


def _label(one: tuple[float, float], other: tuple[float, float], said: str, share: float) -> Iterator[str]:
    yield text(one[0] + (other[0] - one[0]) * share, one[1] + (other[1] - one[1]) * share + 3.0, said, _SIZE)
