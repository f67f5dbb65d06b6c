"""How alike two jobs are, field by field, and why.

Texts are compared by what their words mean in the trade (``kb/trade_words``), rare meanings counting more than common ones
where a shelf says how rare they are, and by what they mean in plain language (``kb/word_vectors``). A field that only one
of the two jobs knows says little either way; one that neither knows says nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

from kb.measure import both_text
from kb.sheets.job_sheet import JobSheet
from kb.spelling import normalise_code
from kb.trade_words import families, is_everyday, meanings_of, tells_of
from kb.word_vectors import closeness, says
from queries.drive_shape import DriveShape, shape_likeness

MISSING_COUNTS = 0.3
"""How much of a field's weight counts where only one job knows it: our own choice, no source."""

MISSING_SHARE = 0.3
"""How alike such a field is taken to be: about what two jobs picked at random share."""

TOLD_FROM = 0.5
"""From which likeness a field is given as a reason; below it only the strongest is, and only where there is no other."""

NUMBER_COUNTS = 0.5
"""How much a number in a text counts beside a word of the trade."""


EVERYDAY_COUNTS = 0.5
"""How much a word of everyday language counts beside one of the trade."""

FAMILY_COUNTS = 0.5
"""How much it counts that two texts speak of the same larger thing, such as air conditioning, in other words."""

TOPIC_COUNTS = 0.8
"""How much it counts that two texts tell of the same kind of trouble: one of the idler that shook, one of the weak spring."""


FOLLOWS = 0.5
"""How much of what two jobs lack in likeness it makes up that the same machine came back within weeks: our own choice."""

FOLLOWS_DAYS = 60

NAME_COUNTS = 1.5
"""How much a machine's own number counts: Plow truck 3 is another machine than Plow truck 8."""


@dataclass(frozen=True, slots=True)
class Sense:
    """What a shelf knows beside the two jobs: how much each meaning tells (1 where nothing is known), and drives' shapes."""

    telling: Mapping[str, float] = field(default_factory=dict)
    shapes: Mapping[str, DriveShape] = field(default_factory=dict)
    _weights: dict[str, float] = field(default_factory=dict, repr=False, compare=False)
    _squares: dict[frozenset[str], float] = field(default_factory=dict, repr=False, compare=False)

    def weight(self, meaning: str) -> float:
        """How much a meaning tells; a number that names one of many, such as a truck's, is marked and tells most."""
        known = self._weights.get(meaning)
        if known is None:
            known = self._weights[meaning] = self._weighed(meaning)
        return known

    def square(self, bag: frozenset[str]) -> float:
        """The sum of the squares of all that a bag of meanings tells, to the last bit whatever their order."""
        known = self._squares.get(bag)
        if known is None:
            known = self._squares[bag] = self._sum(bag)
        return known

    def square_of_both(self, one: frozenset[str], other: frozenset[str]) -> float:
        """:meth:`square` of what two bags have in common: of pairs there are too many to keep."""
        return self._sum(one & other)

    def _sum(self, bag: frozenset[str]) -> float:
        return math.fsum([self.weight(meaning) ** 2 for meaning in bag])

    def _weighed(self, meaning: str) -> float:
        if meaning.startswith(_NAMES):
            return NAME_COUNTS
        if meaning.startswith(_FAMILY):
            return FAMILY_COUNTS
        if meaning.startswith(_TOPIC):
            return TOPIC_COUNTS
        known = self.telling.get(meaning, 1.0)
        if is_everyday(meaning):
            return known * EVERYDAY_COUNTS
        return known * NUMBER_COUNTS if meaning[0].isdigit() else known


_FAMILY, _TOPIC, _NAMES = "~", "^", "#"
PLAIN = Sense()
Compared = tuple[float, str] | None
"""Likeness from 0 to 1 and why, or ``None`` where a side does not know the field."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """One field's weight with its reason, whether a job knows the field, and how alike two that do are."""

    name: str
    weight: float
    reason: str
    known: Callable[[JobSheet], bool]
    compare: Callable[[JobSheet, JobSheet, Sense], tuple[float, str]]


