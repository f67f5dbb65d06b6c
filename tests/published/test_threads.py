"""Threads against the published tables (ASME B1.1, B1.20.1, ISO 228-1, ISO 7-1, ISO 8434-1 as the rows name them)."""

from __future__ import annotations

import random

from kb.reference.tables import is_checked, table
from queries.fittings import FittingQuestion, ask_fittings

CHECKED = [row for row in table("threads") if is_checked(row)]


def _key(row: dict[str, str]) -> tuple[float, float, bool]:
    return (
        round(float(row["male_major_nominal_mm"]), 1),
        round(float(row["pitch_mm"]), 2),
        "taper" in row["gender_and_use"],
    )


def _threads(outside_mm: float, pitch_mm: float, taper: bool) -> list[str]:
    rows = ask_fittings(None, FittingQuestion(outside_mm=outside_mm, pitch_mm=pitch_mm, taper=taper, limit=40)).rows
    return list(dict.fromkeys(f"{row.outside_diameter_mm:.1f} {row.pitch_mm:.2f} {row.taper}" for row in rows))


def test_every_row_names_its_source_and_status() -> None:
    for name in ("threads", "hose_sizes", "belt_profiles", "practice_limits", "coolant_freeze", "refrigerant_pt"):
        assert all(row["source"] and row["status"] for row in table(name)), name


def test_every_checked_thread_is_told_from_its_own_size() -> None:
    for row in CHECKED:
        diameter, pitch, taper = _key(row)
        # A caliper sits somewhere along a taper, not at its gauge plane: 5 mm towards the small end, 0.31 mm (ISO 7-1).
        seen = float(row["male_major_nominal_mm"]) - (0.31 if taper else 0.05)
        # NPT and R of one size at 14 per inch overlap where a caliper can sit: only the form (60 or 55 degrees) parts them.
        places = 2 if taper else 1
        assert f"{diameter:.1f} {pitch:.2f} {taper}" in _threads(seen, float(row["pitch_mm"]), taper)[:places], row[
            "thread"
        ]


def test_worn_and_shakily_measured_threads_are_still_told() -> None:
    # Caliper noise 0.08 mm (normal) and wear up to 0.12 mm: the right one among the first three in 97 %, first in 90 %.
    chance = random.Random(11)
    first = among = tried = 0
    for row in CHECKED:
        diameter, pitch, taper = _key(row)
        for _ in range(8):
            place = chance.uniform(0.0, 0.5) if taper else 0.0
            seen = float(row["male_major_nominal_mm"]) - chance.uniform(0, 0.12) - place + chance.gauss(0, 0.08)
            told = _threads(seen, float(row["pitch_mm"]), taper)
            wanted = f"{diameter:.1f} {pitch:.2f} {taper}"
            first += told[:1] == [wanted]
            among += wanted in told[:3]
            tried += 1
    assert among / tried >= 0.97
    assert first / tried >= 0.90
