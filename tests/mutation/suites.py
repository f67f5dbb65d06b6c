"""Which modules are mutated, and which tests judge each."""

from __future__ import annotations

import re
from pathlib import Path

LIBRARIES = (
    "numpy",
    "scipy.optimize",
    "scipy.stats",
    "scipy.integrate",
    "hypothesis.strategies",
    "click.testing",
    "sqlite3",
    "shapely",
    "CoolProp.CoolProp",
    "pint",
    "rapidfuzz",
    "_pytest.doctest",
)
"""What the tests import anyway, imported once before the first fork; nothing of ours."""

SLOW = frozenset(
    {
        "test_killed_while_loading.py",
        "test_killed_while_merging.py",
        "test_many_at_once.py",
        "test_read_only_folder.py",
        "test_misspellings.py",
    }
)
"""Tests that start processes or read long lists: they hold other things than one line of a module."""

LOADING = tuple(
    f"tests/importers/test_{name}.py" for name in ("load", "record", "record_show", "lines", "cells_in_and_out")
)
MERGING = ("tests/importers/test_merge.py", "tests/importers/test_record.py")
IMPORTERS = {
    "merge": MERGING,
    "record_merge": MERGING,
    "settle": MERGING,
    "index": ("tests/importers/test_search_index.py",),
    "publish": ("tests/kb/test_publish.py",),
}
"""The tests of importers whose own are not those of loading: one test loads whole sheets, so that none mirrors a module."""


def modules(root: Path) -> list[Path]:
    """Return the modules that are mutated, in the order in which they are run."""
    found = [
        *sorted((root / "kb/mechanics").glob("*.py")),
        root / "kb/measure.py",
        root / "kb/sheets/columns.py",
        *sorted((root / "importers").rglob("*.py")),
    ]
    return [path for path in found if path.name != "__init__.py"]


def tests_of(path: Path) -> list[str]:
    """Return the test files of a module, the one that mirrors it first, and the module itself for its doctests."""
    root = next(one for one in path.parents if (one / "pyproject.toml").exists())
    inside = path.relative_to(root)
    if inside.parts[0] == "importers":
        return [*IMPORTERS.get(path.stem, LOADING), str(inside)]
    dotted = ".".join(inside.with_suffix("").parts)
    package, _, name = dotted.rpartition(".")
    imported = re.compile(rf"{re.escape(dotted)}\b|from {re.escape(package)} import [^\n]*\b{name}\b")
    found = [
        one
        for folder in ("tests/kb", "tests/published")
        for one in sorted((root / folder).rglob("test_*.py"))
        if one.name not in SLOW and (imported.search(one.read_text(encoding="utf-8")) or one.name == f"test_{name}.py")
    ]
    found.sort(key=lambda one: one.name != f"test_{name}.py")
    return [*(str(one.relative_to(root)) for one in found), str(inside)]
