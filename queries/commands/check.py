"""``bayshelf check``."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli import shelf_path

if TYPE_CHECKING:
    from kb.salvage import Saved

COUNTED = (
    "belt",
    "pulley",
    "tensioner",
    "hose",
    "fitting",
    "clamp",
    "drive",
    "line",
    "job",
    "supplier",
    "load",
    "refusal",
)


@click.command()
@click.option(
    "--save-to", "save_to", type=click.Path(path_type=Path, dir_okay=False), metavar="NEW.db",
    help="Carry what still reads over into a new shelf; the damaged one is only read.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def check(ctx: click.Context, save_to: Path | None, as_json: bool) -> None:
    """Look whether the shelf's file is whole, and say what it holds; of a damaged one, what still reads.

    Found are damage of the file's build, values outside what a column may hold, and rows that no longer say what the shelf
    keeps of them elsewhere: a part's cells as its sheet wrote them, a drive's or line's sheet, a job's revision, the words
    to search by. Not found is a changed value of which the shelf keeps no second copy: prices, customers, private notes,
    times, notes on loads, suppliers' facts, and older revisions from job sheets. For those keep copies.
    """
    from kb.checking import look_through
    from kb.salvage import carry_over, what_reads

    path = shelf_path(ctx)
    if save_to is not None:
        saved = carry_over(path, save_to)
        if as_json:
            click.echo(json.dumps({"saved_to": str(save_to), "saved": _saved(saved)}, ensure_ascii=False, indent=2))
        else:
            click.echo(
                "\n".join([f"Carried over into {save_to}:", *(f"  {one}" for one in saved if one.rows or one.stops)])
            )
        return
    wrong = look_through(path)
    saved = what_reads(path) if wrong else []
    told = {"wrong": wrong, "reads": _saved(saved), **({} if wrong else _holds(path))}
    if as_json:
        click.echo(json.dumps(_AS_WHOLE | {"whole": not wrong} | told, ensure_ascii=False, indent=2))
    elif wrong:
        click.echo("\n".join([*wrong, *(f"Still reads: {one}." for one in saved if one.rows or one.stops)]))
    else:
        _say(told)
    if wrong:
        click.echo(
            f"bayshelf: {path}: the shelf is damaged. Take the newest copy that is whole, and load what was added since; "
            f"or carry over what still reads with `bayshelf check --save-to NEW.db`.",
            err=True,
        )
        ctx.exit(1)


_AS_WHOLE: dict[str, Any] = {"whole": True, "wrong": [], "reads": {}, "rows": {}, "to_settle": [], "published_at": None}


def _saved(saved: Sequence[Saved]) -> dict[str, int]:
    return {one.table: one.rows for one in saved}


def _holds(path: Path) -> dict[str, Any]:
    from kb.conflicts import in_conflict
    from kb.shelf import open_to_read, published_at

    connection = open_to_read(path)
    try:
        counts = {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in COUNTED}
        return {"rows": counts, "to_settle": in_conflict(connection), "published_at": published_at(connection)}
    finally:
        connection.close()


def _say(told: dict[str, Any]) -> None:
    click.echo(
        "The shelf is whole. It holds "
        + ", ".join(f"{count} {name if count == 1 else f'{name}s'}" for name, count in told["rows"].items())
        + "."
    )
    if told["published_at"]:
        click.echo(f"It is a copy that was published at {told['published_at']}: it is only read.")
    for job in told["to_settle"]:
        click.echo(f"Job {job} was changed in two bays: `bayshelf settle {job}` shows both versions.")
