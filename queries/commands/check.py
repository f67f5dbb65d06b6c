"""``bayshelf check``."""

from __future__ import annotations

import json

import click

from kb.cli import shelf_path

COUNTED = ("belt", "pulley", "tensioner", "hose", "fitting", "clamp", "drive", "job", "supplier", "load", "refusal")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def check(ctx: click.Context, as_json: bool) -> None:
    """Look whether the shelf's file is whole, and say what it holds."""
    from kb.shelf import check as look
    from kb.shelf import open_to_read

    path = shelf_path(ctx)
    wrong = look(path)
    counts: dict[str, int] = {}
    if not wrong:
        connection = open_to_read(path)
        counts = {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in COUNTED}
        connection.close()
    if as_json:
        click.echo(json.dumps({"whole": not wrong, "wrong": wrong, "rows": counts}, ensure_ascii=False, indent=2))
    elif wrong:
        click.echo("\n".join(wrong))
    else:
        click.echo(
            "The shelf is whole. It holds "
            + ", ".join(f"{count} {name if count == 1 else f'{name}s'}" for name, count in counts.items())
            + "."
        )
    if wrong:
        click.echo("Take the newest copy that is whole, and load what was added since.", err=True)
        ctx.exit(1)
