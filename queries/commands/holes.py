"""``bayshelf holes`` and ``bayshelf holes match``."""

from __future__ import annotations

import click

from kb.console import Measured
from queries.commands.worked import as_json as json_option
from queries.commands.worked import work_out


@click.group(invoke_without_command=True)
@click.option("--count", type=click.IntRange(2, 60), metavar="N", help="How many holes.")
@click.option("--adjacent", type=Measured("length", 2, 2000), help="Two holes beside each other, centre to centre.")
@click.option(
    "--across", type=Measured("length", 2, 2000), help="Straight across; of an odd count, to either farthest."
)
@json_option
@click.pass_context
def holes(ctx: click.Context, count: int | None, adjacent: float | None, across: float | None, as_json: bool) -> None:
    """Tell a bolt circle from the spacing of its holes, centre to centre or edge to the same edge. Needs no shelf."""
    if ctx.invoked_subcommand is not None:
        if count is not None or adjacent is not None or across is not None or as_json:
            raise click.UsageError(f"Give options after `{ctx.invoked_subcommand}`, not before it.", ctx)
        return
    if count is None:
        raise click.UsageError("How many holes? Give --count and --adjacent or --across.", ctx)
    from queries.holes import HolesQuestion, ask_holes

    work_out(ctx, lambda: ask_holes(HolesQuestion(count, adjacent, across)), as_json)


@holes.command()
@click.argument("hub")
@click.argument("part")
@click.option("--within", type=Measured("length", 0, 10), help="How far each hole may be off; else from hole and stud.")
@click.option("--flange", type=Measured("length", 0.5, 200), help="Thickness of the part at its bolts.")
@click.option("--adapter", type=Measured("length", 0, 500), default="0 mm", help="Thickness of an adapter or spacer.")
@click.option("--washer", type=Measured("length", 0, 20), default="0 mm", help="Thickness of the washer.")
@click.option("--nut", type=Measured("length", 0, 60), help="Height of the nut.")
@click.option("--stud-out", type=Measured("length", 0, 500), help="How far the studs stand out of the hub.")
@click.option("--bolt", type=Measured("length", 0, 500), help="Instead: the bolts' length under the head.")
@json_option
@click.pass_context
def match(
    ctx: click.Context,
    hub: str,
    part: str,
    within: float | None,
    flange: float | None,
    adapter: float,
    washer: float,
    nut: float | None,
    stud_out: float | None,
    bolt: float | None,
    as_json: bool,
) -> None:
    """Tell whether PART goes on HUB: which hole set, the pilot, and what the bolts clamp.

    Each is typed, "6 x 120.65 mm hole 11 mm, pilot 63.5 mm deep 8 mm, stud M10 x 1.5" (several sets with "or" between
    them), or is the part number of a pulley on the shelf, SUPPLIER:NUMBER where two suppliers have it.
    """
    from contextlib import closing

    from queries.commands.drive import shelf_connection
    from queries.holes import MatchQuestion, ask_match

    question = MatchQuestion(hub, part, within, flange, adapter, washer, nut, stud_out, bolt)
    connect = shelf_connection(ctx)
    work_out(ctx, lambda: ask_match(question, lambda: closing(connect())), as_json)
