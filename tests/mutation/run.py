"""Mutation testing: every small change to a module must make one of its tests fail.

    PYTHONPATH=. python tests/mutation/run.py [--share S] [--seed N] [MODULE...]

A module is tested by the tests that import it (``suites.py``), those that reach the changed line first. Each mutant
runs in a forked child of a process that has already imported pytest and the libraries, so that it costs no start-up;
a child that takes five times as long as the unchanged module, and ten seconds, is counted as timed out. Survivors
that change nothing anyone can see are explained in ``explained.csv``; an explanation of a mutant that is killed is said.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # a fork carries no threads over
os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # no plugin is asked for, and each child would load them all

import argparse
import ast
import csv
import gc
import importlib
import importlib.util
import json
import random
import resource
import signal
import sys
import tempfile
import time
import types
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import coverage
import pytest
from hypothesis import HealthCheck, Phase, settings

sys.path.insert(0, str(Path(__file__).parent))
from mutants import Mutant, mutants_of
from suites import LIBRARIES, modules, tests_of

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
MEMORY_BYTES = 8 << 30
OPTIONS = "--import-mode=importlib --doctest-modules --doctest-glob=''"
"""Those of pyproject.toml that matter here."""


@dataclass(frozen=True)
class Reach:
    """What the unchanged module's run told: seconds per test, and which tests reach each line."""

    seconds: float
    durations: dict[str, float]
    lines: dict[int, list[str]]

    def tests(self, mutant: Mutant) -> set[str] | None:
        """Return the tests that come by a mutant's statement; None where not even the import does."""
        by = [set(self.lines[line]) for line in mutant.statement if line in self.lines]
        return set().union(*by) if by else None