def likeness(
    one: JobSheet, other: JobSheet, sense: Sense = PLAIN, weights: tuple[Weighed, ...] | None = None
) -> tuple[float, tuple[str, ...]]:
    """Return how alike two jobs are, 0 to 100, and why, the weightiest reason first.

    Symmetric, whole for a job and itself, and the same whatever the order of a job's lists. ``weights``: by default
    :data:`WEIGHTS`, all of them.

    >>> squeal = JobSheet(None, "serpentine belt squeals, alternator upgrade")
    >>> chirp = JobSheet(None, "ribbed belt chirping after altenator swap")
    >>> likeness(squeal, chirp)[0] > likeness(squeal, JobSheet(None, "heater hose wept"))[0]
    True
    """
    got = counted = 0.0
    reasons: list[tuple[float, str]] = []
    faint: list[tuple[float, str]] = []
    for weighed in WEIGHTS if weights is None else weights:
        knows, also = weighed.known(one), weighed.known(other)
        if knows and also:
            share, why = weighed.compare(one, other, sense)
            counted += weighed.weight
            got += weighed.weight * share
            (reasons if share >= TOLD_FROM else faint).append((weighed.weight * share, why))
        elif knows or also:
            counted += weighed.weight * MISSING_COUNTS
            got += weighed.weight * MISSING_COUNTS * MISSING_SHARE
    share = min(got / counted, 1.0) if counted else 0.0
    if (follows := _follow_up(one, other)) is not None:
        share += FOLLOWS * (1.0 - share)
        reasons.append((counted, follows))
    reasons.sort(key=lambda reason: (-reason[0], reason[1]))
    if not reasons and faint and max(faint)[0] > 0.0:
        reasons = [max(faint)]  # whatever there is to say, rather than a number without a reason
    return 100.0 * share, tuple(why for _, why in reasons)


def _follow_up(one: JobSheet, other: JobSheet) -> str | None:
    """Say that two jobs are one story: the same machine, by its whole name, in the shop again within weeks."""
    if not (one.machine and other.machine and one.opened_on and other.opened_on):
        return None
    days = abs((date.fromisoformat(one.opened_on) - date.fromisoformat(other.opened_on)).days)
    same = one.machine.casefold() == other.machine.casefold()
    return f"{one.machine} again, {days} days apart" if same and 0 < days <= FOLLOWS_DAYS else None


# Texts ----------------------------------------------------------------------------------------------------------------


def bag_likeness(first: Iterable[str], second: Iterable[str], sense: Sense) -> float:
    """Return the cosine of two texts' meanings, each weighed by how much it tells; 0 where either says nothing."""
    one, other = _with_families(frozenset(first)), _with_families(frozenset(second))
    if one == other:
        return 1.0 if one else 0.0
    shared = sense.square_of_both(one, other)
    return min(1.0, shared / math.sqrt(sense.square(one) * sense.square(other))) if shared else 0.0


@lru_cache(maxsize=8192)
def _with_families(bag: frozenset[str]) -> frozenset[str]:
    larger, topics = families(), tells_of()
    return bag | {
        mark + known[meaning]
        for mark, known in ((_FAMILY, larger), (_TOPIC, topics))
        for meaning in bag
        if meaning in known
    }


