"""``bayshelf fluids coolant`` and ``bayshelf fluids vacuum-fill``."""

from __future__ import annotations

import click

from kb.console import Measured
from queries.commands.worked import as_json as json_option
from queries.commands.worked import work_out

FAMILIES = click.Choice(["inorganic", "organic acid", "nitrited organic acid", "hybrid"])


@click.command()
@click.option("--system", type=Measured("volume", 0.1, 2000), required=True, help="What the whole system holds.")
@click.option("--now", type=Measured("percent"), metavar="PCT", help="What is in it; without it, it is empty.")
@click.option("--now-freeze", type=Measured("temperature", -80, 20), help="Instead: the refractometer's freeze point.")
@click.option("--want", type=Measured("percent"), metavar="PCT", help="What it should be, by volume.")
@click.option("--freeze", type=Measured("temperature", -80, 20), help="Instead: the freeze point it should have.")
@click.option(
    "--with", "strength", type=Measured("percent"), metavar="PCT",
    help="What goes in: 100 concentrate, 50 premixed, 0 water; else whichever of 100 and 0 is needed.",
)  # fmt: skip
@click.option("--glycol", type=click.Choice(["ethylene", "propylene"]), default="ethylene", show_default=True)
@click.option("--drainable", type=Measured("volume", 0.1, 2000), help="What comes out at one drain.")
@click.option("--containers", default="1 gal, 5 gal", show_default=True, metavar="M,M", help="Sizes it is sold in.")
@click.option("--inhibitor-now", type=FAMILIES, help="The inhibitor family that is in it, by its label.")
@click.option("--inhibitor-new", type=FAMILIES, help="The family that goes in.")
@json_option
@click.pass_context
def coolant(
    ctx: click.Context,
    system: float,
    now: float | None,
    now_freeze: float | None,
    want: float | None,
    freeze: float | None,
    strength: float | None,
    glycol: str,
    drainable: float | None,
    containers: str,
    inhibitor_now: str | None,
    inhibitor_new: str | None,
    as_json: bool,
) -> None:
    """Tell what to drain and what to put in for a concentration or a freeze point, and which containers to buy.

    One drain where that is enough, else swaps: drain, fill, mix, again. Temperatures such as "-34 F" or "-37 C".
    """
    from queries.coolant import CoolantQuestion, ask_coolant

    question = CoolantQuestion(
        system, now, now_freeze, want, freeze, strength, glycol, drainable, containers, inhibitor_now, inhibitor_new
    )
    work_out(ctx, lambda: ask_coolant(question), as_json)


@click.command("vacuum-fill")
@click.option("--system", type=Measured("volume", 0.1, 2000), required=True, help="What the system holds when full.")
@click.option("--reading", type=Measured("pressure", 0.01, 200), required=True, help='The gauge, such as "25 inHg".')
@click.option("--altitude", type=Measured("altitude"), default="0 m", help="Of the shop: 5,000 ft.")
@click.option("--air", type=Measured("pressure", 40, 110), help="Instead: the barometer's own reading there.")
@click.option("--head", type=Measured("length", 0, 10_000), default="0 mm", help="From the vessel up to the top.")
@click.option("--left-in", type=Measured("volume", 0, 2000), default="0 L", help="What was left in the system.")
@click.option("--hose-inside", type=Measured("length", 2, 100), help="Bore of the filling hose.")
@click.option("--hose-length", type=Measured("length", 10, 20_000), help="Length of the filling hose.")
@click.option("--below-pickup", type=Measured("volume", 0, 200), default="0 L", help="What the pick-up cannot reach.")
@json_option
@click.pass_context
def vacuum_fill(
    ctx: click.Context,
    system: float,
    reading: float,
    altitude: float,
    air: float | None,
    head: float,
    left_in: float,
    hose_inside: float | None,
    hose_length: float | None,
    below_pickup: float,
    as_json: bool,
) -> None:
    """Tell what a vacuum fill draws in, what must stand ready in one vessel, and what is topped up after.

    A reading beyond the air there is at that altitude is refused. Only on a cold engine.
    """
    from queries.vacuum_fill import FillQuestion, ask_vacuum_fill

    question = FillQuestion(system, reading, altitude, air, head, left_in, hose_inside, hose_length, below_pickup)
    work_out(ctx, lambda: ask_vacuum_fill(question), as_json)
