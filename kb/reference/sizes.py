"""Clamp bands, from the table of sizes."""

from __future__ import annotations

from functools import cache

from kb.mechanics.clamps import ClampBand
from kb.reference.tables import hose_sizes


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