def _text(name: str, label: str) -> Callable[[JobSheet, JobSheet, Sense], tuple[float, str]]:
    def compare(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
        first, second = sorted((getattr(one, name), getattr(other, name)))
        if first.casefold() == second.casefold():
            return 1.0, f"same {label}: {first}"
        share = bag_likeness(meanings_of(first), meanings_of(second), sense)
        return share, f"{label} alike: {first} / {second}"

    return compare


def _machine(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    first, second = sorted((one.machine or "", other.machine or ""))
    if first.casefold() == second.casefold():
        return 1.0, f"same machine: {first}"
    bags = [[_NAMES + each if each[0].isdigit() else each for each in meanings_of(text)] for text in (first, second)]
    return bag_likeness(bags[0], bags[1], sense), f"machine alike: {first} / {second}"


def _has(name: str) -> Callable[[JobSheet], bool]:
    return lambda job: bool(getattr(job, name))


def _trouble_texts(job: JobSheet) -> list[str]:
    return [one.trouble for one in job.troubles if one.trouble]


def _troubles(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    first, second = _trouble_texts(one), _trouble_texts(other)
    pairs = {(a, b): bag_likeness(meanings_of(a), meanings_of(b), sense) for a in first for b in second}
    here = sum(max(pairs[a, b] for b in second) for a in first) / len(first)
    there = sum(max(pairs[a, b] for a in first) for b in second) / len(second)
    best = max(pairs, key=lambda pair: (pairs[pair], sorted(pair)))
    share = (here + there) / 2
    if pairs[best] >= TOLD_FROM > share:
        share_told = pairs[best]  # one trouble of several is the same: worth saying, though the jobs differ otherwise
        return max(share, share_told / 2), _trouble_reason(best)
    return share, _trouble_reason(best)


def _trouble_reason(pair: tuple[str, str]) -> str:
    first, second = sorted(pair)
    return f"same trouble: {first}" if first.casefold() == second.casefold() else f"trouble alike: {first} / {second}"


@lru_cache(maxsize=4096)
def _said(job: JobSheet) -> frozenset[str]:
    """Everything that is said of the work: people put the same thing into different fields."""
    texts = [job.work, job.notes or "", *(part.note or "" for part in job.parts)]
    texts += [text for one in job.troubles for text in (one.trouble, one.remedy) if text]
    return frozenset(meaning for text in texts for meaning in meanings_of(text))


def words_likeness(first: frozenset[str], second: frozenset[str], sense: Sense) -> float:
    """Return how alike two accounts are: half their cosine, half how much of the shorter one the longer one says.

    What a morning's sheet says of a job is short; the record of a job that was done is not.
    """
    one, other = _with_families(first), _with_families(second)
    least = min(sense.square(one), sense.square(other))
    told = sense.square_of_both(one, other) / least if least else 0.0
    return (bag_likeness(first, second, sense) + min(1.0, told)) / 2


def _words(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    first, second = _said(one), _said(other)
    shared = sorted(first & second, key=lambda meaning: (-sense.weight(meaning), meaning))
    if not shared:
        larger = sorted(each[1:] for each in (_with_families(first) & _with_families(second)))
        return words_likeness(first, second, sense), f"both are about {', '.join(larger)}"
    return words_likeness(first, second, sense), f"both speak of {', '.join(shared[:6])}"


@lru_cache(maxsize=4096)
def _account(job: JobSheet) -> str:
    """Return all words of a job as one text, whatever field they stand in."""
    texts = [job.work, job.notes or "", *(text for one in job.troubles for text in (one.trouble, one.remedy) if text)]
    return ". ".join(sorted(text for text in (*texts, *(part.part_no for part in job.parts), *job.accessories) if text))


def _plain_words(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    share = closeness(_account(one), _account(other))
    return share, f"{'much the same' if share >= TOLD_FROM else 'something alike'} is said in other words"


# Numbers and lists ----------------------------------------------------------------------------------------------------


def _ribs(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    few, many = sorted((one.ribs or 0, other.ribs or 0))
    share = max(0.0, 1.0 - (many - few) / 4)
    return share, f"{few} ribs both" if few == many else f"{few} and {many} ribs"


def _length(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    off = abs((one.belt_length_mm or 0.0) - (other.belt_length_mm or 0.0))
    return max(0.0, 1.0 - off / 150.0), f"belts {both_text(off)} apart in length" if off else "belts of the same length"


def _profile(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    same = (one.profile or "").casefold() == (other.profile or "").casefold()
    return float(same), f"profile {min(one.profile or '', other.profile or '')} both"


def _accessories(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    first, second = (
        frozenset(" ".join(meanings_of(text)) or text.casefold() for text in job.accessories) for job in (one, other)
    )
    return _dice(first, second), f"both drive {', '.join(sorted(first & second))}"


def _parts(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    spelt: dict[str, str] = {}
    for part in (*one.parts, *other.parts):
        code = normalise_code(part.part_no)
        spelt[code] = min(spelt.get(code, part.part_no), part.part_no)
    first, second = (frozenset(normalise_code(part.part_no) for part in job.parts) for job in (one, other))
    return _dice(first, second), f"parts shared: {', '.join(sorted(spelt[code] for code in first & second))}"


def _dice(first: frozenset[str], second: frozenset[str]) -> float:
    return 2 * len(first & second) / (len(first) + len(second))


def _drive(one: JobSheet, other: JobSheet, sense: Sense) -> tuple[float, str]:
    first, second = sorted((one.drive or "", other.drive or ""))
    if first.casefold() == second.casefold():
        return 1.0, f"the same drive: {first}"
    shapes = [sense.shapes.get(name.casefold()) for name in (first, second)]
    if shapes[0] is None or shapes[1] is None:
        # Drives that are not on the shelf are told apart by their names only.
        return bag_likeness(meanings_of(first), meanings_of(second), sense), f"drives alike: {first} / {second}"
    return shape_likeness(shapes[0], shapes[1])


WEIGHTS: tuple[Weighed, ...] = (
    Weighed("words", 8.0, "people put the same thing into different fields", lambda job: bool(_said(job)), _words),
    Weighed(
        "plain words", 6.0, "no list knows every word that people use", lambda job: says(_account(job)), _plain_words
    ),
    Weighed(
        "troubles", 4.0, "what went wrong is what is asked about", lambda job: bool(_trouble_texts(job)), _troubles
    ),
    Weighed("work", 1.5, "the same work meets the same snags", _has("work"), _text("work", "work")),
    Weighed("parts", 1.0, "the same part behaves the same", _has("parts"), _parts),
    Weighed("drive", 1.0, "the same shape of drive takes the same belts", _has("drive"), _drive),
    Weighed(
        "machine", 0.4, "the same machine has the same front, whatever is wrong with it", _has("machine"), _machine
    ),
    Weighed("accessories", 0.4, "what is driven sets the drive's shape", _has("accessories"), _accessories),
    Weighed("engine", 0.25, "brackets and centres go with the engine", _has("engine"), _text("engine", "engine")),
    Weighed("length", 0.25, "length goes with the drive's size", _has("belt_length_mm"), _length),
    Weighed("ribs", 0.15, "ribs go with the load", _has("ribs"), _ribs),
    Weighed("profile", 0.05, "belts of other profiles do not replace each other", _has("profile"), _profile),
)
"""The weights, each with its reason: our own weighing, tried on two sets of tests/bench/bench_similar.py; no source."""
