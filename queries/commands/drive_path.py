"""``bayshelf drive path``."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from kb.console import Cells, Measured, length_of, table, text_of
from queries.commands.drive import echo_assumed, echo_json, known

if TYPE_CHECKING:
    from queries.drive_path import PathAnswer

CELLS: Cells = (
    ("pulley", text_of("name")),
    ("face", text_of("face")),
    ("effective Ø", length_of("effective_diameter_mm")),
    ("x", length_of("x_mm")),
    ("y", length_of("y_mm")),
    ("turns", text_of("turns")),
    ("wrap", lambda row: f"{row['wrap_deg']:.0f}°"),
    ("span to next", length_of("span_to_next_mm")),
    ("speed ratio", lambda row: f"{row['speed_ratio']:.3f}"),
)
CSV_KEYS = (
    "name", "face", "x_mm", "y_mm", "effective_diameter_mm", "turns", "wrap_deg", "span_to_next_mm", "speed_ratio",
)  # fmt: skip


@click.command()
@click.argument("sheet")
@click.option("--belt", type=Measured("length", 100, 20000), help="A belt's effective length: will it go on?")
@click.option("--need", type=Measured("length", 0, 500), help="The slack that the last pulley needs.")
@click.option(
    "--longer", multiple=True, type=click.FloatRange(-5, 5), metavar="PCT",
    help="Also where the arm rests once the belt has worn or warmed longer by this percentage.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.option("--csv", "as_csv", is_flag=True, help="Print the pulleys as CSV.")
@click.pass_context
def path(
    ctx: click.Context,
    sheet: str,
    belt: float | None,
    need: float | None,
    longer: tuple[float, ...],
    as_json: bool,
    as_csv: bool,
) -> None:
    """Follow the belt round the pulleys of SHEET: its length, wraps, spans, speeds, and what to look at twice."""
    from queries.drive_path import ask_path

    answer = ask_path(known(ctx, sheet), belt, need, longer)
    said = answer.as_json()
    if as_json:
        echo_json(said)
        return
    rows: list[dict[str, Any]] = said["pulleys"]  # type: ignore[assignment] # the documented list of pulleys
    if as_csv:
        from kb.sheets.written import csv_text

        click.echo(csv_text(list(CSV_KEYS), [[str(row[key]) for key in CSV_KEYS] for row in rows]), nl=False)
        return
    click.echo("\n".join(_heading(answer)))
    click.echo(table(rows, CELLS))
    for line in _belt_lines(answer):
        click.echo(line)
    for caution in answer.cautions:
        click.echo(f"Look at: {caution}")
    echo_assumed(answer.notes)


def _heading(answer: PathAnswer) -> list[str]:
    from queries.answers import apart
    from queries.drive_belts import belt_text
    from queries.drives import lengths_text

    known_drive, marks = answer.known, answer.known.marks
    doubt = apart(2 * known_drive.length_doubt_mm)
    lines = [f"{known_drive.sheet.name}: {belt_text(known_drive)}"]
    if known_drive.window is not None:
        stops = ((known_drive.window.slack_stop_mm, "slack"), (known_drive.window.free_stop_mm, "free"))
        told = ", ".join(
            f"cannot lie at the {name} stop" if math.isnan(mm) else f"{lengths_text(mm)} at the {name} stop"
            for mm, name in stops
        )
        lines.append(f"Route {told}, give or take {doubt}.")
        lines.append(f"Belts from {lengths_text(marks.low_mm)} to {lengths_text(marks.high_mm)} rest in its window.")
    elif known_drive.tightest is not None:
        lines.append(
            f"Route {lengths_text(known_drive.drive.route_at().length_mm)} as it stands, give or take {doubt}; its slots "
            f"take it from {lengths_text(marks.low_mm)} to {lengths_text(marks.high_mm)}."
        )
    else:
        lines.append(f"Route {lengths_text(marks.slack_mm)}, give or take {doubt}; nothing on it moves.")
    if answer.arm_rad is not None:
        from queries.drive_path import degrees_or_none

        where = "with this belt" if answer.belt and answer.belt.arm_deg is not None else "in the middle of its window"
        lines.append(f"Shown with the arm at {degrees_or_none(answer.arm_rad):.1f}°, {where}.")
    return lines


def _belt_lines(answer: PathAnswer) -> list[str]:
    from queries.answers import apart
    from queries.drives import lengths_text

    belt = answer.belt
    if belt is None:
        return []
    slack = f"{apart(belt.slack_at_stop_mm)} {'of slack' if belt.slack_at_stop_mm >= 0 else 'too short'}"
    lines = [
        f"Belt {lengths_text(belt.length_mm)}: {slack} to go on, {apart(belt.need_mm)} wanted; "
        f"chance that it fits {100 * belt.chance_it_fits:.0f} %."
    ]
    if belt.easiest:
        lines.append(f"Easiest last: {belt.easiest} (`bayshelf drive last` says why).")
    if belt.rest and belt.rest.travel_used is not None:
        lines.append(
            f"The arm rests at {belt.arm_deg:.1f}°, {100 * belt.rest.travel_used:.0f} % of its travel"
            f"{_tension(belt.rest.tension_low_n, belt.rest.tension_high_n)}."
        )
    for percent, then in belt.longer:
        where = (
            f"at {100 * then.travel_used:.0f} % of its travel{_tension(then.tension_low_n, then.tension_high_n)}"
            if then.travel_used is not None
            else "nowhere: the arm is at its free stop and the belt slack"
        )
        lines.append(f"{percent:g} % longer: the arm rests {where}.")
    return lines


def _tension(low_n: float | None, high_n: float | None) -> str:
    if low_n is None or high_n is None:
        return ""
    return f", belt tension {low_n:.0f} to {high_n:.0f} N ({low_n / 4.4482216:.0f} to {high_n / 4.4482216:.0f} lbf)"