class _Ordered:
    """A pytest plugin: the quickest of the tests that reach the line first, and the same examples every time."""

    def __init__(self, first: Iterable[str], durations: dict[str, float]) -> None:
        self.first, self.durations = set(first), durations

    def pytest_sessionstart(self) -> None:
        settings.register_profile(
            "mutation", deadline=None, derandomize=True, database=None, phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        settings.load_profile("mutation")

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items.sort(key=lambda one: (one.nodeid not in self.first, self.durations.get(one.nodeid, 0.0)))


class _Watched(_Ordered):
    """The plugin of the unchanged module's run: measures, and says which test is running."""

    def __init__(self, watch: coverage.Coverage) -> None:
        super().__init__((), {})
        self.watch = watch

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.watch.switch_context(nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.durations[report.nodeid] = self.durations.get(report.nodeid, 0.0) + report.duration


def _pytest(files: Sequence[str], plugin: object) -> int:
    return int(pytest.main(
        ["-o", f"addopts={OPTIONS}", "-q", "-x", "-p", "no:cacheprovider", "--tb=no", "--no-header", *files],
        plugins=[plugin],
    ))  # fmt: skip


def _as_module(name: str, path: Path, tree: ast.Module) -> None:
    """Put the changed module where an import finds it, as the file would have been."""
    module = types.ModuleType(name)
    module.__spec__ = importlib.util.spec_from_file_location(name, path)
    module.__file__, module.__package__ = str(path), name.rpartition(".")[0]
    parent = importlib.import_module(module.__package__)
    sys.modules[name] = module
    exec(compile(tree, str(path), "exec"), module.__dict__)
    setattr(parent, name.rpartition(".")[2], module)


def _forked(work: Callable[[], int], seconds: float) -> int | None:
    """Run ``work()`` in a child; its exit status, or None where it took longer than ``seconds``."""
    child = os.fork()
    if not child:
        status = 70
        try:
            os.setsid()
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.dup2(nowhere, 2)
            status = work()
        except BaseException:  # whatever it is, the change was noticed
            status = 71
        finally:
            os._exit(status)
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.005)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _reach(name: str, path: Path, files: Sequence[str]) -> Reach:
    """Run the unchanged module's tests; raises RuntimeError where they fail."""
    with tempfile.TemporaryDirectory() as folder:
        told = Path(folder) / "told.json"

        def work() -> int:
            watch = coverage.Coverage(data_file=None, include=[str(path)], branch=False)
            watch.start()
            plugin = _Watched(watch)
            _as_module(name, path, ast.parse(path.read_text(encoding="utf-8")))  # the way that every mutant goes
            status = _pytest(files, plugin)
            watch.stop()
            lines = watch.get_data().contexts_by_lineno(str(path))
            told.write_text(json.dumps({"durations": plugin.durations, "lines": lines}))
            return status

        begun = time.monotonic()
        status = _forked(work, 900.0)
        if status:
            raise RuntimeError(
                f"{name}: its tests fail without any change (pytest ended with {status}): run {' '.join(files)}"
            )
        found = json.loads(told.read_text())
    lines = {int(line): tests for line, tests in found["lines"].items()}
    return Reach(time.monotonic() - begun, found["durations"], lines)


def _try(name: str, path: Path, files: Sequence[str], reach: Reach, mutant: Mutant) -> str:
    """Return what became of one mutant: killed, survived, or timed out."""
    first = reach.tests(mutant)
    if first is None:
        return "survived"  # running them would tell nothing
    if "" not in first:  # not at import: the other files have nothing to say
        files = [one for one in files if any(test.startswith(f"{one}::") for test in first)]

    def work() -> int:
        _as_module(name, path, mutant.changed())
        return _pytest(files, _Ordered(first, reach.durations))

    status = _forked(work, max(10.0, 5 * reach.seconds))
    return "timed out" if status is None else "killed" if status else "survived"


def _explained() -> dict[tuple[str, ...], str]:
    with (HERE / "explained.csv").open(newline="", encoding="utf-8") as file:
        return {(row["module"], row["function"], row["old"], row["new"]): row["why"] for row in csv.DictReader(file)}


def _run_module(path: Path, share: float, seed: int, explained: dict[tuple[str, ...], str]) -> Counter[str]:
    """Try a module's mutants, print a line for it and one for each survivor, and return the counts."""
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    source = path.read_text(encoding="utf-8")
    every = list(mutants_of(source))
    chosen = [one for one in every if random.Random(f"{seed} {name} {one.line} {one.old} {one.new}").random() < share]
    if not chosen:
        return Counter()
    files = tests_of(path)
    reach = _reach(name, path, files)
    counts, told = Counter({"mutants": len(chosen)}), []
    for mutant in chosen:
        fate = _try(name, path, files, reach, mutant)
        known = (name, mutant.function, mutant.old, mutant.new) in explained
        if fate == "survived" and known:
            fate = "explained"
        elif known:
            told.append(f"    explained, but {fate}: {mutant.function}: {mutant.old} -> {mutant.new}")
        counts[fate] += 1
        if fate == "survived":
            unseen = "" if reach.tests(mutant) is not None else "  (no test comes by)"
            told.append(
                f"    {path.relative_to(ROOT)}:{mutant.line} {mutant.function}: {mutant.old} -> {mutant.new}{unseen}"
            )
    _print(name, counts)
    print(*told, sep="\n", flush=True) if told else None
    return counts


def _print(name: str, counts: Counter[str]) -> None:
    judged = counts["mutants"] - counts["explained"]
    per_cent = 100.0 * (counts["killed"] + counts["timed out"]) / judged if judged else 100.0
    print(
        f"{name:36}{counts['mutants']:8}{counts['killed']:8}{counts['survived']:9}{counts['timed out']:10}"
        f"{counts['explained']:10}{per_cent:8.1f} %",
        flush=True,
    )


def main() -> int:
    """Read the command line, try the mutants, and return 1 where any survived unexplained."""
    command = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    command.add_argument("modules", nargs="*", metavar="MODULE", help="kb/mechanics/path.py; all of them without any")
    command.add_argument("--share", type=float, default=1.0, help="the share of the mutants to try, drawn by --seed")
    command.add_argument("--seed", type=int, default=1)
    asked = command.parse_args()
    os.chdir(ROOT)
    for library in LIBRARIES:
        importlib.import_module(library)
    gc.freeze()  # the children's collections leave the libraries alone
    paths = [Path(one).resolve() for one in asked.modules] or modules(ROOT)
    print(f"{'module':36}{'mutants':>8}{'killed':>8}{'survived':>9}{'timed out':>10}{'explained':>10}{'killed':>10}")
    total: Counter[str] = Counter()
    explained = _explained()
    for path in paths:
        try:
            total += _run_module(path, asked.share, asked.seed, explained)
        except RuntimeError as error:
            print(error, flush=True)
            total["not run"] += 1
    _print("all", total)
    return 1 if total["survived"] or total["not run"] else 0


if __name__ == "__main__":
    sys.exit(main())
