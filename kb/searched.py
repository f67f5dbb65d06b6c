"""Which words of each kind are searched: its columns of text, in the order of its word index, and what it is called."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, tuple[str, ...]] = {
    "belt": ("part_no", "description", "designation", "section", "maker"),
    "pulley": ("part_no", "description", "use", "maker"),
    "tensioner": ("part_no", "description", "use", "maker"),
    "hose": ("part_no", "description", "service", "maker"),
    "fitting": ("part_no", "description", "end_a_standard", "end_b_standard", "material", "maker"),
    "clamp": ("part_no", "description", "style", "size_number", "material", "maker"),
    "job": ("title", "words"),
}
"""The first column names the row, the others describe it; a test holds them against the schema."""

SEARCHED = tuple(TEXTS)
"""The kinds that have words to be found by; a word's bit mask of kinds follows this order."""

NAMES: Mapping[str, frozenset[str]] = {kind: frozenset((kind, f"{kind}s")) for kind in SEARCHED}
"""Words that every row of a kind meets, whether its sheet says so or not: a hose is a hose."""


def key_of(kind: str) -> str:
    """Return the column that numbers a kind's rows."""
    return "number" if kind == "job" else "id"
