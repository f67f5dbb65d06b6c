"""``bayshelf drive belts``."""

from __future__ import annotations

import click

from kb.console import Cells, Measured, answering, length_of, show, text_of
from queries.commands.drive import known, shelf_connection

CELLS: Cells = (
    ("part", text_of("part_no")),
    ("supplier", text_of("supplier")),
    ("effective", length_of("effective_length_mm")),
    ("chance", lambda row: f"{100 * row['chance_it_fits']:.0f} %"),
    ("arm", lambda row: "" if row["arm_deg"] is None else f"{row['arm_deg']:.1f}°"),
    ("travel", lambda row: "" if row["travel_used"] is None else f"{100 * row['travel_used']:.0f} %"),
    ("why", text_of("why")),
)


@click.command()
@click.argument("sheet")
@click.option("--need", type=Measured("length", 0, 500), help="The slack that the last pulley needs.")
@answering
@click.pass_context
def belts(ctx: click.Context, sheet: str, need: float | None, limit: int, as_json: bool, as_csv: bool) -> None:
    """Judge every belt on the shelf of the profile and ribs of SHEET: the likeliest to fit first."""
    from queries.drive_belts import DriveBeltRow, ask_drive_belts

    drive = known(ctx, sheet)
    connection = shelf_connection(ctx)()
    try:
        answer = ask_drive_belts(connection, drive, need, limit)
    finally:
        connection.close()
    show(answer, CELLS, as_json, as_csv, DriveBeltRow.KEYS)
