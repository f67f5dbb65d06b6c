"""``bayshelf drive shift``."""

from __future__ import annotations

import math
import sqlite3
from typing import TYPE_CHECKING, Any

import click

from kb.console import Cells, Measured, table, text_of
from queries.commands.drive import echo_json, known, shelf_connection

if TYPE_CHECKING:
    from queries.drive_shift import ShiftAnswer, Shifted

CELLS: Cells = (
    ("move", text_of("what")),
    ("by", text_of("by")),
    ("along", text_of("along")),
    ("then slack", text_of("slack")),
    ("then belts", text_of("window")),
    ("and", text_of("more")),
)


@click.command()
@click.argument("sheet")
@click.option("--belt", type=Measured("length", 100, 20000), help="The effective length of the belt at hand.")
@click.option("--gap", type=Measured("length", 0.1, 300), help="Instead: the gap it left at the last pulley.")
@click.option("--gap-at", metavar="PULLEY", help="The pulley with the gap.")
@click.option(
    "--lay", type=click.Choice(["round", "point"]),
    help="How the belt lay over that gap: on its own round, or pulled to a point.",
)  # fmt: skip
@click.option("--pulley", metavar="NAME", help="The pulley to move; without it, every way out.")
@click.option(
    "--along", type=click.FloatRange(-360, 360), metavar="DEG", help="Direction, anticlockwise from the right."
)
@click.option("--slack", type=Measured("length", 0, 500), help="The slack at the stop that is wanted.")
@click.option("--fan", type=Measured("length", 100, 3000), help="Where a fan turns on a moved pulley: across its tips.")
@click.option("--ring", type=Measured("length", 100, 3000), help="Its ring, inside.")
@click.option("--offset", metavar="X,Y", help="How far right and up of the ring's middle the fan sits; else in it.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.pass_context
def shift(
    ctx: click.Context,
    sheet: str,
    belt: float | None,
    gap: float | None,
    gap_at: str | None,
    lay: str | None,
    pulley: str | None,
    along: float | None,
    slack: float | None,
    fan: float | None,
    ring: float | None,
    offset: str | None,
    as_json: bool,
) -> None:
    """Tell what to do where a belt does not reach on SHEET, or is too long for its tensioner.

    The ways out come cheapest first: another belt of the shelf, a pulley in its slot, a bracket moved, another idler.
    """
    from kb.errors import AnswerError
    from queries.drive_picture import read_move
    from queries.drive_shift import ShiftQuestion, ask_shift

    if along is not None and pulley is None:
        raise click.UsageError("--along says where --pulley goes: name the pulley too.", ctx)
    drive = known(ctx, sheet)
    connection = _shelf_if_any(ctx)
    try:
        sits = (0.0, 0.0) if offset is None else read_move(offset)
        question = ShiftQuestion(belt, pulley, along, slack, gap, gap_at, lay, fan, ring, sits)
        answer = ask_shift(drive, question, connection)
    except AnswerError as error:
        raise click.UsageError(str(error), ctx) from error
    finally:
        if connection is not None:
            connection.close()
    if as_json:
        echo_json(answer.as_json())
        return
    click.echo(answer.says)
    _echo_ways(answer)
    for note in answer.notes:
        click.echo(note, err=True)


def _shelf_if_any(ctx: click.Context) -> sqlite3.Connection | None:
    """Open the shelf to look for other belts and idlers; a drive can be reckoned without one."""
    from kb.errors import NoShelfError

    try:
        return shelf_connection(ctx)()
    except NoShelfError:
        click.echo("There is no shelf to look for another belt or idler on.", err=True)
        return None


def _echo_ways(answer: ShiftAnswer) -> None:
    from kb.measure import both_text

    if answer.belt is not None:
        found: dict[str, Any] = answer.belt
        click.echo(
            f"Another belt: {found['supplier']} {found['part_no']}, {both_text(found['effective_length_mm'])}, chance "
            f"that it fits {100 * found['chance_it_fits']:.0f} %."
        )
    if answer.moves:
        click.echo(table([_move_row(one) for one in answer.moves], CELLS))
    for (pulley, diameter_mm), parts in _by_size(answer).items():
        click.echo(f"Another {pulley} of {both_text(diameter_mm)}: {', '.join(parts)}.")


def _by_size(answer: ShiftAnswer) -> dict[tuple[str, float], list[str]]:
    """Gather the idlers that do, by the pulley they would replace and their diameter."""
    found: dict[tuple[str, float], list[str]] = {}
    for one in answer.idlers:
        idler: dict[str, Any] = one
        size = (idler["pulley"], idler["outside_diameter_mm"])
        found.setdefault(size, []).append(f"{idler['supplier']} {idler['part_no']}")
    return found


def _move_row(one: Shifted) -> dict[str, Any]:
    from kb.measure import both_text, inches_text
    from queries.answers import apart

    after = one.does.window_after
    what = f"{one.move.pulley}{' (its pivot)' if one.on_arm else ''}"
    least = min(one.does.rooms, key=lambda room: room.after, default=None)
    bent = max(one.does.wraps, key=lambda wrap: abs(wrap.by))
    more = [f"wrap of {bent.name} {math.degrees(bent.before):.0f}° → {math.degrees(bent.after):.0f}°"]
    if least is not None:
        more.append(f"{apart(least.after)} of room to {least.name}")
    if one.fan_before is not None and one.fan_after is not None:
        more.append(
            f"the fan's smallest gap {apart(one.fan_before.smallest)} → {_gap_text(one.fan_after.smallest)}; moving the ring "
            f"{_shift_text(one.fan_after.ring_shift)} evens it"
        )
    more += one.does.refused
    return {
        "what": what + (", in its slot" if one.move.in_slot else ""),
        "by": f"{inches_text(abs(one.drawn_mm))} ({abs(one.move.move_mm):.1f} mm)",
        "along": one.direction,
        "slack": apart(one.slack_at_stop_mm) if one.slack_at_stop_mm >= 0 else f"{apart(one.slack_at_stop_mm)} short",
        "window": "" if after is None else f"{both_text(after.work_low_mm)} to {both_text(after.work_high_mm)}",
        "more": "; ".join(more),
    }


def _gap_text(mm: float) -> str:
    from queries.answers import apart

    return apart(mm) if mm > 0 else f"none: it would cut {apart(mm)} into the ring"


def _shift_text(shift_mm: tuple[float, float]) -> str:
    from queries.answers import apart

    parts = (("right", "left", shift_mm[0]), ("up", "down", shift_mm[1]))
    said = [f"{apart(mm)} {more if mm > 0 else less}" for more, less, mm in parts if abs(mm) >= 0.05]
    return " and ".join(said) or "nowhere"
