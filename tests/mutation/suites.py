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

IMPORTERS = (
    "test_load.py",
    "test_record.py",
    "test_cells_in_and_out.py",
    "test_lines.py",
    "test_merge.py",
    "test_search_index.py",
)


def modules(root: Path) -> list[Path]:
    """Return the modules that are mutated, in the order in which they are run."""
    found = [
        *sorted((root / "kb/mechanics").glob("*.py")),
        root / "kb/measure.py",
        *sorted((root / "importers").rglob("*.py")),
    ]
    return [path for path in found if path.name != "__init__.py"]


def tests_of(path: Path) -> list[str]:
    """Return the test files of a module, the one that mirrors it first, and the module itself for its doctests."""
    root = next(one for one in path.parents if (one / "pyproject.toml").exists())
    inside = path.relative_to(root)
    if inside.parts[0] == "importers":
        return [*(f"tests/importers/{name}" for name in IMPORTERS), str(inside)]
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
