"""What to have in hand before a job, and who can supply or make it the same day."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from kb.fields import PARTS
from kb.sheets.job_sheet import JobSheet
from kb.spelling import normalise_code
from kb.trade_words import families, meanings_of

SAME_DAY_H = 8.0
"""Hours by the clock within which a morning's order is there the same working day: common practice, no source."""


@dataclass(frozen=True, slots=True)
class InHand:
    """A part that jobs like this one used.

    ``worked`` and ``failed`` count those jobs; ``from_`` says who lists it, the soonest first.
    """

    part_no: str
    what: str
    jobs: int
    of: int
    worked: int
    failed: int
    from_: list[dict[str, object]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Makes:
    """A supplier that can supply or make what the work needs. ``lead_time_hours`` by the clock, ``None`` where not known."""

    supplier: str
    can: list[str]
    lead_time_hours: float | None
    same_day: bool
    notes: str | None


def in_hand(connection: sqlite3.Connection, jobs: Sequence[JobSheet]) -> list[InHand]:
    """Return the parts of jobs like this one, those of most jobs first."""
    used: dict[str, list[tuple[str, JobSheet]]] = {}
    for job in jobs:
        seen = set()
        for part in job.parts:
            code = normalise_code(part.part_no)
            if code not in seen:
                seen.add(code)
                used.setdefault(code, []).append((part.part_no, job))
    found = []
    for code, uses in used.items():
        what, listed = _listed(connection, code)
        outcomes = [job.outcome for _, job in uses]
        failed = outcomes.count("did not work")
        worked = sum(outcome is not None for outcome in outcomes) - failed
        found.append(InHand(min(name for name, _ in uses), what, len(uses), len(jobs), worked, failed, listed))
    return sorted(found, key=lambda one: (-one.jobs, one.failed, one.part_no))


def _listed(connection: sqlite3.Connection, code: str) -> tuple[str, list[dict[str, object]]]:
    """Return what a part is, and which suppliers list it, with their lead times."""
    what, listed = "", []
    for kind in PARTS:
        rows = connection.execute(
            f"SELECT description, supplier.name, lead_time_hours FROM {kind.name} "
            "JOIN supplier ON supplier.id = supplier_id WHERE code = ? ORDER BY lead_time_hours IS NULL, lead_time_hours, 2",
            (code,),
        ).fetchall()
        for description, supplier, hours in rows:
            what = what or f"{kind.name}: {description}" if description else what or kind.name
            listed.append({"supplier": supplier, "lead_time_hours": hours, "same_day": _same_day(hours)})
    return what, listed


def _same_day(hours: float | None) -> bool:
    return hours is not None and hours <= SAME_DAY_H


def makers(connection: sqlite3.Connection, asked: JobSheet, jobs: Iterable[JobSheet]) -> list[Makes]:
    """Return suppliers by what they say they can do that touches this work, the soonest first."""
    texts = [asked.work, *(one.trouble or "" for one in asked.troubles)]
    texts += [one.remedy or "" for job in jobs for one in job.troubles]
    wanted = {meaning for text in texts for meaning in meanings_of(text)} & _things()
    found = []
    rows = connection.execute("SELECT name, can_supply, lead_time_hours, notes FROM supplier ORDER BY name").fetchall()
    for name, can_supply, hours, notes in rows:
        can = [text for text in json.loads(can_supply) if set(meanings_of(text)) & wanted]
        if can:
            found.append(Makes(name, can, hours, _same_day(hours), notes))
    return sorted(found, key=lambda one: (one.lead_time_hours is None, one.lead_time_hours or 0.0, one.supplier))


def _things() -> set[str]:
    """The meanings that are things to be had, not what happens to them."""
    happens = {"noise", "slip", "tension", "loose", "alignment", "short", "long", "stop", "clearance", "touches", "leak",
               "kink", "hot", "crack", "vibration", "warm air", "no charge", "weak charge", "flow", "level", "runs off",
               "fray", "bounce", "size", "blew off", "seam", "engine rolls", "air flow", "back of belt",
               "groove", "glaze", "hot rubber", "rubber dust", "rib cracks", "chunking", "belt broke", "belt turned over",
               "delaminated", "belt stretch", "tensioner stuck", "tensioner weak", "tight or slack side", "overtight",
               "pulley rust", "pulley wobble", "pulley groove worn", "hub slip", "overcharging", "voltage drop",
               "short circuit", "bracket flex", "bracket cracked", "elongated hole", "broken bolt", "loose bolt", "torque",
               "pulled thread", "core blocked", "core silted", "core leak", "coolant mix", "coolant frozen",
               "impeller slipped", "fan blade damage", "fan backwards", "fan position", "bend radius",
               "collapse", "worn through", "hose too short", "hose swelling", "boost leak", "clamp leak", "wrong thread",
               "cross-threaded", "over-tightened fitting", "wash water", "dirt", "high speed", "cold", "rain", "frozen",
               "hot weather", "snow", "coolant smell", "altitude", "belt-off test", "low fluid",
               "unmatched belts"}  # fmt: skip
    return set(families()) - happens | {"shim"}
