"""``bayshelf fluids refrigerant``, ``line-charge``, ``oil``, ``suction-drop`` and ``evacuation``."""

from __future__ import annotations

import click

from kb.console import Measured
from queries.commands.worked import as_json as json_option
from queries.commands.worked import work_out

ALTITUDE = click.option("--altitude", type=Measured("altitude"), default="0 m", help="Of the shop, such as 5,000 ft.")
AIR = click.option("--air", type=Measured("pressure", 40, 110), help="Instead: the barometer's own reading there.")
SUPERHEAT = click.FloatRange(0, 60)


@click.command()
@click.argument("name")
@click.option("--temperature", type=Measured("temperature", -80, 150), help='Such as "90 F".')
@click.option("--pressure", type=Measured("pressure", -101, 6000), help="On the gauge, such as 70 psi.")
@ALTITUDE
@AIR
@json_option
@click.pass_context
def refrigerant(
    ctx: click.Context,
    name: str,
    temperature: float | None,
    pressure: float | None,
    altitude: float,
    air: float | None,
    as_json: bool,
) -> None:
    """Tell saturation pressure from temperature or the other way round, for the gauge at this altitude.

    NAME is R-134a or R-1234yf. Give both, of a system at rest, to see whether they agree. Certified handling is required.
    """
    from queries.refrigerant import SaturationQuestion, ask_saturation

    question = SaturationQuestion(name, temperature, pressure, altitude, air)
    work_out(ctx, lambda: ask_saturation(question), as_json)


@click.command("line-charge")
@click.argument("name")
@click.option("--inside", type=Measured("length", 2, 100), required=True, help="Bore of the line.")
@click.option(
    "--added", type=Measured("length", -20_000, 20_000), required=True, help="Length added; minus: taken off."
)
@click.option("--state", type=click.Choice(["liquid", "suction", "discharge"]), required=True, help="What runs in it.")
@click.option("--old-inside", type=Measured("length", 2, 100), help="The old bore, where it changes too.")
@click.option("--length", type=Measured("length", 10, 20_000), help="The length that had the old bore.")
@click.option("--temperature", type=Measured("temperature", -40, 90), help="Saturation there; else a usual one.")
@click.option("--superheat", type=SUPERHEAT, metavar="K", help="Of vapour, in kelvin; else a usual one.")
@json_option
@click.pass_context
def line_charge(
    ctx: click.Context,
    name: str,
    inside: float,
    added: float,
    state: str,
    old_inside: float | None,
    length: float | None,
    temperature: float | None,
    superheat: float | None,
    as_json: bool,
) -> None:
    """Tell the refrigerant that a longer or larger line holds more, from its volume and what runs in it.

    Liquid lines matter; suction and discharge lines hold a few grams. Follow the label charge;
    certified handling is required.
    """
    from queries.refrigerant import LineChargeQuestion, ask_line_charge

    question = LineChargeQuestion(name, inside, added, state, old_inside, length, temperature, superheat)
    work_out(ctx, lambda: ask_line_charge(question), as_json)


@click.command()
@click.option(
    "--taken-off", multiple=True, required=True, metavar='"PART M"',
    help='A part taken off and the oil poured out of it: "compressor 60 mL". Once for each.',
)  # fmt: skip
@click.option("--in-new", type=Measured("volume", 0, 5), default="0 L", help="What the new parts come with.")
@json_option
@click.pass_context
def oil(ctx: click.Context, taken_off: tuple[str, ...], in_new: float, as_json: bool) -> None:
    """Tell the compressor oil to put back: by what stayed in the parts taken off, never by the length of a line."""
    from queries.refrigerant import OilQuestion, ask_oil

    work_out(ctx, lambda: ask_oil(OilQuestion(taken_off, in_new)), as_json)


@click.command("suction-drop")
@click.argument("name")
@click.option("--inside", type=Measured("length", 2, 100), required=True, help="Bore of the line.")
@click.option("--length", type=Measured("length", 10, 50_000), required=True, help="Its length.")
@click.option("--cooling", type=Measured("power", 0.1, 100), help="What the system cools by, such as 7 kW.")
@click.option(
    "--flow", type=click.FloatRange(0.1, 1000), metavar="G/S", help="Instead: what runs in it, grams a second."
)
@click.option("--old-inside", type=Measured("length", 2, 100), help="The old line's bore, to compare.")
@click.option("--old-length", type=Measured("length", 10, 50_000), help="The old line's length, to compare.")
@click.option("--temperature", type=Measured("temperature", -40, 40), default="2 C", show_default=True, help="Boiling.")
@click.option("--superheat", type=SUPERHEAT, default=6.0, show_default=True, metavar="K", help="In kelvin.")
@click.option("--liquid", type=Measured("temperature", 0, 80), default="45 C", show_default=True, help="Fed with.")
@json_option
@click.pass_context
def suction_drop(
    ctx: click.Context,
    name: str,
    inside: float,
    length: float,
    cooling: float | None,
    flow: float | None,
    old_inside: float | None,
    old_length: float | None,
    temperature: float,
    superheat: float,
    liquid: float,
    as_json: bool,
) -> None:
    """Tell what a longer or smaller suction line loses, and what that costs in saturation temperature."""
    from queries.refrigerant import DropQuestion, ask_suction_drop

    question = DropQuestion(
        name, inside, length, cooling, flow, old_inside, old_length, temperature, superheat, liquid
    )  # fmt: skip
    work_out(ctx, lambda: ask_suction_drop(question), as_json)


@click.command()
@click.option("--reading", metavar="M", help='The vacuum: "28.5 inHg" below the air, or "500 micron" absolute.')
@click.option(
    "--temperature", type=Measured("temperature", -40, 90), default="20 C", show_default=True,
    help="Of the coldest part that may be wet.",
)  # fmt: skip
@ALTITUDE
@AIR
@click.option(
    "--rise",
    metavar="M,M,M",
    help="Readings after valving off, at equal times, three or more: is it a leak or moisture?",
)
@json_option
@click.pass_context
def evacuation(
    ctx: click.Context,
    reading: str | None,
    temperature: float,
    altitude: float,
    air: float | None,
    rise: str | None,
    as_json: bool,
) -> None:
    """Tell whether a vacuum boils water away, and what a pressure that rises after valving off can mean.

    By certified people, under the local code. A dial shows the vacuum below the day's air; a micron gauge is absolute.
    """
    from queries.evacuation import EvacuationQuestion, ask_evacuation

    question = EvacuationQuestion(reading, temperature, altitude, air, rise)
    work_out(ctx, lambda: ask_evacuation(question), as_json)
