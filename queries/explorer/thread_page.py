"""The pages about threads: which thread this is, a card for each distinct one with its families, and adapters."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from kb.mechanics.thread_questions import describe
from queries.adapters import AdapterRow, wait_text
from queries.answers import Answer, caliper_text
from queries.drawings.threads import draw_threads, look_alikes
from queries.explorer.links import part_link
from queries.fittings import FittingAnswer, FittingRow


def view_fittings(answer: FittingAnswer) -> dict[str, Any]:
    """Return the values of the page's template from an answer."""
    settling = answer.settling
    return {
        "rows": _threads(answer, answer.rows),
        "misses": _threads(answer, answer.misses),
        "notes": () if settling else answer.notes,
        "settle": settling.words if settling else "",
        "settle_answers": settling.answers if settling else (),
        "drawings": _drawings(answer),
    }


def _drawings(answer: FittingAnswer) -> list[tuple[str, str]]:
    """The ends that it may be, side by side; nothing where there is nothing to tell apart from."""
    rows = answer.rows
    uses = {use.thread + use.family + use.dash: (thread, use) for thread in answer.threads for use in thread.uses}
    alike = look_alikes([uses[row.thread + row.standard + (row.dash or "")] for row in rows])
    return draw_threads(alike, bool(rows) and rows[0].end == "female")


def _threads(answer: FittingAnswer, rows: list[FittingRow]) -> list[dict[str, Any]]:
    """Group rows into threads: the rows of one thread share its place."""
    found = []
    for place, group in groupby(rows, key=lambda row: row.place):
        families = list(group)
        first, thread = families[0], answer.threads[place - 1]
        found.append(
            {
                "title": thread.name,
                "kind": f"fit {first.fit:.0f}, {first.share:.0f} in a hundred" if first.fit else "nearest, yet not it",
                "is": describe(thread, first.end == "female").partition(": ")[2],
                "apart": f"Unlike {answer.threads[0].name}: {first.told_apart}." if first.told_apart else "",
                "facts": _facts(first),
                "families": [_family(row) for row in families],
                "also": sorted(set(first.families) - {_named(row) for row in families}),
            }
        )
    return found


def _facts(row: FittingRow) -> list[tuple[str, str]]:
    facts = [("Nominal outside", caliper_text(row.outside_diameter_mm))]
    if row.difference_mm is not None:
        facts.append(("Nominal less what was read", f"{row.difference_mm:+.2f} mm"))
    return facts


def _named(row: FittingRow) -> str:
    return f"{row.standard} {row.dash or ''}".strip()


def _family(row: FittingRow) -> dict[str, Any]:
    said = [f"seals on {row.seals_on}"]
    if row.seat_deg is not None:
        said.append(f"{row.seat_deg:g}° seat ({2 * row.seat_deg:g}° whole)")
    if row.tube_outside_diameter_mm is not None:
        said.append(f"tube {caliper_text(row.tube_outside_diameter_mm)}")
    if not row.checked:
        said.append("from memory: check before ordering")
    return {
        "name": f"{row.thread} · {_named(row)}",
        "fit": f"fit {row.fit:.0f}" if row.fit else "",
        "said": "; ".join(said),
        "source": row.source,
        "parts": [
            (
                supplier,
                [{"name": one["part_no"], "link": part_link("fitting", supplier, one["part_no"])} for one in parts],
            )
            for supplier, parts in groupby(row.parts, key=lambda part: part["supplier"])
        ],
    }


def view_adapters(answer: Answer[AdapterRow]) -> dict[str, Any]:
    """Return the values of the adapters page's template from an answer."""
    return {"rows": [_chain(row) for row in answer.rows], "misses": [_chain(row) for row in answer.misses]}


def _chain(row: AdapterRow) -> dict[str, Any]:
    pieces = [
        {
            "name": " · ".join(str(one[name]) for name in ("part_no", "description", "supplier") if one[name]),
            "link": part_link("fitting", str(one["supplier"]), str(one["part_no"])),
        }
        for one in row.pieces
    ]
    kind = f"{row.piece_count} piece{'s' if row.piece_count > 1 else ''}" if row.seals else "does not do it"
    one_supplier = "all from one supplier, " if row.same_supplier and row.piece_count > 1 else ""
    return {
        "kind": kind,
        "pieces": pieces,
        "joints": [str(joint["said"]) for joint in row.joints],
        "wait": f"{one_supplier}{wait_text(row.lead_time_hours)}",
    }
