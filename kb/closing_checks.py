"""Which checks close a job, told from what was done, and which of its measurements answers which check.

The checks stand in ``reference/closing_checks.csv``; their limits in ``practice_limits.csv``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, lru_cache

from kb.reference.tables import number, table
from kb.sheets.job_sheet import JobLater, JobMeasurement, JobSheet
from kb.trade_words import meanings_of

EVERY = "*"


@dataclass(frozen=True, slots=True)
class Check:
    """One check. ``kind``: ``number``, ``words``, or one that needs more than its own measurement; ``later`` if it waits."""

    name: str
    applies_to: frozenset[str]
    may_apply_to: frozenset[str]
    """Meanings that could be of something else: ``not_if`` counts against these alone."""
    not_if: tuple[str, ...]
    named_by: tuple[frozenset[str], ...]
    how: str
    kind: str
    unit: str
    topic: str
    parameter: str
    good: frozenset[str]
    bad: frozenset[str]
    caution: str
    later_days: int | None
    later_hours: float | None
    source: str


@cache
def all_checks() -> tuple[Check, ...]:
    """Return every check, in the order in which a job is closed."""
    return tuple(
        Check(
            row["check"],
            frozenset(one for one in _listed(row["applies_to"]) if not one.endswith("?")),
            frozenset(one.removesuffix("?") for one in _listed(row["applies_to"]) if one.endswith("?")),
            tuple(_listed(row["not_if"])),
            tuple(frozenset(meanings_of(text)) for text in _listed(row["named_by"])),
            row["how"],
            row["kind"],
            row["unit"],
            row["topic"],
            row["parameter"],
            frozenset(_listed(row["good"])),
            frozenset(_listed(row["bad"])),
            row["caution"],
            int(row["later_days"]) if row["later_days"] else None,
            number(row["later_hours"]),
            f"{row['source']} ({row['status']})",
        )
        for row in table("closing_checks")
    )


def _listed(text: str) -> list[str]:
    return [one.strip() for one in text.split(";") if one.strip()]


def checks_for(job: JobSheet) -> list[Check]:
    """Return the checks that a job's work asks for, and those that its measurements answer anyway."""
    said = _said(job).casefold()
    about = set(meanings_of(said))
    if job.ribs is not None or job.belt_length_mm is not None:
        about.add("ribbed")
    return [
        check
        for check in all_checks()
        if _applies(check, about, said) or (check.kind != "later" and measurement_for(check, job) is not None)
    ]


def _said(job: JobSheet) -> str:
    """What the work touched: not what it merely drives, since an alternator on the engine was not worked on."""
    troubles = [text for one in job.troubles for text in (one.trouble, one.remedy) if text]
    notes = [part.note for part in job.parts if part.note]
    return " . ".join([job.work, *troubles, *notes])


def _applies(check: Check, about: Iterable[str], said: str) -> bool:
    if EVERY in check.applies_to:
        return True
    meant = set(about)
    if check.applies_to & meant:
        return True
    return bool(check.may_apply_to & meant) and not any(phrase in meant or phrase in said for phrase in check.not_if)


def measurement_for(check: Check, job: JobSheet) -> JobMeasurement | None:
    """Return the job's measurement that answers a check: by the check's own name, else by words that mean the same.

    A measurement answers one check only.
    """
    return _answers(job.measurements).get(check.name)


@lru_cache(maxsize=1024)
def _answers(measurements: tuple[JobMeasurement, ...]) -> dict[str, JobMeasurement]:
    """Return which measurement answers which check, the surest pairs first."""
    pairs = []
    for place, one in enumerate(measurements):
        meant = frozenset(meanings_of(one.name))
        for order, check in enumerate(all_checks()):
            sure = _sureness(check, one.name, meant)
            if sure:
                pairs.append((-sure, order, place))
    found: dict[str, JobMeasurement] = {}
    used: set[int] = set()
    for _, order, place in sorted(pairs):
        name = all_checks()[order].name
        if name not in found and place not in used:
            found[name] = measurements[place]
            used.add(place)
    return found


def _sureness(check: Check, name: str, meant: frozenset[str]) -> float:
    """How sure a measurement's name means a check: 2 for its own name, else the share of the name that the check asks for."""
    if name.casefold() == check.name.casefold():
        return 2.0
    shares = [len(asked) / len(meant) for asked in check.named_by if asked and asked <= meant]
    best = max(shares, default=0.0)
    return best if best >= _HALF else 0.0


_HALF = 0.5


def ambient_of(job: JobSheet) -> JobMeasurement | None:
    """Return the job's measurement of the air outside, if it has one."""
    return next((one for one in job.measurements if "ambient" in meanings_of(one.name)
                 and not {"vent", "below"} & set(one.name.casefold().split())), None)  # fmt: skip


def later_looks(job: JobSheet) -> tuple[JobLater, ...]:
    """Return what a job's work says must be looked at again and the job does not list yet, with days and hours.

    Counted from the day it was closed, else opened; without a day only the hours are set. Common practice, no source.
    """
    listed = {frozenset(meanings_of(one.check)) for one in job.later}
    start = job.closed_on or job.opened_on
    found = []
    for check in checks_for(job):
        if check.kind != "later" or frozenset(meanings_of(check.name)) in listed:
            continue
        due = None
        if start and check.later_days is not None:
            due = (date.fromisoformat(start) + timedelta(days=check.later_days)).isoformat()
        found.append(JobLater(check.name, due, check.later_hours))
    return tuple(found)
