"""How every command prints an answer: a table, JSON or CSV on standard output, everything else on standard error."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

from kb.errors import AnswerError, MeasurementError

Command = TypeVar("Command", bound=Callable[..., Any])
Cells = Sequence[tuple[str, Callable[[dict[str, Any]], str]]]
"""A table's columns: heading, and the text of a row's cell."""

WIDEST = 100
"""Characters of a table's widest line; longer texts wrap inside their cell."""

_GAP = 2
_NARROWEST = 8
"""Only where words are too long for the line are they broken, into pieces of at least so many characters."""

_RAGGED = 3
"""What a wrapped line leaves empty on average, about half a word."""

_MEASUREMENT = re.compile(r"(?<=[0-9]) (?=[0-9]+/[0-9]|(?:in|mm)\b)")
"""The spaces inside a measurement, where no line is broken."""


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


def answer_with(
    ctx: click.Context,
    ask: Callable[[Any, Any], Any],
    question: Any,
    cells: Cells,
    as_json: bool,
    as_csv: bool,
    headings: Sequence[str] = (),
) -> None:
    """Ask the shelf and print the answer; a question that cannot be answered as asked is wrong usage."""
    from kb.cli import shelf_path
    from kb.shelf import open_to_read

    connection = open_to_read(shelf_path(ctx))
    try:
        answer = ask(connection, question)
    except AnswerError as error:
        raise click.UsageError(str(error), ctx) from error
    finally:
        connection.close()
    show(answer, cells, as_json, as_csv, headings)


def show(answer: Any, cells: Cells, as_json: bool, as_csv: bool, headings: Sequence[str] = ()) -> None:
    """Print an answer of :mod:`queries.answers`; ``headings`` are the CSV's where there is no row to take them from."""
    rows = [row.as_json() for row in answer.rows]
    if as_json:
        click.echo(json.dumps(rows, ensure_ascii=False, indent=2))
    elif as_csv:
        _echo_csv(rows, headings)
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


def _echo_csv(rows: list[dict[str, Any]], headings: Sequence[str]) -> None:
    sys.stdout.write(csv_of(rows, headings))


def csv_of(rows: Sequence[dict[str, Any]], headings: Sequence[str] = ()) -> str:
    """Return rows as CSV that no spreadsheet runs; ``headings`` where there is no row to take them from."""
    from kb.sheets.written import csv_text

    headings = list(rows[0]) if rows else list(headings)
    texts = [[_cell_text(row[name]) for name in headings] for row in rows]
    return csv_text(headings, texts) if headings else ""


def _cell_text(value: Any) -> str:
    if value is None:
        return ""
    return json.dumps(value, ensure_ascii=False) if isinstance(value, (list, dict)) else str(value)


def table(rows: list[dict[str, Any]], cells: Cells) -> str:
    """Return rows as an aligned table, at most :data:`WIDEST` wide; columns that are empty throughout are left out."""
    columns = [(heading, [text(row) for row in rows]) for heading, text in cells]
    columns = [(heading, texts) for heading, texts in columns if any(texts)]
    room = WIDEST - _GAP * (len(columns) - 1)
    widths = _widths([(heading, *texts) for heading, texts in columns], room)
    wrapped = [[_wrap(text, width) for text in texts] for (_, texts), width in zip(columns, widths, strict=True)]
    tallest = max(range(len(columns)), key=lambda place: (sum(map(len, wrapped[place])), place))
    used = [
        max(len(heading), *(len(line) for lines in cell for line in lines))
        for (heading, _), cell in zip(columns, wrapped, strict=True)
    ]
    # What the wrapped columns did not need goes to the one that needs most lines.
    used[tallest] += max(0, room - sum(used))
    wrapped[tallest] = [_wrap(text, used[tallest]) for text in columns[tallest][1]]
    lines = [_line([heading for heading, _ in columns], used)]
    for place in range(len(rows)):
        row = [column[place] for column in wrapped]
        for line in range(max(map(len, row))):
            lines.append(_line([cell[line] if line < len(cell) else "" for cell in row], used))
    return "\n".join(lines)


def _widths(columns: Sequence[Sequence[str]], room: int) -> list[int]:
    """Return widths that fit the room, so that no column makes the rows much taller than another does.

    >>> _widths([["8PK"], ["worked in 11 jobs, 3 of them after a change"]], 30)
    [3, 25]
    """
    wanted = [max(map(len, texts)) for texts in columns]
    widths = wanted
    for lines in range(2, 9):
        if sum(widths) <= room:
            return widths
        widths = [
            min(want, max(_longest_word(texts), -(-want // lines) + _RAGGED))
            for want, texts in zip(wanted, columns, strict=True)
        ]
    while sum(widths) > room and max(widths) > _NARROWEST:
        widths = [min(width, max(widths) - 1) for width in widths]
    return widths


def _longest_word(texts: Sequence[str]) -> int:
    return max((len(word) for text in texts for word in _kept_together(text).split(" ")), default=0)


def _kept_together(text: str) -> str:
    """Join the parts of each measurement with spaces at which no line is broken."""
    return _MEASUREMENT.sub("\u00a0", text)


def _wrap(text: str, width: int) -> list[str]:
    if len(text) <= width:
        return [text]
    from textwrap import wrap

    lines = wrap(_kept_together(text), width, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines] or [""]


def _line(texts: Sequence[str], widths: Sequence[int]) -> str:
    return (" " * _GAP).join(text.ljust(width) for text, width in zip(texts, widths, strict=True)).rstrip()


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
