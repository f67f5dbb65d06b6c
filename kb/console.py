"""How every command prints an answer: a table, JSON or CSV on standard output, everything else on standard error."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

from kb.errors import MeasurementError

Command = TypeVar("Command", bound=Callable[..., Any])
Cells = Sequence[tuple[str, Callable[[dict[str, Any]], str]]]
"""A table's columns: heading, and the text of a row's cell."""

WIDEST = 46
"""Characters of the widest cell of a table; longer texts wrap."""


class Measured(click.ParamType):  # type: ignore[type-arg] # generic only in newer clicks, and then only for types
    """An option that takes a shop measurement: ``"73 1/8 in"``, ``1857``, ``"14 tpi"``."""

    name = "measurement"

    def __init__(self, quantity: str, low: float | None = None, high: float | None = None) -> None:
        self.quantity = quantity
        self.low = low
        self.high = high

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read the measurement; what is none is wrong usage, told with an example."""
        from kb.measure import QUANTITIES, read

        if isinstance(value, float):
            return value
        try:
            return read(value, QUANTITIES[self.quantity], low=self.low, high=self.high)
        except MeasurementError as error:
            self.fail(str(error), param, ctx)

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:
        """Show M for a measurement."""
        return "M"


class MeasuredList(Measured):
    """An option that takes several measurements, parted by commas or semicolons."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read each of them."""
        if isinstance(value, tuple):
            return value
        parts = value.split(";" if ";" in value else ",")
        return tuple(super(MeasuredList, self).convert(part.strip(), param, ctx) for part in parts)


def answering(command: Command) -> Command:
    """Add the options that every answering command has: ``--limit``, ``--json``, ``--csv``."""
    command = click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")(command)
    command = click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")(command)
    return click.option(
        "--limit",
        type=click.IntRange(1, 1000),
        default=10,
        show_default=True,
        metavar="N",
        help="At most so many answers.",
    )(command)


def show(answer: Any, cells: Cells, as_json: bool, as_csv: bool) -> None:
    """Print an answer of :mod:`queries.answers`."""
    rows = [row.as_json() for row in answer.rows]
    if as_json:
        click.echo(json.dumps(rows, ensure_ascii=False, indent=2))
    elif as_csv:
        _echo_csv(rows)
    else:
        if answer.understood:
            click.echo(f"Asked: {answer.understood}.", err=True)
        if rows:
            click.echo(table(rows, cells))
    if not rows:
        click.echo("Nothing found." + (" The nearest:" if answer.misses else ""), err=True)
        if answer.misses:
            click.echo(table([row.as_json() for row in answer.misses], cells), err=as_json or as_csv)
    for note in answer.notes:
        click.echo(note, err=True)


def _echo_csv(rows: list[dict[str, Any]]) -> None:
    from kb.sheets.written import csv_text

    headings = list(rows[0]) if rows else []
    texts = [[_cell_text(row[name]) for name in headings] for row in rows]
    sys.stdout.write(csv_text(headings, texts) if headings else "")


def _cell_text(value: Any) -> str:
    if value is None:
        return ""
    return json.dumps(value, ensure_ascii=False) if isinstance(value, (list, dict)) else str(value)


def table(rows: list[dict[str, Any]], cells: Cells) -> str:
    """Return rows as an aligned table; columns that are empty throughout are left out."""
    import textwrap

    columns = [(heading, [text(row) for row in rows]) for heading, text in cells]
    columns = [(heading, texts) for heading, texts in columns if any(texts)]
    widths = [min(WIDEST, max(len(heading), *map(len, texts))) for heading, texts in columns]
    lines = ["  ".join(heading.ljust(width) for (heading, _), width in zip(columns, widths, strict=True)).rstrip()]
    for place in range(len(rows)):
        wrapped = [
            textwrap.wrap(texts[place], width) or [""] for (_, texts), width in zip(columns, widths, strict=True)
        ]
        for line in range(max(map(len, wrapped))):
            parts = [
                (cell[line] if line < len(cell) else "").ljust(width)
                for cell, width in zip(wrapped, widths, strict=True)
            ]
            lines.append("  ".join(parts).rstrip())
    return "\n".join(lines)


def text_of(name: str) -> Callable[[dict[str, Any]], str]:
    """Return a cell's text as it stands."""
    return lambda row: "" if row[name] is None else str(row[name])


def length_of(name: str) -> Callable[[dict[str, Any]], str]:
    """Return a length in inches and millimetres."""

    def cell(row: dict[str, Any]) -> str:
        from kb.measure import both_text

        return "" if row[name] is None else both_text(row[name])

    return cell


def fit_of(row: dict[str, Any]) -> str:
    """Return the fit, a whole number."""
    return f"{row['fit']:.0f}"
