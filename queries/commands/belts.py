"""``bayshelf belts``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from kb.console import Cells, Measured, answer_with, answering, fit_of, length_of, text_of

CELLS: Cells = (
    ("part", text_of("part_no")),
    ("supplier", text_of("supplier")),
    ("belt", lambda row: f"{row['ribs']}{row['profile']}" if row["ribs"] else (row["section"] or "V")),
    ("effective", length_of("effective_length_mm")),
    ("outside", length_of("outside_length_mm")),
    ("fit", fit_of),
    ("why", lambda row: "; ".join(filter(None, (row["why"], _same(row))))),
)


def _same(row: dict[str, Any]) -> str:
    return "the same: " + ", ".join(row["equivalents"]) if row["equivalents"] else ""


def _asking(ask: Callable[..., Any], on: str | None) -> Callable[..., Any]:
    """Return the query, its rows ranked by what happened on drives like one, where that was asked."""
    if on is None:
        return ask

    def asked(connection: Any, question: Any) -> Any:
        from dataclasses import replace

        from queries.history import asked_drive, beside_like_drives

        drive = asked_drive(connection, on)
        answer = ask(connection, question)
        return replace(answer, rows=beside_like_drives(connection, answer.rows, drive))

    return asked


@click.command()
@click.argument("text", required=False)
@click.option("--length", type=Measured("length", 100, 20000), help='How long, such as "73 1/8 in".')
@click.option("--ribs", type=click.IntRange(1, 40), metavar="N", help="How many ribs.")
@click.option(
    "--measured", type=click.Choice(["effective", "outside", "pitch", "string"]), default="effective", show_default=True,
    help="How the length was measured: as printed, tape round the back, cord line, string round the pulleys.",
)  # fmt: skip
@click.option("--string-thickness", type=Measured("length", 0.1, 20), help="How thick the string was.")
@click.option("--profile", metavar="PK", help="The rib profile; PK where none is named.")
@click.option("--top-width", type=Measured("length", 3, 80), help="A V-belt's width across its back.")
@click.option("--within", type=Measured("length", 0.01, 5000), help="How far off a belt may be.")
@click.option(
    "--on", metavar="DRIVE|JOB",
    help="A drive or job on the shelf: belts that failed on drives like it come after those that worked.",
)  # fmt: skip
@answering
@click.pass_context
def belts(
    ctx: click.Context,
    text: str | None,
    length: float | None,
    ribs: int | None,
    measured: str,
    string_thickness: float | None,
    profile: str | None,
    top_width: float | None,
    within: float | None,
    on: str | None,
    limit: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find belts by measured length and ribs, a V-belt's width, or words.

    Ribs as asked come first, then what could stand in, marked so.
    """
    from queries.belts import BeltQuestion, BeltRow, ask_belts

    question = BeltQuestion(text, length, ribs, measured, string_thickness, profile, top_width, within, limit)
    answer_with(ctx, _asking(ask_belts, on), question, CELLS, as_json, as_csv, BeltRow.KEYS)
