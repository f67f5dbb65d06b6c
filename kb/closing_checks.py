"""Which checks close a job, told from what was done, and which of its measurements answers which check.

The checks stand in ``reference/closing_checks.csv``; their limits in ``practice_limits.csv``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from kb.reference.tables import number, table
from kb.sheets.job_sheet import JobLater, JobMeasurement, JobSheet
from kb.trade_words import meanings_of

EVERY = "*"


@dataclass(frozen=True, slots=True)
class Check:
    """One check. ``kind``: ``number``, ``words``, or one that needs more than its own measurement; ``later`` if it waits."""

    name: str
    applies_to: frozenset[str]
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
            frozenset(_listed(row["applies_to"])),
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
    for phrase in check.not_if:
        if phrase in meant or phrase in said:
            return False
    return bool(check.applies_to & meant)


def measurement_for(check: Check, job: JobSheet) -> JobMeasurement | None:
    """Return the job's measurement that answers a check: by the check's own name, else by words that mean the same."""
    for one in job.measurements:
        if one.name.casefold() == check.name.casefold():
            return one
    best: tuple[int, JobMeasurement] | None = None
    for one in job.measurements:
        meant = set(meanings_of(one.name))
        for asked in check.named_by:
            if asked and asked <= meant and (best is None or len(asked) > best[0]):
                best = (len(asked), one)
    return best[1] if best else None


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
