"""Hoses by bore, length, bends and service."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import ClassVar

from kb.errors import AnswerError
from kb.fields import SERVICES
from kb.measure import both_text
from kb.mechanics.belt_lengths import fit
from kb.mechanics.moulded import Shape
from kb.mechanics.moulded_search import Tolerance
from queries.answers import Answer, apart
from queries.hose_shapes import NOT_KNOWN, ShapeJudged, judge_shape, wanted_shape

BORE_WINDOW_MM = 0.8
"""How far a hose's bore may be from the stub and still be the size: common practice, no source."""

SHORT_MM = 3.0
"""How much shorter than asked a hose may be, a tape's reading: common practice, no source."""

_NEAREST = 5
_WORD_HITS = 500
_FROM = "FROM hose JOIN supplier ON supplier.id = supplier_id"


@dataclass(frozen=True, slots=True)
class HoseQuestion:
    """What was measured; legs from end to corner, corner to corner, corner to end, in mm; bends and twists in degrees.

    Each twist is that of a leg between two bends: looking along the hose, how far the second bend is turned clockwise from
    the first; 0 both turn the same way, 180 opposite ways.
    """

    text: str | None = None
    service: str | None = None
    inside_mm: float | None = None
    length_mm: float | None = None
    legs_mm: tuple[float, ...] = ()
    bends_deg: tuple[float, ...] = ()
    limit: int = 10
    twists_deg: tuple[float, ...] = ()
    tolerance: Tolerance = field(default_factory=Tolerance)


@dataclass(frozen=True, slots=True)
class HoseRow:
    """One hose beside the question; ``difference_mm`` is its length minus the one asked for."""

    KEYS: ClassVar[tuple[str, ...]] = (
        "part_no", "supplier", "service", "inside_diameter_mm", "length_mm", "difference_mm", "fit", "why",
        "far_inside_diameter_mm", "legs_mm", "bends_deg", "twists_deg", "description", "cut",
    )  # fmt: skip

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
    twists_deg: list[float]
    description: str | None
    cut: dict[str, object] | None
    shape: ShapeJudged | None = None
    outside_diameter_mm: float | None = None

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {name: getattr(self, name) for name in self.KEYS}


def ask_hoses(connection: sqlite3.Connection, question: HoseQuestion) -> Answer[HoseRow]:
    """Find hoses, best first; raises :class:`~kb.errors.AnswerError` where nothing was asked, or legs and bends disagree."""
    wanted = _check(question)
    scores: dict[int, tuple[float, str]] | None = None
    if question.text:
        from queries.text_index import search

        hits = search(connection, question.text, _WORD_HITS, ("hose",))
        scores = {hit.row_id: (hit.score, hit.why) for hit in hits}
    service = _service(question)
    rows = [row for row in _judged_all(connection, question, wanted, service, scores, BORE_WINDOW_MM) if row.fit > 0]
    rows.sort(key=lambda row: (-row.fit, abs(row.difference_mm or 0.0), row.supplier, row.part_no))
    misses: list[HoseRow] = []
    if not rows:
        others = _judged_all(connection, question, wanted, service, scores, None)
        misses = sorted(others, key=lambda row: (_bends_away(row, question), _distance(row, question)))[:_NEAREST]
    notes = [] if rows or misses else _services_known(connection, service)
    if wanted is not None and wanted.bend_count > 1 and wanted.twists_deg is None:
        notes.append(
            "How the bends are twisted against each other was not asked, and a mirror image looks alike: hold it against the "
            "old one, or give --twists."
        )
    return Answer(rows[: question.limit], misses, _understood(question, service), tuple(notes))


def _check(question: HoseQuestion) -> Shape | None:
    asked = (
        question.text, question.service, question.inside_mm, question.length_mm, question.legs_mm, question.bends_deg,
        question.twists_deg,
    )  # fmt: skip
    if not any(asked):
        raise AnswerError("nothing was asked.", do="Give --inside, --length, --legs, --bends, --service or words.")
    longest = max(question.legs_mm, default=0.0)
    if question.length_mm is not None and longest > question.length_mm:
        raise AnswerError(
            f"a leg of {both_text(longest)} is longer than the whole hose, {both_text(question.length_mm)}.",
            do="Legs run along the middle of the hose, corner to corner; the length is end to end round its bends.",
        )
    return wanted_shape(question.legs_mm, question.bends_deg, question.twists_deg)


def _service(question: HoseQuestion) -> str | None:
    if not question.service:
        return None
    asked = " ".join(question.service.casefold().split())
    return SERVICES.get(asked, asked)


def _services_known(connection: sqlite3.Connection, service: str | None) -> list[str]:
    if service is None:
        return []
    found = connection.execute("SELECT DISTINCT service FROM hose WHERE service IS NOT NULL ORDER BY service")
    known = ", ".join(name for (name,) in found)
    return [f"No hose is listed for {service!r}. Services on the shelf: {known}."] if known else []


def _judged_all(
    connection: sqlite3.Connection,
    question: HoseQuestion,
    wanted: Shape | None,
    service: str | None,
    scores: dict[int, tuple[float, str]] | None,
    within: float | None,
) -> Iterator[HoseRow]:
    """Judge the hoses of a service whose bore, at either end, is ``within`` so much of the one asked for."""
    low = high = None
    if question.inside_mm is not None and within is not None:
        low, high = question.inside_mm - within, question.inside_mm + within
    found = connection.execute(
        f"SELECT hose.*, supplier.name AS supplier {_FROM} "
        "WHERE (:service IS NULL OR service = :service OR service LIKE :service || ' %') AND (:low IS NULL "
        "OR inside_diameter_mm BETWEEN :low AND :high OR far_inside_diameter_mm BETWEEN :low AND :high)",
        {"service": service, "low": low, "high": high},
    )
    for row in found:
        if scores is None:
            yield _judged(row, question, wanted, 100.0, "")
        elif row["id"] in scores:
            yield _judged(row, question, wanted, *scores[row["id"]])


