"""``bayshelf fluids``: coolant and refrigerant, without a shelf. Its commands load on first use, like the others."""

from __future__ import annotations

import click

from kb.cli import LazyGroup

FLUID_COMMANDS: dict[str, tuple[str, str]] = {
    "coolant": (
        "queries.commands.fluids_coolant:coolant",
        "What to drain and add for a concentration or a freeze point.",
    ),
    "vacuum-fill": (
        "queries.commands.fluids_coolant:vacuum_fill",
        "What a vacuum fill draws, and what must stand ready.",
    ),
    "refrigerant": (
        "queries.commands.fluids_refrigerant:refrigerant",
        "Saturation pressure and temperature, both ways.",
    ),
    "line-charge": ("queries.commands.fluids_refrigerant:line_charge", "What a longer or larger line holds more."),
    "oil": ("queries.commands.fluids_refrigerant:oil", "The oil to put back for the parts taken off."),
    "suction-drop": (
        "queries.commands.fluids_refrigerant:suction_drop",
        "What a suction line loses, and what that costs.",
    ),
    "evacuation": ("queries.commands.fluids_refrigerant:evacuation", "A vacuum against boiling water; a rise, judged."),
}


@click.group(cls=LazyGroup, lazy=FLUID_COMMANDS)
def fluids() -> None:
    """Coolant and refrigerant: the right amount, reckoned from what can be read.

    Needs no shelf. Refrigerant is handled by certified people; a cooling system is opened cold.
    """
