"""The page of hoses: a card for each, with its cut marks drawn where a shape was asked for."""

from __future__ import annotations

from typing import Any

from kb.measure import both_text
from queries.answers import Answer
from queries.drawings.hoses import Marks, draw_hose
from queries.explorer.links import part_link
from queries.hose_shapes import WORTH_CUTTING_MM
from queries.hoses import HoseRow

MOST_DRAWN = 6
"""Only the first answers are drawn: the page stays light."""

WALL_SHARE = 1.25
"""A hose's outside over its bore where its sheet does not give it; for drawing only."""


def view_hoses(answer: Answer[HoseRow]) -> dict[str, Any]:
    """Return the values of the page's template from an answer."""
    return {
        "rows": [_card(row, place < MOST_DRAWN) for place, row in enumerate(answer.rows)],
        "misses": [_card(row, False) for row in answer.misses],
    }


def _card(row: HoseRow, drawn: bool) -> dict[str, Any]:
    cut: dict[str, Any] = row.cut or {}
    radius = ""
    if cut:
        radius = f"Bend radius {both_text(cut['bend_radius_mm'])} to its middle, from {cut['bend_radius_from']}."
    return {
        "title": " · ".join(filter(None, (row.part_no, row.description, row.supplier))),
        "link": part_link("hose", row.supplier, row.part_no),
        "fit": f"fit {row.fit:.0f}",
        "why": row.why,
        "facts": _facts(row),
        "left_over": [_left_over(one) for one in cut.get("left_over", ())],
        "radius": radius,
        "drawings": _drawings(row) if drawn else [],
    }


def _facts(row: HoseRow) -> list[tuple[str, str]]:
    facts = [("Service", row.service or "not said"), ("Inside", both_text(row.inside_diameter_mm))]
    if row.far_inside_diameter_mm:
        facts.append(("Inside, far end", both_text(row.far_inside_diameter_mm)))
    if row.length_mm:
        facts.append(("Length", both_text(row.length_mm)))
    facts.append(("Legs", ", ".join(both_text(leg) for leg in row.legs_mm)))
    facts.append(("Bends", ", ".join(f"{bend:g}°" for bend in row.bends_deg)))
    facts.append(("Twists", ", ".join(f"{twist:g}°" for twist in row.twists_deg)))
    return [(label, value) for label, value in facts if value]


def _left_over(one: dict[str, Any]) -> str:
    bends = one["bends_deg"]
    bent = f" with {' and '.join(f'{bend:g}°' for bend in bends)}" if bends else ", straight"
    return f"Left over from its {one['end']} end: {both_text(one['length_mm'])}{bent}"


def _drawings(row: HoseRow) -> list[tuple[str, str]]:
    judged = row.shape
    if judged is None or judged.hose is None or judged.match is None or row.cut is None:
        return []
    if judged.hose.legs_mm is None or judged.hose.bends_deg is None:
        return []
    first, second = (
        off if off > WORTH_CUTTING_MM else 0.0
        for off in (float(str(row.cut[name])) for name in ("from_first_end_mm", "from_second_end_mm"))
    )
    outside = row.outside_diameter_mm or WALL_SHARE * row.inside_diameter_mm
    return draw_hose(judged.hose, judged.radius_mm, outside, Marks(first, second))