def _bends_away(row: HoseRow, question: HoseQuestion) -> float:
    """How far a miss's bends are from those asked for, in degrees, at its best place either way round.

    A bend too few counts as one of half a turn.
    """
    asked = [float(bend) for bend in question.bends_deg]
    listed = [float(bend) for bend in row.bends_deg or ()]
    if not asked:
        return 0.0
    listed += [-180.0] * (len(asked) - len(listed))
    return min(
        sum(abs(one - other) for one, other in zip(way, listed[place : place + len(asked)], strict=True))
        for way in (asked, asked[::-1])
        for place in range(len(listed) - len(asked) + 1)
    )


def _distance(row: HoseRow, question: HoseQuestion) -> tuple[float, float, str, str]:
    """How near a miss is: by the bore, which cannot be helped, then by the length."""
    bore = 0.0
    if question.inside_mm is not None:
        bore = min(
            abs(each - question.inside_mm) for each in _bores(row.inside_diameter_mm, row.far_inside_diameter_mm)
        )
    length = 0.0
    if question.length_mm is not None:
        length = abs(row.difference_mm) if row.difference_mm is not None else 1e6
    return round(bore, 1), length, row.supplier, row.part_no


def _bores(near: float, far: float | None) -> tuple[float, ...]:
    return (near,) if far is None or far == near else (near, far)


def _judged(row: sqlite3.Row, question: HoseQuestion, wanted: Shape | None, likeness: float, told: str) -> HoseRow:
    """Judge one hose: each thing that was asked for takes its share of the likeness."""
    difference = None
    if question.length_mm is not None and row["length_mm"] is not None:
        difference = round(row["length_mm"] - question.length_mm, 2)
    judgements = [(1.0, told), _bore(row, question)]
    if question.length_mm is not None:
        judgements.append(_length(difference))
    shape = None if wanted is None else judge_shape(row, wanted, question.tolerance)
    if shape is not None:
        judgements.append((shape.share, shape.why))
    said = []
    for share, why in judgements:
        likeness *= share
        said.append(why)
    return HoseRow(
        row["part_no"], row["supplier"], row["service"], row["inside_diameter_mm"], row["length_mm"], difference,
        round(likeness, 1), "; ".join(filter(None, said)), row["far_inside_diameter_mm"],
        _list(row, "legs_mm"), _list(row, "bends_deg"), _list(row, "twists_deg"),
        row["description"], None if shape is None else shape.cut, shape, row["outside_diameter_mm"],
    )  # fmt: skip


def _list(row: sqlite3.Row, name: str) -> list[float]:
    numbers: list[float] = json.loads(row[name] or "[]")
    return numbers


def _bore(row: sqlite3.Row, question: HoseQuestion) -> tuple[float, str]:
    bores = _bores(row["inside_diameter_mm"], row["far_inside_diameter_mm"])
    reducer = f"a reducer, {both_text(bores[0])} to {both_text(bores[1])}" if len(bores) > 1 else ""
    if question.inside_mm is None:
        return 1.0, reducer
    off = min((bore - question.inside_mm for bore in bores), key=abs)
    said = "the bore asked for" if abs(off) < 0.05 else f"bore {apart(off)} {'larger' if off > 0 else 'smaller'}"
    share = fit(off, BORE_WINDOW_MM / 2) / 100.0 if abs(off) <= BORE_WINDOW_MM + 1e-9 else 0.0
    return share, "; ".join(filter(None, (said, reducer)))


def _length(difference: float | None) -> tuple[float, str]:
    """A hose that is longer can be cut, the less the better; one that is shorter cannot be helped."""
    if difference is None:
        return NOT_KNOWN, "its length is not known"
    if difference < -SHORT_MM:
        return 0.0, f"{apart(difference)} too short"
    if abs(difference) < 0.5:
        return 1.0, "the length asked for"
    if difference < 0:
        return 0.9, f"{apart(difference)} shorter, as near as a tape tells"
    return max(NOT_KNOWN, 1.0 - difference / 2000.0), f"{apart(difference)} longer: cut to suit"


def _understood(question: HoseQuestion, service: str | None) -> str:
    said = ["hoses"]
    if service and question.service:
        wrote = "" if service == question.service.casefold() else f" (you wrote {question.service})"
        said.append(f"for {service}{wrote}")
    if question.inside_mm is not None:
        said.append(f"{both_text(question.inside_mm)} inside, within {BORE_WINDOW_MM:g} mm")
    if question.length_mm is not None:
        said.append(f"{both_text(question.length_mm)} long or longer")
    if question.bends_deg:
        said.append("bends " + ", ".join(f"{bend:g}°" for bend in question.bends_deg))
    if question.legs_mm:
        said.append("legs " + ", ".join(both_text(leg) for leg in question.legs_mm))
    if question.twists_deg:
        said.append("twisted " + ", ".join(f"{twist:g}°" for twist in question.twists_deg))
    if question.text:
        said.append(f"like {question.text!r}")
    return ", ".join(said)
