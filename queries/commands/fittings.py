"""``bayshelf fittings``."""

from __future__ import annotations

import sqlite3

import click

from kb.cli import shelf_path
from kb.console import Cells, Measured, answering, fit_of, show, text_of
from kb.errors import NoShelfError
from queries.answers import caliper_text

CELLS: Cells = (
    ("thread", text_of("thread")),
    ("family", text_of("standard")),
    ("dash", text_of("dash")),
    ("outside", lambda row: caliper_text(row["outside_diameter_mm"])),
    ("per inch", lambda row: f"{row['threads_per_inch']:g}" if row["threads_per_inch"] else ""),
    ("pitch mm", lambda row: f"{row['pitch_mm']:.3g}"),
    ("seat", lambda row: f"{row['seat_deg']:g}°" if row["seat_deg"] else ""),
    ("fit", fit_of),
    ("why", text_of("why")),
    ("on the shelf", lambda row: ", ".join(f"{part['supplier']} {part['part_no']}" for part in row["parts"][:3])),
)


@click.command()
@click.argument("text", required=False)
@click.option("--outside", type=Measured("length", 2, 150), help="Caliper over a male thread.")
@click.option("--inside", type=Measured("length", 2, 150), help="Caliper inside a female thread.")
@click.option("--pitch", type=Measured("pitch"), help='By the pitch gauge: "14 tpi" or "1.5 mm".')
@click.option("--seat", type=Measured("angle", 5, 120), metavar="DEG", help="The seat's angle, such as 37.")
@click.option("--taper/--straight", "taper", default=None, help="Whether a straightedge shows a taper.")
@answering
@click.pass_context
def fittings(
    ctx: click.Context,
    text: str | None,
    outside: float | None,
    inside: float | None,
    pitch: float | None,
    seat: float | None,
    taper: bool | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Tell which thread this is, what else it could be, and which parts on the shelf have it.

    Needs no shelf. A thread on a brake, steering or fuel line is named here, and nothing more is advised on those.
    """
    from queries.fittings import FittingQuestion, ask_fittings

    if outside is not None and inside is not None:
        raise click.UsageError("Give --outside or --inside, not both.")
    if text is None and outside is None and inside is None:
        raise click.UsageError('Give a measurement or a thread: --outside "22.1 mm" --pitch "14 tpi", or "3/4-16".')
    connection = _shelf(ctx)
    try:
        question = FittingQuestion(text, outside, inside, pitch, seat, taper, limit)
        show(ask_fittings(connection, question), CELLS, as_json, as_csv)
    finally:
        if connection is not None:
            connection.close()


def _shelf(ctx: click.Context) -> sqlite3.Connection | None:
    from kb.shelf import open_to_read

    try:
        return open_to_read(shelf_path(ctx))
    except NoShelfError:
        click.echo("There is no shelf yet: the threads are told, no parts.", err=True)
        return None
