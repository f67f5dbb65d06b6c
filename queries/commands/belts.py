"""``bayshelf belts``."""

from __future__ import annotations

import click

from kb.cli import shelf_path
from kb.console import Cells, Measured, answering, fit_of, length_of, show, text_of

CELLS: Cells = (
    ("part", text_of("part_no")),
    ("supplier", text_of("supplier")),
    ("belt", lambda row: f"{row['ribs']}{row['profile']}" if row["ribs"] else (row["section"] or "V")),
    ("effective", length_of("effective_length_mm")),
    ("outside", length_of("outside_length_mm")),
    ("fit", fit_of),
    ("why", text_of("why")),
    ("the same from", lambda row: ", ".join(row["equivalents"])),
)


@click.command()
@click.argument("text", required=False)
@click.option("--length", type=Measured("length", 100, 20000), help='How long, such as "73 1/8 in".')
@click.option("--ribs", type=click.IntRange(1, 40), metavar="N", help="How many ribs.")
@click.option(
    "--measured", type=click.Choice(["effective", "outside", "pitch", "string"]), default="effective", show_default=True,
    help="How the length was measured: as printed, tape round the back, cord line, string round the pulleys.",
)  # fmt: skip
@click.option("--string-thickness", type=Measured("length", 0.1, 20), help="How thick the string was.")
@click.option("--profile", metavar="PK", help="The rib profile; PK where none is named.")
@click.option("--top-width", type=Measured("length", 3, 80), help="A V-belt's width across its back.")
@click.option("--within", type=Measured("length", 0.01, 5000), help="How far off a belt may be.")
@answering
@click.pass_context
def belts(
    ctx: click.Context,
    text: str | None,
    length: float | None,
    ribs: int | None,
    measured: str,
    string_thickness: float | None,
    profile: str | None,
    top_width: float | None,
    within: float | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find belts by measured length and ribs, a V-belt's width, or words.

    Ribs as asked come first, then what could stand in, marked so.
    """
    from kb.shelf import open_to_read
    from queries.belts import BeltQuestion, ask_belts

    question = BeltQuestion(text, length, ribs, measured, string_thickness, profile, top_width, within, limit)
    connection = open_to_read(shelf_path(ctx))
    try:
        show(ask_belts(connection, question), CELLS, as_json, as_csv)
    finally:
        connection.close()
