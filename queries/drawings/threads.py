"""Threads that look alike drawn side by side, to one scale: half sections of the ends, flanks, taper, seat and seal.

        nose      thread            collar
         ____/\\/\\/\\/\\/\\/\\/\\/\\____|
        /                          |     pitch, flanks, taper, crest diameters and seat angle are to scale; the wall down to
      _/                           |     the bore, the nose and the collar are a sketch
     ------------------------------

A dashed line through all of them is the crest of the first, so that a difference of a tenth shows. Millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kb.mechanics.thread_questions import pitch_words, use_name
from kb.mechanics.threads import Thread, Use, ends_mm
from queries.drawings.svg import INK, PAPER, drawing, element, number, text

MOST = 4
"""So many ends stand side by side; more would be too small on a phone."""

WIDE, TALL = 13.0, 8.8
"""The drawing's size in units; a unit is the coarsest pitch drawn."""

_WALL, _MARGIN, _END = 2.4, 3.2, 9.6

CREST_FLAT = {"unified": 1 / 8, "whitworth": 1 / 6, "pipe": 0.038}
HEIGHT = {"unified": 0.6134, "whitworth": 0.6403, "pipe": 0.8}
"""Heights and crest flats over the pitch: ISO 68-1 (17/24 H), ISO 228-1 (0.640327 P; its crests are rounded), ASME B1.20.1
(0.8 P; sharp but for 0.038 P). From memory; for drawing only."""

Points = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What the ends of one drawing share: the unit, the radius of the first one's crest, and which side is drawn."""

    unit: float
    crest_mm: float
    inside: bool

    def y(self, radius_mm: float) -> float:
        """Where a radius lies; a female end's metal is above its thread."""
        middle = 5.6 if self.inside else _MARGIN
        return middle * self.unit + self.crest_mm - radius_mm

    @property
    def size(self) -> float:
        """The height of the lettering."""
        return 0.78 * self.unit


def look_alikes(uses: Sequence[tuple[Thread, Use]]) -> list[tuple[Thread, Use]]:
    """Return the ends worth drawing beside each other: those that differ in thread, seat or seal, at most :data:`MOST`."""
    found: dict[tuple[str, float | None, str], tuple[Thread, Use]] = {}
    for thread, use in uses:
        found.setdefault((thread.name, use.seat_half_deg, seal_of(use)), (thread, use))
    return list(found.values())[:MOST]


def draw_threads(uses: Sequence[tuple[Thread, Use]], inside: bool) -> list[tuple[str, str]]:
    """Return a drawing and what it shows for each end, all to one scale."""
    if not uses:
        return []
    sheet = _Sheet(max(thread.pitch_mm for thread, _ in uses), ends_mm(uses[0][0], inside)[1] / 2, inside)
    return [(_draw(thread, use, sheet), _caption(thread, use)) for thread, use in uses]


def seal_of(use: Use) -> str:
    """Return where an end seals, for its drawing.

    >>> from kb.reference.thread_names import threads_named
    >>> [seal_of(use) for use in threads_named("7/8-14")[0].uses]
    ['cone', 'o-ring at the collar', 'cone', 'o-ring on a stub']
    """
    if use.sealing.startswith("taper"):
        return "thread"
    if use.sealing.startswith("bonded"):
        return "seal at the collar"
    if "O-ring" in use.sealing and "24-degree" not in use.sealing:
        for where, said in (("flat face", "in the face"), ("port", "at the collar"), ("tube", "on a stub")):
            if where in use.sealing:
                return f"o-ring {said}"
    return "cone"


def _caption(thread: Thread, use: Use) -> str:
    seat = "" if use.seat_half_deg is None else f", {_seat_words(use.seat_half_deg)}"
    form = f"{'taper' if thread.taper else 'parallel'}, flanks {thread.form_deg:g}°"
    return f"{use_name(use)}: {form}{seat}; seals on {use.sealing}"


def _seat_words(half_deg: float) -> str:
    return f"cone of {2 * half_deg:g}° in all" if half_deg < 20 else f"seat {half_deg:g}°"


def _form(thread: Thread) -> str:
    return "whitworth" if thread.form_deg == 55.0 else "pipe" if thread.taper else "unified"


