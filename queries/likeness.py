"""How alike two jobs are, field by field, and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rapidfuzz import fuzz

from kb.measure import both_text
from kb.sheets.job import JobSheet
from kb.spelling import normalise_code, words_of

FLOOR = 0.4
"""The least share of all weight that counts as known: one shared field alone does not make two jobs the same."""

_SAME_WORDS = {
    "squeal": "noise", "chirp": "noise", "squeak": "noise", "screech": "noise", "whine": "noise",
    "slips": "slip", "slipping": "slip", "slipped": "slip",
    "antifreeze": "coolant", "compressor": "compressor", "ac": "compressor",
    "generator": "alternator", "dynamo": "alternator", "shroud": "ring", "cowl": "ring",
    "lorry": "truck", "short": "short", "tight": "short", "leaks": "leak", "leaking": "leak", "weeping": "leak",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Weighed:
    """One field's weight, and how alike it is: ``None`` where a side does not know it, else 0 to 1 and why."""

    name: str
    weight: float
    reason: str
    compare: Callable[[JobSheet, JobSheet], tuple[float, str] | None]


def likeness(one: JobSheet, other: JobSheet) -> tuple[float, tuple[str, ...]]:
    """Return how alike two jobs are, 0 to 100, and why, the weightiest reason first.

    Symmetric; a job is 100 like itself; fields that a side does not know are left out of the weighing.
    """
    if one == other:
        return 100.0, ("the same job",)
    got = known = 0.0
    reasons: list[tuple[float, str]] = []
    for weighed in WEIGHTS:
        compared = weighed.compare(one, other)
        if compared is None:
            continue
        share, why = compared
        known += weighed.weight
        got += weighed.weight * share
        if share >= 0.5:
            reasons.append((weighed.weight * share, why))
    total = sum(weighed.weight for weighed in WEIGHTS)
    reasons.sort(key=lambda reason: (-reason[0], reason[1]))
    return 100.0 * got / max(known, FLOOR * total), tuple(why for _, why in reasons)


def _words(text: str) -> str:
    return " ".join(sorted(_SAME_WORDS.get(word, word) for word in words_of(text)))


def _text(name: str, label: str) -> Callable[[JobSheet, JobSheet], tuple[float, str] | None]:
    def compare(one: JobSheet, other: JobSheet) -> tuple[float, str] | None:
        first, second = getattr(one, name), getattr(other, name)
        if not first or not second:
            return None
        if first.casefold() == second.casefold():
            return 1.0, f"same {label}: {first}"
        share = fuzz.token_sort_ratio(_words(first), _words(second)) / 100
        return max(0.0, (share - 0.3) / 0.7), f"{label} alike: {min(first, second)} / {max(first, second)}"

    return compare


def _belt(one: JobSheet, other: JobSheet) -> tuple[float, str] | None:
    if one.ribs is None or other.ribs is None:
        return None
    share = max(0.0, 1.0 - abs(one.ribs - other.ribs) / 4)
    if one.ribs == other.ribs:
        return share, f"{one.ribs} ribs both"
    return share, f"{min(one.ribs, other.ribs)} and {max(one.ribs, other.ribs)} ribs"


def _length(one: JobSheet, other: JobSheet) -> tuple[float, str] | None:
    if one.belt_length_mm is None or other.belt_length_mm is None:
        return None
    off = abs(one.belt_length_mm - other.belt_length_mm)
    return max(0.0, 1.0 - off / 150.0), f"belts {both_text(off)} apart in length" if off else "belts of the same length"


def _set(name: str, label: str) -> Callable[[JobSheet, JobSheet], tuple[float, str] | None]:
    def compare(one: JobSheet, other: JobSheet) -> tuple[float, str] | None:
        first = {" ".join(words_of(text)): text for text in getattr(one, name)}
        second = {" ".join(words_of(text)) for text in getattr(other, name)}
        if not first or not second:
            return None
        shared = sorted(set(first) & second)
        return len(shared) / min(len(first), len(second)), f"{label} shared: {', '.join(shared)}"

    return compare


def _parts(one: JobSheet, other: JobSheet) -> tuple[float, str] | None:
    first = {normalise_code(part.part_no): part.part_no for part in one.parts}
    second = {normalise_code(part.part_no) for part in other.parts}
    if not first or not second:
        return None
    shared = sorted(first[code] for code in set(first) & second)
    return len(shared) / min(len(first), len(second)), f"parts shared: {', '.join(shared)}"


def _troubles(one: JobSheet, other: JobSheet) -> tuple[float, str] | None:
    first = [each.trouble for each in one.troubles if each.trouble]
    second = [each.trouble for each in other.troubles if each.trouble]
    if not first or not second:
        return None
    pairs = [(fuzz.token_set_ratio(_words(a), _words(b)) / 100, min(a, b)) for a in first for b in second]
    share, said = max(pairs)
    return max(0.0, (share - 0.4) / 0.6), f"trouble alike: {said}"


WEIGHTS: tuple[Weighed, ...] = (
    Weighed("work", 3.0, "the same work meets the same snags", _text("work", "work")),
    Weighed("machine", 2.0, "the same machine has the same front", _text("machine", "machine")),
    Weighed("engine", 2.0, "brackets and centres go with the engine", _text("engine", "engine")),
    Weighed("troubles", 2.0, "what went wrong is what is asked about", _troubles),
    Weighed("parts", 1.5, "the same part behaves the same", _parts),
    Weighed("accessories", 1.0, "what is driven sets the drive's shape", _set("accessories", "accessories")),
    Weighed("ribs", 1.0, "ribs go with the load", _belt),
    Weighed("length", 1.0, "length goes with the drive's size", _length),
)
"""The weights, each with its reason: common practice, no source."""
