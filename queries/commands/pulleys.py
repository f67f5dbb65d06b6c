"""``bayshelf pulleys`` and ``bayshelf tensioners``."""

from __future__ import annotations

import click

from kb.console import Cells, Measured, answer_with, answering, fit_of, length_of, text_of

CELLS: Cells = (
    ("part", text_of("part_no")),
    ("supplier", text_of("supplier")),
    ("face", text_of("face")),
    ("grooves", text_of("grooves")),
    ("across", length_of("outside_diameter_mm")),
    ("used on", text_of("use")),
    ("fit", fit_of),
    ("why", text_of("why")),
)


@click.command()
@click.argument("text", required=False)
@click.option("--diameter", type=Measured("length", 10, 1500), help="Across the rib tips or the flat face.")
@click.option("--ribs", type=click.IntRange(1, 40), metavar="N", help="Grooves at least.")
@click.option("--use", metavar="TEXT", help="What it turns, such as alternator.")
@answering
@click.pass_context
def pulleys(
    ctx: click.Context,
    text: str | None,
    diameter: float | None,
    ribs: int | None,
    use: str | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find pulleys and idlers by diameter, grooves, use or words."""
    from queries.pulleys import PulleyQuestion, PulleyRow, ask_pulleys

    question = PulleyQuestion(text, diameter, ribs, use, limit)
    answer_with(ctx, ask_pulleys, question, CELLS, as_json, as_csv, PulleyRow.KEYS)


@click.command()
@click.argument("text", required=False)
@click.option("--diameter", type=Measured("length", 10, 1500), help="Across its pulley.")
@click.option("--ribs", type=click.IntRange(1, 40), metavar="N", help="Grooves at least, where its pulley has any.")
@click.option("--use", metavar="TEXT", help="What it serves.")
@answering
@click.pass_context
def tensioners(
    ctx: click.Context,
    text: str | None,
    diameter: float | None,
    ribs: int | None,
    use: str | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find tensioners by their pulley's diameter, grooves, use or words. Keep fingers clear of the arm: it snaps back."""
    from queries.pulleys import PulleyQuestion, PulleyRow, ask_tensioners

    question = PulleyQuestion(text, diameter, ribs, use, limit)
    answer_with(ctx, ask_tensioners, question, CELLS, as_json, as_csv, PulleyRow.KEYS)
