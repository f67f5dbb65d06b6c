"""A moulded hose with its cut marks: its middle drawn square to its first bend, and from the side where it is not flat.

The piece that stays is a hose's width, what comes off is a thin dashed outline; a cut is a heavy bar across with its letter,
A at the hose's first listed end, B at its second. Millimetres to scale, y up.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kb.mechanics.moulded import Point, Shape, corners, tangent_mm
from queries.drawings.svg import INK, PAPER, drawing, element, number, text

_ARC_STEPS = 16
_FLAT_MM = 3.0
"""A hose that leaves its plane by less is drawn once."""

Flat = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Marks:
    """What comes off at the hose's first and second listed end, along its middle; 0 where nothing does."""

    first_mm: float
    second_mm: float


def middle(shape: Shape, radius_mm: float) -> list[Point]:
    """Return the middle of a hose as points in space: straight legs, each bend an arc of that radius in short chords."""
    assert shape.bends_deg is not None
    at = corners(shape)
    points = [at[0]]
    for place, bend in enumerate(shape.bends_deg, 1):
        take = tangent_mm(bend, radius_mm)
        into, out = _unit(at[place - 1], at[place]), _unit(at[place], at[place + 1])
        angle = math.radians(bend)
        aside = _scaled(_less(out, _scaled(into, math.cos(angle))), 1 / math.sin(angle))
        begin = _less(at[place], _scaled(into, take))
        for step in range(_ARC_STEPS + 1):
            turned = angle * step / _ARC_STEPS
            along, off = radius_mm * math.sin(turned), radius_mm * (1 - math.cos(turned))
            points.append(_plus(begin, _plus(_scaled(into, along), _scaled(aside, off))))
    return [*points, at[-1]]


def _unit(one: Point, other: Point) -> Point:
    return _scaled(_less(other, one), 1 / math.dist(one, other))


def _plus(one: Point, other: Point) -> Point:
    return (one[0] + other[0], one[1] + other[1], one[2] + other[2])


def _less(one: Point, other: Point) -> Point:
    return (one[0] - other[0], one[1] - other[1], one[2] - other[2])


def _scaled(point: Point, by: float) -> Point:
    return (point[0] * by, point[1] * by, point[2] * by)


def cut_apart(points: Sequence[Point], marks: Marks) -> tuple[list[Point], list[Point], list[Point]]:
    """Part a middle at its cut marks: what comes off the first end, what stays, what comes off the second."""
    whole = math.fsum(math.dist(one, other) for one, other in itertools.pairwise(points))
    first, rest = _parted(points, marks.first_mm)
    kept, second = _parted(rest, whole - marks.first_mm - marks.second_mm)
    return first, kept, second


def _parted(points: Sequence[Point], at_mm: float) -> tuple[list[Point], list[Point]]:
    """Part a path at so much of its length; an empty list where nothing lies on that side."""
    if at_mm <= 1e-6:
        return [], list(points)
    gone = 0.0
    for place in range(1, len(points)):
        one, other = points[place - 1], points[place]
        step = math.dist(one, other)
        if gone + step >= at_mm - 1e-9 and step > 0:
            cut = _plus(one, _scaled(_less(other, one), min(1.0, (at_mm - gone) / step)))
            after = [cut, *points[place:]]
            return [*points[:place], cut], after if math.dist(cut, points[-1]) > 1e-6 else []
        gone += step
    return list(points), []


def draw_hose(shape: Shape, radius_mm: float, outside_mm: float, marks: Marks) -> list[tuple[str, str]]:
    """Return a hose's drawings with its cuts, each with what it shows: square to the first bend, from above if need be.

    Nothing where the cuts leave no more of it than a line can show.
    """
    pieces = cut_apart(middle(shape, radius_mm), marks)
    if not pieces[1]:
        return []
    space = [point for piece in pieces for point in piece]
    views = [("square to its first bend", 1, 1)]
    if max(point[2] for point in space) - min(point[2] for point in space) > _FLAT_MM:
        # What comes toward the eye in the first view goes down the paper in this one: else it would show the mirror image.
        views.append(("the same from above", 2, -1))
    unknown = shape.bend_count > 1 and shape.twists_deg is None
    drawn = []
    for said, axis, sign in views:
        flat = [[(point[0], sign * point[axis]) for point in piece] for piece in pieces]
        caption = "drawn flat: its twist is not listed" if unknown else said
        drawn.append((_view(flat, outside_mm, marks, caption), caption[0].upper() + caption[1:]))
    return drawn


