"""A vacuum fill as two vessels: how much of the system fills itself, and what must stand ready beside it."""

from __future__ import annotations

from kb.mechanics.vacuum_fill import Fill
from queries.drawings.svg import INK, PAPER, drawing, element, text

_TALL, _WIDE, _SIZE = 130.0, 86.0, 11.0


def vacuum_fill_drawing(fill: Fill, hose_l: float, below_pickup_l: float) -> str:
    """Return an SVG: the system with what is drawn in and topped up, the vessel with what is drawn and what stays.

    >>> "top up 6.6 L" in vacuum_fill_drawing(Fill(0.835, 33.4, 36.4, 6.6, 0.0), 1.0, 2.0)
    True
    """
    whole_l = fill.drawn_l + fill.top_up_l
    scale = _TALL / max(whole_l, fill.stand_ready_l)
    system = [
        (fill.drawn_l, f"draws {fill.drawn_l:.1f} L", True),
        (fill.top_up_l, f"top up {fill.top_up_l:.1f} L", False),
    ]
    vessel = [
        (below_pickup_l, f"below pick-up {below_pickup_l:.1f} L", False), (hose_l, f"in the hose {hose_l:.1f} L", False),
        (fill.drawn_l, f"drawn {fill.drawn_l:.1f} L", True),
    ]  # fmt: skip
    parts = [*_stack(-120.0, scale, system), *_stack(2.0, scale, vessel)]
    parts.append(text(-77.0, 18.0, "the system", _SIZE, font_weight="bold"))
    parts.append(text(45.0, 18.0, f"stand ready {fill.stand_ready_l:.1f} L", _SIZE, font_weight="bold"))
    said = f"The system draws {fill.drawn_l:.1f} L of {whole_l:.1f} L; {fill.stand_ready_l:.1f} L stand ready in one vessel."
    return drawing((-128.0, -_TALL - 10.0, 358.0, _TALL + 36.0), "What a vacuum fill draws", said, parts)


def _stack(left: float, scale: float, layers: list[tuple[float, str, bool]]) -> list[str]:
    """Layers from the bottom up; solid for what is drawn, dashes for the rest. A thin one is named beside the vessel."""
    parts, bottom, named = [], 0.0, _SIZE
    for litres, said, drawn in layers:
        if litres <= 0:
            continue
        height = litres * scale
        dashes = None if drawn else "4 3"
        parts.append(
            element(
                "rect", x=left, y=bottom - height, width=_WIDE, height=height, fill=PAPER, stroke=INK,
                stroke_width=2.5 if drawn else 1.2, stroke_dasharray=dashes,
            )
        )  # fmt: skip
        middle = bottom - height / 2 + 3.0
        if height >= 1.6 * _SIZE:
            parts.append(text(left + _WIDE / 2, middle, said, _SIZE))
        else:
            # Names keep a line's height between them, however thin their layers.
            named = min(middle, named - _SIZE - 1.0)
            parts.append(text(left + _WIDE + 4.0, named, said, _SIZE, text_anchor="start"))
        bottom -= height
    return parts
