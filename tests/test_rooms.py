"""The rooms: who may import whom, how small they stay, and what starting the command costs."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = ("kb", "importers", "queries", "demo_db")
MODULES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))


def test_arrows_between_rooms() -> None:
    tool = Path(sys.executable).parent / "lint-imports"
    done = subprocess.run([str(tool)], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_modules_and_functions_stay_small(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if path.name != "fields.py":  # one table of words
        assert text.count("\n") <= 450
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            assert node.end_lineno is not None
            assert node.end_lineno - node.lineno <= 60, f"{node.name} is long"


def test_help_imports_nothing_but_click() -> None:
    code = (
        "import sys; before = set(sys.modules)\n"
        "import kb.cli\n"
        "try: kb.cli.main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'sqlite3', 'numpy', 'pandas', 'rapidfuzz', 'datasette', 'scipy', 'sqlite_utils', 'kb.shelf', 'kb.fields'}\n"
        "print('HEAVY', sorted(heavy & (set(sys.modules) - before)))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "HEAVY []" in done.stdout


def test_no_other_name_at_the_top() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split(
        "\n"
    )
    tops = {name.split("/")[0] for name in listed if name}
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "tests", "LICENSE", *ROOMS}
    assert {top for top in tops if not top.startswith(".")} <= allowed
