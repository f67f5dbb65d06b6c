"""``bayshelf record``: a job's form, written and taken in over the day; the job as it stands; a shop's own limits."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from kb.cli import shelf_path


@click.group()
def record() -> None:
    """Record a job over the day: write a form, fill it in, add it; what is corrected stays on record.

    `record new form.xlsx` writes an empty form (`--from JOB`: with what is known of a job), `record add form.xlsx` takes
    in what it says, as often as you like. What a form leaves empty stays as it is.
    """


@record.command()
@click.argument("out", type=click.Path(path_type=Path, dir_okay=False), metavar="OUT")
@click.option("--from", "job_id", metavar="JOB", help="Fill in what the shelf knows of this job.")
@click.pass_context
def new(ctx: click.Context, out: Path, job_id: str | None) -> None:
    """Write a form: OUT.xlsx with drop-downs, or OUT.toml for a text editor.

    With --from JOB it is filled in, asks for the measurements that the work's closing checks need, and knows the state it was
    written from: `record add` then refuses to overwrite what someone else changed meanwhile.
    """
    from importers.record import current_job, form_choices
    from kb.errors import NoShelfError
    from kb.sheets.job_form_written import Choices, write_form
    from kb.shelf import open_to_read

    job = revision = None
    choices = Choices()
    try:
        connection = open_to_read(shelf_path(ctx))
    except NoShelfError:
        if job_id is not None:
            raise
    else:
        try:
            connection.execute("BEGIN")
            choices = form_choices(connection)
            if job_id is not None:
                job = current_job(connection, job_id) or _no_job(job_id)
                revision = connection.execute("SELECT revision FROM job WHERE id = ?", (job.id,)).fetchone()[0]
        finally:
            connection.close()
    write_form(out, job, revision, choices)
    click.echo(f"{out} is written. Fill it in, then: bayshelf record add {out}", err=True)


@record.command()
@click.argument("forms", nargs=-1, required=True, metavar="FORM…", type=click.Path(path_type=Path, allow_dash=True))
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def add(ctx: click.Context, forms: tuple[Path, ...], as_json: bool) -> None:
    """Take in what forms say of their jobs: each form whole, or nothing of it. `-` reads TOML from standard input.

    Each change is a new revision. Taking the same form in again changes nothing. A job that has come to its outcome
    keeps what must be looked at again, and stays open until that is done.

    JSON keys, a list: id, done (stored, updated, unchanged), revision, changes, open (check, due_on, after_hours).
    """
    from importers.record import form_source, record_form
    from kb.errors import BayshelfError
    from kb.shelf import writing

    done = []
    failed = 0
    for source in forms:
        try:
            form = form_source(source)
            with writing(shelf_path(ctx)) as connection:
                done.append(record_form(connection, form))
        except BayshelfError as error:
            failed += 1
            click.echo(f"bayshelf: {error}", err=True)
    if as_json:
        click.echo(json.dumps([one.as_json() for one in done], ensure_ascii=False, indent=2))
    else:
        for one in done:
            click.echo(_told(one))
    for note in dict.fromkeys(note for one in done for note in one.notes):
        click.echo(note, err=True)
    if failed:
        ctx.exit(1)


def _told(one: Any) -> str:
    verb = {"stored": "is on the shelf", "updated": "was added to", "unchanged": "already says all of that"}[one.done]
    lines = [f"{one.id} {verb}.", *(f"  {change}" for change in one.changes)]
    lines += [f"  stays open: {later.check}, {later.due}" for later in one.open]
    return "\n".join(lines)


@record.command()
@click.argument("job_id", metavar="JOB")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def show(ctx: click.Context, job_id: str, as_json: bool) -> None:
    """Show a job as it stands, and every change that was recorded. Private fields are shown: this is the shop's own shelf.

    JSON keys: those of a job's form, and later, customer, private_note, open, revisions (revision, made_at, changes).
    """
    from importers.record_show import as_json as whole
    from importers.record_show import as_text
    from kb.shelf import open_to_read

    connection = open_to_read(shelf_path(ctx))
    try:
        shown = whole(connection, job_id) or _no_job(job_id)
    finally:
        connection.close()
    click.echo(json.dumps(shown, ensure_ascii=False, indent=2) if as_json else as_text(shown))


@record.command()
@click.argument("parameter", required=False, metavar="LIMIT")
@click.option("--low", metavar="N", help="The low end, a number in the limit's own unit; left out: open.")
@click.option("--high", metavar="N", help="The high end, likewise.")
@click.option("--reason", metavar="TEXT", help="What the shop's own value rests on; shown wherever the limit is.")
@click.option("--back", is_flag=True, help="Take the shop's own value back: the package's holds again.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def limit(
    ctx: click.Context,
    parameter: str | None,
    low: str | None,
    high: str | None,
    reason: str | None,
    back: bool,
    as_json: bool,
) -> None:
    """Set a practice limit to the shop's own value, or list all limits, each with its source.

    A limit that says "from memory" or "common practice, no source" only ever warns.

    JSON keys, a list: limit, low, high, unit, source, status, warns_only.
    """
    from importers.record import set_limit
    from kb.errors import AnswerError
    from kb.limits import all_limits, overrides
    from kb.shelf import open_to_read, writing

    setting = low is not None or high is not None
    if parameter is None and (setting or back):
        raise click.UsageError("Which limit? Name it; without options all are listed.", ctx)
    if parameter is not None and setting == back:
        raise click.UsageError("Give --low, --high or both with a --reason, or --back.", ctx)
    try:
        if parameter is not None:
            with writing(shelf_path(ctx)) as connection:
                found = [set_limit(connection, parameter, low, high, reason)]
        else:
            connection = open_to_read(shelf_path(ctx))
            try:
                found = all_limits(overrides(connection))
            finally:
                connection.close()
    except AnswerError as error:
        raise click.UsageError(str(error), ctx) from error
    if as_json:
        rows = [
            {"limit": one.key, "low": one.low, "high": one.high, "unit": one.unit, "source": one.source,
             "status": one.status, "warns_only": one.warns_only}
            for one in found
        ]  # fmt: skip
        click.echo(json.dumps(rows, ensure_ascii=False, indent=2))
    else:
        for one in found:
            click.echo(f"{one.key}: {one.range_text}; {one.says}")


def _no_job(job_id: str) -> Any:
    from kb.errors import ShelfError

    raise ShelfError(f"there is no job {job_id!r} on the shelf.", do="`bayshelf jobs` lists them.")
