"""What to watch for before a job: jobs like it, what went wrong and what cured it, what to have and to measure first."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from statistics import median

from kb.closing_checks import checks_for, measurement_for
from kb.fields import KINDS
from kb.limits import overrides
from kb.mechanics.proportion import wilson_interval
from kb.reference.tables import table
from kb.sheets.job_sheet import JobSheet
from kb.trade_words import meanings_of
from queries.closing import OUTSIDE, AlternatorSpeed, closing_rows, state_of
from queries.jobs import Alike, alike
from queries.likeness import PLAIN, bag_likeness
from queries.morning_parts import InHand, Makes, in_hand, makers

MOST_JOBS = 12
ALIKE_FROM = 50.0
"""From which likeness a job is counted as like this one, and no less than :data:`OF_BEST` of the likest.

Of the answers that tests/bench/bench_similar.py gets at 50 to 55, about half are of the asked job's kind."""

OF_BEST = 0.6
SAME_TROUBLE = 0.55
"""From which likeness of their meanings two texts are counted as one trouble: our own choice, no source."""


@dataclass(frozen=True, slots=True)
class Share:
    """A count of few: ``count`` of ``of``, and the 95 per cent Wilson interval of the share, in per cent."""

    count: int
    of: int
    low_percent: float
    high_percent: float

    @property
    def says(self) -> str:
        """The count in words.

        >>> share(3, 7).says
        '3 of 7 jobs (16 to 75 % of such jobs)'
        """
        jobs = "job" if self.of == 1 else "jobs"
        return f"{self.count} of {self.of} {jobs} ({self.low_percent:.0f} to {self.high_percent:.0f} % of such jobs)"


def share(count: int, of: int) -> Share:
    """Return a count with its interval."""
    low, high = wilson_interval(count, of)
    return Share(count, of, round(100 * low, 1), round(100 * high, 1))


