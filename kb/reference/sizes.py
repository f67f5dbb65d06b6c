"""Clamp bands and hose bores, from the table of sizes."""

from __future__ import annotations

from functools import cache

from kb.mechanics.clamps import ClampBand
from kb.reference.tables import HoseSizeRow, hose_sizes

HOSE_SIZED_BY = {
    "general": "general hose (dash = nominal ID in 1/16 in)",
    "tube": "tube-OD-sized hose (dash = mating tube OD in 1/16 in; ID is smaller)",
    "refrigerant": "refrigerant hose",
}
"""Our words for the ways hose is sized, and the tables that hold them."""


@cache
def clamp_bands() -> tuple[ClampBand, ...]:
    """Return the worm-drive sizes of SAE J1508, smallest first.

    >>> [band.size for band in clamp_bands()][:3]
    ['6', '8', '10']
    """
    return tuple(
        ClampBand(row.size, row.smallest_mm, row.largest_mm, row.checked, row.source)
        for row in hose_sizes()
        if row.table.startswith("worm-drive clamp")
        and row.quantity == "closed to open clamping diameter"
        and row.smallest_mm is not None
        and row.largest_mm is not None
    )


def hose_bore(dash: int, sized_by: str = "general") -> HoseSizeRow:
    """Return the row with a dash size's inside diameter (``value_mm``), for hose sized by one of :data:`HOSE_SIZED_BY`.

    ``LookupError`` where the table has no such size. Refrigerant rows are from memory: ``checked`` says so.

    >>> hose_bore(8).value_mm, hose_bore(8, "tube").value_mm
    (12.7, 10.32)
    """
    name = HOSE_SIZED_BY.get(sized_by)
    if name is None:
        raise LookupError(f"hose is sized by {', '.join(HOSE_SIZED_BY)}, not {sized_by!r}")
    for row in hose_sizes():
        if row.table == name and row.size == f"-{dash}" and row.quantity.endswith("inside diameter"):
            return row
    raise LookupError(f"the table of {name} has no size -{dash}")
