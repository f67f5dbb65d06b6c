"""``bayshelf find``."""

from __future__ import annotations

import click

from kb.cli import shelf_path
from kb.console import Cells, answering, show, text_of

CELLS: Cells = (
    ("what", text_of("kind")),
    ("title", text_of("title")),
    ("score", lambda row: f"{row['score']:.0f}"),
    ("why", text_of("why")),
)


@click.command()
@click.argument("text")
@answering
@click.pass_context
def find(ctx: click.Context, text: str, limit: int, as_json: bool, as_csv: bool) -> None:
    """Find anything: a part number with its slips, "8 rib 73 1/8 in", "3/4-16", or words."""
    from kb.shelf import open_to_read
    from queries.find import ask_find

    if not text.strip():
        raise click.UsageError('Give something to find, such as "8PK1854" or "heater hose".')
    connection = open_to_read(shelf_path(ctx))
    try:
        show(ask_find(connection, text, limit), CELLS, as_json, as_csv)
    finally:
        connection.close()
