"""Changes to a TOML sheet that leave it TOML: a random byte nearly always makes it none, and then nothing is tested."""

from __future__ import annotations

import copy
import json
import random
import tomllib
from contextlib import suppress
from typing import Any

VALUES: tuple[Any, ...] = (
    0, -0.0, 1, -1, 2, 8, 90, 180, 360, 1e-9, 1e-300, 5e-324, 1e9, 1e15, 1e300, -1e300, float("inf"), float("-inf"),
    float("nan"), 10**400, -(10**30), True, False, "", " ", "0", "0 mm", "-1 mm", "1e9 in", "9" * 15 + " mm", "1/0 in",
    "73 1/8 in", "3 in", "nan", "inf", "\x00", "\u202e", "é" * 300, "x" * 5_000, "mm", "in", "PK", "13A", "clockwise", "flat",
    "grooved", "crank", "fan", [], [0], [0, 0], [0, 0, 0], [1e300, -1e300], ["a", "b"], [[0, 0], [1, 1]], {}, {"a": 1}, [{}],
    "2024-02-30", "#N/A",
)  # fmt: skip


def changed_text(text: str, chance: random.Random, times: int) -> str | None:
    """Change a TOML text's tables ``times`` times; ``None`` where it is no TOML."""
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError):
        return None
    for _ in range(times):
        _change(tables, chance)
    return "".join(f"{json.dumps(key)} = {written(value)}\n" for key, value in tables.items())


def _change(tables: dict[str, Any], chance: random.Random) -> None:
    there = list(places(tables))
    if not there:
        return
    holder, key = chance.choice(there)
    what = chance.randrange(6)
    if what <= 2:
        holder[key] = copy.deepcopy(chance.choice(VALUES))
    elif what == 3 and isinstance(holder[key], (int, float)) and not isinstance(holder[key], bool):
        with suppress(OverflowError):  # an integer beyond all floats
            holder[key] = holder[key] * chance.choice((-1, 0, 0.5, 1.0001, 2, 1000, 1e-6)) + chance.choice(
                (0, 0, 1e-9, 1)
            )
    elif what == 4:
        other, name = chance.choice(there)
        holder[key] = copy.deepcopy(other[name])
    else:
        del holder[key]


def places(value: Any, depth: int = 0) -> list[tuple[Any, Any]]:
    """Every place in nested tables and lists, as (holder, key)."""
    if depth > 6 or not isinstance(value, (dict, list)):
        return []
    keys = list(value) if isinstance(value, dict) else list(range(len(value)))
    return [(value, key) for key in keys] + [one for key in keys for one in places(value[key], depth + 1)]


def written(value: Any) -> str:
    """Write a value as TOML, tables in line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {written(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    if isinstance(value, (int, float)):
        return repr(value)
    return str(value)  # dates and times
