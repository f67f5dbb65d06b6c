"""``bayshelf jobs``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from kb.cli import shelf_path
from kb.console import Cells, answering, show, text_of


def _troubles(row: dict[str, Any]) -> str:
    return "; ".join(
        " → ".join(filter(None, (one["trouble"], one["remedy"])))
        + (f" ({one['hours_lost']:g} h)" if one["hours_lost"] else "")
        for one in row["troubles"]
        if one["trouble"] or one["remedy"]
    )


CELLS: Cells = (
    ("job", text_of("id")),
    ("what", text_of("title")),
    ("outcome", text_of("outcome")),
    ("alike", lambda row: f"{row['likeness']:.0f}"),
    ("because", lambda row: "; ".join(row["because"])),
    ("trouble → remedy", _troubles),
)


@click.command()
@click.argument("text", required=False)
@click.option("--like", metavar="SHEET|ID", help="Jobs like this one: a job's id, or a job's form (.toml, .xlsx).")
@click.option("--drive", metavar="NAME", help="Only those on this drive.")
@click.option(
    "--outcome",
    type=click.Choice(["worked", "worked after a change", "did not work"]),
    help="Only those that ended so.",
)
@answering
@click.pass_context
def jobs(
    ctx: click.Context,
    text: str | None,
    like: str | None,
    drive: str | None,
    outcome: str | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find past jobs by words, or jobs like another one, with what went wrong and what cured it."""
    from kb.sheets.job_form import read_form
    from kb.sheets.job_sheet import JobSheet
    from kb.shelf import open_to_read
    from queries.jobs import JobQuestion, ask_jobs

    asked: str | JobSheet | None = (
        read_form(Path(like)).job if like and like.casefold().endswith((".toml", ".xlsx")) else like
    )
    connection = open_to_read(shelf_path(ctx))
    try:
        show(ask_jobs(connection, JobQuestion(text, asked, outcome, limit, drive)), CELLS, as_json, as_csv)
    finally:
        connection.close()
