"""``bayshelf drive frequency``."""

from __future__ import annotations

from typing import Any

import click

from kb.console import Cells, Measured, length_of, show, text_of
from queries.commands.drive import shelf_connection

JSON_KEYS = (
    "span", "leaves", "reaches", "span_mm", "tension_n", "tension_low_n", "tension_high_n", "frequency_hz",
    "frequency_low_hz", "frequency_high_hz", "measured",
)  # fmt: skip


def _band(name: str, unit: str) -> Any:
    def cell(row: dict[str, Any]) -> str:
        low, high = row[f"{name}_low_{unit}"], row[f"{name}_high_{unit}"]
        return f"{row[f'{name}_{unit}']:.0f}" + ("" if high - low < 0.5 else f" ({low:.0f} to {high:.0f})")

    return cell


CELLS: Cells = (
    ("span", text_of("span")),
    ("length", length_of("span_mm")),
    ("tension N", _band("tension", "n")),
    ("note Hz", _band("frequency", "hz")),
    ("", lambda row: "measured" if row["measured"] else ""),
)


@click.command(epilog=f"JSON, a list of spans, lengths in mm: {', '.join(JSON_KEYS)}.")
@click.argument("sheet")
@click.option("--tension", type=click.FloatRange(0, min_open=True), metavar="N", help="The belt's tension, newtons.")
@click.option("--span", metavar="NAME", help='The span that was plucked, as "crank to fan".')
@click.option("--hertz", type=Measured("frequency"), metavar="HZ", help="The note it gave.")
@click.option("--belt", type=Measured("length", 100, 20000), help="The belt's effective length.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@click.pass_context
def frequency(
    ctx: click.Context,
    sheet: str,
    tension: float | None,
    span: str | None,
    hertz: float | None,
    belt: float | None,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Tell the note that each span of SHEET gives when plucked; or, from one span's note, the belt's tension.

    Without --tension or --span, the tension is that of the sheet's spring, or its tension_n. Pluck a standing belt only:
    engine off, key out. A running belt is never touched.
    """
    from kb.errors import AnswerError
    from queries.drive_frequency import FrequencyQuestion, SpanNote, ask_frequency
    from queries.drives import drive_sheet

    read = drive_sheet(sheet, shelf_connection(ctx))
    try:
        answer = ask_frequency(FrequencyQuestion(read, tension, span, hertz, belt))
    except AnswerError as error:
        raise click.UsageError(str(error), ctx) from error
    show(answer, CELLS, as_json, as_csv, SpanNote.KEYS)
