"""The closing checks of a job: what its work asks for, what was measured, what is outside, and what must be seen again."""

from __future__ import annotations

import json
import re
import sqlite3
from dataclasses import asdict, dataclass, replace

from kb.closing_checks import Check, all_checks, ambient_of, checks_for, later_looks, measurement_for
from kb.errors import AnswerError, BayshelfError, MeasurementError
from kb.limits import Limit, Overrides, limit_of, overrides
from kb.measure import QUANTITIES, read
from kb.sheets.job_sheet import JobLater, JobMeasurement, JobSheet, job_of_content
from kb.trade_words import meanings_of
from queries.answers import Answer

WITHIN, OUTSIDE, NOT_MEASURED = "within", "outside", "not measured"
_QUANTITY = {
    "deg": "angle", "%": "percent", "mm": "length", "V": "voltage", "rpm": "speed", "degF": "temperature",
    "degC": "temperature", "psi": "pressure", "inHg": "pressure",
}  # fmt: skip
_24_V_FROM = 18.0
"""Volts from which a reading is a 24 V system's: no 12 V system reaches it, no 24 V system that runs falls so far."""
_CHARGING = {
    12: ("12 V regulated voltage, 25 degC", "taken as a 12 V system by its reading"),
    24: (
        "24 V regulated range, nominal 27.5 V unit",
        "taken as a 24 V system by its reading; a unit set to 28.5 V reads 1 V more",
    ),
}
_AMBIENTS_F = (70, 80, 90, 100, 110)
_SHORT_WORDS = frozenset({"no", "yes", "none", "0"})
"""Answers that mean what they say only when they stand alone: "no play" is no "no"."""


@dataclass(frozen=True, slots=True)
class ClosingRow:
    """One check. ``value``, ``low``, ``high`` in ``unit``; ``warns_only`` where the limit has no checked source."""

    check: str
    value: float | None
    unit: str
    low: float | None
    high: float | None
    state: str
    source: str
    warns_only: bool = False
    as_found: str | None = None
    as_left: str | None = None
    found_value: float | None = None
    why: str = ""
    how: str = ""
    caution: str = ""
    due_on: str | None = None
    after_hours: float | None = None
    done_on: str | None = None
    later: bool = False

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return asdict(self)

    @property
    def limit_text(self) -> str:
        """The limits in words, empty where there are none."""
        if self.low is not None and self.high is not None:
            return (
                f"{self.low:g} to {self.high:g} {self.unit}" if self.low != self.high else f"{self.low:g} {self.unit}"
            )
        if self.low is not None:
            return f"at least {self.low:g} {self.unit}"
        return f"at most {self.high:g} {self.unit}" if self.high is not None else ""


def ask_closing(connection: sqlite3.Connection, job_id: str) -> Answer[ClosingRow]:
    """Return a job's closing checks, what is outside or missing first. Raises :class:`~kb.errors.AnswerError`."""
    job = stored_job(connection, job_id)
    rows = closing_rows(job, overrides(connection), alternator_idle(connection, job))
    waits = job.still_open
    missing = sum(row.state == NOT_MEASURED for row in rows)
    outside = sum(row.state == OUTSIDE for row in rows)
    notes = [f"{outside} outside, {missing} not measured, {len(rows) - outside - missing} within."]
    if any(row.state == OUTSIDE and row.warns_only for row in rows):
        notes.append("A limit from memory or of the trade's habit only warns: see its source.")
    if waits:
        notes.append(f"{job.id} stays open until these are done: " + "; ".join(one.check for one in waits) + ".")
    return Answer(rows, understood=f"the closing checks of {job.id}: {job.title}", notes=tuple(notes))


def stored_job(connection: sqlite3.Connection, job_id: str) -> JobSheet:
    """Return a job by its id, without its private fields. Raises :class:`~kb.errors.AnswerError`."""
    row = connection.execute(
        "SELECT content FROM job JOIN job_revision ON job_revision.id = job.revision WHERE job.id = ? COLLATE NOCASE "
        "ORDER BY job.id <> ? LIMIT 1",
        (job_id, job_id),
    ).fetchone()
    if row is None:
        raise AnswerError(f"there is no job {job_id!r} on the shelf.", do="`bayshelf jobs` lists them.")
    return job_of_content(json.loads(row[0]))


@dataclass(frozen=True, slots=True)
class DueRow:
    """What keeps one job open: a look that is still to come, or that it has no outcome yet."""

    job: str
    title: str
    bay: str | None
    check: str
    due_on: str | None
    after_hours: float | None
    due: str

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return asdict(self)


