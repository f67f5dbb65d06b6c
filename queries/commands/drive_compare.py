"""``bayshelf drive compare``."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from kb.console import Cells, Measured, length_of, table, text_of
from queries.commands.drive import echo_json, shelf_connection

if TYPE_CHECKING:
    from queries.drive_compare import CompareAnswer
    from queries.drive_grip import GripAnswer
    from queries.drive_planes import PlanesAnswer

SPEED_KEYS = (
    "name", "idle_before_rpm", "idle_after_rpm", "governed_before_rpm", "governed_after_rpm", "change_pct", "flagged",
    "turns_before", "turns_after",
)  # fmt: skip
JSON_KEYS = (
    "before", "after", "arm_deg", "speeds", "fan_power", "wrong_way", "planes", "grip", "order", "assumed", "cautions",
    "notes",
)  # fmt: skip
EPILOG = (
    f"JSON, lengths in mm: {', '.join(JSON_KEYS)}. speeds: {', '.join(SPEED_KEYS)}. fan_power: name, power_factor, "
    "before_kw, after_kw, sheet_kw. planes: pulleys, spans, not_read. grip: pulleys (worst first), spans, "
    "driver_rpm, belt_speed_m_s, centrifugal_n, held_by, tension_low_n, tension_high_n, tensioner_side, missing. "
    "CSV: the speeds."
)


def _number(name: str, form: str, unit: str = "") -> Any:
    """Return a cell's text: a number in that form, a dash where there is none."""
    return lambda row: "–" if row[name] is None else f"{row[name]:{form}}{unit}"


def _caliper(name: str) -> Any:
    """Return a cell's text: a small length with its sign, inches to a thousandth and millimetres."""

    def cell(row: dict[str, Any]) -> str:
        return f"{row[name] / 25.4:+.3f} in ({row[name]:+.2f} mm)"

    return cell


def _shim(row: dict[str, Any]) -> str:
    from queries.answers import caliper_text

    return f"{caliper_text(row['shim_mm'])}: {row['shim_do']}" if row["shim_mm"] else "none"


def _before_after(name: str) -> Any:
    def cell(row: dict[str, Any]) -> str:
        before, after = row[f"{name}_before_rpm"], row[f"{name}_after_rpm"]
        return " → ".join("–" if one is None else f"{one:.0f}" for one in (before, after))

    return cell


def _turning(row: dict[str, Any]) -> str:
    before, after = row["turns_before"], row["turns_after"]
    return str(after or before) if before == after or not (before and after) else f"{before} → {after}"


SPEED_CELLS: Cells = (
    ("part", text_of("name")),
    ("rpm at idle", _before_after("idle")),
    ("rpm governed", _before_after("governed")),
    ("change", _number("change_pct", "+.0f", " %")),
    ("flag", lambda row: "look at it" if row["flagged"] else ""),
    ("turns", _turning),
)
PLANE_CELLS: Cells = (
    ("pulley", text_of("name")),
    ("read by", text_of("how")),
    ("forward of plane", _caliper("plane_mm")),
    ("tilt", _number("tilt_deg", ".2f", "°")),
    ("first groove", text_of("first_groove")),
    ("left over", _caliper("register_mm")),
    ("shim", _shim),
    ("needed", lambda row: "yes" if row["shim_needed"] else "no"),
)
SPAN_CELLS: Cells = (
    ("span", lambda row: f"{row['leaves']} to {row['reaches']}"),
    ("length", length_of("span_mm")),
    ("climbs", _caliper("offset_mm")),
    ("enters at", lambda row: f"{row['entry_deg']:.2f}° ± {row['doubt_deg']:.2f}"),
    ("state", text_of("state")),
)
GRIP_CELLS: Cells = (
    ("pulley", text_of("pulley")),
    ("wrap", _number("wrap_deg", ".0f", "°")),
    ("takes", _number("takes_kw", ".1f", " kW")),
    ("slack N", _number("slack_n", ".0f")),
    ("tight N", _number("tight_n", ".0f")),
    ("ratio", _number("ratio", ".2f")),
    ("design", _number("design_ratio", ".2f")),
    ("ceiling", _number("ceiling_ratio", ".1f")),
    ("use", lambda row: "–" if row["use"] is None else f"{100 * row['use']:.0f} %"),
    ("verdict", text_of("verdict")),
)
TENSION_CELLS: Cells = (
    ("span", lambda row: f"{row['leaves']} to {row['reaches']}"),
    ("gripping N", lambda row: f"{row['grip_low_n']:.0f} to {row['grip_high_n']:.0f}"),
    ("whole N", lambda row: f"{row['whole_low_n']:.0f} to {row['whole_high_n']:.0f}"),
)


