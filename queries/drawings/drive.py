"""A belt drive drawn to scale, seen from the front: pulleys with their faces, the belt with its ribs' side and direction,
spans and wraps, the tensioner's arm at rest and at its stops, what was moved as a ghost, and a scale bar.

Grooved pulleys have a dashed inner ring, flat ones do not; the belt's back is a solid line and its ribs a row of short
dashes on their side of it. Millimetres, y turned downwards for the screen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kb.measure import both_text, inches_text
from kb.mechanics.path import Pulley, Route
from queries.drawings.svg import INK, PAPER, drawing, element, number, text
from queries.drives import KnownDrive

LEGEND = (
    "Dashed inner ring: grooved pulley. Plain: flat. Solid belt line: its back; short dashes: its ribs. "
    "P: the arm's pivot; thin dashed: the arm at its slack stop (S) and free stop (F)."
)
LINES_PER_WIDTH = 30.0
"""How many lines of text the drawing is wide: at phone width a line is then a readable 12 pixels."""
BELT_SHARE = 0.34
"""How wide the belt is drawn, as a share of a line of text: to scale it would hardly be seen."""
LONG_SHARE = 7.5
"""A span as long as so many lines of text has room for its length beside it; shorter ones are listed underneath."""
SCALE_BARS_MM = (50.8, 101.6, 203.2, 304.8)


@dataclass(frozen=True)
class _Sheet:
    """The room the drawing takes, and the size of its text, in mm."""

    left: float
    top: float
    width: float
    height: float
    size: float


def draw_drive(known: KnownDrive, route: Route, arm_rad: float | None, ghosts: Sequence[Pulley] = ()) -> str:
    """Return the drawing of a drive on that route; ``ghosts`` are pulleys where they stood before a move."""
    sheet = _room(known, [*route.pulleys, *ghosts])
    below = _short_spans(route, sheet)
    parts = [
        *_stops(known, sheet),
        *(_circle(one, sheet.size / 12, _dashes(sheet, 0.4, 0.3)) for one in ghosts),
        *_pulleys(known, route, sheet),
        *_belt(route, BELT_SHARE * sheet.size),
        *_directions(known, route, sheet),
        *_arm(known, arm_rad, sheet),
        *_names(known, route, sheet),
        *_spans(route, sheet),
        *_scale(sheet, below),
    ]
    said = ", ".join(
        f"{one.name} wrap {math.degrees(wrap):.0f} degrees"
        for one, wrap in zip(route.pulleys, route.wraps_rad, strict=True)
    )
    box = (sheet.left, sheet.top, sheet.width, sheet.height + sheet.size * len(below))
    return drawing(box, f"{known.sheet.name}, seen from the front", f"In belt order: {said}. {LEGEND}", parts)


def _room(known: KnownDrive, pulleys: Sequence[Pulley]) -> _Sheet:
    left = min(one.x_mm - one.radius_mm for one in pulleys)
    right = max(one.x_mm + one.radius_mm for one in pulleys)
    low = min(one.y_mm - one.radius_mm for one in pulleys)
    high = max(one.y_mm + one.radius_mm for one in pulleys)
    arm = known.drive.arm
    if arm is not None and known.drive.arm_index is not None:
        pivot = known.drive.fixed[known.drive.arm_index]
        left, right = min(left, pivot.x_mm - 20), max(right, pivot.x_mm + 20)
        low, high = min(low, pivot.y_mm - 20), max(high, pivot.y_mm + 20)
    size = max(right - left, (high - low) / 1.3) / LINES_PER_WIDTH
    margin = 3.2 * size
    return _Sheet(left - margin, -high - margin, right - left + 2 * margin, high - low + 2 * margin + 4 * size, size)


def _circle(one: Pulley, width: float, dashes: str | None = None, less: float = 0.0) -> str:
    return element(
        "circle", cx=float(one.x_mm), cy=float(-one.y_mm), r=float(max(one.reach_mm - less, 1.0)), fill="none", stroke=INK,
        stroke_width=width, stroke_dasharray=dashes,
    )  # fmt: skip


def _dashes(sheet: _Sheet, drawn: float, left_out: float) -> str:
    return f"{number(drawn * sheet.size)} {number(left_out * sheet.size)}"


def _pulleys(known: KnownDrive, route: Route, sheet: _Sheet) -> Iterator[str]:
    thin = sheet.size / 12
    for one, said in zip(route.pulleys, known.sheet.pulleys, strict=True):
        yield _circle(one, thin)
        if not one.flat:
            yield _circle(one, 2 * thin, _dashes(sheet, 0.2, 0.2), less=0.45 * sheet.size)
        yield element("circle", cx=float(one.x_mm), cy=float(-one.y_mm), r=1.5 * thin, fill=INK)
        if said.driver:
            yield _circle(one, thin, less=one.reach_mm / 2)


def _belt(route: Route, wide: float) -> Iterator[str]:
    """The belt: its back solid, its ribs dashed on their side, which is the side the grooved pulleys lie on."""
    yield element("path", d=_outline(route, -wide / 4), fill="none", stroke=INK, stroke_width=wide / 2)
    yield element(
        "path", d=_outline(route, wide / 4), fill="none", stroke=INK, stroke_width=wide / 2,
        stroke_dasharray=f"{number(wide / 3)} {number(wide / 1.5)}",
    )  # fmt: skip


def _outline(route: Route, inwards_mm: float) -> str:
    """Return the route's outline as a path, so far to the ribs' side of the effective line."""
    pieces = []
    count = len(route.pulleys)
    for place, (one, sense) in enumerate(zip(route.pulleys, route.senses, strict=True)):
        # Grooved pulleys lie on the ribs' side, flat ones on the back's: the same way on all of them is in or out.
        radius = one.radius_mm + (inwards_mm if one.flat else -inwards_mm)
        arriving, leaving = route.spans[place - 1].direction_rad, route.spans[place].direction_rad
        begin, end = _contact(one, sense, radius, arriving), _contact(one, sense, radius, leaving)
        large, sweep = int(route.wraps_rad[place] % (2 * math.pi) > math.pi), int(sense < 0)
        pieces.append(f"{'M' if place == 0 else 'L'}{begin}")
        pieces.append(f"A{number(radius)} {number(radius)} 0 {large} {sweep} {end}")
    assert count
    return f"{' '.join(pieces)} Z"


def _contact(one: Pulley, sense: int, radius: float, direction: float) -> str:
    x = one.x_mm + sense * radius * math.sin(direction)
    y = one.y_mm - sense * radius * math.cos(direction)
    return f"{number(x)} {number(-y)}"


def runs_in_list_order(known: KnownDrive, route: Route) -> bool | None:
    """Tell whether the belt runs in the order of the list; ``None`` where the sheet says no rotation."""
    if known.sheet.rotation is None:
        return None
    wanted = -1 if known.sheet.rotation == "clockwise" else 1
    return route.senses[known.numbers.driver_index] == wanted


def _directions(known: KnownDrive, route: Route, sheet: _Sheet) -> Iterator[str]:
    """An arrow head on every span, where it is known which way the belt runs."""
    forwards = runs_in_list_order(known, route)
    if forwards is None:
        return
    for span in route.spans:
        if span.length_mm < 1.5 * sheet.size:
            continue
        along = span.direction_rad if forwards else span.direction_rad + math.pi
        share = 0.28 if forwards else 0.72
        x = span.leaves[0] + share * span.length_mm * math.cos(span.direction_rad)
        y = span.leaves[1] + share * span.length_mm * math.sin(span.direction_rad)
        points = []
        for turn, reach in ((0.0, 0.8), (2.5, 0.7), (-2.5, 0.7)):
            reach_mm = reach * sheet.size
            points.append(
                f"{number(x + reach_mm * math.cos(along + turn))},{number(-y - reach_mm * math.sin(along + turn))}"
            )
        yield element("polygon", points=" ".join(points), fill=INK, stroke=PAPER, stroke_width=0.8)


def _arm_ends(known: KnownDrive, angle: float) -> tuple[Pulley, tuple[float, float]]:
    arm, place = known.drive.arm, known.drive.arm_index
    assert arm is not None
    assert place is not None
    pivot = known.drive.fixed[place]
    return pivot, (pivot.x_mm + arm.length_mm * math.cos(angle), pivot.y_mm + arm.length_mm * math.sin(angle))


def _stops(known: KnownDrive, sheet: _Sheet) -> Iterator[str]:
    arm = known.drive.arm
    if arm is None:
        return
    for angle, letter in ((arm.slack_rad, "S"), (arm.free_rad, "F")):
        pivot, (x, y) = _arm_ends(known, angle)
        yield element(
            "line", x1=float(pivot.x_mm), y1=float(-pivot.y_mm), x2=float(x), y2=float(-y), stroke=INK,
            stroke_width=sheet.size / 16, stroke_dasharray=_dashes(sheet, 0.4, 0.3),
        )  # fmt: skip
        yield _circle(pivot.at(x, y), sheet.size / 20, _dashes(sheet, 0.15, 0.3))
        out = arm.length_mm + pivot.reach_mm + 0.9 * sheet.size
        label = (pivot.x_mm + out * math.cos(angle), pivot.y_mm + out * math.sin(angle))
        yield text(label[0], -label[1] + 0.35 * sheet.size, letter, sheet.size)


def _arm(known: KnownDrive, arm_rad: float | None, sheet: _Sheet) -> Iterator[str]:
    if known.drive.arm is None or arm_rad is None:
        return
    pivot, (x, y) = _arm_ends(known, arm_rad)
    at_x, at_y = float(pivot.x_mm), float(-pivot.y_mm)
    yield element("line", x1=at_x, y1=at_y, x2=float(x), y2=float(-y), stroke=INK, stroke_width=sheet.size / 4)
    yield element("circle", cx=at_x, cy=at_y, r=0.4 * sheet.size, fill=PAPER, stroke=INK, stroke_width=sheet.size / 8)
    yield text(pivot.x_mm, -pivot.y_mm + 1.6 * sheet.size, "P", sheet.size)


def _spans(route: Route, sheet: _Sheet) -> Iterator[str]:
    """Each span's length beside its middle, on the belt's back."""
    small = 0.75 * sheet.size
    for span in route.spans:
        if span.length_mm < LONG_SHARE * sheet.size:
            continue
        back = span.direction_rad + (-math.pi / 2 if route.grooved_sense > 0 else math.pi / 2)
        away = 2.0 * sheet.size
        x = (span.leaves[0] + span.arrives[0]) / 2 + away * math.cos(back)
        y = (span.leaves[1] + span.arrives[1]) / 2 + away * math.sin(back)
        yield text(x, -y, inches_text(span.length_mm), small)
        yield text(x, -y + small, f"{span.length_mm:.0f} mm", small)


def _short_spans(route: Route, sheet: _Sheet) -> list[str]:
    """The spans with no room for their length beside them, in words."""
    names = [one.name for one in route.pulleys]
    return [
        f"{names[place]} to {names[(place + 1) % len(names)]}: {both_text(span.length_mm)} of span"
        for place, span in enumerate(route.spans)
        if span.length_mm < LONG_SHARE * sheet.size
    ]


def _names(known: KnownDrive, route: Route, sheet: _Sheet) -> Iterator[str]:
    for place, one in enumerate(route.pulleys):
        x, y = one.x_mm, -one.y_mm
        small = 0.8 * sheet.size
        driver = " (driver)" if place == known.numbers.driver_index else ""
        yield text(x, y - 0.35 * sheet.size, f"{one.name}{driver}", sheet.size, font_weight=700)
        yield text(x, y + 1.05 * sheet.size, f"wrap {math.degrees(route.wraps_rad[place]):.0f}°", small)


def _scale(sheet: _Sheet, below: Sequence[str]) -> Iterator[str]:
    """A bar that is a round number of inches, said in mm too, and under it what had no room above."""
    bar = max((one for one in SCALE_BARS_MM if one < sheet.width / 2.5), default=25.4)
    x, y = sheet.left + sheet.size, sheet.top + sheet.height - 1.2 * sheet.size
    tick = 0.4 * sheet.size
    ends = f"M{number(x)} {number(y - tick)}V{number(y)}H{number(x + bar)}V{number(y - tick)}"
    path = f"{ends}M{number(x + bar / 2)} {number(y)}v{number(-tick / 2)}"
    yield element("path", d=path, fill="none", stroke=INK, stroke_width=sheet.size / 8)
    said = f"{bar / 25.4:.0f} in ({bar:.0f} mm), seen from the front"
    yield text(x, y - 0.9 * sheet.size, said, 0.8 * sheet.size, text_anchor="start")
    for line, spoken in enumerate(below, 1):
        yield text(x, y + line * sheet.size, spoken, 0.8 * sheet.size, text_anchor="start")
