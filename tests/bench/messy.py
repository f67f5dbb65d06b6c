"""A seeded, messy price list of belts: 1 % bad rows, about 98 % distinct part numbers, lengths as people write them."""

from __future__ import annotations

import csv
import random
from pathlib import Path


def write_messy(path: Path, rows: int, seed: int = 1) -> None:
    """Write a CSV of that many rows."""
    chance = random.Random(seed)
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["Part no", "Description", "Ribs", "Eff. length", "Net price"])
        for number in range(rows):
            code = f"{chance.choice('ABCDEFGH')}{chance.randrange(10, 99)}-{number:07d}"
            if chance.random() < 0.02 and number:
                code = f"A10-{chance.randrange(number):07d}"
            mm = chance.uniform(600, 3200)
            ribs = chance.choice((4, 5, 6, 7, 8, 8, 8, 10, 12))
            writer.writerow(
                [code, f"Multi-rib belt {ribs} ribs", ribs, _length(chance, mm), f"{chance.uniform(9, 90):.2f}"]
            )


def _length(chance: random.Random, mm: float) -> str:
    kind = chance.random()
    if kind < 0.01:
        return chance.choice(("n/a", "see drawing", "-", "18 m"))
    if kind < 0.5:
        return f"{mm:.0f}"
    if kind < 0.7:
        return f"{mm:.1f} mm"
    whole, eighths = divmod(round(mm / 25.4 * 8), 8)
    return f"{whole} {eighths}/8 in" if eighths else f"{whole} in"
