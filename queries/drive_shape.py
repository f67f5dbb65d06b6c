"""What a drive looks like in short: what it turns, how its belt runs, how large it is; enough to say which are alike."""

from __future__ import annotations

import math
import sqlite3
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from kb.trade_words import meanings_of


@dataclass(frozen=True, slots=True)
class DriveShape:
    """``turns``: what each pulley turns, by its meaning.

    ``spread_mm``: root mean square distance of the known centres from their middle.
    """

    name: str
    turns: tuple[str, ...]
    grooved: int
    flat: int
    has_arm: bool
    spread_mm: float | None


def shapes_of(connection: sqlite3.Connection, names: Iterable[str]) -> dict[str, DriveShape]:
    """Return the shapes of the drives on the shelf that have these names, by folded name."""
    wanted = {name.strip().casefold() for name in names}
    if not wanted:
        return {}
    found: dict[str, DriveShape] = {}
    # Folded here, not in SQL: SQLite folds only the letters of ASCII.
    for number, name in connection.execute("SELECT id, name FROM drive").fetchall():
        if name.casefold() in wanted:
            rows = connection.execute(
                "SELECT name, face, has_arm, x_mm, y_mm FROM drive_pulley WHERE drive_id = ? ORDER BY position",
                (number,),
            )
            found[name.casefold()] = _shape(name, rows.fetchall())
    return found


def _shape(name: str, rows: list[sqlite3.Row]) -> DriveShape:
    centres = [(row["x_mm"], row["y_mm"]) for row in rows if row["x_mm"] is not None and row["y_mm"] is not None]
    spread = None
    if len(centres) >= 2:
        middle = [sum(one[axis] for one in centres) / len(centres) for axis in (0, 1)]
        spread = math.sqrt(sum((x - middle[0]) ** 2 + (y - middle[1]) ** 2 for x, y in centres) / len(centres))
    turns = tuple(sorted(" ".join(meanings_of(row["name"])) or row["name"].casefold() for row in rows))
    flat = sum(row["face"] == "flat" for row in rows)
    return DriveShape(name, turns, len(rows) - flat, flat, any(row["has_arm"] for row in rows), spread)


def shape_likeness(one: DriveShape, other: DriveShape) -> tuple[float, str]:
    """Return how alike two drives are, 0 to 1, and why: half what they turn, the rest how the belt runs and the size.

    Symmetric, 1 for a drive and itself. Our own weighing, no source.
    """
    if one.name.casefold() == other.name.casefold():
        return 1.0, f"the same drive: {one.name}"
    first, second = Counter(one.turns), Counter(other.turns)
    both = first & second
    turned = 2 * both.total() / (first.total() + second.total())
    runs = (
        _near(one.grooved, other.grooved) + _near(one.flat, other.flat) + (1.0 if one.has_arm == other.has_arm else 0.0)
    ) / 3
    parts = [(0.5, turned), (0.25, runs)]
    if one.spread_mm is not None and other.spread_mm is not None:
        smaller, larger = sorted((one.spread_mm, other.spread_mm))
        parts.append((0.25, max(0.0, 1.0 - 4.0 * (1.0 - smaller / larger)) if larger else 1.0))
    share = sum(weight * value for weight, value in parts) / sum(weight for weight, _ in parts)
    names = " / ".join(sorted((one.name, other.name)))
    return share, f"drives alike ({names}): both turn {', '.join(sorted(both)) or 'nothing in common'}"


def _near(one: int, other: int) -> float:
    return max(0.0, 1.0 - abs(one - other) / 3)