@click.command(epilog=EPILOG)
@click.argument("before")
@click.argument("after")
@click.option(
    "--share", type=click.FloatRange(0, 1000), default=10, show_default=True, metavar="PCT",
    help="Flag parts whose speed changes by more than this percentage.",
)  # fmt: skip
@click.option("--belt", type=Measured("length", 100, 20000), help="Effective length of the belt on AFTER.")
@click.option(
    "--also-before", multiple=True, metavar="SHEET", help="A further belt of the front before; may be repeated."
)
@click.option(
    "--also-after", multiple=True, metavar="SHEET", help="A further belt of the front after; may be repeated."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON; the keys are documented.")
@click.option("--csv", "as_csv", is_flag=True, help="Print the speeds as CSV.")
@click.pass_context
def compare(
    ctx: click.Context,
    before: str,
    after: str,
    share: float,
    belt: float | None,
    also_before: tuple[str, ...],
    also_after: tuple[str, ...],
    as_json: bool,
    as_csv: bool,
) -> None:
    """Set two drives side by side: speeds, fan power, parts that turn the wrong way, planes, grip.

    BEFORE and AFTER are drive sheets (.toml), or names of drives on the shelf. Planes and grip are those of AFTER. A further
    belt's driver is a pulley, by name, that another belt of its front turns. Engine off and key out before anything is read.
    """
    from queries.drive_compare import CompareQuestion, ask_compare
    from queries.drives import drive_sheet

    fronts = [
        tuple(drive_sheet(one, shelf_connection(ctx)) for one in sheets)
        for sheets in ((before, *also_before), (after, *also_after))
    ]
    answer = ask_compare(CompareQuestion(fronts[0], fronts[1], share / 100, belt))
    said = answer.as_json()
    speeds: list[dict[str, Any]] = said["speeds"]  # type: ignore[assignment] # the documented list of parts
    if as_json:
        echo_json(said)
    elif as_csv:
        from kb.sheets.written import csv_text

        texts = [["" if row[key] is None else str(row[key]) for key in SPEED_KEYS] for row in speeds]
        click.echo(csv_text(list(SPEED_KEYS), texts), nl=False)
    else:
        click.echo("\n".join(_lines(answer, speeds, share)))
        for one in answer.assumed:
            unit = "" if one.unit == "-" else f" {one.unit}"
            click.echo(f"Assumed: {one.name} {one.value:g}{unit} ({one.source}; {one.status.split(':')[0]}).", err=True)
        for note in answer.notes:
            click.echo(f"Assumed: {note.rstrip('.')}.", err=True)


def _lines(answer: CompareAnswer, speeds: list[dict[str, Any]], share: float) -> Iterator[str]:
    yield f"{answer.before} → {answer.after}; flagged beyond {share:g} %"
    yield table(speeds, SPEED_CELLS)
    for fan in answer.fans:
        kw = (
            ""
            if fan.before_kw is None or fan.after_kw is None
            else f": {fan.before_kw:g} kW become {fan.after_kw:.1f} kW"
        )
        yield f"Power of {fan.name}, by the cube of its speed: {fan.factor:.2f} times{kw}."
    for name, why in answer.wrong_way:
        yield f"Wrong way: {name}: {why}."
    yield from _planes(answer.planes)
    yield from _grip(answer.grip)
    for one in answer.order:
        yield f"Goes on: {one.belt}: {one.why}."
    for caution in answer.cautions:
        yield f"Look at: {caution.rstrip('.')}."


def _planes(planes: PlanesAnswer) -> Iterator[str]:
    yield ""
    if not planes.pulleys:
        yield "Planes: none was read (plane, hub_face with pulley_offset, or [pulley.straightedge])."
        return
    yield "Planes"
    yield table([one.as_json() for one in planes.pulleys], PLANE_CELLS)
    if planes.spans:
        yield f"Spans, against {planes.limit.value:g} degrees between a span and its pulley's plane"
        yield table([one.as_json() for one in planes.spans], SPAN_CELLS)
    if planes.not_read:
        yield f"Not read: {', '.join(planes.not_read)}; the spans at them are not judged."


def _grip(grip: GripAnswer) -> Iterator[str]:
    yield ""
    if grip.missing:
        yield "Grip is not judged:"
        for reason in grip.missing:
            yield f"  {reason}."
        return
    band = f"{grip.tension_low_n:.0f} to {grip.tension_high_n:.0f} N"
    side = f", on the {grip.tensioner_side}" if grip.tensioner_side in ("slack side", "tight side") else ""
    yield f"Grip at {grip.driver_rpm:.0f} rpm, worst first, at the low end of {band}"
    yield f"({grip.held_by}{side}; at 100 % use it is at the design ratio)"
    yield table([one.as_json() for one in grip.pulleys], GRIP_CELLS)
    yield f"Spans in the direction of travel at {grip.belt_speed_m_s:.1f} m/s, {grip.centrifugal_n:.0f} N of it centrifugal"
    yield table([one.as_json() for one in grip.spans], TENSION_CELLS)
