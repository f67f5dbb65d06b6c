"""Fixtures that every room's tests share."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import settings

from kb.cli import cli
from kb.errors import BayshelfError
from kb.shelf import open_to_read

settings.register_profile("bayshelf", deadline=None)  # a busy machine is no failure
settings.load_profile("bayshelf")

Run = Callable[..., Result]


def _run(*arguments: str, shelf: Path | None = None) -> Result:
    """Run the command in this process, errors told as ``main`` tells them."""
    named = ["--shelf", str(shelf)] if shelf else []
    result = CliRunner().invoke(cli, [*named, *arguments])
    if isinstance(result.exception, BayshelfError):
        result.exit_code = 1
        result.stderr_bytes = (result.stderr_bytes or b"") + f"bayshelf: {result.exception}\n".encode()
        return result
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture(scope="session")
def run() -> Run:
    """Run the command in this process: ``run("belts", "--ribs", "8", shelf=path)``."""
    return _run


@pytest.fixture(scope="session")
def demo_shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop's shelf, filled once; tests only read it."""
    path = tmp_path_factory.mktemp("demo") / "shelf.db"
    result = _run("demo", shelf=path)
    assert result.exit_code == 0, result.output
    return path


@pytest.fixture
def demo(demo_shelf: Path) -> Iterator[sqlite3.Connection]:
    """A read-only connection to the demo shop's shelf."""
    connection = open_to_read(demo_shelf)
    yield connection
    connection.close()


@pytest.hookimpl(tryfirst=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """In CI nothing may be skipped: say it where the count stands."""
    if os.environ.get("BAYSHELF_NOTHING_SKIPPED") and terminalreporter.stats.get("skipped"):
        terminalreporter.write_line("Skipped tests in a run that must skip nothing.")
