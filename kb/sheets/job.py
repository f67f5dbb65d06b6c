"""A job as one typed object, from a single job's TOML sheet or from what a row of a job sheet says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from kb.errors import BayshelfError, SheetError
from kb.fields import JOB, OUTCOMES
from kb.measure import QUANTITIES, read
from kb.sheets.job_sheet import OLD_PARTS, JobLater, JobMeasurement, JobPart, JobSheet, JobTrouble, job_of_content
from kb.sheets.toml_text import file_text, parsed

__all__ = [
    "JobLater", "JobMeasurement", "JobPart", "JobSheet", "JobTrouble", "job_from_tables", "job_from_text",
    "job_of_content", "read_job", "tables_of",
]  # fmt: skip

_KEYS = (
    "job", "opened_on", "closed_on", "bay", "machine", "engine", "work", "outcome", "notes", "accessories", "profile",
    "ribs", "belt_length", "drive", "unit", "part", "trouble", "measurement", "hours_worked", "later", "private",
)  # fmt: skip
_PART_KEYS = ("part_no", "supplier", "quantity", "ordered_by", "old_part", "note")
_TROUBLE_KEYS = ("trouble", "remedy", "hours_lost", "solved")
_MEASUREMENT_KEYS = ("name", "unit", "as_found", "as_left")
_LATER_KEYS = ("check", "due_on", "after_hours", "done_on", "found")
_PRIVATE_KEYS = ("customer", "note")

Places = Mapping[str, Sequence[str]]
"""Of each list where its tables stand, for messages: by default ``part 1``, ``part 2`` …"""


def read_job(source: Path) -> JobSheet:
    """Read a single job's TOML sheet. Raises :class:`~kb.errors.SheetError` naming the table and key."""
    return job_from_text(file_text(source, source.name, "job", SheetError), source.name)


def job_from_text(text: str, name: str) -> JobSheet:
    """Read a single job from the text of its TOML sheet; ``name`` is the file's, for messages."""
    return job_from_tables(tables_of(text, name), name)


def tables_of(text: str, name: str) -> dict[str, Any]:
    """Read TOML; raises :class:`~kb.errors.SheetError` naming the file."""
    return parsed(text, name, "job", SheetError)


def job_from_tables(
    data: Mapping[str, Any], name: str, *, places: Places | None = None, whole: bool = True
) -> JobSheet:
    """Read a job from its tables, as TOML or a form gives them; ``name`` and ``places`` are for messages.

    ``whole``: the work must be said; a form that adds to a job need not say it again (then it is ``""``).
    """
    _known_keys(data, _KEYS, name)
    unit = data.get("unit", "mm")
    if unit not in ("mm", "in"):
        raise SheetError(f"unit = {unit!r} is neither mm nor in.", where=name, do='Write unit = "in" or "mm".')
    work = _text(data, "work", name)
    if not work and whole:
        raise SheetError("`work` is missing.", where=name, do='Say what is done, such as work = "ribbed belt in".')
    private = data.get("private", {})
    _known_keys(private, _PRIVATE_KEYS, f"{name}, [private]")
    return JobSheet(
        id=_text(data, "job", name),
        work=work or "",
        opened_on=_day(data, "opened_on", name),
        closed_on=_day(data, "closed_on", name),
        bay=_text(data, "bay", name),
        machine=_text(data, "machine", name),
        engine=_text(data, "engine", name),
        outcome=_outcome(data, name),
        notes=_text(data, "notes", name),
        accessories=_texts(data, "accessories", name),
        profile=_text(data, "profile", name),
        ribs=_number(data, "ribs", "count", name),
        belt_length_mm=_number(data, "belt_length", "length", name, unit=unit, field_name="belt_length_mm"),
        drive=_text(data, "drive", name),
        parts=tuple(_part(*each) for each in _placed(data, "part", name, places)),
        troubles=tuple(_trouble(*each) for each in _placed(data, "trouble", name, places)),
        measurements=tuple(_measurement(*each) for each in _placed(data, "measurement", name, places)),
        hours_worked=_number(data, "hours_worked", "hours", name, low=0.0),
        later=tuple(_later(*each) for each in _placed(data, "later", name, places)),
        customer=_text(private, "customer", name),
        private_note=_text(private, "note", name),
    )


def _placed(data: Mapping[str, Any], key: str, name: str, places: Places | None) -> list[tuple[Mapping[str, Any], str]]:
    """Return a list's tables, each with where it stands."""
    tables = _tables(data, key, name)
    named = (places or {}).get(key) or [f"{name}, {key} {number}" for number in range(1, len(tables) + 1)]
    return list(zip(tables, named, strict=True))


def _part(table: Mapping[str, Any], where: str) -> JobPart:
    _known_keys(table, _PART_KEYS, where)
    part_no = _text(table, "part_no", where)
    if not part_no:
        raise SheetError("`part_no` is missing.", where=where, do='A part number is text: part_no = "00123".')
    quantity = _number(table, "quantity", "number", where, low=0.0)
    if quantity == 0:
        raise SheetError("a quantity of 0 is no part.", where=f"{where}, quantity", do="Say how many, or leave it out.")
    return JobPart(
        part_no,
        _text(table, "supplier", where),
        quantity,
        _text(table, "ordered_by", where),
        _text(table, "note", where),
        _choice(table, "old_part", OLD_PARTS, where),
    )


