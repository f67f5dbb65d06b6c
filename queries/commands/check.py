"""``bayshelf check``."""

from __future__ import annotations

import json

import click

from kb.cli import shelf_path

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
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def check(ctx: click.Context, as_json: bool) -> None:
    """Look whether the shelf's file is whole, and say what it holds."""
    from kb.conflicts import in_conflict
    from kb.shelf import check as look
    from kb.shelf import open_to_read, published_at

    path = shelf_path(ctx)
    wrong = look(path)
    counts: dict[str, int] = {}
    to_settle: list[str] = []
    published = None
    if not wrong:
        connection = open_to_read(path)
        counts = {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in COUNTED}
        to_settle, published = in_conflict(connection), published_at(connection)
        connection.close()
    if as_json:
        told = {"whole": not wrong, "wrong": wrong, "rows": counts, "to_settle": to_settle, "published_at": published}
        click.echo(json.dumps(told, ensure_ascii=False, indent=2))
    elif wrong:
        click.echo("\n".join(wrong))
    else:
        click.echo(
            "The shelf is whole. It holds "
            + ", ".join(f"{count} {name if count == 1 else f'{name}s'}" for name, count in counts.items())
            + "."
        )
        if published:
            click.echo(f"It is a copy that was published at {published}: it is only read.")
        for job in to_settle:
            click.echo(f"Job {job} was changed in two bays: `bayshelf settle {job}` shows both versions.")
    if wrong:
        click.echo("Take the newest copy that is whole, and load what was added since.", err=True)
        ctx.exit(1)
