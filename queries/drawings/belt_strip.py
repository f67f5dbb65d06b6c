"""Belts along a scale of length: the asked one, its window, and the candidates around it. Black and white, told in words."""

from __future__ import annotations

from collections.abc import Sequence

from queries.drawings.svg import INK, drawing, element, number, texts

WIDTH, HEIGHT = 640.0, 120.0
_LEFT, _RIGHT, _LINE, _SIZE = 24.0, 616.0, 62.0, 15.0
MOST = 12


def belt_strip(asked_mm: float, window_mm: float, belts: Sequence[tuple[str, float]]) -> str:
    """Return the strip: ``belts`` are names and effective lengths in mm; the window is hatched around the asked one.

    Up to :data:`MOST` belts are marked, a number under each that the list beside the drawing carries too.

    >>> belt_strip(1857.0, 9.0, [("A", 1854.0)]).count("l-7 14h14z")
    1
    """
    shown = list(belts[:MOST])
    reach = max([window_mm, *(abs(length - asked_mm) for _, length in shown)]) * 1.15 or 1.0

    def at(mm: float) -> float:
        return _LEFT + (mm - asked_mm + reach) / (2 * reach) * (_RIGHT - _LEFT)

    asked, edges = at(asked_mm), (asked_mm - window_mm, asked_mm + window_mm)
    marks = [(at(length), str(place), place % 2) for place, (_, length) in enumerate(shown, 1)]
    corners = "".join(f"M{number(x)} {number(_LINE)}l-7 14h14z" for x, _, _ in marks)
    said = [(asked, 14.0, "asked")]
    said += [(x, _LINE + 30 + 16 * low, place) for x, place, low in marks]
    said += [(at(edge), _LINE - 26, f"{edge:.0f} mm") for edge in edges]
    parts = (
        _window(at(edges[0]), at(edges[1])),
        element("path", d=f"M{_LEFT:g} {_LINE:g}H{_RIGHT:g}", stroke=INK, stroke_width=2),
        element("path", d=f"M{number(asked)} 20V{number(_LINE + 8)}", stroke=INK, stroke_width=3),
        element("path", d=corners, fill=INK),
        texts(said, _SIZE),
    )
    told = ", ".join(f"{place}: {name}, {length:.0f} mm" for place, (name, length) in enumerate(shown, 1))
    box = (0.0, 0.0, WIDTH, HEIGHT)
    return drawing(box, "Belts around the length asked for", f"Asked {asked_mm:.0f} mm. {told}.", parts)


def _window(left: float, right: float) -> str:
    """The window: a box with slanting lines in it."""
    lines, x = [], left
    while x < right:
        lines.append(f"M{number(x)} {number(_LINE)}l{number(min(20.0, right - x))} {number(-min(20.0, right - x))}")
        x += 12
    box = f"M{number(left)} {number(_LINE - 20)}H{number(right)}V{number(_LINE)}H{number(left)}Z"
    return element("path", d=box + "".join(lines), fill="none", stroke=INK, stroke_width=1)
