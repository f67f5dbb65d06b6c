"""``bayshelf fittings``."""

from __future__ import annotations

import sqlite3
from typing import Any

import click

from kb.cli import shelf_path
from kb.console import Cells, Measured, answering, fit_of, show, text_of
from kb.errors import AnswerError, NoShelfError
from queries.answers import caliper_text


def _seat(row: dict[str, Any]) -> str:
    """The angle as the trade says it: a slender cone by its whole angle, others by the half."""
    if row["seat_deg"] is None:
        return ""
    return f"{2 * row['seat_deg']:g}°" if row["seat_deg"] < 20 else f"{row['seat_deg']:g}°"


CELLS: Cells = (
    ("thread", text_of("thread")),
    ("family", text_of("standard")),
    ("dash", text_of("dash")),
    ("outside", lambda row: caliper_text(row["outside_diameter_mm"])),
    ("seat", _seat),
    ("fit", fit_of),
    ("why", text_of("why")),
    ("on the shelf", lambda row: ", ".join(f"{part['supplier']} {part['part_no']}" for part in row["parts"][:3])),
)


@click.command()
@click.argument("text", required=False)
@click.option("--outside", type=Measured("length", 2, 150), help="Caliper over a male thread.")
@click.option("--inside", type=Measured("length", 2, 150), help="Caliper inside a female thread.")
@click.option("--pitch", type=Measured("pitch"), help='By the pitch gauge: "14 tpi" or "1.5 mm".')
@click.option(
    "--count", type=click.FloatRange(1, 200), metavar="N", help="Threads counted, crest to crest, with --over."
)
@click.option("--over", type=Measured("length", 2, 500), help='The length they were counted over: "1 in".')
@click.option("--seat", type=Measured("angle", 0, 120), metavar="DEG", help="The seat's angle, such as 37; 0: no cone.")
@click.option("--taper/--straight", "taper", default=None, help="Whether a straightedge shows a taper.")
@click.option("--tube", type=Measured("length", 2, 150), help="Caliper over the tube that the fitting takes.")
@click.option("--flanks", type=click.Choice(["55", "60"]), help="The angle between flanks, by a gauge of each form.")
@click.option("--doubt", type=Measured("length", 0.005, 2), help="How far off the caliper may be, else 0.08 mm.")
@answering
@click.pass_context
def fittings(
    ctx: click.Context,
    text: str | None,
    outside: float | None,
    inside: float | None,
    pitch: float | None,
    count: float | None,
    over: float | None,
    seat: float | None,
    taper: bool | None,
    tube: float | None,
    flanks: str | None,
    doubt: float | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Tell which thread this is, what else it could be, what would settle it, and which parts on the shelf have it.

    A row for each family that uses a thread; worn, tapered and shakily measured threads are allowed for. Needs no shelf. A
    thread on a brake, steering or fuel line is named here, and nothing more is advised on those.
    """
    from kb.mechanics.threads import CALIPER_DOUBT_MM, pitch_counted
    from queries.fittings import FittingQuestion, ask_fittings

    if outside is not None and inside is not None:
        raise click.UsageError("Give --outside or --inside, not both.")
    if text is None and outside is None and inside is None:
        raise click.UsageError('Give a measurement or a thread: --outside "22.1 mm" --pitch "14 tpi", or "3/4-16".')
    if (count is None) != (over is None):
        raise click.UsageError('Give both of --count and --over: --count 14 --over "1 in".')
    if count is not None and over is not None:
        if pitch is not None:
            raise click.UsageError("Give --pitch, or --count and --over, not both.")
        pitch = pitch_counted(count, over)
    connection = _shelf(ctx)
    try:
        question = FittingQuestion(
            text, outside, inside, pitch, seat, taper, limit, over, tube, float(flanks) if flanks else None,
            CALIPER_DOUBT_MM if doubt is None else doubt,
        )  # fmt: skip
        show(ask_fittings(connection, question), CELLS, as_json, as_csv)
    except AnswerError as error:
        raise click.UsageError(str(error), ctx) from error
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
