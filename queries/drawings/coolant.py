"""How strong the coolant is now and after each swap, as bars of the whole system: filled is glycol, open is water."""

from __future__ import annotations

from collections.abc import Sequence

from queries.drawings.svg import INK, drawing, element, text

_LONG, _TALL, _ROW, _SIZE = 170.0, 12.0, 19.0, 10.0
MOST_ROWS = 12


def coolant_drawing(steps: Sequence[tuple[str, float]], want_percent: float) -> str:
    """Return an SVG of named percentages, top to bottom; a dashed line marks what is wanted.

    More than a dozen are thinned out: the first and the last stay.

    >>> svg = coolant_drawing([("now", 30.0), ("drain 1", 50.0)], 50.0)
    >>> "now" in svg, "50 %" in svg
    (True, True)
    """
    if len(steps) > MOST_ROWS:
        every = -(-len(steps) // (MOST_ROWS - 1))
        steps = [*steps[:-1:every], steps[-1]]
    parts = []
    for row, (name, percent) in enumerate(steps):
        top = row * _ROW
        for width, fill in ((_LONG, "none"), (_LONG * percent / 100, INK)):
            parts.append(
                element("rect", x=0.0, y=top, width=width, height=_TALL, fill=fill, stroke=INK, stroke_width=1.2)
            )
        parts.append(text(-6.0, top + 10.0, name, _SIZE, text_anchor="end"))
        parts.append(text(_LONG + 6.0, top + 10.0, f"{percent:.3g} %", _SIZE, text_anchor="start"))
    bottom = len(steps) * _ROW - _ROW + _TALL
    at = _LONG * want_percent / 100
    parts.append(
        element(
            "path", d=f"M{at:.1f} -6V{bottom + 6:.1f}", stroke=INK, stroke_width=1.5, stroke_dasharray="4 3", fill="none"
        )
    )  # fmt: skip
    parts.append(text(at, bottom + 18.0, f"wanted {want_percent:.3g} %", _SIZE))
    said = ", ".join(f"{name} {percent:.1f} per cent" for name, percent in [*steps, ("wanted", want_percent)])
    return drawing((-60.0, -10.0, _LONG + 110.0, bottom + 34.0), "Glycol in the system", f"{said}.", parts)
