"""``bayshelf closing``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from kb.cli import shelf_path
from kb.console import Cells, show, text_of

DUE: Cells = (
    ("due", text_of("due")), ("job", text_of("job")), ("what", text_of("title")), ("bay", text_of("bay")),
    ("look at", text_of("check")),
)  # fmt: skip
HEADINGS = {"outside": "OUTSIDE", "not measured": "NOT MEASURED", "within": "WITHIN"}


def as_text(rows: list[Any]) -> str:
    """Return the rows as a mechanic reads them: what is outside first, then what is missing; cautions where work is left."""
    lines: list[str] = []
    state = None
    for row in rows:
        if row.state != state:
            state = row.state
            lines += ["", HEADINGS[state]] if lines else [HEADINGS[state]]
        warns = " (a warning only)" if row.state == "outside" and row.warns_only else ""
        said = [f"found {row.as_found}" if row.as_found else "", f"left {_left(row)}" if _left(row) else ""]
        told = ", ".join(filter(None, said))
        limit = f"limit {row.limit_text}" if row.limit_text else ""
        lines.append(f"  {row.check}{warns}: " + "; ".join(filter(None, (told, limit, row.why))).strip())
        if lines[-1].endswith(": "):
            lines[-1] = lines[-1].removesuffix(": ")
        if row.state != "within":
            lines += _wrapped(row.how, "how") + _wrapped(row.caution, "CAUTION")
        if row.limit_text:
            lines += _wrapped(row.source, "source")
    return "\n".join(lines)


def _left(row: Any) -> str:
    if row.value is not None:
        written = row.as_left if row.as_left and not row.as_left.startswith(f"{row.value:.4g} {row.unit}") else ""
        return f"{written} ({row.value:.4g} {row.unit})" if written else f"{row.value:.4g} {row.unit}"
    return row.as_left or ""


def _wrapped(text: str, label: str) -> list[str]:
    from textwrap import wrap

    return wrap(f"{label}: {text}", 96, initial_indent="      ", subsequent_indent="        ") if text else []


@click.command()
@click.argument("job_id", required=False, metavar="[JOB]")
@click.option(
    "--html", type=click.Path(path_type=Path, dir_okay=False), metavar="OUT.html",
    help="Write the job's summary for the customer, to print.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@click.pass_context
def closing(ctx: click.Context, job_id: str | None, html: Path | None, as_json: bool, as_csv: bool) -> None:
    """Go through a job's closing checks: what is outside its limits or missing comes first. Without JOB: what is due.

    The checks follow from the work; each limit says where it comes from, and what is only habit or memory only warns.
    `bayshelf record limit` sets a shop's own. What must be looked at again keeps its day, and the job open.

    JSON keys, a list; without JOB: job, title, bay, check, due_on, after_hours, due; with it: check, value, unit, low,
    high, state, source, warns_only, as_found, as_left, found_value, why, how, caution, due_on, after_hours, done_on, later.
    """
    from kb.errors import AnswerError
    from kb.shelf import open_to_read
    from queries.closing import ask_closing, ask_due

    if job_id is None and html is not None:
        raise click.UsageError("Which job's summary? Name it.", ctx)
    connection = open_to_read(shelf_path(ctx))
    try:
        if job_id is None:
            show(ask_due(connection), DUE, as_json, as_csv)
            return
        answer = ask_closing(connection, job_id)
        if html is not None:
            from queries.summary import summary_html

            _write(html, summary_html(connection, job_id))
    except AnswerError as error:
        raise click.UsageError(str(error), ctx) from error
    finally:
        connection.close()
    if as_json or as_csv:
        show(answer, (), as_json, as_csv)
    else:
        click.echo(f"{answer.understood[0].upper()}{answer.understood[1:]}.", err=True)
        click.echo(as_text(answer.rows))
        for note in answer.notes:
            click.echo(note, err=True)
    if html is not None:
        click.echo(f"The summary is in {html}: open it in a browser and print it.", err=True)


def _write(target: Path, text: str) -> None:
    """Write the page whole or not at all; an older summary is replaced, any other file is left alone."""
    import os
    import secrets

    from kb.errors import ShelfError

    scratch = target.with_name(f".{target.name}-{secrets.token_hex(4)}")
    try:
        if target.exists() and b"summary \xc2\xb7 bayshelf" not in target.read_bytes()[:2000]:
            raise ShelfError("that file is there already.", where=str(target), do="Name another one.")
        try:
            scratch.write_text(text, encoding="utf-8")
            os.replace(scratch, target)
        finally:
            scratch.unlink(missing_ok=True)
    except OSError as error:
        raise ShelfError(
            f"cannot be written ({error.strerror}).", where=str(target), do="Name a file in a folder you may write to."
        ) from error
