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
    ("twists", lambda row: ", ".join(f"{twist:g}°" for twist in row["twists_deg"])),
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
@click.option(
    "--twists",
    type=MeasuredList("angle", -360, 360),
    help='How each bend is turned against the one before, clockwise seen along the hose: "0" same way, "180" opposite.',
)
@click.option(
    "--leg-within", type=Measured("length", 0.5, 100), help="How far legs between bends may be off, else 6 mm."
)
@click.option(
    "--bend-within", type=Measured("angle", 0.5, 45), help="How far bends may be off, else 5°; twists twice it."
)
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
    twists: tuple[float, ...] | None,
    leg_within: float | None,
    bend_within: float | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find hoses by bore, length, bends, service or words.

    Legs, bends and twists are looked for in every hose's middle, the hose either way round: the answer says where to cut each
    end and what is left over, and tells a mirror image from the hose that was asked for.
    """
    from kb.mechanics.moulded_search import Tolerance
    from queries.hoses import HoseQuestion, HoseRow, ask_hoses

    question = HoseQuestion(
        text,
        service,
        inside,
        length,
        legs or (),
        bends or (),
        limit,
        twists or (),
        Tolerance.within(leg_within, bend_within),
    )
    answer_with(ctx, ask_hoses, question, CELLS, as_json, as_csv, HoseRow.KEYS)
