"""The practice limits, each with where it comes from; a shop's own values stand in place of the package's."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from kb.errors import AnswerError
from kb.reference.tables import is_checked, number, table

TABLE = "practice_limits"
BOUNDS = ("value_low", "value_high")
Overrides = Mapping[tuple[str, str], tuple[str, str]]
"""By (row's key, column): the shop's value as text, and its reason."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One practice limit, in ``unit``; an end that is ``None`` is open. ``warns_only``: no outside source was checked."""

    topic: str
    parameter: str
    low: float | None
    high: float | None
    unit: str
    source: str
    status: str
    caution: str = ""
    applies_to: str = ""

    @property
    def key(self) -> str:
        """What a shop's own value is kept under."""
        return key_of(self.topic, self.parameter)

    @property
    def warns_only(self) -> bool:
        """Whether the limit rests on memory or habit: then being outside it is a warning, no verdict."""
        return not self.status.startswith(("checked:", "the shop's own"))

    @property
    def range_text(self) -> str:
        """The range in words.

        >>> Limit("fan", "gap", 19.0, None, "mm", "", "").range_text
        'at least 19 mm'
        """
        if self.low is not None and self.high is not None:
            return (
                f"{self.low:g} to {self.high:g} {self.unit}" if self.low != self.high else f"{self.low:g} {self.unit}"
            )
        return f"at least {self.low:g} {self.unit}" if self.low is not None else f"at most {self.high:g} {self.unit}"

    @property
    def says(self) -> str:
        """Where the limit comes from, and how sure that is."""
        return self.source if self.status.startswith("the shop") else f"{self.source} ({self.status})"


def key_of(topic: str, parameter: str) -> str:
    """Return the name of a limit: its topic and what it limits."""
    return f"{topic}: {parameter}"


def overrides(connection: sqlite3.Connection) -> dict[tuple[str, str], tuple[str, str]]:
    """Return the values that the shop set itself."""
    rows = connection.execute(
        "SELECT row_key, column_name, value, reason FROM reference_override WHERE table_name = ?", (TABLE,)
    )
    return {(key, column): (value, reason) for key, column, value, reason in rows}


def limit_of(topic: str, parameter: str, own: Overrides | None = None) -> Limit | None:
    """Return a limit by its name; ``None`` where the table has no such row or its ends are no numbers."""
    for row in table(TABLE):
        if row["topic"] == topic and row["parameter"] == parameter:
            return _limit(row, own or {})
    return None


def find_limit(said: str) -> Limit:
    """Return the package's limit that a person named, by key or parameter. Raises :class:`AnswerError` with the nearest."""
    rows = {key_of(row["topic"], row["parameter"]): row for row in table(TABLE)}
    by_parameter = {row["parameter"]: key for key, row in rows.items()}
    key = said if said in rows else by_parameter.get(said)
    if key is None:
        near = get_close_matches(said, [*rows, *by_parameter], n=3, cutoff=0.4)
        hint = "The nearest: " + "; ".join(near) + "." if near else "`bayshelf record limit --list` shows them all."
        raise AnswerError(f"there is no practice limit {said!r}.", do=hint)
    found = _limit(rows[key], {})
    if found is None:
        raise AnswerError(f"the limit {key!r} is no plain number.", do="It cannot be set.")
    return found


def all_limits(own: Overrides | None = None) -> list[Limit]:
    """Return every limit whose ends are plain numbers, the shop's own values in place."""
    return [found for row in table(TABLE) if (found := _limit(row, own or {})) is not None]


def _limit(row: dict[str, str], own: Overrides) -> Limit | None:
    key = key_of(row["topic"], row["parameter"])
    ends: list[float | None] = []
    reasons: list[str] = []
    for column in BOUNDS:
        text = row[column]
        if (key, column) in own:
            text, reason = own[key, column]
            reasons.append(reason)
        try:
            ends.append(number(text))
        except ValueError:
            return None
    low, high = ends
    if not reasons and low is not None and high is not None:
        # A bound with two values gives what light and heavy cases ask for: the milder one holds for all.
        low = None if row["comparison"] == "<=" else low
        high = None if row["comparison"] == ">=" else high
    if low is None and high is None:
        return None
    source, status = row["source"], row["status"]
    if reasons:
        was = source if is_checked(row) else f"{source}, {status}"
        source, status = f"the shop's own: {reasons[0]} (instead of {was})", "the shop's own"
    return Limit(
        row["topic"], row["parameter"], low, high, row["unit"], source, status, row["caution"], row["applies_to"]
    )
