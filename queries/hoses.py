"""Hoses by bore, length, bends and service."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass

from kb.errors import AnswerError
from kb.fields import SERVICES
from kb.measure import both_text
from kb.mechanics.belt_lengths import fit
from queries.answers import Answer, apart

BORE_WINDOW_MM = 0.8
"""How far a hose's bore may be from the stub and still be the size: common practice, no source."""

ANGLE_WINDOW_DEG = 5.0
INNER_LEG_WINDOW_MM = 6.0
"""Bends and the legs between them cannot be cut to suit: common practice, no source."""


@dataclass(frozen=True, slots=True)
class HoseQuestion:
    """What was measured; legs from end to corner, corner to corner, corner to end, in mm; bends in degrees."""

    text: str | None = None
    service: str | None = None
    inside_mm: float | None = None
    length_mm: float | None = None
    legs_mm: tuple[float, ...] = ()
    bends_deg: tuple[float, ...] = ()
    limit: int = 10


@dataclass(frozen=True, slots=True)
class HoseRow:
    """One hose beside the question."""

    part_no: str
    supplier: str
    service: str | None
    inside_diameter_mm: float
    length_mm: float | None
    difference_mm: float | None
    fit: float
    why: str
    far_inside_diameter_mm: float | None
    legs_mm: list[float]
    bends_deg: list[float]
    description: str | None

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.__slots__}


def ask_hoses(connection: sqlite3.Connection, question: HoseQuestion) -> Answer[HoseRow]:
    """Find hoses, best first; raises :class:`~kb.errors.AnswerError` where nothing was asked."""
    if not (question.text or question.service or question.inside_mm or question.length_mm or question.bends_deg):
        raise AnswerError("nothing was asked.", do="Give --inside, --length, --bends, --service or words.")
    scores: dict[int, float] | None = None
    if question.text:
        from queries.text_index import search

        scores = {hit.row_id: hit.score for hit in search(connection, question.text, 300, ("hose",))}
    service = SERVICES.get(question.service.casefold(), question.service.casefold()) if question.service else None
    rows = []
    for row in connection.execute(
        "SELECT hose.*, supplier.name AS supplier FROM hose JOIN supplier ON supplier.id = supplier_id "
        "WHERE (? IS NULL OR service = ? OR service LIKE ? || ' %')",
        (service, service, service),
    ):
        if scores is None or row["id"] in scores:
            rows.append(_judged(row, question))
    rows.sort(key=lambda row: (-row.fit, abs(row.difference_mm or 0.0), row.supplier, row.part_no))
    fitting = [row for row in rows if row.fit > 0]
    misses = [] if fitting else _nearest(rows, question)
    return Answer(fitting[: question.limit], misses, _understood(question))


def _nearest(rows: list[HoseRow], question: HoseQuestion) -> list[HoseRow]:
    def off(row: HoseRow) -> float:
        bore = abs(row.inside_diameter_mm - question.inside_mm) * 10 if question.inside_mm else 0.0
        return bore + abs((row.length_mm or 1e4) - question.length_mm) if question.length_mm else bore

    return sorted(rows, key=off)[:5]


def _judged(row: sqlite3.Row, question: HoseQuestion) -> HoseRow:
    said: list[str] = []
    likeness = 100.0
    bores = [bore for bore in (row["inside_diameter_mm"], row["far_inside_diameter_mm"]) if bore]
    if question.inside_mm is not None:
        off = min((bore - question.inside_mm for bore in bores), key=abs)
        likeness *= fit(off, BORE_WINDOW_MM / 2) / 100.0 if abs(off) <= BORE_WINDOW_MM else 0.0
        said.append(
            "the bore asked for" if abs(off) < 0.05 else f"bore {apart(off)} {'larger' if off > 0 else 'smaller'}"
        )
    if len(set(bores)) > 1:
        said.append("a reducer")
    difference = None
    if question.length_mm is not None and row["length_mm"] is not None:
        difference = round(row["length_mm"] - question.length_mm, 2)
        short = difference < -3.0
        likeness *= 0.0 if short else max(0.3, 1.0 - max(difference, 0.0) / 2000.0)
        said.append(_length_text(difference))
    elif question.length_mm is not None:
        likeness *= 0.3
        said.append("its length is not known")
    legs, bends = json.loads(row["legs_mm"] or "[]"), json.loads(row["bends_deg"] or "[]")
    if question.bends_deg or question.legs_mm:
        shape, note = _shape(legs, bends, question)
        likeness *= shape
        said.append(note)
    return HoseRow(
        row["part_no"], row["supplier"], row["service"], row["inside_diameter_mm"], row["length_mm"], difference,
        round(likeness, 1), "; ".join(said), row["far_inside_diameter_mm"], legs, bends, row["description"],
    )  # fmt: skip


def _length_text(difference: float) -> str:
    if abs(difference) < 0.5:
        return "the length asked for"
    if difference > 0:
        return f"{apart(difference)} longer: cut to suit"
    return f"{apart(difference)} too short"


def _shape(legs: list[float], bends: list[float], question: HoseQuestion) -> tuple[float, str]:
    """Judge bends and legs, the hose either way round; end legs may be longer, since they can be cut."""
    if question.bends_deg and len(bends) != len(question.bends_deg):
        return 0.0, f"{len([bend for bend in bends if bend])} bends, not {len(question.bends_deg)}"
    best = 0.0
    for way_bends, way_legs in ((bends, legs), (bends[::-1], legs[::-1])):
        share = 1.0
        for there, asked in zip(way_bends, question.bends_deg, strict=False):
            share *= fit(there - asked, ANGLE_WINDOW_DEG / 2) / 100 if abs(there - asked) <= ANGLE_WINDOW_DEG else 0.0
        if question.legs_mm:
            share *= _legs_share(way_legs, list(question.legs_mm))
        best = max(best, share)
    return best, "the bends asked for" if best > 0 else "another shape"


def _legs_share(there: list[float], asked: list[float]) -> float:
    if len(there) < len(asked):
        return 0.0
    last = len(there) - 1
    for place, (has, wants) in enumerate(zip(there, asked, strict=False)):
        if place in (0, last):
            if has < wants - INNER_LEG_WINDOW_MM / 2:
                return 0.0
        elif abs(has - wants) > INNER_LEG_WINDOW_MM:
            return 0.0
    return 1.0


def _understood(question: HoseQuestion) -> str:
    said = ["hoses"]
    if question.service:
        said.append(f"for {question.service}")
    if question.inside_mm is not None:
        said.append(f"{both_text(question.inside_mm)} inside")
    if question.length_mm is not None:
        said.append(f"{both_text(question.length_mm)} long or longer")
    if question.bends_deg:
        said.append("bends " + ", ".join(f"{bend:g}" for bend in question.bends_deg))
    if question.legs_mm:
        said.append("legs " + ", ".join(both_text(leg) for leg in question.legs_mm))
    if question.text:
        said.append(f"like {question.text!r}")
    return ", ".join(said)
