"""``bayshelf adapters``."""

from __future__ import annotations

from typing import Any

import click

from kb.console import Cells, answer_with, answering, text_of


def _pieces(row: dict[str, Any]) -> str:
    return " + ".join(f"{piece['part_no']} ({piece['supplier']})" for piece in row["pieces"])


def _told(row: dict[str, Any]) -> str:
    return " + ".join(piece["description"] or "" for piece in row["pieces"])


def _angles(row: dict[str, Any]) -> str:
    return " + ".join("?" if angle is None else f"{angle:g}°" for angle in row["angles_deg"])


CELLS: Cells = (
    ("pieces", lambda row: str(row["piece_count"])),
    ("part", _pieces),
    ("what", _told),
    ("angle", _angles),
    ("why", text_of("why")),
)


@click.command()
@click.argument("first", metavar="END")
@click.argument("second", metavar="END")
@answering
@click.pass_context
def adapters(ctx: click.Context, first: str, second: str, limit: int, as_json: bool, as_csv: bool) -> None:
    """Join two ends with one or two fittings from the shelf, fewest pieces first.

    An END is written as what is there, in any order: male or female, the thread by its name, its seat by angle or family,
    such as "male 7/8-14 37", "female 1/2 NPT", "M22x1.5 male 15L", "female -8 ORFS", "hose 1/2 in". What is left out stays
    open, and the answer says what it was taken for. Where nothing joins them, the nearest misses say why: one thread with
    another seat screws in and does not seal. Pressure off and cold before a line is opened. Names nothing for brake,
    steering or fuel lines.
    """
    from queries.adapters import AdapterQuestion, AdapterRow, ask_adapters

    answer_with(ctx, ask_adapters, AdapterQuestion(first, second, limit), CELLS, as_json, as_csv, AdapterRow.KEYS)
