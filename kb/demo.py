"""``bayshelf demo``: fill a shelf with the invented shop, and try the main job on it with the commands anyone would use."""

from __future__ import annotations

import os
import shlex
import sqlite3
import tomllib
from importlib.resources import as_file, files
from pathlib import Path

import click

from kb.cli import cli

SHOWN: tuple[tuple[str, list[str]], ...] = (
    ("A belt, by tape and ribs:", ["belts", "--length", "73 1/8 in", "--ribs", "8", "--limit", "4"]),
    ("What worked on a job like it:", ["jobs", "--like", "N-001", "--limit", "3"]),
    (
        "Which thread is this, and who has it:",
        ["fittings", "--outside", "22.1 mm", "--pitch", "14 tpi", "--seat", "37", "--limit", "4"],
    ),
)


@click.command()
@click.option("--serve", is_flag=True, help="Open the explorer on it afterwards.")
@click.option(
    "--port", type=click.IntRange(0, 65535), metavar="N", help="The explorer's port, with --serve; 0 takes a free one."
)
@click.pass_context
def demo(ctx: click.Context, serve: bool, port: int | None) -> None:
    """Fill a shelf with the invented demo shop and try the main job on it.

    Fills the shelf that --shelf or BAYSHELF_SHELF names, if it holds nothing yet, else bayshelf-demo.db in this folder. A
    shelf with something on it is never touched.
    """
    target = _target(ctx.find_root().obj)
    click.echo(f"The demo shop goes onto {target}.\n")
    with as_file(files("demo_db")) as folder:
        if not _holds_demo(target):
            _fill(folder, target)
    for title, arguments in SHOWN:
        click.echo(f"\n{title}\n$ bayshelf --shelf {shlex.quote(str(target))} {shlex.join(arguments)}")
        _run(target, arguments)
    click.echo(f"\nOpen it in a browser with:\n$ bayshelf --shelf {shlex.quote(str(target))} serve")
    if serve:
        _run(target, ["serve", *(["--port", str(port)] if port is not None else [])])


def _target(named: Path | None) -> Path:
    """The shelf to fill: the one that is named if it is empty, else one of its own in this folder."""
    if named is None and os.environ.get("BAYSHELF_SHELF"):
        named = Path(os.environ["BAYSHELF_SHELF"])
    if named is not None and (_is_empty(named) or _holds_demo(named)):
        return named
    own = Path("bayshelf-demo.db")
    if named is not None:
        click.echo(f"{named} holds something already and is left alone.", err=True)
    return own


def _is_empty(path: Path) -> bool:
    if not path.exists() or (path.is_file() and path.stat().st_size == 0):
        return True
    return _count(path, "SELECT (SELECT count(*) FROM load) + (SELECT count(*) FROM job)") == 0


def _holds_demo(path: Path) -> bool:
    return (
        path.exists() and (_count(path, "SELECT count(*) FROM supplier WHERE name = 'Ashwerrin Drive Parts'") or 0) > 0
    )


def _count(path: Path, sql: str) -> int | None:
    """A count, or ``None`` where the file is no shelf: then it is left alone like any other."""
    try:
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
        try:
            return int(connection.execute(sql).fetchone()[0])
        finally:
            connection.close()
    except sqlite3.DatabaseError:
        return None


def _fill(folder: Path, target: Path) -> None:
    contents = tomllib.loads((folder / "contents.toml").read_text(encoding="utf-8"))
    for step in contents["load"]:
        sheets = [str(path) for pattern in step["sheets"] for path in sorted(folder.glob(pattern))]
        named = ["--supplier", step["supplier"]] if "supplier" in step else []
        shown = " ".join(step["sheets"])
        click.echo(f"$ bayshelf load {shlex.join(named)} {shown}".replace("load  ", "load "))
        reports = _load(target, [*named, *sheets])
        for report in reports:
            click.echo(
                f"  {report['sheet']}: {report['rows_stored']} of {report['rows_read']} rows stored as "
                f"{report['kind']}s, {report['rows_refused']} refused"
            )


def _load(target: Path, arguments: list[str]) -> list[dict[str, object]]:
    """Run the load command for its report."""
    import contextlib
    import io
    import json

    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        _run(target, ["load", "--json", *arguments])
    reports: list[dict[str, object]] = json.loads(printed.getvalue())
    return reports


def _run(target: Path, arguments: list[str]) -> None:
    code = cli.main(["--shelf", str(target), *arguments], prog_name="bayshelf", standalone_mode=False)
    if code:
        raise SystemExit(code)
