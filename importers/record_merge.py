"""What a form adds to a job: field by field, entry by entry, with what changed in words, and never over someone else's word.

A form that was written from a state of the job says only what it changes against that state. Where someone else changed the
same thing meanwhile, it is refused: nobody's word is overwritten unseen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

from kb.errors import ShelfError
from kb.sheets.job_form import CLEARED, Entry, JobForm
from kb.sheets.job_sheet import JobSheet
from kb.spelling import normalise_code

_PRIVATE = ("customer", "private_note")
_SCALARS = (*(name for name in CLEARED if name not in _PRIVATE), "work")
_LABELS = {"belt_length_mm": "belt length", "hours_worked": "hours worked", "accessories": "drives"}
_KEY_FIELD = {"parts": "part_no", "troubles": "trouble", "measurements": "name", "later": "check"}
_ONE = {"parts": "part", "troubles": "trouble", "measurements": "measured", "later": "look again"}


@dataclass(slots=True)
class Merged:
    """The job as it is with the form's word, and what changed, in words; private fields are named, not shown."""

    job: JobSheet
    changes: list[str] = field(default_factory=list)


def merge_form(form: JobForm, current: JobSheet | None, base: JobSheet | None) -> Merged:
    """Add a form to a job as it stands; ``base`` is the state the form was written from, where it names one.

    Raises :class:`~kb.errors.ShelfError` where the form and someone else changed the same thing since ``base``, or where an
    entry is not there to be corrected or taken out.
    """
    job = current or JobSheet(form.job.id, form.job.work)
    merged = Merged(job)
    if current is None:
        merged.changes.append(f"a new job: {form.job.work}")
    _Scalars(form, merged, base).merge()
    for name in _KEY_FIELD:
        _List(form, merged, base, name).merge()
    return merged


@dataclass(slots=True)
class _Scalars:
    form: JobForm
    merged: Merged
    base: JobSheet | None

    def merge(self) -> None:
        """Take over the single fields, then empty those that are to be emptied."""
        for name in (*_SCALARS, *_PRIVATE):
            value = getattr(self.form.job, name)
            if value not in (None, "", ()):
                self._set(name, value)
        for name in self.form.clear:
            empty = () if name == "accessories" else None
            if getattr(self.merged.job, name) != empty:
                self._set(name, empty)

    def _set(self, name: str, value: Any) -> None:
        now = getattr(self.merged.job, name)
        if value == now:
            return
        if self.base is not None and name not in _PRIVATE:
            before = getattr(self.base, name)
            if value == before:
                return
            if now != before:
                raise _conflict(self.form, _label(name), _said(now), _said(value))
        self.merged.job = replace(self.merged.job, **{name: value})
        now, value = _with_unit(name, now), _with_unit(name, value)
        if name in _PRIVATE:
            self.merged.changes.append(f"{_label(name)}: changed")
        elif not (name == "work" and now == ""):
            was = f" (was: {_said(now)})" if now not in (None, "", ()) else ""
            self.merged.changes.append(f"{_label(name)}: {_said(value)}{was}")


