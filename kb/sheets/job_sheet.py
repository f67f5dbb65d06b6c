"""What is known of one job, as typed objects: the whole of it is what a revision keeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

OLD_PARTS = ("returned", "kept", "scrapped", "deposit due")
"""What became of the part that came off: back to the customer, kept in the shop, thrown out, owed to the supplier."""


@dataclass(frozen=True, slots=True)
class JobPart:
    """A part that a job used, what it was ordered by, and what became of the old one (:data:`OLD_PARTS`).

    ``ordered_by``: a donor machine, its build range, a parts list, a measurement.
    """

    part_no: str
    supplier: str | None = None
    quantity: float | None = None
    ordered_by: str | None = None
    note: str | None = None
    old_part: str | None = None


@dataclass(frozen=True, slots=True)
class JobTrouble:
    """What went wrong, what was done about it, the hours it cost, and whether that solved it."""

    trouble: str | None
    remedy: str | None = None
    hours_lost: float | None = None
    solved: bool | None = None


@dataclass(frozen=True, slots=True)
class JobMeasurement:
    """What was measured, as found and as left, as written."""

    name: str
    unit: str | None = None
    as_found: str | None = None
    as_left: str | None = None


@dataclass(frozen=True, slots=True)
class JobLater:
    """What must be looked at again: on a day, or after so many hours of running; ``done_on`` once it was."""

    check: str
    due_on: str | None = None
    after_hours: float | None = None
    done_on: str | None = None
    found: str | None = None

    @property
    def due(self) -> str:
        """When it is due, in words.

        >>> JobLater("clamps", "2026-06-08", 2.0).due
        'on 2026-06-08, or after 2 h of running'
        """
        said = [f"on {self.due_on}"] if self.due_on else []
        said += [f"after {self.after_hours:g} h of running"] if self.after_hours is not None else []
        return ", or ".join(said) or "no day was set"


_ADDED = ("hours_worked", "later")
"""Fields that came after the first revisions were stored: left out of a content that does not use them."""


@dataclass(frozen=True, slots=True)
class JobSheet:
    """One job; ``id`` is ``None`` for a job that is only asked about. Lengths in millimetres, hours in hours."""

    id: str | None
    work: str
    opened_on: str | None = None
    closed_on: str | None = None
    bay: str | None = None
    machine: str | None = None
    engine: str | None = None
    outcome: str | None = None
    notes: str | None = None
    accessories: tuple[str, ...] = ()
    profile: str | None = None
    ribs: int | None = None
    belt_length_mm: float | None = None
    drive: str | None = None
    parts: tuple[JobPart, ...] = ()
    troubles: tuple[JobTrouble, ...] = ()
    measurements: tuple[JobMeasurement, ...] = ()
    hours_worked: float | None = None
    later: tuple[JobLater, ...] = ()
    customer: str | None = field(default=None, repr=False)
    private_note: str | None = field(default=None, repr=False)

    @property
    def title(self) -> str:
        """The job in a line: which machine, and what was done."""
        return f"{self.machine}: {self.work}" if self.machine else self.work

    @property
    def words(self) -> str:
        """Everything that was said of the job in words, private fields left out."""
        said: list[str | None] = [self.work, self.machine, self.engine, self.bay, self.drive, *self.accessories]
        said += [f"{self.ribs}{self.profile or ' ribs'}" if self.ribs else None]
        for part in self.parts:
            said += [part.part_no, part.supplier, part.ordered_by, part.note]
        for trouble in self.troubles:
            said += [trouble.trouble, trouble.remedy]
        said += [measurement.name for measurement in self.measurements]
        return " ".join(one for one in [*said, self.outcome, self.notes] if one)

    @property
    def still_open(self) -> tuple[JobLater, ...]:
        """What is still to be looked at: it keeps the job open."""
        return tuple(one for one in self.later if one.done_on is None)

    def content(self) -> dict[str, Any]:
        """Return everything but the private fields, as plain values: what a revision keeps."""
        whole = asdict(self)
        del whole["customer"], whole["private_note"]
        for name in _ADDED:
            if not whole[name]:
                del whole[name]
        for part in whole["parts"]:
            if part["old_part"] is None:
                del part["old_part"]
        return whole


def job_of_content(content: Mapping[str, Any]) -> JobSheet:
    """Return the job that a revision kept; what a newer version added and this one does not know is left out.

    >>> job = JobSheet("N-1", "belt in", parts=(JobPart("00123"),), later=(JobLater("clamps"),))
    >>> job_of_content(job.content()) == job
    True
    """
    values = _known(JobSheet, content)
    for name, kind in _LISTS.items():
        values[name] = tuple(kind(**_known(kind, one)) for one in values.get(name, ()))
    values["accessories"] = tuple(values.get("accessories", ()))
    return JobSheet(**values)


_LISTS: dict[str, Any] = {
    "parts": JobPart,
    "troubles": JobTrouble,
    "measurements": JobMeasurement,
    "later": JobLater,
}
_NAMES: dict[Any, frozenset[str]] = {
    kind: frozenset(one.name for one in fields(kind)) for kind in (JobSheet, *_LISTS.values())
}


def _known(kind: Any, values: Mapping[str, Any]) -> dict[str, Any]:
    names = _NAMES[kind]
    return {name: value for name, value in values.items() if name in names}
