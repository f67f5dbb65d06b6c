"""``bayshelf drive last``."""

from __future__ import annotations

import click

from kb.console import Cells, Measured, length_of, show, text_of
from queries.commands.drive import known

CELLS: Cells = (
    ("last over", text_of("pulley")),
    ("needs at most", length_of("needs_high_mm")),
    ("slack there is", length_of("slack_mm")),
    ("verdict", text_of("verdict")),
    ("why", text_of("why")),
)


@click.command()
@click.argument("sheet")
@click.option("--belt", type=Measured("length", 100, 20000), help="The belt's effective length.")
@click.option("--reach", multiple=True, metavar="PULLEY", help="Only pulleys that can be reached; may be repeated.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@click.pass_context
def last(
    ctx: click.Context, sheet: str, belt: float | None, reach: tuple[str, ...], as_json: bool, as_csv: bool
) -> None:
    """Tell which pulley of SHEET the belt goes over last: what each needs, and the slack there is.

    The slack needed is a range: next to nothing rolled on, the upper bound lifted over the rim and slid in from the side.
    """
    from queries.drive_last import LastRow, ask_last

    show(ask_last(known(ctx, sheet), belt, reach), CELLS, as_json, as_csv, LastRow.KEYS)
