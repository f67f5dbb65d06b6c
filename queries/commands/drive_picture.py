"""``bayshelf drive picture``."""

from __future__ import annotations

from pathlib import Path

import click

from kb.console import Measured
from queries.commands.drive import known


@click.command()
@click.argument("sheet")
@click.option("--belt", type=Measured("length", 100, 20000), help="Show the arm where this belt puts it.")
@click.option("--pulley", metavar="NAME", help="Show this pulley moved, and where it stood.")
@click.option("--move", metavar="X,Y", help='How far it is moved, right and up, such as "0, -1/4 in".')
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="The file to write; else standard output.")
@click.option("--replace", is_flag=True, help="Write over a file that is there.")
@click.pass_context
def picture(
    ctx: click.Context,
    sheet: str,
    belt: float | None,
    pulley: str | None,
    move: str | None,
    out: Path | None,
    replace: bool,
) -> None:
    """Draw SHEET to scale, as SVG: pulleys, belt, spans, wraps, the arm at its stops and at rest."""
    from kb.errors import BayshelfError
    from kb.sheets.written import write_whole
    from queries.drive_picture import ask_picture, read_move

    if (pulley is None) != (move is None):
        raise click.UsageError("--pulley and --move belong together.", ctx)
    moved = (pulley, read_move(move)) if pulley is not None and move is not None else None
    drawn = ask_picture(known(ctx, sheet), belt, moved)
    if out is None:
        click.echo(drawn)
        return
    if out.exists() and not replace:
        raise BayshelfError("is there already.", where=str(out), do="Name another file, or add --replace.")
    write_whole(out, drawn + "\n")
    click.echo(f"Drawn: {out}", err=True)
