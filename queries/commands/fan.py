"""``bayshelf fan``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.console import Measured
from queries.commands.worked import as_json as json_option
from queries.commands.worked import work_out

if TYPE_CHECKING:
    from queries.worked import Worked


@click.command()
@click.option("--fan", "fan_mm", type=Measured("length", 50, 3000), required=True, help="Across the blade tips.")
@click.option("--ring", type=Measured("length", 50, 3000), help="Inside of the shroud's ring.")
@click.option(
    "--offset", metavar='"X,Y"', help="The fan's centre from the ring's: right and up; minus is left and down."
)
@click.option(
    "--gaps", metavar='"T,R,B,L"', help="Instead of ring and offset: the gaps at top, right, bottom and left."
)
@click.option("--move", metavar='"X,Y"', help="What if the ring were moved so far.")
@click.option("--ring-on", type=click.Choice(["chassis", "engine"]), default="chassis", show_default=True)
@click.option("--speed", type=Measured("speed", 1, 20_000), help="Of the fan, for its tips' speed: 2200 rpm.")
@click.option("--picture", type=click.Path(path_type=Path, dir_okay=False), metavar="OUT", help="Write an SVG picture.")
@json_option
@click.pass_context
def fan(
    ctx: click.Context,
    fan_mm: float,
    ring: float | None,
    offset: str | None,
    gaps: str | None,
    move: str | None,
    ring_on: str,
    speed: float | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Tell the gap all round between a fan and its ring, and how far to move the ring to even it.

    Seen from the front: x right, y up, angles anticlockwise from the right. Needs no shelf; engine stopped.
    """
    from queries.fan import FanQuestion, ask_fan

    question = FanQuestion(fan_mm, ring, offset, gaps, move, ring_on == "engine", speed)

    def ask() -> Worked:
        found = ask_fan(question)
        if picture is not None:
            _write(picture, found.drawing)
        return found

    work_out(ctx, ask, as_json)


def _write(target: Path, drawing: str) -> None:
    from kb.errors import AnswerError

    try:
        target.write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise AnswerError(f"{target} cannot be written ({error.strerror}).", do="Name another file.") from error
