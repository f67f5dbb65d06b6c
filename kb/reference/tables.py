"""The standard tables as they stand in the package, a dictionary per row; every row names its source and status."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


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