def _draw(thread: Thread, use: Use, sheet: _Sheet) -> str:
    unit = sheet.unit
    start = _nose_length(use, sheet)
    crests = _crests(thread, start, sheet)
    root = crests[0][1] + _outward(sheet) * _height(thread)
    outline = [*_nose(use, root, sheet), *_profile(thread, crests, sheet), *_collar(use, crests, sheet)]
    parts = [
        _shape(outline, sheet),
        element(
            "line", x1=0.0, x2=WIDE * unit, y1=sheet.y(sheet.crest_mm), y2=sheet.y(sheet.crest_mm), stroke=INK,
            stroke_width=unit / 18, stroke_dasharray=f"{number(unit / 3)} {number(unit / 4)}",
        ),
        *_seals(use, crests, sheet),
        *_labels(thread, use, crests, sheet),
    ]  # fmt: skip
    title = f"{use_name(use)}, {'female' if sheet.inside else 'male'} end, half in section"
    return drawing((0, 0, WIDE * unit, TALL * unit), title, _caption(thread, use), parts)


def _height(thread: Thread) -> float:
    return HEIGHT[_form(thread)] * thread.pitch_mm


def _outward(sheet: _Sheet) -> float:
    """Which way the metal lies behind the thread: toward the axis on a male end, away from it on a female."""
    return 1.0 if sheet.inside else -1.0


def _cone_outside(use: Use) -> bool:
    """Whether a male end carries its cone on its nose: the two flares do; others have it inside, or in the other part."""
    return use.family.startswith(("37-degree", "45-degree"))


def _nose_length(use: Use, sheet: _Sheet) -> float:
    if _cone_outside(use) and use.seat_half_deg is not None and not sheet.inside:
        return (_WALL - 0.3) * sheet.unit / math.tan(math.radians(use.seat_half_deg)) + 0.4 * sheet.unit
    return 0.8 * sheet.unit


def _crests(thread: Thread, start: float, sheet: _Sheet) -> Points:
    """The middle of each crest as (along, radius), from the nose of a male end or the mouth of a female one."""
    small, large = (each / 2 for each in ends_mm(thread, sheet.inside))
    first = large if sheet.inside else small
    grows = 0.0 if not thread.taper else -1 / 32 if sheet.inside else 1 / 32
    count = max(2, int((_END * sheet.unit - start) / thread.pitch_mm))
    at = [start + (turn + 0.5) * thread.pitch_mm for turn in range(count)]
    return [(x, first + grows * (x - at[0])) for x in at]


def _profile(thread: Thread, crests: Points, sheet: _Sheet) -> Points:
    """The thread's outline: crest flats, flanks at half the form's angle, roots between."""
    height, back = _height(thread), _outward(sheet)
    half_flat = CREST_FLAT[_form(thread)] * thread.pitch_mm / 2
    run = height * math.tan(math.radians(thread.form_deg / 2))
    points: Points = []
    for x, radius in crests:
        root = radius + back * height
        points += [
            (x - half_flat - run, root),
            (x - half_flat, radius),
            (x + half_flat, radius),
            (x + half_flat + run, root),
        ]
    return points


def _nose(use: Use, root: float, sheet: _Sheet) -> Points:
    """From the bore to the first root of a male end; a female end's mouth."""
    unit = sheet.unit
    if sheet.inside:
        return [(0.3 * unit, root + _WALL * unit), (0.3 * unit, root + 0.5 * unit), (0.6 * unit, root)]
    bore = root - _WALL * unit
    half = use.seat_half_deg
    if half is None or use.family.startswith("inverted"):
        return [(0.3 * unit, bore), (0.3 * unit, root - 0.3 * unit), (0.6 * unit, root)]
    slope = math.tan(math.radians(half))
    if _cone_outside(use):
        return [(0.0, bore), ((_WALL - 0.3) * unit / slope, root - 0.3 * unit)]
    wide = 1.3 * unit
    return [
        (0.3 * unit + wide / slope, bore),
        (0.3 * unit, bore + wide),
        (0.3 * unit, root - 0.3 * unit),
        (0.6 * unit, root),
    ]


