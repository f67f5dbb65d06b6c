"""``bayshelf clamps``."""

from __future__ import annotations

import click

from kb.console import Cells, Measured, answer_with, answering, fit_of, length_of, text_of

CELLS: Cells = (
    ("part", text_of("part_no")),
    ("supplier", lambda row: row["supplier"] or "by size number"),
    ("size", text_of("size_number")),
    ("closes to", length_of("smallest_mm")),
    ("opens to", length_of("largest_mm")),
    ("fit", fit_of),
    ("why", text_of("why")),
)


@click.command()
@click.option("--around", type=Measured("length", 3, 1000), required=True, help="Outside of the hose over its stub.")
@answering
@click.pass_context
def clamps(ctx: click.Context, around: float, limit: int, as_json: bool, as_csv: bool) -> None:
    """Find clamps that close on a diameter, those near the middle of their band first."""
    from queries.clamps import ClampQuestion, ClampRow, ask_clamps

    answer_with(ctx, ask_clamps, ClampQuestion(around, limit), CELLS, as_json, as_csv, ClampRow.KEYS)
