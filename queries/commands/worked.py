"""How the sums print: a sentence, facts beside their labels, notes and cautions on standard error; or JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

import click

if TYPE_CHECKING:
    from queries.worked import Worked

Command = TypeVar("Command", bound=Callable[..., object])

as_json = click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")


def work_out(ctx: click.Context, ask: Callable[[], Worked], as_json: bool) -> None:
    """Ask, and print the answer; a question that cannot be answered as asked is wrong usage."""
    from kb.errors import AnswerError, MeasurementError

    try:
        found = ask()
    except (AnswerError, MeasurementError) as error:
        raise click.UsageError(str(error), ctx) from error
    if as_json:
        click.echo(json.dumps(found.as_json(), ensure_ascii=False, indent=2))
        return
    click.echo(found.says)
    click.echo("\n".join(_facts(found.facts)))
    for note in found.notes:
        click.echo(f"Note: {note}", err=True)
    for caution in found.cautions:
        click.echo(f"! {caution}", err=True)


def _facts(facts: tuple[tuple[str, str], ...]) -> list[str]:
    from textwrap import wrap

    width = min(34, max(len(label) for label, _ in facts)) + 2
    lines = []
    for label, said in facts:
        first, *more = wrap(said, 98 - width, break_on_hyphens=False) or [""]
        lead = [f"{label:{width}}{first}"] if len(label) < width else [label, f"{'':{width}}{first}"]
        lines += [*lead, *(f"{'':{width}}{line}" for line in more)]
    return lines
