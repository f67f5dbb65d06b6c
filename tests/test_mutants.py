"""The mutants: each kind of change is made, nothing is changed that only types and strings read, and explanations hold."""

from __future__ import annotations

import ast
import csv
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

HERE = Path(__file__).parent / "mutation"
ROOT = HERE.parent.parent


def loaded(name: str) -> ModuleType:
    """Load a module of the driver, which is no package."""
    spec = importlib.util.spec_from_file_location(f"mutation_{name}", HERE / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


MUTANTS, SUITES = loaded("mutants"), loaded("suites")


@pytest.mark.parametrize(
    ("line", "changes"),
    [
        ("x = a < b", ["a <= b", "a >= b"]),
        ("x = a == b", ["a != b"]),
        ("x = a is not b", ["a is b"]),
        ("x = 0 < a", ["0 <= a", "0 >= a", "1 < a"]),
        ("x = a + b * c", ["a - b * c", "b / c"]),
        ("x = a ** 2", ["a * 2", "a ** 3"]),
        ("x += a", ["x -= a"]),
        ("x = a and b", ["a or b"]),
        ("x = not a", ["x = a"]),
        ("x = -a", ["x = a"]),
        ("x = True", ["x = False"]),
        ("x = min(a)", ["max(a)"]),
        ("call(a)", ["pass"]),
        ("x = f'{a:5.1f}'", []),
        ("x: int | None = a", []),
        ("x = zip(a, b, strict=True)", []),
        ("x = 'words'", []),
    ],
)
def test_each_kind_of_change(line, changes) -> None:
    assert [one.new for one in MUTANTS.mutants_of(line)] == changes


def test_a_changed_module_differs_in_one_place_and_the_next_one_does_not_keep_it() -> None:
    source = "def f(a: int = 3) -> int:\n    if a > 3:\n        return a - 1\n    return None\n"
    whole = ast.unparse(ast.parse(source)).splitlines()
    found = list(MUTANTS.mutants_of(source))
    assert [one.new for one in found] == ["a: int=4", "a >= 3", "a <= 3", "a > 4", "return None", "a + 1", "a - 2"]
    for one in found:
        changed = ast.unparse(one.changed()).splitlines()
        assert sum(before != after for before, after in zip(whole, changed, strict=True)) == 1
        assert one.line in one.statement
        assert one.function == "f"


def test_every_explanation_is_of_a_mutant_that_can_be_made() -> None:
    with (HERE / "explained.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    made = {
        (".".join(path.relative_to(ROOT).with_suffix("").parts), one.function, one.old, one.new)
        for path in SUITES.modules(ROOT)
        for one in MUTANTS.mutants_of(path.read_text(encoding="utf-8"))
    }
    gone = [row for row in rows if (row["module"], row["function"], row["old"], row["new"]) not in made]
    assert not gone, "the code has changed: is what is said of it still so?"
    assert all(row["why"] for row in rows)
    assert len({tuple(row.values())[:4] for row in rows}) == len(rows)


def test_every_module_has_tests_and_its_doctests() -> None:
    for path in SUITES.modules(ROOT):
        files = SUITES.tests_of(path)
        assert len(files) >= 2, f"{path.name}: nothing tests it"
        assert all((ROOT / one).exists() for one in files)
