"""``bayshelf line route`` and ``bayshelf line order``: both work from a line sheet alone, without a shelf."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.console import Cells, length_of, table, text_of

if TYPE_CHECKING:
    from queries.lines import LineAnswer

BENDS: Cells = (
    ("bend", text_of("bend")),
    ("turns", lambda row: f"{row['angle_deg']:.0f}°"),
    ("radius to the centre", length_of("radius_mm")),
    ("twist", lambda row: "" if row["twist_deg"] is None else f"{row['twist_deg']:.0f}°"),
    ("possible", lambda row: "yes" if row["possible"] else "no"),
    ("room for a radius of", length_of("largest_radius_mm")),
)
CLEARANCES: Cells = (
    ("keep clear of", text_of("name")),
    ("gap", length_of("gap_mm")),
    ("asked", length_of("by_mm")),
    ("clear", lambda row: "yes" if row["clear"] else "no"),
)
SHEET = click.argument("sheet", metavar="SHEET", type=click.Path(path_type=Path))


@click.group()
def line() -> None:
    """Work out a hose or line from its ends and its route, and write its order sheet.

    SHEET is a line sheet (.toml): two [[end]] tables, the route as [[point]] or [[run]] tables, and what to keep clear of.
    Brake, steering and fuel lines are refused.
    """


@line.command()
@SHEET
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def route(ctx: click.Context, sheet: Path, as_json: bool) -> None:
    """Tell order length, cut length, bends, clock angle and clearances.

    Exit code 1 where a leg is too short for its bend: what is possible is said, and there is no order length.
    """
    answer = _answer(sheet)
    if as_json:
        click.echo(json.dumps(answer.as_json(), ensure_ascii=False, indent=2))
    else:
        click.echo(_route_text(answer))
    for caution in answer.cautions:
        click.echo(f"! {caution}", err=True)
    if not answer.route.possible:
        ctx.exit(1)


@line.command()
@SHEET
@click.option("--text", "as_text", is_flag=True, help="Print it as text; so it is without any option.")
@click.option(
    "--html", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True), metavar="OUT",
    help="Write it as a page that prints on one sheet of paper; - is standard output.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
def order(sheet: Path, as_text: bool, html: Path | None, as_json: bool) -> None:
    """Write the order sheet: every dimension, both ends, the clock angle, service, rating, quantity and cautions.

    A route that no hose can take, or that runs into something, is refused.
    """
    from queries.order_sheet import order_sheet, order_text

    if sum((as_text, html is not None, as_json)) > 1:
        raise click.UsageError("Of --text, --html and --json, one at a time.")
    answer = _answer(sheet)
    if html is not None:
        _write_page(answer, html)
    elif as_json:
        click.echo(json.dumps(order_sheet(answer).as_json(), ensure_ascii=False, indent=2))
    else:
        click.echo(order_text(order_sheet(answer)))


def _answer(sheet: Path) -> LineAnswer:
    from kb.sheets.line import read_line
    from queries.lines import ask_line

    return ask_line(read_line(sheet))


def _write_page(answer: LineAnswer, target: Path) -> None:
    from kb.errors import LineError
    from queries.order_html import order_page

    page = order_page(answer)
    if str(target) == "-":
        sys.stdout.write(page)
        return
    try:
        target.write_text(page, encoding="utf-8")
    except OSError as error:
        raise LineError(f"cannot be written ({error.strerror}).", where=str(target), do="Name another file.") from error
    click.echo(f"The order sheet is in {target}: open it in a browser and print it.", err=True)


def _route_text(answer: LineAnswer) -> str:
    from queries.order_sheet import clock_text, labelled, lengths

    facts = [*lengths(answer)] or [("Order length", "none: see the bends")]
    clock = clock_text(answer)
    if clock:
        facts.append(("Clock angle", clock))
    facts.append(("Points", answer.sheet.order_said))
    facts.append(("Places", "x right, y up, z forward, seen from the front of the machine"))
    lines = [answer.sheet.name, *labelled(facts)]
    for cells, rows in ((BENDS, answer.bend_rows()), (CLEARANCES, [one.as_json() for one in answer.clearances])):
        if rows:
            lines += ["", table(rows, cells)]
    return "\n".join(lines)