def ask_due(connection: sqlite3.Connection) -> Answer[DueRow]:
    """Return what keeps jobs open, what is due first first; jobs without an outcome at the end, the oldest first."""
    stored = connection.execute(
        "SELECT content FROM job JOIN job_revision ON job_revision.id = job.revision "
        "WHERE outcome IS NULL OR content LIKE '%\"later\"%' ORDER BY opened_on, job.id"
    )
    rows = []
    for (content,) in stored:
        job = job_of_content(json.loads(content))
        waits = [(one.check, one.due_on, one.after_hours, one.due) for one in job.still_open]
        if job.outcome is None:
            waits.append(("no outcome yet", None, None, "not finished"))
        rows += [DueRow(job.id or "", job.title, job.bay, *one) for one in waits]
    rows.sort(key=lambda row: (row.check == "no outcome yet", row.due_on is None, row.due_on or ""))
    return Answer(rows, understood="what keeps jobs open, the soonest first")


@dataclass(frozen=True, slots=True)
class AlternatorSpeed:
    """How fast the alternator turns at idle, by the drive on the shelf; or why that is not known."""

    rpm: float | None
    says: str


def alternator_idle(connection: sqlite3.Connection, job: JobSheet) -> AlternatorSpeed:
    """Return the alternator's speed at idle from the job's drive sheet: idle speed times the pitch diameters' ratio."""
    if job.drive is None:
        return AlternatorSpeed(None, "the job names no drive sheet")
    from kb.sheets.drive_numbers import path_pulleys
    from queries.drives import stored_drive

    try:
        sheet = stored_drive(connection, job.drive)
        numbers = path_pulleys(sheet, [(0.0, 0.0)] * len(sheet.pulleys))  # ratios need no centres
    except BayshelfError as error:
        return AlternatorSpeed(None, f"drive {job.drive!r}: {error.what}")
    place = next((n for n, one in enumerate(sheet.pulleys) if "alternator" in meanings_of(one.name)), None)
    if place is None:
        return AlternatorSpeed(None, f"drive {sheet.name!r} turns no alternator")
    ratio = numbers.speed_ratios[place]
    if sheet.idle_rpm is None:
        return AlternatorSpeed(None, f"drive {sheet.name!r} does not say its idle speed; the ratio is {ratio:.2f}")
    rpm = sheet.idle_rpm * ratio
    return AlternatorSpeed(rpm, f"{sheet.idle_rpm:g} rpm idle × {ratio:.2f} by drive {sheet.name!r}: {rpm:.0f} rpm")


def closing_rows(job: JobSheet, own: Overrides, alternator: AlternatorSpeed) -> list[ClosingRow]:
    """Return the rows of a job: outside first, then what is missing, then within; each group in the order of the work."""
    rows = [_row(check, job, own, alternator) for check in checks_for(job) if check.kind != "later"]
    rows += [_later_row(one) for one in (*job.later, *later_looks(job))]
    order = {OUTSIDE: 0, NOT_MEASURED: 2, WITHIN: 3}
    return sorted(rows, key=lambda row: order[row.state] + (row.state == OUTSIDE and row.warns_only))


def _row(check: Check, job: JobSheet, own: Overrides, alternator: AlternatorSpeed) -> ClosingRow:
    measured = measurement_for(check, job)
    row = ClosingRow(
        check.name, None, check.unit, None, None, NOT_MEASURED, check.source, how=check.how, caution=check.caution,
        as_found=_as_written(measured, "as_found"), as_left=_as_written(measured, "as_left"),
    )  # fmt: skip
    if check.kind == "words":
        return _by_words(row, check, measured)
    if check.kind == "vent":
        measured = measured or _vent_below_ambient(job)
    left, why = _number(measured, check, "as_left")
    found, _ = _number(measured, check, "as_found")
    if check.kind == "drive" and left is None and alternator.rpm is not None:
        left = round(alternator.rpm, 1)
    limit, said = _limit(check, job, own, left if left is not None else found)
    told = [alternator.says if check.kind == "drive" and measured is None else why, said]
    if check.kind == "charging" and left is not None:
        told.append(f"alternator: {alternator.says}")
    row = replace(row, value=left, found_value=found, why="; ".join(filter(None, told)))
    if limit is not None:
        state = row.state if left is None else state_of(left, limit.low, limit.high)
        row = replace(row, low=limit.low, high=limit.high, source=limit.says, warns_only=limit.warns_only, state=state)
    return _by_words(row, check, measured) if left is None else row


def state_of(value: float, low: float | None, high: float | None) -> str:
    """Return where a value lies; an end itself is within."""
    return OUTSIDE if (low is not None and value < low) or (high is not None and value > high) else WITHIN


def _as_written(measured: JobMeasurement | None, name: str) -> str | None:
    if measured is None or getattr(measured, name) is None:
        return None
    text: str = getattr(measured, name)
    return f"{text} {measured.unit}" if measured.unit and _is_bare(text) else text


def _is_bare(text: str) -> bool:
    return text[-1:].isdigit() or text[-1:] in "⅛¼⅜½⅝¾⅞"