@dataclass(slots=True)
class Trouble:
    """One trouble of the jobs like this one. ``cured`` and ``not_cured``: remedies with how many jobs say so."""

    trouble: str
    share: Share
    hours_lost: float
    hours_each: float | None
    jobs: list[str]
    cured: list[tuple[str, int]] = field(default_factory=list)
    not_cured: list[tuple[str, int]] = field(default_factory=list)
    not_said: list[tuple[str, int]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Measure:
    """What to measure first, why, and how."""

    what: str
    why: str
    how: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Morning:
    """The morning list."""

    asked: str
    jobs: list[dict[str, object]]
    troubles: list[Trouble]
    together: list[dict[str, str]]
    measure: list[Measure]
    in_hand: list[InHand]
    makers: list[Makes]
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        whole = asdict(self)
        for one in whole["troubles"]:
            for name in ("cured", "not_cured", "not_said"):
                one[name] = [{"remedy": remedy, "jobs": jobs} for remedy, jobs in one[name]]
        whole["notes"] = list(self.notes)
        return whole


def ask_morning(connection: sqlite3.Connection, asked: JobSheet) -> Morning:
    """Return the morning list of a job that is only asked about, or that is on the shelf already."""
    found = _like_this(alike(connection, asked))
    jobs = [job for _, _, job, _ in found]
    notes = []
    if not jobs:
        notes.append("No job on the shelf is like this one: what follows comes from the work alone.")
    elif len(jobs) < 5:
        notes.append("So few jobs say little: the intervals are wide.")
    unsaid = [job.id for job in jobs if job.outcome is None]
    if unsaid:
        notes.append(f"Still open, so they may yet go wrong: {', '.join(filter(None, unsaid))}.")
    return Morning(
        asked.title or "; ".join(one.trouble or "" for one in asked.troubles),
        [
            {"id": job.id, "title": job.title, "opened_on": job.opened_on, "outcome": job.outcome,
             "likeness": round(score, 1), "because": list(because)}
            for score, _, job, because in found
        ],
        troubles_of(jobs),
        _together(asked, jobs),
        _measure_first(connection, asked, jobs),
        in_hand(connection, jobs),
        makers(connection, asked, jobs),
        tuple(notes),
    )  # fmt: skip


def _like_this(found: Sequence[Alike]) -> list[Alike]:
    if not found:
        return []
    least = max(ALIKE_FROM, OF_BEST * found[0][0])
    return [one for one in found[:MOST_JOBS] if one[0] >= least]


# Troubles -------------------------------------------------------------------------------------------------------------


def troubles_of(jobs: Sequence[JobSheet]) -> list[Trouble]:
    """Return the troubles of jobs, those of most jobs first, then those that cost most; a job counts once for each."""
    groups: list[list[tuple[JobSheet, int]]] = []
    said = sorted(
        ((job, place) for job in jobs for place, one in enumerate(job.troubles) if one.trouble),
        key=lambda each: (each[0].troubles[each[1]].trouble or "", each[0].id or ""),
    )
    for job, place in said:
        text = job.troubles[place].trouble or ""
        group = next((one for one in groups if _same_trouble(text, one)), None)
        if group is None:
            groups.append([(job, place)])
        else:
            group.append((job, place))
    found = [_trouble(group, len(jobs)) for group in groups]
    return sorted(found, key=lambda one: (-one.share.count, -one.hours_lost, one.trouble))


def _same_trouble(text: str, group: Iterable[tuple[JobSheet, int]]) -> bool:
    first, place = next(iter(group))
    other = first.troubles[place].trouble or ""
    return text.casefold() == other.casefold() or (
        bag_likeness(meanings_of(text), meanings_of(other), PLAIN) >= SAME_TROUBLE
    )


def _trouble(group: list[tuple[JobSheet, int]], of: int) -> Trouble:
    entries = [job.troubles[place] for job, place in group]
    names = sorted({job.id or "" for job, _ in group})
    texts = Counter(one.trouble or "" for one in entries)
    hours = [one.hours_lost for one in entries if one.hours_lost is not None]
    told = Trouble(
        min(texts, key=lambda text: (-texts[text], len(text), text)), share(len(names), of), round(sum(hours), 2),
        median(hours) if hours else None, names,
    )  # fmt: skip
    for solved, into in ((True, told.cured), (False, told.not_cured), (None, told.not_said)):
        counted = Counter(one.remedy for one in entries if one.remedy and one.solved is solved)
        into += sorted(
            ((remedy, count) for remedy, count in counted.items() if remedy), key=lambda one: (-one[1], one[0])
        )
    return told


# What goes together, what to measure ----------------------------------------------------------------------------------


def _about(asked: JobSheet) -> set[str]:
    texts = [asked.work, *asked.accessories, *(one.trouble or "" for one in asked.troubles)]
    return {meaning for text in texts for meaning in meanings_of(text)}


def _together(asked: JobSheet, jobs: Sequence[JobSheet]) -> list[dict[str, str]]:
    """Return what must go in together: by the trade's habit for this work, and what past jobs always used together."""
    work = set(meanings_of(asked.work))
    found = [
        {"when": row["when"], "goes_with": row["goes_with"], "why": row["why"],
         "source": f"{row['source']} ({row['status']})"}
        for row in table("parts_together")
        if row["when"] in work and not (row["when"] == "v-belt" and "ribbed" in work)
    ]  # fmt: skip
    pairs: Counter[tuple[str, str]] = Counter()
    alone: Counter[str] = Counter()
    for job in jobs:
        names = sorted({part.part_no for part in job.parts})
        alone.update(names)
        pairs.update((one, other) for place, one in enumerate(names) for other in names[place + 1 :])
    for (one, other), count in sorted(pairs.items(), key=lambda each: (-each[1], each[0])):
        if count >= 2 and count >= 0.6 * max(alone[one], alone[other]):
            told = share(count, len(jobs))
            found.append(
                {"when": one, "goes_with": other, "why": f"used together in {told.says}", "source": "the shelf's jobs"}
            )
    return found


def _measure_first(connection: sqlite3.Connection, asked: JobSheet, jobs: Sequence[JobSheet]) -> list[Measure]:
    found = []
    if {"belt", "ribbed", "v-belt"} & _about(asked):
        for name, known in (("ribs", asked.ribs), ("belt_length_mm", asked.belt_length_mm)):
            if known is None:
                belt = KINDS["belt"].field("effective_length_mm" if name == "belt_length_mm" else name)
                found.append(Measure(belt.label.lower(), "the sheet does not say it yet", belt.how))
        if asked.drive is None:
            found.append(
                Measure("the drive's layout", "the sheet names no drive", "Centres, diameters, faces: a drive sheet.")
            )
    own = overrides(connection)
    silent = AlternatorSpeed(None, "")
    wanted: list[tuple[int, int, Measure]] = []
    for place, check in enumerate(one for one in checks_for(asked) if one.kind not in ("later", "words", "drive")):
        measured = [job for job in jobs if measurement_for(check, job) is not None]
        rows = [row for job in measured for row in closing_rows(job, own, silent) if row.check == check.name]
        outside = sum(
            row.found_value is not None and state_of(row.found_value, row.low, row.high) == OUTSIDE for row in rows
        )
        why = (
            f"as found it was outside in {share(outside, len(rows)).says}"
            if outside
            else "the closing checks ask for it"
        )
        wanted.append((-outside, place, Measure(check.name, why + ": measure it before anything comes off", check.how,
                                                check.caution)))  # fmt: skip
    return found + [one for _, _, one in sorted(wanted, key=lambda each: each[:2])]
