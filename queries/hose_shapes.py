"""Whether a moulded hose has the shape asked for somewhere in its middle, what to cut off, and what is left over."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass

from kb.errors import AnswerError
from kb.measure import both_text
from kb.mechanics.belt_lengths import fit
from kb.mechanics.moulded import RADIUS_PER_BORE, Shape, ShapeError, bend_radius_mm, without_straight_bends
from kb.mechanics.moulded_search import Cut, Match, Miss, Tolerance, find_in
from queries.answers import apart

NOT_KNOWN = 0.3
"""What a hose keeps of its fit where its sheet does not give what was asked for: it may well do, nobody knows."""

WORTH_CUTTING_MM = 3.0
"""What differs by less is not cut off: a tape's reading, common practice, no source."""


@dataclass(frozen=True, slots=True)
class ShapeJudged:
    """A share of the likeness, why, and where to cut; ``match`` and ``hose`` are for a drawing."""

    share: float
    why: str
    cut: dict[str, object] | None = None
    match: Match | None = None
    hose: Shape | None = None
    radius_mm: float = 0.0


def wanted_shape(
    legs_mm: tuple[float, ...], bends_deg: tuple[float, ...], twists_deg: tuple[float, ...]
) -> Shape | None:
    """Return the shape asked for; ``None`` where none was. Raises :class:`~kb.errors.AnswerError` where lists disagree."""
    if not (legs_mm or bends_deg or twists_deg):
        return None
    do = 'Give each leg from end to corner, corner to corner, corner to end: --legs "4 in,7 in" --bends 90.'
    try:
        if not bends_deg:
            if twists_deg:
                raise AnswerError(
                    "twists are between bends, and no bends were given.", do='Say --bends "90,45" --twists 30.'
                )
            return Shape(legs_mm, () if len(legs_mm) == 1 else None)
        _check_counts(len(legs_mm), len(bends_deg), len(twists_deg))
        return without_straight_bends(legs_mm, bends_deg, twists_deg if twists_deg or len(bends_deg) < 2 else None)
    except ShapeError as error:
        raise AnswerError(f"{error}.", do=do) from error


def _check_counts(legs: int, bends: int, twists: int) -> None:
    if legs and legs != bends + 1:
        raise AnswerError(
            f"{counted(bends, 'bend')} part a hose into {counted(bends + 1, 'leg')}, not {legs}.",
            do='Give each leg from end to corner, corner to corner, corner to end: --legs "4 in,7 in" --bends 90.',
        )
    if twists and twists != bends - 1:
        raise AnswerError(
            f"{counted(bends, 'bend')} have {counted(bends - 1, 'twist')} between them, not {twists}.",
            do="Give a twist for each leg between two bends: 0 both turn the same way, 180 opposite ways.",
        )


def counted(count: int, what: str) -> str:
    """Return a count with its noun.

    >>> counted(1, "bend"), counted(0, "bend")
    ('1 bend', '0 bends')
    """
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def listed_shape(row: sqlite3.Row) -> Shape | None:
    """Return the shape that a sheet lists for a hose; ``None`` where it lists none, or one that cannot be."""
    legs, bends, twists = (json.loads(row[name] or "null") for name in ("legs_mm", "bends_deg", "twists_deg"))
    if legs is None and bends is None:
        return None
    try:
        if bends is None:
            return Shape(tuple(legs), () if len(legs) == 1 else None)
        known = twists if twists or len(bends) < 2 else None
        return without_straight_bends(legs or [], bends, known if len(bends) > 1 else [])
    except ShapeError:
        return None


def judge_shape(row: sqlite3.Row, wanted: Shape, tolerance: Tolerance) -> ShapeJudged:
    """Judge whether a hose's middle contains a shape, the hose either way round; say what would have to be cut off."""
    hose = listed_shape(row)
    if hose is None:
        bends = json.loads(row["bends_deg"] or "[]")
        said = "its bends and legs do not go together on its sheet" if bends else "its sheet lists no bends and no legs"
        return ShapeJudged(0.0 if wanted.bend_count else NOT_KNOWN, said)
    known = bend_radius_mm(hose, row["length_mm"])
    radius = known if known is not None else RADIUS_PER_BORE * row["inside_diameter_mm"]
    found = find_in(hose, wanted, radius, tolerance)
    if isinstance(found, Miss):
        return ShapeJudged(0.0, _why_not(found, hose, wanted), None, None, hose, radius)
    best = found[0]
    share, said = _share(best, hose, wanted, tolerance)
    return ShapeJudged(share, said, _cut_json(best, radius, known is not None), best, hose, radius)


def _share(match: Match, hose: Shape, wanted: Shape, tolerance: Tolerance) -> tuple[float, str]:
    shares = [
        _bends_share(match, hose, wanted, tolerance),
        _twists_share(match, wanted, tolerance),
        _cut_share(match, hose, wanted),
    ]
    if match.worst_leg_mm >= 0.5:
        likely = fit(match.worst_leg_mm, tolerance.leg_mm / 2) / 100.0
        shares.insert(1, (likely, f"legs between bends up to {apart(match.worst_leg_mm)} off"))
    share = 1.0
    for each, _ in shares:
        share *= each
    said = [why for _, why in shares]
    if match.far_end_off_mm is not None and match.far_end_off_mm >= 1:
        said.append(f"held at one end, the other comes out {apart(match.far_end_off_mm)} off")
    return share, "; ".join(filter(None, said))


