"""``bayshelf hoses``."""

from __future__ import annotations

import click

from kb.console import Cells, Measured, MeasuredList, answer_with, answering, fit_of, length_of, text_of

CELLS: Cells = (
    ("part", text_of("part_no")),
    ("supplier", text_of("supplier")),
    ("service", text_of("service")),
    ("inside", length_of("inside_diameter_mm")),
    ("length", length_of("length_mm")),
    ("bends", lambda row: ", ".join(f"{bend:g}°" for bend in row["bends_deg"])),
    ("fit", fit_of),
    ("why", text_of("why")),
)


@click.command()
@click.argument("text", required=False)
@click.option("--service", metavar="S", help="What runs in it, such as coolant or heater.")
@click.option("--inside", type=Measured("length", 2, 300), help="The bore, or the stub it goes on.")
@click.option("--length", type=Measured("length", 10, 100000), help="Along the middle; longer ones can be cut.")
@click.option("--legs", type=MeasuredList("length", 1, 10000), help='End to corner, corner to end: "4 in,7 in".')
@click.option("--bends", type=MeasuredList("angle", 0, 180), help='How far each bend turns: "90,45".')
@answering
@click.pass_context
def hoses(
    ctx: click.Context,
    text: str | None,
    service: str | None,
    inside: float | None,
    length: float | None,
    legs: tuple[float, ...] | None,
    bends: tuple[float, ...] | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find hoses by bore, length, bends, service or words."""
    from queries.hoses import HoseQuestion, HoseRow, ask_hoses

    question = HoseQuestion(text, service, inside, length, legs or (), bends or (), limit)
    answer_with(ctx, ask_hoses, question, CELLS, as_json, as_csv, HoseRow.KEYS)
