"""``bayshelf morning``."""

from __future__ import annotations

import json
from pathlib import Path
from textwrap import wrap
from typing import Any

import click

from kb.cli import shelf_path


@click.command()
@click.argument("sheet", metavar="SHEET|ID")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def morning(ctx: click.Context, sheet: str, as_json: bool) -> None:
    """Say what to watch for, measure and have in hand before a job, from the jobs on the shelf that are like it.

    SHEET is a job's form (.toml or .xlsx) with only what is known in the morning, or the id of a job on the shelf. Counts
    stand with the 95 % Wilson interval of the share: 3 of 7 jobs is 16 to 75 % of such jobs.

    JSON keys: asked, jobs, troubles (trouble, share, hours_lost, hours_each, jobs, cured, not_cured, not_said), together,
    measure, in_hand, makers, notes.
    """
    from kb.errors import AnswerError
    from kb.shelf import open_to_read
    from queries.morning import ask_morning

    connection = open_to_read(shelf_path(ctx))
    try:
        answer = ask_morning(connection, asked_job(connection, sheet))
    except AnswerError as error:
        raise click.UsageError(str(error), ctx) from error
    finally:
        connection.close()
    if as_json:
        click.echo(json.dumps(answer.as_json(), ensure_ascii=False, indent=2))
    else:
        click.echo(as_text(answer))


def asked_job(connection: Any, named: str) -> Any:
    """Return the job that a form's file or a job's id means."""
    from kb.sheets.job_form import read_form
    from queries.closing import stored_job

    if Path(named).suffix.casefold() in (".toml", ".xlsx", ".xlsm"):
        return read_form(Path(named)).job
    return stored_job(connection, named)


def as_text(answer: Any) -> str:
    """Return the morning list as a mechanic reads it."""
    lines = [f"Morning list: {answer.asked}", *(f"  {note}" for note in answer.notes)]
    lines += ["", f"Jobs like it ({len(answer.jobs)}):"]
    for job in answer.jobs:
        lines += _item(f"{job['id']} {job['title']} ({job['outcome'] or 'open'}), {job['likeness']:.0f} alike: "
                       + "; ".join(job["because"][:3]))  # fmt: skip
    lines += ["", "Watch for:"] if answer.troubles else []
    for one in answer.troubles:
        lines += _trouble(one)
    lines += ["", "Goes in together:"] if answer.together else []
    for pair in answer.together:
        lines += _item(f"{pair['when']} with {pair['goes_with']}: {pair['why']} [{pair['source']}]")
    lines += ["", "Measure first:"] if answer.measure else []
    for each in answer.measure:
        lines += _item(f"{each.what}: {each.why}. {each.how}" + (f" CAUTION: {each.caution}" if each.caution else ""))
    lines += ["", "Have in hand:"] if answer.in_hand else []
    for part in answer.in_hand:
        lines += _item(_part(part))
    lines += ["", "Who can supply or make it:"] if answer.makers else []
    for maker in answer.makers:
        lines += _item(f"{maker.supplier}, {_lead(maker.lead_time_hours, maker.same_day)}: {'; '.join(maker.can)}"
                       + (f". {maker.notes}" if maker.notes else ""))  # fmt: skip
    return "\n".join(lines)


def _trouble(one: Any) -> list[str]:
    hours = f"; {one.hours_lost:g} h lost in all" if one.hours_lost else ""
    each = f", {one.hours_each:g} h as a rule" if one.hours_each and one.share.count > 1 else ""
    lines = _item(f"{one.trouble}: {one.share.says}{hours}{each}")
    for label, remedies in (("cured by", one.cured), ("not cured by", one.not_cured), ("tried", one.not_said)):
        for remedy, count in remedies:
            lines += _item(f"{label} {remedy} ({count} {'job' if count == 1 else 'jobs'})", 6)
    return lines


def _part(part: Any) -> str:
    ended = [f"worked in {part.worked}"] if part.worked else []
    ended += [f"did not work in {part.failed}"] if part.failed else []
    listed = [f"{one['supplier']}, {_lead(one['lead_time_hours'], one['same_day'])}" for one in part.from_]
    return (
        f"{part.part_no}{f' ({part.what})' if part.what else ''}: used in {part.jobs} of {part.of} jobs"
        + (f", {', '.join(ended)}" if ended else "")
        + (f". From {'; '.join(listed)}" if listed else ". No supplier on the shelf lists it")
    )


def _lead(hours: float | None, same_day: bool) -> str:
    if hours is None:
        return "lead time not known"
    return f"{hours:g} h{' (the same day)' if same_day else ''}"


def _item(text: str, indent: int = 2) -> list[str]:
    return wrap(
        text, 98, initial_indent=" " * indent + "- ", subsequent_indent=" " * (indent + 2), break_on_hyphens=False
    )
