"""The standard tables as they stand in the package, typed; every row names its source and how sure it is.

Rows whose status begins ``checked:`` were compared with something outside and may carry hard checks; rows ``from memory``
are shown as such and only ever warn. :func:`table` gives a table's rows as they stand, for what is shown as it stands.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from kb.mechanics.belt_lengths import LengthTolerance

_FRACTION = re.compile(r"([0-9]+)/([0-9]+)")
_STEP = re.compile(r"effective length tolerance, ([0-9.]+) < L_e <= ([0-9.]+) mm")


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a table, such as ``threads``; ``FileNotFoundError`` if there is no such table."""
    text = (files("kb.reference") / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def is_checked(row: dict[str, str]) -> bool:
    """Whether a row was checked against something outside; rows from memory only ever warn."""
    return row["status"].startswith("checked:")


def number(text: str) -> float | None:
    """Return a table cell's number, ``None`` where it is empty."""
    return float(text) if text else None


def number_if_one(text: str) -> float | None:
    """Return a cell's number, ``None`` where it is empty or says something else, such as a formula.

    >>> number_if_one("11/16"), number_if_one("(n-1)e + 2f")
    (0.6875, None)
    """
    fraction = _FRACTION.fullmatch(text)
    if fraction is not None:
        return int(fraction[1]) / int(fraction[2])
    try:
        return float(text)
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class _Sourced:
    """What every row has: a note, where it comes from, and how sure it is."""

    note: str
    source: str
    status: str

    @property
    def checked(self) -> bool:
        """Whether the row was checked against something outside."""
        return self.status.startswith("checked:")


@dataclass(frozen=True, slots=True)
class ThreadRow(_Sourced):
    """One family's thread for one size; for pipe threads the nominal male diameter is what ``note`` says it is."""

    family: str
    gender_and_use: str
    dash: str
    tube_outside_diameter_mm: float | None
    thread: str
    thread_standard: str
    threads_per_inch: float
    pitch_mm: float
    male_major_nominal_mm: float
    male_major_max_mm: float
    female_minor_basic_mm: float
    seat_half_angle_deg: float | None
    seat_included_angle_deg: float | None
    sealing: str
    same_thread_families: tuple[str, ...]

    @property
    def taper(self) -> bool:
        """Whether the thread is a 1:16 taper."""
        return self.gender_and_use.startswith("taper")


@dataclass(frozen=True, slots=True)
class ProfileRow(_Sourced):
    """One quantity of a belt or groove profile; ``value`` is ``None`` where the cell holds words or a formula."""

    profile: str
    kind: str
    quantity: str
    symbol: str
    written: str
    value: float | None
    unit: str
    limit: str


@dataclass(frozen=True, slots=True)
class HoseSizeRow(_Sourced):
    """A size of hose or clamp; ``smallest_mm`` and ``largest_mm`` are a clamp's band."""

    table: str
    size: str
    quantity: str
    value_in: float | None
    value_mm: float | None
    smallest_mm: float | None
    largest_mm: float | None
    min_bend_radius_mm: float | None


@dataclass(frozen=True, slots=True)
class PracticeLimit(_Sourced):
    """A limit of good practice; ``low`` and ``high`` are ``None`` where empty or words, which ``*_written`` keeps.

    ``note`` is the table's caution.
    """

    topic: str
    parameter: str
    low_written: str
    high_written: str
    low: float | None
    high: float | None
    unit: str
    comparison: str
    applies_to: str
    confidence: str


@dataclass(frozen=True, slots=True)
class FreezeRow(_Sourced):
    """The freezing point of one glycol and water mixture; ``row_type`` tells tables from cross-checks and warnings."""

    glycol: str
    row_type: str
    volume_percent: float | None
    mass_percent: float | None
    freeze_c: float | None
    comparison_freeze_c: float | None


def _sourced(row: dict[str, str], note: str = "note") -> tuple[str, str, str]:
    return row[note], row["source"], row["status"]


@cache
def threads() -> tuple[ThreadRow, ...]:
    """Return the thread table."""
    return tuple(
        ThreadRow(
            *_sourced(row),
            family=row["family"],
            gender_and_use=row["gender_and_use"],
            dash=row["dash"],
            tube_outside_diameter_mm=number(row["nominal_tube_od_mm"]),
            thread=row["thread"],
            thread_standard=row["thread_standard"],
            threads_per_inch=float(row["threads_per_inch"]),
            pitch_mm=float(row["pitch_mm"]),
            male_major_nominal_mm=float(row["male_major_nominal_mm"]),
            male_major_max_mm=float(row["male_major_max_mm"]),
            female_minor_basic_mm=float(row["female_minor_basic_mm"]),
            seat_half_angle_deg=number(row["seat_half_angle_deg"]),
            seat_included_angle_deg=number(row["seat_included_angle_deg"]),
            sealing=row["sealing"],
            same_thread_families=tuple(name for name in row["same_thread_families"].split("; ") if name),
        )
        for row in table("threads")
    )


@cache
def belt_profiles() -> tuple[ProfileRow, ...]:
    """Return the belt and groove profiles, a row per quantity."""
    return tuple(
        ProfileRow(
            *_sourced(row),
            profile=row["profile"],
            kind=row["kind"],
            quantity=row["quantity"],
            symbol=row["symbol"],
            written=row["value"],
            value=number_if_one(row["value"]),
            unit=row["unit"],
            limit=row["tolerance_or_limit"],
        )
        for row in table("belt_profiles")
    )


@cache
def hose_sizes() -> tuple[HoseSizeRow, ...]:
    """Return the sizes of hoses and clamps."""
    return tuple(
        HoseSizeRow(
            *_sourced(row),
            table=row["table"],
            size=row["dash_or_size"],
            quantity=row["quantity"],
            value_in=number(row["value_in"]),
            value_mm=number(row["value_mm"]),
            smallest_mm=number(row["min_mm"]),
            largest_mm=number(row["max_mm"]),
            min_bend_radius_mm=number(row["min_bend_radius_mm"]),
        )
        for row in table("hose_sizes")
    )


@cache
def practice_limits() -> tuple[PracticeLimit, ...]:
    """Return the limits of good practice."""
    return tuple(
        PracticeLimit(
            *_sourced(row, "caution"),
            topic=row["topic"],
            parameter=row["parameter"],
            low_written=row["value_low"],
            high_written=row["value_high"],
            low=number_if_one(row["value_low"]),
            high=number_if_one(row["value_high"]),
            unit=row["unit"],
            comparison=row["comparison"],
            applies_to=row["applies_to"],
            confidence=row["confidence"],
        )
        for row in table("practice_limits")
    )


@cache
def coolant_freeze() -> tuple[FreezeRow, ...]:
    """Return the freezing points of glycol and water, cross-checks and warnings among them: look at ``row_type``."""
    return tuple(
        FreezeRow(
            *_sourced(row),
            glycol=row["glycol"],
            row_type=row["row_type"],
            volume_percent=number(row["vol_percent"]),
            mass_percent=number(row["mass_percent"]),
            freeze_c=number(row["freeze_C"]),
            comparison_freeze_c=number(row["comparison_freeze_C"]),
        )
        for row in table("coolant_freeze")
    )


def profile_row(profile: str, quantity: str) -> ProfileRow:
    """Return one row of :func:`belt_profiles`; ``LookupError`` where the table has none.

    >>> profile_row("PK", "groove pitch").checked
    True
    """
    for row in belt_profiles():
        if (row.profile, row.quantity) == (profile, quantity):
            return row
    raise LookupError(f"the table of belt profiles has no {quantity!r} for {profile!r}")


def profile_value(profile: str, quantity: str) -> float:
    """Return one number of :func:`belt_profiles`, in the row's unit; ``LookupError`` where the table has none.

    >>> profile_value("PK", "groove pitch")
    3.56
    """
    row = profile_row(profile, quantity)
    if row.value is None:
        raise LookupError(f"the table's {quantity!r} for {profile!r} is no number: {row.written!r}")
    return row.value


@cache
def length_tolerances(profile: str) -> tuple[LengthTolerance, ...]:
    """Return the steps of a profile's length tolerance, shortest first; empty where the table has none.

    >>> [(step.up_to_mm, step.tolerance_mm, step.checked) for step in length_tolerances("PK")][:1]
    [(1000.0, 5.0, False)]
    """
    steps = []
    for row in belt_profiles():
        step = _STEP.fullmatch(row.quantity)
        if row.profile == profile and step is not None and row.value is not None:
            steps.append(LengthTolerance(float(step[1]), float(step[2]), row.value, row.checked, row.source))
    return tuple(sorted(steps, key=lambda step: step.over_mm))
