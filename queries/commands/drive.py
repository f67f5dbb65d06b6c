"""``bayshelf drive``: a belt drive from its measured sheet. Its commands load on first use, like the others."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from kb.cli import LazyGroup, shelf_path

if TYPE_CHECKING:
    from queries.drives import KnownDrive

DRIVE_COMMANDS: dict[str, tuple[str, str]] = {
    "path": ("queries.commands.drive_path:path", "Follow the belt: length, wraps, spans, speeds, cautions."),
    "last": ("queries.commands.drive_last:last", "Tell which pulley the belt goes over last."),
    "belts": ("queries.commands.drive_belts:belts", "Judge every belt on the shelf for this drive."),
    "shift": ("queries.commands.drive_shift:shift", "Tell what to move where a belt does not reach, or is too long."),
    "compare": ("queries.commands.drive_compare:compare", "Set two drives side by side: speeds, planes, grip."),
    "frequency": ("queries.commands.drive_frequency:frequency", "Tell a plucked span's note from a tension, and back."),
    "picture": ("queries.commands.drive_picture:picture", "Draw the drive to scale, as SVG."),
}


@click.group(cls=LazyGroup, lazy=DRIVE_COMMANDS)
def drive() -> None:
    """A belt drive, from its sheet: will the belt go on, and what to move if it does not.

    SHEET is a drive sheet (.toml), or the name of a drive that was loaded onto the shelf.
    """


def shelf_connection(ctx: click.Context) -> Callable[[], sqlite3.Connection]:
    """Return how to open this call's shelf, for those who may not need it."""

    def connect() -> sqlite3.Connection:
        from kb.shelf import open_to_read

        return open_to_read(shelf_path(ctx))

    return connect


def known(ctx: click.Context, sheet: str) -> KnownDrive:
    """Read and understand the drive of that file or that name."""
    from queries.drives import drive_sheet, known_drive

    return known_drive(drive_sheet(sheet, shelf_connection(ctx)))


def echo_json(value: Any) -> None:
    """Print a documented JSON form."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2))


def echo_assumed(notes: tuple[str, ...]) -> None:
    """Say what the sheet left open and was filled in."""
    for note in notes:
        click.echo(f"Assumed: {note}.", err=True)