def _bends_share(match: Match, hose: Shape, wanted: Shape, tolerance: Tolerance) -> tuple[float, str]:
    if not wanted.bends_deg:
        return 1.0, ""
    if hose.bends_deg is None:
        return NOT_KNOWN, "its bends are not listed"
    off = match.worst_bend_deg
    said = "the bends asked for" if off < 0.5 else f"bends up to {off:g}° off"
    return fit(off, tolerance.bend_deg / 2) / 100.0, said


def _twists_share(match: Match, wanted: Shape, tolerance: Tolerance) -> tuple[float, str]:
    if wanted.bend_count < 2 or wanted.twists_deg is None:
        return 1.0, ""
    off = match.worst_twist_deg
    if off is None:
        return (
            NOT_KNOWN,
            "how its bends are twisted is not listed: it may be the mirror image, hold it against the old one",
        )
    return fit(
        off, tolerance.twist_deg / 2
    ) / 100.0, "twisted as asked" if off < 0.5 else f"twists up to {off:.3g}° off"


def _cut_share(match: Match, hose: Shape, wanted: Shape) -> tuple[float, str]:
    """The less there is to cut off the better."""
    if match.near is not None and match.far is not None:
        off_mm = match.near.off_mm + match.far.off_mm
        return max(NOT_KNOWN, 1.0 - off_mm / 2000.0), _cut_words(match, hose)
    if wanted.legs_mm is not None:
        return NOT_KNOWN, "its legs are not listed"
    more = hose.bend_count - wanted.bend_count
    if not more:
        return 1.0, ""
    return max(NOT_KNOWN, 1.0 - 0.2 * more), f"{counted(more, 'bend')} more, to be cut off"


def _ends(match: Match) -> tuple[tuple[str, Cut], ...]:
    """The cuts with the end of the listed hose that each comes off."""
    assert match.near is not None
    assert match.far is not None
    return (
        (("second", match.near), ("first", match.far))
        if match.turned
        else (("first", match.near), ("second", match.far))
    )


def _cut_words(match: Match, hose: Shape) -> str:
    cuts = []
    legs = {"first": (hose.legs_mm or (0.0,))[0], "second": (hose.legs_mm or (0.0,))[-1]}
    for end, cut in sorted(_ends(match)):
        if cut.off_mm > WORTH_CUTTING_MM:
            bent = f", with its {' and '.join(f'{bend:g}°' for bend in cut.bends_deg)}" if cut.bends_deg else ""
            cuts.append(f"{apart(cut.off_mm)} off its {end} end, the {both_text(legs[end])} leg{bent}")
    if not cuts:
        return "nothing to cut"
    kept = f"; {both_text(match.kept_mm)} stay along the middle" if match.kept_mm is not None else ""
    return f"cut {' and '.join(cuts)}{kept}"


def _cut_json(match: Match, radius_mm: float, known: bool) -> dict[str, object] | None:
    if match.near is None or match.far is None or match.kept_mm is None:
        return None
    listed = dict(_ends(match))
    return {
        "turned": match.turned,
        "from_first_end_mm": round(listed["first"].off_mm, 1),
        "from_second_end_mm": round(listed["second"].off_mm, 1),
        "kept_mm": round(match.kept_mm, 1),
        "left_over": [
            {"end": end, "length_mm": round(cut.off_mm, 1), "bends_deg": list(cut.bends_deg)}
            for end, cut in sorted(listed.items())
            if cut.off_mm > WORTH_CUTTING_MM
        ],
        "bend_radius_mm": round(radius_mm, 1),
        "bend_radius_from": "its length"
        if known
        else f"{RADIUS_PER_BORE:g} times its bore: common practice, no source",
        "far_end_off_mm": None if match.far_end_off_mm is None else round(match.far_end_off_mm, 1),
    }


def _why_not(miss: Miss, hose: Shape, wanted: Shape) -> str:
    bends = ", ".join(f"{bend:g}°" for bend in hose.bends_deg or ())
    if miss.kind == "fewer bends":
        return f"{counted(hose.bend_count, 'bend')}, not {wanted.bend_count}"
    if miss.kind == "bend":
        return f"bends {bends}: up to {miss.amount:g}° off"
    if miss.kind == "inner leg":
        way = "longer" if miss.amount > 0 else "shorter"
        return f"leg {miss.place + 1} is {apart(miss.amount)} {way} between its bends"
    if miss.kind == "mirror":
        return "the mirror image: its bends are twisted the other way"
    if miss.kind == "twist":
        return f"twisted up to {miss.amount:.3g}° otherwise"
    return f"leg {miss.place} is {apart(miss.amount)} too short"
