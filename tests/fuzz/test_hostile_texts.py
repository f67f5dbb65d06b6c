"""The fuzz targets under Hypothesis, which shrinks what it finds, and a few seconds of atheris on each.

What is found here or by ``run.py`` becomes a test of the module that it was found in.
"""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.changes import VALUES, changed_text, written
from tests.fuzz.run import Result, fuzz, table
from tests.fuzz.targets import TARGETS, hold_finite

ROOT = Path(__file__).parents[2]
edits = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), st.binary(max_size=6)), max_size=5)
fuzzed = settings(max_examples=60, suppress_health_check=list(HealthCheck), deadline=None)
texts = st.text(max_size=120).map(str.encode)


def edited(content: bytes, changes: list[tuple[float, int, bytes]]) -> bytes:
    for where, length, put in changes:
        start = int(where * len(content))
        content = content[:start] + put + content[start + length :]
    return content


@pytest.mark.parametrize("name", TARGETS)
@fuzzed
@given(data=st.data())
def test_any_edit_of_a_seed(name: str, data: st.DataObject) -> None:
    target = TARGETS[name]
    seeds = list(target.seeds())
    target.run(edited(data.draw(st.sampled_from(seeds)), data.draw(edits))[: target.longest])


@pytest.mark.parametrize("name", TARGETS)
@fuzzed
@given(content=st.one_of(st.binary(max_size=200), texts))
def test_any_bytes_and_any_text(name: str, content: bytes) -> None:
    TARGETS[name].run(content)


@pytest.mark.parametrize("name", [name for name, target in TARGETS.items() if target.is_toml])
@fuzzed
@given(chance=st.randoms(use_true_random=False), data=st.data(), times=st.integers(1, 4))
def test_any_change_of_a_sheets_tables(name: str, chance: random.Random, data: st.DataObject, times: int) -> None:
    seed = data.draw(st.sampled_from(list(TARGETS[name].seeds())))
    text = changed_text(seed.decode(), chance, times)
    assert text is not None
    TARGETS[name].run(text.encode())


@pytest.mark.parametrize("value", VALUES, ids=lambda value: repr(value)[:20])
@pytest.mark.parametrize("name", ["drive", "line", "job"])
def test_every_odd_value_at_the_top(name: str, value: object) -> None:
    """Each key of the first seed in turn."""
    import tomllib

    tables = tomllib.loads(next(TARGETS[name].seeds()).decode())
    for key in tables:
        changed = {**tables, key: value}
        TARGETS[name].run("".join(f"{each} = {written(changed[each])}\n" for each in changed).encode())


def test_changes_keep_toml_and_change_it() -> None:
    import tomllib

    seed = next(TARGETS["drive"].seeds()).decode()
    found = {changed_text(seed, random.Random(n), 2) for n in range(50)}
    assert len(found) > 40
    assert all(tomllib.loads(text or "x") for text in found)
    assert changed_text("no = toml = here", random.Random(1), 1) is None


def test_the_targets_notice() -> None:
    """What is held fails where it should."""
    for value in (float("nan"), [1, float("inf")], {"a": {"b": float("-inf")}}, "\ud800"):
        with pytest.raises((AssertionError, UnicodeEncodeError)):
            hold_finite(value)
    hold_finite({"a": [1, 2.5, None, "x", True]})


@pytest.mark.skipif(sys.platform != "linux", reason="atheris has wheels for Linux only")
@pytest.mark.parametrize("name", TARGETS)
def test_atheris_finds_nothing_in_a_few_seconds(name: str, tmp_path: Path) -> None:
    result = fuzz(name, 3, tmp_path)
    assert result.findings == []
    assert result.runs > len(list(TARGETS[name].seeds()))
    assert result.edges > 10


def test_the_runner_reports_a_finding() -> None:
    shown = table([Result("measure", 3.0, 1_000, 20, 30, 50, ["ValueError: x [file]"])])
    assert "1,000" in shown
    assert "ValueError: x [file]" in shown
    done = subprocess.run(
        [sys.executable, "tests/fuzz/run.py", "nothing"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "no such target" in done.stderr
