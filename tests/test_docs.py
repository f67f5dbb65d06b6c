"""The README says what the commands do: every command, every JSON key, and a reference that is not stale."""

from __future__ import annotations

import importlib.util
import json
import re
from pathlib import Path
from types import ModuleType

import pytest

from kb.cli import COMMANDS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    """The module that makes the README's reference and tour."""
    spec = importlib.util.spec_from_file_location("make_reference", ROOT / "tests" / "make_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_reference_is_fresh(maker) -> None:
    assert maker.reference() in README, "run: PYTHONPATH=. python tests/make_reference.py --write"


def test_the_keys_of_the_sheets_are_fresh(maker) -> None:
    assert maker.with_keys(README) == README, "run: PYTHONPATH=. python tests/make_reference.py --write"


def test_the_example_sheets_work(run, tmp_path) -> None:
    drive, line = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    for name, text, command in (("drive", drive, ("drive", "path")), ("line", line, ("line", "route"))):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
        done = run(*command, str(tmp_path / f"{name}.toml"), "--json")
        assert done.exit_code == 0, done.stderr
        assert json.loads(done.stdout)


def test_the_tour_is_what_the_commands_print(maker, demo_shelf, monkeypatch) -> None:
    monkeypatch.chdir(ROOT)  # the tour names sheets of the demo by their place in the project
    assert maker.toured(README, demo_shelf) == README, "run: PYTHONPATH=. python tests/make_reference.py --write"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_a_place_in_the_readme(name, run) -> None:
    done = run(name, "--help")
    assert done.exit_code == 0
    assert len(done.output.splitlines()) >= 4
    assert f"`bayshelf {name}`" in README


TENDER = str(ROOT / "demo_db" / "drives" / "water_tender_4.toml")
ASKED = {
    "belts": ("belts", "--length", "73 1/8 in", "--ribs", "8"),
    "pulleys": ("pulleys", "--diameter", "3 in"),
    "tensioners": ("tensioners", "--diameter", "3 in"),
    "hoses": ("hoses", "--inside", "1 1/2 in"),
    "clamps": ("clamps", "--around", "2 1/4 in"),
    "fittings": ("fittings", "--outside", "22.1 mm"),
    "adapters": ("adapters", "male 7/8-14 37", "female 3/4-16 37"),
    "find": ("find", "8PK1854"),
    "jobs": ("jobs", "--like", "N-001"),
    "drive last": ("drive", "last", TENDER),
    "drive belts": ("drive", "belts", TENDER),
}
SINGLE = {
    "drive path": ("drive", "path", TENDER, "--belt", "73 in"),
    "drive shift": ("drive", "shift", TENDER, "--belt", "71 7/8 in"),
    "drive shift --pulley": ("drive", "shift", TENDER, "--belt", "71 7/8 in", "--pulley", "fan"),
}


@pytest.mark.parametrize("name", ASKED)
def test_json_keys_are_the_documented_ones(name, run, demo_shelf) -> None:
    rows = json.loads(run(*ASKED[name], "--json", shelf=demo_shelf).stdout)
    assert rows
    row = re.search(rf"^\| `{name}` \| (.+) \|$", README, re.MULTILINE)
    assert row is not None
    assert set(rows[0]) == set(re.findall(r"`(\w+)`", row[1]))


@pytest.mark.parametrize("name", SINGLE)
def test_json_keys_of_a_single_answer_are_the_documented_ones(name, run, demo_shelf) -> None:
    answer = json.loads(run(*SINGLE[name], "--json", shelf=demo_shelf).stdout)
    row = re.search(rf"^\| `{name}` \| (.+) \|$", README, re.MULTILINE)
    assert row is not None
    assert set(answer) == set(re.findall(r"`(\w+)`", row[1]))


@pytest.mark.parametrize("name", ASKED)
def test_csv_has_the_same_rows(name, run, demo_shelf) -> None:
    import csv
    import io

    rows = json.loads(run(*ASKED[name], "--json", shelf=demo_shelf).stdout)
    table = list(csv.reader(io.StringIO(run(*ASKED[name], "--csv", shelf=demo_shelf).stdout.lstrip("\ufeff"))))
    assert table[0] == list(rows[0])
    assert len(table) == len(rows) + 1
