"""A vacuum fill as two vessels: how much of the system fills itself, and what must stand ready beside it."""

from __future__ import annotations

from kb.mechanics.vacuum_fill import Fill
from queries.drawings.svg import INK, PAPER, drawing, element, text

_TALL, _WIDE, _SIZE = 120.0, 66.0, 8.0


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
    parts = [*_stack(-100.0, scale, system), *_stack(34.0, scale, vessel)]
    parts.append(text(-67.0, 16.0, "the system", _SIZE, font_weight="bold"))
    parts.append(text(67.0, 16.0, f"stand ready {fill.stand_ready_l:.1f} L", _SIZE, font_weight="bold"))
    said = f"The system draws {fill.drawn_l:.1f} L of {whole_l:.1f} L; {fill.stand_ready_l:.1f} L stand ready in one vessel."
    return drawing((-125.0, -_TALL - 10.0, 250.0, _TALL + 34.0), "What a vacuum fill draws", said, parts)


def _stack(left: float, scale: float, layers: list[tuple[float, str, bool]]) -> list[str]:
    """Layers from the bottom up; a solid outline for what is drawn, dashes for the rest; thin ones are named beside."""
    parts, bottom, named = [], 0.0, 0.0
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
        # Names keep a line's height between them, however thin their layers.
        named = min(bottom - height / 2 + 3.0, named - _SIZE - 1.0 if named else 0.0)
        parts.append(text(left + _WIDE / 2, named, said, _SIZE))
        bottom -= height
    return parts
