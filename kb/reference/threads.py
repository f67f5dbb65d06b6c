"""The thread table as distinct threads: one form, diameter, pitch and taper each, with every family that uses it."""

from __future__ import annotations

import re
from functools import cache

from kb.mechanics.threads import Thread, Use, large_end_r_mm
from kb.reference.tables import ThreadRow, threads

_SMALL_END = re.compile(r"(?:the thread measures|the male end measures about) ([0-9.]+) mm")

Key = tuple[float, float, float, bool]


def form_deg(row: ThreadRow) -> float:
    """Return the angle between flanks: 55 for ISO 228-1 and ISO 7-1 (Whitworth form), 60 for all else in the table."""
    return 55.0 if row.thread_standard.startswith(("ISO 228", "ISO 7-1")) else 60.0


def thread_key(row: ThreadRow) -> Key:
    """Return what makes two rows the same thread: form, nominal diameter, pitch, taper."""
    return form_deg(row), row.male_major_nominal_mm, row.pitch_mm, row.taper


def male_ends_mm(row: ThreadRow) -> tuple[float, float]:
    """Return the crest diameters at a male thread's small and large end, the same for a parallel thread.

    What a taper's nominal diameter is stands in the row's note: for NPT and NPTF the pipe's outside diameter, for R the
    gauge plane. The small end stands there too (for R from a gauge length that is from memory). ``LookupError`` where a
    taper's note does not say it.
    """
    nominal = row.male_major_nominal_mm
    if not row.taper:
        return nominal, nominal
    small = _SMALL_END.search(row.note)
    if small is None:
        raise LookupError(f"the note of {row.thread} does not say what its small end measures")
    return float(small[1]), nominal if form_deg(row) == 60.0 else large_end_r_mm(nominal, row.pitch_mm)


def female_ends_mm(row: ThreadRow) -> tuple[float, float]:
    """Return the minor diameters deep inside and at the mouth of a female thread.

    The table's diameter of a taper is at the plane where a fitting stands hand-tight, which is the mouth; it narrows
    inwards by as much as the male thread does to its small end from there.
    """
    mouth = row.female_minor_basic_mm
    if not row.taper:
        return mouth, mouth
    small, _ = male_ends_mm(row)
    return mouth - (row.male_major_nominal_mm - small), mouth


@cache
def thread_candidates() -> tuple[Thread, ...]:
    """Return every distinct thread of the table, in the table's order, its families in that order too.

    >>> seven_eighths = next(thread for thread in thread_candidates() if thread.name == "7/8-14 UNF")
    >>> [use.dash for use in seven_eighths.uses], seven_eighths.checked
    (['-10', '-10', '-10', '-10'], True)
    """
    groups: dict[Key, list[ThreadRow]] = {}
    for row in threads():
        groups.setdefault(thread_key(row), []).append(row)
    return tuple(_thread(rows) for rows in groups.values())


def _thread(rows: list[ThreadRow]) -> Thread:
    first = rows[0]
    male_small, male_large = male_ends_mm(first)
    female_small, female_large = female_ends_mm(first)
    return Thread(
        name=" = ".join(dict.fromkeys(row.thread for row in rows)),
        form_deg=form_deg(first),
        nominal_mm=first.male_major_nominal_mm,
        pitch_mm=first.pitch_mm,
        taper=first.taper,
        male_small_mm=male_small,
        male_large_mm=male_large,
        female_small_mm=female_small,
        female_large_mm=female_large,
        allowance_mm=first.male_major_nominal_mm - first.male_major_max_mm,
        uses=tuple(_use(row) for row in rows),
    )


def _use(row: ThreadRow) -> Use:
    return Use(
        family=row.family,
        gender_and_use=row.gender_and_use,
        dash=row.dash,
        thread=row.thread,
        seat_half_deg=row.seat_half_angle_deg,
        sealing=row.sealing,
        tube_outside_mm=row.tube_outside_diameter_mm,
        standard=row.source,
        note=row.note,
        checked=row.checked,
    )