def _trouble(table: Mapping[str, Any], where: str) -> JobTrouble:
    _known_keys(table, _TROUBLE_KEYS, where)
    solved = table.get("solved")
    if solved is not None and not isinstance(solved, bool):
        raise SheetError(f"solved = {solved!r} is neither true nor false.", where=where, do="Write true or false.")
    trouble = JobTrouble(
        _text(table, "trouble", where),
        _text(table, "remedy", where),
        _number(table, "hours_lost", "hours", where, low=0.0),
        solved,
    )
    if trouble.trouble is None and trouble.remedy is None and trouble.hours_lost is None:
        raise SheetError("says nothing.", where=where, do="Give trouble, remedy or hours_lost.")
    return trouble


def _measurement(table: Mapping[str, Any], where: str) -> JobMeasurement:
    _known_keys(table, _MEASUREMENT_KEYS, where)
    name = _text(table, "name", where)
    if not name:
        raise SheetError("`name` is missing.", where=where, do='Say what was measured: name = "charging voltage".')
    return JobMeasurement(
        name, _text(table, "unit", where), _written(table, "as_found", where), _written(table, "as_left", where)
    )


def _later(table: Mapping[str, Any], where: str) -> JobLater:
    _known_keys(table, _LATER_KEYS, where)
    check = _text(table, "check", where)
    if not check:
        raise SheetError("`check` is missing.", where=where, do='Say what is looked at again: check = "hose clamps".')
    return JobLater(
        check,
        _day(table, "due_on", where),
        _number(table, "after_hours", "hours", where, low=0.0),
        _day(table, "done_on", where),
        _written(table, "found", where),
    )


def _choice(table: Mapping[str, Any], key: str, choices: Sequence[str], where: str) -> str | None:
    text = _text(table, key, where)
    if text is None:
        return None
    for choice in choices:
        if text.casefold() == choice.casefold():
            return choice
    raise SheetError(f"{key} = {text!r} is no choice.", where=where, do=f"Known: {', '.join(choices)}.")


def _known_keys(table: Any, known: Iterable[str], where: str) -> None:
    if not isinstance(table, Mapping):
        raise SheetError("should be a table.", where=where, do="Write it in [brackets].")
    for key in table:
        if key not in known:
            near = get_close_matches(key, list(known), n=1)
            hint = f"Did you mean `{near[0]}`?" if near else f"Known: {', '.join(known)}."
            raise SheetError(f"`{key}` is not known here.", where=where, do=hint)


def _tables(data: Mapping[str, Any], key: str, name: str) -> list[Mapping[str, Any]]:
    tables = data.get(key, [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise SheetError(f"`{key}` should be a table of its own.", where=name, do=f"Write [[{key}]] above its lines.")
    return tables


def _text(table: Mapping[str, Any], key: str, where: str) -> str | None:
    value = table.get(key)
    if value is None:
        return None
    if not isinstance(value, str):
        raise SheetError(f"{key} = {value!r} is not text.", where=where, do=f'Put it in quotes: {key} = "{value}".')
    return " ".join(value.split()) or None


def _written(table: Mapping[str, Any], key: str, where: str) -> str | None:
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, (str, int, float, type(None))):
        raise SheetError(f"{key} = {value!r} is no measurement.", where=where, do="Write a number or a text.")
    return None if value is None else " ".join(str(value).split()) or None


def _texts(table: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
    value = table.get(key, [])
    if isinstance(value, str):
        value = value.split(";")
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise SheetError(f"{key} should be a list of texts.", where=where, do=f'Write {key} = ["…", "…"].')
    return tuple(" ".join(one.split()) for one in value if one.strip())


def _day(table: Mapping[str, Any], key: str, where: str) -> str | None:
    from datetime import date, datetime

    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    try:
        return date.fromisoformat(str(value)).isoformat()
    except ValueError:
        raise SheetError(f"{key} = {value!r} is no day.", where=where, do=f"Write {key} = 2025-03-14.") from None


def _outcome(data: Mapping[str, Any], name: str) -> str | None:
    text = _text(data, "outcome", name)
    if text is None:
        return None
    meaning = OUTCOMES.get(text.casefold())
    if meaning is None:
        known = ", ".join(dict.fromkeys(OUTCOMES.values()))
        raise SheetError(f"outcome = {text!r} is none of the three.", where=name, do=f"Known: {known}.")
    return meaning


def _number(
    table: Mapping[str, Any],
    key: str,
    quantity: str,
    where: str,
    *,
    unit: str | None = None,
    field_name: str | None = None,
    low: float | None = None,
) -> Any:
    value = table.get(key)
    if value is None:
        return None
    declared = {one.name: one for one in JOB.fields}.get(field_name or key)
    low = declared.low if declared else low
    try:
        number = read(value, QUANTITIES[quantity], unit=unit, low=low, high=declared.high if declared else None)
    except BayshelfError as error:
        raise SheetError(str(error), where=f"{where}, {key}") from error
    return int(number) if quantity == "count" else number
