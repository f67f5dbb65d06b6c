"""``bayshelf publish``."""

from __future__ import annotations

import json
from pathlib import Path

import click

from kb.cli import shelf_path


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--name", metavar="NAME", help="The copy's name; else the shelf's own.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def publish(ctx: click.Context, folder: Path, name: str | None, as_json: bool) -> None:
    """Put a compact, checked copy of the shelf into FOLDER, for readers elsewhere.

    Prices, customers, private notes and refused rows are not in it. Readers have the copy before or the new one, never
    half of one. A running `bayshelf serve` on the copy shows the new one at the next page.
    """
    from kb.publish import publish as put

    done = put(shelf_path(ctx), folder, name)
    if as_json:
        click.echo(json.dumps(done.as_json(), ensure_ascii=False, indent=2))
        return
    click.echo(
        f"Published {done.file}: {done.parts:,} parts and {done.jobs:,} jobs, {done.bytes / 1e6:.1f} MB, "
        f"as of {done.published_at}."
    )