def _collar(use: Use, crests: Points, sheet: _Sheet) -> Points:
    """A male end's collar; a female end's depth, with the cone that a flare's nose seats on."""
    unit, (last, radius) = sheet.unit, crests[-1]
    if not sheet.inside:
        collar = last + 0.9 * unit
        bore = crests[0][1] - (0.64 + _WALL) * unit
        return [
            (collar, radius - 0.7 * unit), (collar, radius + 1.1 * unit), (WIDE * unit, radius + 1.1 * unit),
            (WIDE * unit, bore),
        ]  # fmt: skip
    top, deep = crests[0][1] + (0.8 + _WALL) * unit, radius - 0.4 * unit
    points = [(last + unit, radius + 0.4 * unit), (last + unit, deep)]
    if _cone_outside(use) and use.seat_half_deg is not None:
        inner = deep - 1.3 * unit
        points.append((last + unit + 1.3 * unit / math.tan(math.radians(use.seat_half_deg)), inner))
        deep = inner
    return [*points, (WIDE * unit, deep), (WIDE * unit, top), (0.3 * unit, top)]


def _seals(use: Use, crests: Points, sheet: _Sheet) -> Iterator[str]:
    """O-rings and bonded seals as black sections, where a male end carries them."""
    if sheet.inside:
        return
    unit, (last, radius) = sheet.unit, crests[-1]
    seal, ring = seal_of(use), 0.42 * unit
    if seal == "o-ring at the collar":
        yield _ring(last + 0.9 * unit - ring, radius - 0.1 * unit, ring, sheet)
    elif seal == "o-ring in the face":
        yield _ring(0.3 * unit + 0.6 * ring, crests[0][1] - 1.7 * unit, ring, sheet)
    elif seal == "o-ring on a stub":
        yield _ring(0.9 * unit, crests[0][1] - (0.64 + _WALL) * unit - 0.9 * ring, ring, sheet)
    elif seal == "seal at the collar":
        x, y = last + 0.45 * unit, sheet.y(radius + 0.8 * unit)
        yield element("rect", x=x, y=y, width=0.42 * unit, height=1.1 * unit, fill=INK)


def _ring(x: float, radius: float, ring: float, sheet: _Sheet) -> str:
    return element("circle", cx=x, cy=sheet.y(radius), r=ring, fill=INK, stroke=PAPER, stroke_width=sheet.unit / 16)


def _shape(points: Points, sheet: _Sheet) -> str:
    said = " ".join(f"{number(x)},{number(sheet.y(radius))}" for x, radius in points)
    return element(
        "polygon", points=said, fill=INK, fill_opacity="0.12", stroke=INK, stroke_width=sheet.unit / 9,
        stroke_linejoin="round",
    )  # fmt: skip


def _labels(thread: Thread, use: Use, crests: Points, sheet: _Sheet) -> Iterator[str]:
    unit, size = sheet.unit, sheet.size
    middle = WIDE * unit / 2
    rows = (1.0, 8.5, 8.5) if sheet.inside else (1.0, 7.8, 2.15)
    small, large = ends_mm(thread, sheet.inside)
    said = f"⌀ {large:.2f} mm" if small == large else f"⌀ {small:.2f} to {large:.2f} mm, taper"
    yield text(middle, rows[0] * unit, said, size)
    seat = "no cone" if use.seat_half_deg is None else _seat_words(use.seat_half_deg)
    yield text((WIDE - 0.3) * unit, rows[1] * unit, seat, size, text_anchor="end")
    (one, radius), (other, _) = crests[len(crests) // 2 - 1], crests[len(crests) // 2]
    away = -_outward(sheet)
    for x in (one, other):
        ends = (sheet.y(radius + away * 0.15 * unit), sheet.y(radius + away * 0.6 * unit))
        yield element("line", x1=x, x2=x, y1=ends[0], y2=ends[1], stroke=INK, stroke_width=unit / 14)
    pitch_at, anchor = (0.3 * unit, "start") if sheet.inside else ((one + other) / 2, "middle")
    yield text(pitch_at, rows[2] * unit, pitch_words(thread.pitch_mm), size, text_anchor=anchor)
    flanks = sheet.y(radius + _outward(sheet) * (0.7 + 0.75) * unit) + size / 3
    yield text((one + other) / 2, flanks, f"{thread.form_deg:g}°", size)
