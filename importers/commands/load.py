"""``bayshelf load``: parses options, shows progress, prints the report."""

from __future__ import annotations

import json
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from importers.report import Report
from kb.cli import shelf_path
from kb.errors import BayshelfError

KINDS = ("belts", "pulleys", "tensioners", "hoses", "fittings", "clamps", "jobs", "drives", "lines", "suppliers")


@click.command()
@click.argument("sheets", nargs=-1, required=True, metavar="SHEET…", type=click.Path(path_type=Path))
@click.option("--as", "kind", type=click.Choice(KINDS), help="What the sheet lists; else told from its headings.")
@click.option("--supplier", metavar="NAME", help="Whose sheet it is, where no column says so.")
@click.option("--unit", type=click.Choice(["mm", "in"]), help="What bare lengths mean where no heading says so.")
@click.option(
    "--map", "maps", multiple=True, metavar='"theirs=ours"', help="What a heading means; nothing after = leaves it out."
)
@click.option("--dry-run", is_flag=True, help="Show the whole report and write nothing.")
@click.option(
    "--refusals", type=click.Path(path_type=Path, dir_okay=False), metavar="OUT.csv",
    help="Write the refused rows out, to be corrected and loaded again.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.pass_context
def load(
    ctx: click.Context,
    sheets: tuple[Path, ...],
    kind: str | None,
    supplier: str | None,
    unit: str | None,
    maps: tuple[str, ...],
    dry_run: bool,
    refusals: Path | None,
    as_json: bool,
) -> None:
    """Load supplier sheets (CSV, XLSX), drives, lines and single jobs (TOML), or a sheet of past jobs.

    Tells what each sheet lists and what each column is, and says so. Rows that cannot be stored are refused with row, column
    and reason, and kept; the rest is stored in one go or not at all. Loading the same sheet again changes nothing.
    """
    from importers.load import Settings, load_file

    settings = Settings(kind, supplier.strip() if supplier else None, unit, _told(maps), dry_run)
    reports: list[Report] = []
    failed = 0
    with _shelf(shelf_path(ctx), dry_run) as connection:
        for sheet in sheets:
            try:
                with _progress(sheet) as progress:
                    found = load_file(connection, shelf_path(ctx), sheet, settings, ask=_ask(), progress=progress)
            except BayshelfError as error:
                failed += 1
                click.echo(f"bayshelf: {error}", err=True)
                continue
            for report in found:
                report.dry_run = dry_run
            reports += found
    if refusals is not None:
        _write_refusals(reports, refusals)
    if as_json:
        click.echo(json.dumps([report.as_json() for report in reports], ensure_ascii=False, indent=2))
    else:
        for report in reports:
            click.echo(as_text(report))
    if failed:
        ctx.exit(1)


def _told(maps: tuple[str, ...]) -> dict[str, str]:
    from kb.sheets.headings import plain

    told = {}
    for text in maps:
        theirs, equals, ours = text.rpartition("=")
        if not equals or not theirs.strip():
            raise click.UsageError(f'--map {text!r} is not of the form "their heading=our column".')
        told[plain(theirs)] = ours.strip()
    return told


@contextmanager
def _shelf(path: Path, dry_run: bool) -> Iterator[sqlite3.Connection]:
    from kb.shelf import open_to_write

    empty = not path.exists() or (path.is_file() and path.stat().st_size == 0)
    if dry_run and empty:
        from kb.new_shelf import lay_out

        connection = sqlite3.connect(":memory:", isolation_level=None)
        lay_out(connection)
        connection.row_factory = sqlite3.Row
    else:
        connection = open_to_write(path)
    try:
        yield connection
        if not dry_run:
            # A new shelf is filled under a rollback journal, which writes each page once; from now on it is shared.
            connection.execute("PRAGMA journal_mode = WAL")
    finally:
        connection.close()


@contextmanager
def _progress(sheet: Path) -> Iterator[Callable[[int], None] | None]:
    """Show how far a long load is, on a terminal; nothing in a pipe."""
    if not sys.stderr.isatty() or not sheet.is_file():
        yield None
        return
    size = sheet.stat().st_size
    with click.progressbar(length=size, label=sheet.name, file=sys.stderr) as bar:
        done = 0

        def show(position: int) -> None:
            nonlocal done
            bar.update(max(position - done, 0))
            done = max(position, done)

        yield show


def _ask() -> Callable[..., bool] | None:
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return None
    return lambda column, kind: click.confirm(
        f'Is the column "{column.heading}" the {kind.field(column.could_be).label.lower()}?', default=True, err=True
    )


def _write_refusals(reports: list[Report], target: Path) -> None:
    """One file per worksheet that had refusals: the sheet's own headings, and why each row stands there."""
    from kb.sheets.headings import REFUSED_MARK
    from kb.sheets.written import write_csv

    written = 0
    for report in reports:
        if not report.refused_rows:
            continue
        why: dict[int, list[str]] = {}
        for refusal in report.refusals:
            why.setdefault(refusal.row, []).append(refusal.reason)
        width = max(len(report.headings), *(len(cells) for cells in report.refused_rows.values()))
        headings = report.headings + [""] * (width - len(report.headings))
        rows = [
            [str(number), " ".join(why.get(number, [])), *cells, *[""] * (width - len(cells))]
            for number, cells in sorted(report.refused_rows.items())
        ]
        written += 1
        name = target if written == 1 else target.with_stem(f"{target.stem}-{written}")
        write_csv(name, [f"{REFUSED_MARK} row", f"{REFUSED_MARK} reason", *headings], rows)
        click.echo(f"{len(rows)} refused rows of {report.sheet} are in {name}.", err=True)
    if not written:
        click.echo("Nothing was refused: no file was written.", err=True)


def as_text(report: Report) -> str:
    """Return a worksheet's report as a mechanic reads it."""
    lines = [report.sheet]
    if not report.kind:
        return "\n".join([*lines, *(f"  {note}" for note in report.notes), "  Nothing of it was loaded."])
    what = {"belt": "belts"}.get(report.kind, f"{report.kind}s")
    lines.append(f"  Taken as {what}" + (f" from {report.supplier}." if report.supplier else "."))
    for column in report.columns:
        lines.append(f"    {_column_text(column.heading, column)}")
    lines += [f"  {note}" for note in report.notes]
    verb = "would be" if report.dry_run else "were"
    lines.append(
        f"  Of {report.rows_read} rows, {report.rows_stored} {verb} stored, {report.rows_updated} updated, "
        f"{report.rows_unchanged} were there already, {report.rows_refused} refused."
    )
    lines.append(
        f"  Of {report.cells_read} cells, {report.cells_stored} stored, {report.cells_ignored} in columns left out, "
        f"{report.cells_refused} refused."
    )
    for refusal in report.refusals[:20]:
        place = f"row {refusal.row}" + (f", {refusal.column}" if refusal.column else "")
        kept = "" if refusal.whole_row else " (the rest of the row was stored)"
        lines.append(f"    {place}: {refusal.reason}{kept}")
    if len(report.refusals) > 20:
        lines.append(f"    … and {len(report.refusals) - 20} more: --refusals OUT.csv writes them all out.")
    return "\n".join(lines)


def _column_text(heading: str, column: object) -> str:
    from kb.sheets.headings import Column

    assert isinstance(column, Column)
    name = heading.strip() or "(no heading)"
    if column.field is not None:
        unit = f", in {column.unit}" if column.unit else ""
        sure = "" if column.how != "alike" else f" ({column.likeness:.0f} % alike)"
        return f"{name} → {column.field.label}{unit}{sure}"
    if column.could_be:
        return f'{name} → left out; if it is {column.could_be}, say --map "{name}={column.could_be}"'
    why = {"repeated": "left out: the heading stands twice", "left out": "left out, as told"}
    return f"{name} → {why.get(column.how, 'left out: not known')}"