@dataclass(slots=True)
class _List:
    form: JobForm
    merged: Merged
    base: JobSheet | None
    name: str

    def merge(self) -> None:
        """Take over a list's entries."""
        entries: list[Any] = list(getattr(self.merged.job, self.name))
        used: set[int] = set()
        for entry in self.form.entries[self.name]:
            before = self._base_entry(entry)
            place = self._place(entries, used, before if before is not None else entry.value)
            if entry.take_out:
                self._take_out(entries, place, entry)
            elif place is None:
                if before is not None and entry.value == before:
                    continue  # taken out by someone since the form was written, and not touched in it
                used.add(len(entries))
                entries.append(entry.value)
                self._tell(f"{self._title(entry.value)} added")
            else:
                used.add(place)
                entries[place] = self._changed(entries[place], before, entry.value)
        kept: dict[str, Any] = {self.name: tuple(one for one in entries if one is not None)}
        self.merged.job = replace(self.merged.job, **kept)

    def _base_entry(self, entry: Entry) -> Any:
        """The entry that this one corrects, as the form's writer saw it."""
        if entry.row is None:
            return None
        known = getattr(self.base, self.name) if self.base is not None else ()
        if entry.row > len(known):
            raise ShelfError(
                f"{_ONE[self.name]} row {entry.row} is not in the state that the form was written from.",
                where=self.form.name,
                do="Leave `row` and `revision` as they were written, or write a new form with `record new --from JOB`.",
            )
        return known[entry.row - 1]

    def _place(self, entries: Sequence[Any], used: set[int], wanted: Any) -> int | None:
        free = [place for place, one in enumerate(entries) if one is not None and place not in used]
        exact = [place for place in free if entries[place] == wanted]
        same = exact or [place for place in free if self._same(entries[place], wanted)]
        return same[0] if same else None

    def _same(self, one: Any, other: Any) -> bool:
        name = _KEY_FIELD[self.name]
        first, second = getattr(one, name), getattr(other, name)
        if self.name != "parts":
            return (first or "").casefold() == (second or "").casefold() and (first or one == other)
        suppliers = {each.supplier.casefold() for each in (one, other) if each.supplier}
        return normalise_code(first) == normalise_code(second) and len(suppliers) < 2

    def _take_out(self, entries: list[Any], place: int | None, entry: Entry) -> None:
        if place is None:
            raise ShelfError(
                f"{self._title(entry.value)} is not on the job: it cannot be taken out.",
                where=self.form.name,
                do="`bayshelf record show JOB` shows what is.",
            )
        self._tell(f"{self._title(entries[place])} taken out")
        entries[place] = None

    def _changed(self, now: Any, before: Any, said: Any) -> Any:
        """Return an entry with what the form says otherwise."""
        changed: dict[str, Any] = {}
        for each in fields(now):
            value, there = getattr(said, each.name), getattr(now, each.name)
            if value is None or value == there or (before is None and each.name == _KEY_FIELD[self.name]):
                continue  # without a row to correct, the name only says which entry is meant
            if before is not None:
                seen = getattr(before, each.name)
                if value == seen:
                    continue
                if there != seen:
                    what = f"{self._title(now)}, {_label(each.name)}"
                    raise _conflict(self.form, what, _said(there), _said(value))
            changed[each.name] = value
            was = f" (was: {_said(there)})" if there is not None else ""
            self._tell(f"{self._title(now)}, {_label(each.name)}: {_said(value)}{was}")
        return replace(now, **changed)

    def _title(self, value: Any) -> str:
        return (
            f"{_ONE[self.name]} {getattr(value, _KEY_FIELD[self.name]) or getattr(value, 'remedy', None) or ''}".strip()
        )

    def _tell(self, change: str) -> None:
        self.merged.changes.append(change)


def _label(name: str) -> str:
    return _LABELS.get(name, name.replace("_", " "))


def _with_unit(name: str, value: Any) -> Any:
    return f"{value:.10g} mm" if name.endswith("_mm") and value is not None else value


def _said(value: Any) -> str:
    if value in (None, "", ()):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(value)
    return f"{value:.10g}" if isinstance(value, (int, float)) else str(value)


def _conflict(form: JobForm, what: str, now: str, said: str) -> ShelfError:
    return ShelfError(
        f"since this form was written, {what} was changed to {now}; the form says {said}.",
        where=form.name,
        do="Write a new form with `record new OUT --from JOB`, or take the line `revision` out: then the form's word stands.",
    )


def changes_between(before: JobSheet | None, after: JobSheet) -> list[str]:
    """Return in words what changed from one state of a job to the next; private fields are in no state."""
    if before is None:
        return [f"a new job: {after.work}"]
    found: list[str] = []
    for name in _SCALARS:
        old, new = (_with_unit(name, getattr(state, name)) for state in (before, after))
        if old != new:
            was = f" (was: {_said(old)})" if old not in (None, "", ()) else ""
            found.append(f"{_label(name)}: {_said(new)}{was}")
    for name, key in _KEY_FIELD.items():
        old_ones, new_ones = list(getattr(before, name)), list(getattr(after, name))
        for one in list(new_ones):
            if one in old_ones:
                old_ones.remove(one)
                new_ones.remove(one)
        for one in new_ones:
            earlier = next((each for each in old_ones if getattr(each, key) == getattr(one, key)), None)
            title = f"{_ONE[name]} {getattr(one, key) or ''}".strip()
            if earlier is None:
                found.append(f"{title} added")
                continue
            old_ones.remove(earlier)
            found += [
                f"{title}, {_label(each.name)}: {_said(getattr(one, each.name))} (was: {_said(getattr(earlier, each.name))})"
                for each in fields(one)
                if getattr(one, each.name) != getattr(earlier, each.name)
            ]
        found += [f"{_ONE[name]} {getattr(one, key) or ''}".strip() + " taken out" for one in old_ones]
    return found