def _number(measured: JobMeasurement | None, check: Check, name: str) -> tuple[float | None, str]:
    """Return a measurement in the check's unit, rounded as it is shown; else ``None`` and, where it was a number, why."""
    text = getattr(measured, name) if measured is not None else None
    if not text or not re.search(r"\d|[⅛¼⅜½⅝¾⅞]", text) or text.casefold() in check.good | check.bad:
        return None, ""
    assert measured is not None
    quantity = QUANTITIES[_QUANTITY[check.unit]]
    unit = measured.unit or check.unit
    scale, offset, _ = quantity.table[check.unit]
    try:
        number = read(f"{text} {unit}" if _is_bare(text) else text, quantity)
        if check.kind == "vent":
            # A difference of temperatures has no zero point.
            zero = quantity.table["degF" if "f" in unit.casefold() else "degC"][1]
            return round((number - zero) / scale, 3), ""
        return round((number - offset) / scale, 3), ""
    except MeasurementError as error:
        return None, error.what


def _vent_below_ambient(job: JobSheet) -> JobMeasurement | None:
    """Work the difference out from vent and ambient air, where both were measured."""
    vent = next((one for one in job.measurements if {"vent", "temperature"} <= set(meanings_of(one.name))), None)
    ambient = ambient_of(job)
    degrees = [_fahrenheit(one) for one in (vent, ambient)]
    if degrees[0] is None or degrees[1] is None:
        return None
    return JobMeasurement("vent temperature below ambient", "degF", None, f"{degrees[1] - degrees[0]:.1f}")


def _fahrenheit(measured: JobMeasurement | None) -> float | None:
    text = measured and (measured.as_left or measured.as_found)
    if not measured or not text:
        return None
    quantity = QUANTITIES["temperature"]
    scale, offset, _ = quantity.table["degF"]
    try:
        return (read(f"{text} {measured.unit or 'degF'}" if _is_bare(text) else text, quantity) - offset) / scale
    except MeasurementError:
        return None


def _limit(check: Check, job: JobSheet, own: Overrides, value: float | None) -> tuple[Limit | None, str]:
    """Return the limit that holds, and what was taken for granted in choosing it."""
    if check.kind == "charging":
        if value is None:
            return None, ""
        parameter, said = _CHARGING[24 if value >= _24_V_FROM else 12]
        return limit_of(check.topic, parameter, own), said
    if check.kind == "ambient":
        ambient = _fahrenheit(ambient_of(job))
        if ambient is None:
            return None, "write the ambient temperature as its own measurement: the limit goes by it"
        nearest = min(_AMBIENTS_F, key=lambda each: abs(each - ambient))
        if abs(nearest - ambient) > 5.0:
            return None, f"no limit is listed for {ambient:.0f} °F outside"
        said = f"for {nearest} °F outside, a guide only: weight is the measure of charge; R-134a with expansion valve or tube"
        return limit_of(check.topic, check.parameter.format(nearest), own), said
    return limit_of(check.topic, check.parameter, own), ""


def _by_words(row: ClosingRow, check: Check, measured: JobMeasurement | None) -> ClosingRow:
    """Judge an answer in words: what means well, what means ill; anything else is asked for again."""
    text = measured.as_left if measured is not None else None
    if not text or row.why:
        return row
    plain = " ".join(text.casefold().split()).strip(" .!")
    for state, phrases in ((OUTSIDE, check.bad), (WITHIN, check.good)):
        if plain in phrases:
            return replace(row, state=state)
    begins = [
        (len(phrase), state)
        for state, phrases in ((OUTSIDE, check.bad), (WITHIN, check.good))
        for phrase in phrases
        if phrase not in _SHORT_WORDS and re.match(rf"{re.escape(phrase)}\b", plain)
    ]
    if begins:
        return replace(row, state=max(begins)[1])
    known = ", ".join(sorted(check.good)[:3])
    return replace(row, why=f"{text!r} is not understood: write {known}, or what is wrong" if known else row.why)


def _later_row(one: JobLater) -> ClosingRow:
    check = next((each for each in all_checks() if each.name.casefold() == one.check.casefold()), None)
    row = ClosingRow(
        one.check, None, "", None, None, NOT_MEASURED, check.source if check else "the shop's own",
        how=check.how if check else "", caution=check.caution if check else "", due_on=one.due_on,
        after_hours=one.after_hours, done_on=one.done_on, later=True, as_left=one.found,
    )  # fmt: skip
    if one.done_on is None:
        return replace(row, why=f"to be looked at {one.due}")
    judged = row
    if check is not None and one.found:
        judged = _by_words(row, check, JobMeasurement(one.check, None, None, one.found))
    if judged.state == NOT_MEASURED and one.found and check is not None:
        return replace(judged, done_on=one.done_on)
    state = judged.state if judged.state != NOT_MEASURED else WITHIN
    return replace(judged, state=state, why="; ".join(filter(None, (f"done on {one.done_on}", one.found))))