def _view(pieces: list[list[Flat]], outside_mm: float, marks: Marks, said: str) -> str:
    points = [point for piece in pieces for point in piece]
    wide = max(x for x, _ in points) - min(x for x, _ in points)
    tall = max(y for _, y in points) - min(y for _, y in points)
    size = max(wide, 1.4 * tall, 200.0) / 13
    first, kept, second = pieces
    labels = _labelled(kept, marks, outside_mm, size)
    parts = [
        *(_hose(piece, outside_mm, size, comes_off=True) for piece in (first, second) if len(piece) > 1),
        _hose(kept, outside_mm, size, comes_off=False),
        *(part for label in labels for part in label.drawn(size)),
    ]
    corners_taken = [*points, *(corner for label in labels for corner in label.takes(size))]
    room = outside_mm / 2 + size
    left, right = min(x for x, _ in corners_taken) - room, max(x for x, _ in corners_taken) + room
    low, high = min(y for _, y in corners_taken) - room, max(y for _, y in corners_taken) + room
    return drawing((left, -high, right - left, high - low), f"Hose, {said}", _words(marks), parts)


def _words(marks: Marks) -> str:
    cuts = [
        f"{mm:.0f} mm off its {end} end" for mm, end in ((marks.first_mm, "first"), (marks.second_mm, "second")) if mm
    ]
    return f"Cut {' and '.join(cuts)}." if cuts else "Nothing to cut."


def _hose(points: list[Flat], outside_mm: float, size: float, comes_off: bool) -> str:
    said = " ".join(f"{number(x)},{number(-y)}" for x, y in points)
    common = {"points": said, "fill": "none", "stroke_linejoin": "round"}
    edge = size / 7
    if comes_off:
        dashes = f"{number(size / 2)} {number(size / 2.5)}"
        return element("polyline", stroke=INK, stroke_width=edge, stroke_dasharray=dashes, **common)
    # A wide stroke of ink under a narrower one of paper leaves two edges, whatever way the hose bends.
    return element("polyline", stroke=INK, stroke_width=outside_mm, **common) + element(
        "polyline", stroke=PAPER, stroke_width=outside_mm - 2 * edge, **common
    )


@dataclass(frozen=True, slots=True)
class _Label:
    """An end of the kept piece: a heavy bar across where it is cut, and its words outside of the hose's curve."""

    bar: tuple[Flat, Flat] | None
    at: Flat
    anchor: str
    said: str

    def drawn(self, size: float) -> Iterator[str]:
        """Yield its elements."""
        if self.bar is not None:
            (x, y), (to_x, to_y) = self.bar
            yield element("line", x1=x, y1=-y, x2=to_x, y2=-to_y, stroke=INK, stroke_width=size / 3)
        yield text(self.at[0], -self.at[1] + size / 3, self.said, size, text_anchor=self.anchor)

    def takes(self, size: float) -> Iterator[Flat]:
        """Yield the corners of the room that its words need, about 0.6 of a line's height to a letter."""
        wide = 0.6 * size * len(self.said)
        left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[self.anchor]
        yield self.at[0] + left, self.at[1] - size
        yield self.at[0] + left + wide, self.at[1] + size


def _labelled(kept: list[Flat], marks: Marks, outside_mm: float, size: float) -> list[_Label]:
    centre = (math.fsum(x for x, _ in kept) / len(kept), math.fsum(y for _, y in kept) / len(kept))
    half = outside_mm / 2 + 0.5 * size
    found = []
    for letter, off_mm, way in (("A", marks.first_mm, kept), ("B", marks.second_mm, kept[::-1])):
        (x, y), (along, up) = way[0], _back(way)
        across = (-up, along)
        if across[0] * (x - centre[0]) + across[1] * (y - centre[1]) < 0:
            across = (up, -along)
        bar = (x - across[0] * half, y - across[1] * half), (x + across[0] * half, y + across[1] * half)
        at = (x + across[0] * (half + size), y + across[1] * (half + size))
        anchor = "start" if across[0] > 0.3 else "end" if across[0] < -0.3 else "middle"
        said = f"{letter}: cut {off_mm:.0f} mm off" if off_mm > 0 else f"{letter}: as it is"
        found.append(_Label(bar if off_mm > 0 else None, at, anchor, said))
    return found


def _back(points: list[Flat]) -> Flat:
    """The direction into a path at its first point; along x where it is seen end on."""
    for x, y in points[1:]:
        length = math.hypot(x - points[0][0], y - points[0][1])
        if length > 1e-6:
            return (x - points[0][0]) / length, (y - points[0][1]) / length
    return 1.0, 0.0
