"""``bayshelf merge`` and ``bayshelf settle``."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli import shelf_path

if TYPE_CHECKING:
    from importers.merge import MergeReport
    from kb.conflicts import Version


@click.command()
@click.argument("other", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Say what would be new, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.pass_context
def merge(ctx: click.Context, other: Path, dry_run: bool, as_json: bool) -> None:
    """Bring in the parts, drives, lines and jobs of another bay's shelf; FILE itself is only read.

    Of a part, drive or line that both have, the newest load's holds; of a job, the newest revision. A job that both bays
    changed apart is kept in both versions until someone settles it. Merging again changes nothing, and the order does not
    matter. Prices, customers and private notes stay in their bay.
    """
    from importers.merge import merge_file

    report = merge_file(shelf_path(ctx), other, dry_run=dry_run)
    click.echo(json.dumps(report.as_json(), ensure_ascii=False, indent=2) if as_json else merge_text(report, dry_run))


def merge_text(report: MergeReport, dry_run: bool = False) -> str:
    """Return a merge's report as a mechanic reads it."""
    would = "would be" if dry_run else "were"
    told = [
        f"{count} {name if count == 1 else plural} {would if count != 1 or dry_run else 'was'} {what}"
        for count, name, plural, what in (
            (report.parts_added, "part", "parts", "added"),
            (report.parts_updated, "part", "parts", "replaced by newer rows"),
            (report.drives_added, "drive", "drives", "added"),
            (report.drives_updated, "drive", "drives", "replaced by newer sheets"),
            (report.lines_added, "line", "lines", "added"),
            (report.lines_updated, "line", "lines", "replaced by newer sheets"),
            (report.jobs_added, "job", "jobs", "added"),
            (report.jobs_updated, "job", "jobs", "brought up to date"),
            (report.suppliers, "supplier entry", "supplier entries", "taken over"),
        )
        if count
    ]
    lines = [f"{report.shelf}: {'; '.join(told) or 'nothing in it was new here'}."]
    if report.changed and not told:
        lines = [f"{report.shelf}: only its book of loads was new here."]
    lines += [
        f"Job {job} was changed in two bays: see both versions with `bayshelf settle {job}`."
        for job in report.conflicts
    ]
    lines += report.notes
    return "\n".join(lines)


@click.command()
@click.argument("job", required=False)
@click.option("--keep", metavar="REVISION", help="The version that holds; a part of its id that is its own will do.")
@click.option(
    "--take",
    "takes",
    multiple=True,
    metavar="FIELD=REVISION",
    help="Take a field from another version; may be repeated.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def settle(ctx: click.Context, job: str | None, keep: str | None, takes: tuple[str, ...], as_json: bool) -> None:
    """Show the jobs that two bays changed apart, and say which version holds.

    Without JOB it lists them; with JOB it shows where the versions differ; with --keep it settles. The versions stay in
    the job's history, and merging carries the settlement to the other bays.
    """
    from importers import settle as settling
    from kb.conflicts import in_conflict, versions
    from kb.shelf import open_to_read, writing

    if keep is None and takes:
        raise click.UsageError("--take goes with --keep: which version holds in everything else?", ctx)
    if job is None:
        if keep is not None:
            raise click.UsageError("which job? `bayshelf settle` lists those to settle.", ctx)
        connection = open_to_read(shelf_path(ctx))
        jobs = in_conflict(connection)
        connection.close()
        if as_json:
            click.echo(json.dumps(jobs, ensure_ascii=False))
        else:
            click.echo("\n".join(jobs) if jobs else "No job waits to be settled.")
        return
    if keep is None:
        connection = open_to_read(shelf_path(ctx))
        try:
            found = versions(connection, job)
        finally:
            connection.close()
        as_text = versions_text(job, found)
    else:
        with writing(shelf_path(ctx)) as connection:
            made = settling.settle(connection, job, keep, _taken(takes, ctx))
        found = []
        as_text = f"Job {job} is settled; revision {made} holds. The other versions stay in its history."
    if as_json:
        click.echo(json.dumps([each.as_json() for each in found], ensure_ascii=False, indent=2))
    else:
        click.echo(as_text)


def _taken(takes: Sequence[str], ctx: click.Context) -> dict[str, str]:
    taken = {}
    for text in takes:
        name, equals, revision = text.partition("=")
        if not equals or not name.strip() or not revision.strip():
            raise click.UsageError(f"--take {text!r} is not of the form FIELD=REVISION.", ctx)
        taken[name.strip().replace(" ", "_")] = revision.strip()
    return taken


def versions_text(job: str, found: Sequence[Version]) -> str:
    """Return where a job's versions differ, as people read it."""
    from kb.console import table
    from kb.revisions import as_text, differences

    if not found:
        return f"Job {job} has nothing to settle: its bays agree."
    lines = [f"Job {job} was changed in {len(found)} places from the same state:"]
    lines += [
        f"  {each.revision}, made {each.made_at}, {each.came_from or 'no sheet'}{' (shown now)' if each.shown else ''}"
        for each in found
    ]
    apart = differences([each.content for each in found])
    rows: list[dict[str, Any]] = [
        {"field": name.replace("_", " "), **{str(place): as_text(value) for place, value in enumerate(values)}}
        for name, values in apart.items()
    ]
    cells = [("differs in", lambda row: row["field"])]
    cells += [(each.revision[-10:], lambda row, place=str(place): row[place]) for place, each in enumerate(found)]  # type: ignore[misc] # a lambda's default binds the place
    lines += [table(rows, cells), f"Settle it with: bayshelf settle {job} --keep {found[-1].revision[-10:]}"]
    if len(apart) > 1:
        lines.append(f"or add --take '{next(iter(apart))}={found[0].revision[-10:]}' to take a field from the other.")
    return "\n".join(lines)
