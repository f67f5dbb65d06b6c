"""Units in the headings of suppliers' sheets."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.measure import UNITS_OF, unit_in_heading

HEADINGS = [
    ("Eff. Length (mm)", "Eff. Length", "mm"),
    ("Length [in]", "Length", "in"),
    ("Length (in.)", "Length", "in"),
    ("OD mm", "OD", "mm"),
    ("Länge in mm", "Länge", "mm"),
    ("Länge (in mm)", "Länge", "mm"),
    ('Lg, "', "Lg", "in"),
    ("OD ″", "OD", "in"),
    ('Inside dia"', "Inside dia", "in"),
    ("Length: mm", "Length", "mm"),
    ("L / mm", "L", "mm"),
    ("Length-mm", "Length", "mm"),
    ("effective_length_mm", "effective_length", "mm"),
    ("Länge (mm) La", "Länge La", "mm"),
    ("Length in", "Length", "in"),
    ("Length in inches", "Length", "in"),
    ("Length in\u00a0mm", "Length", "mm"),
    ("Length m", "Length", "m"),
    ("Weight (g)", "Weight", "g"),
    ("Volume (L)", "Volume", "l"),
    ("Time (min)", "Time", "min"),
    ("Lead time (days)", "Lead time", "d"),
    ("WP (psig)", "WP", "psi"),
    ("Druck, bar", "Druck", "bar"),
    ("Temp. (°F)", "Temp.", "degf"),
    ("Temp °C", "Temp", "degc"),
    ("Winkel °", "Winkel", "deg"),
    ("Torque (N·m)", "Torque", "nm"),
    ("Torque ft-lb", "Torque", "lbfft"),
    ("Spring rate Nm/°", "Spring rate", "nm/deg"),
    ("Pitch (threads per inch)", "Pitch", "tpi"),
]
NO_UNIT = [
    "Inside dia", "Main", "Admin", "Origin", "Item", "mm", "Length", "", " ", "Hours", "Part No", "Length (L)",
    "Height (h)",
    "Width (W)", "Thread (M)", "End (F)", "Bend radius (min)", "Hose (HP)", "Qty (pcs)", "No. of ribs",
    "Length (mm/in)",
    "Price / ft", "Price/m", "Cost (m)", "Preis in m", "Name, first", "Drawing rev", "a/c", "Length (furlong)",
    "((mm", "in",
]  # fmt: skip


@pytest.mark.parametrize(("heading", "words", "unit"), HEADINGS)
def test_a_heading_parts_from_its_unit(heading: str, words: str, unit: str) -> None:
    assert unit_in_heading(heading) == (words, unit)


@pytest.mark.parametrize("heading", NO_UNIT)
def test_a_heading_without_a_unit_stays_as_it_is(heading: str) -> None:
    assert unit_in_heading(heading) == (heading, None)


@given(st.text(max_size=60) | st.text(alphabet="Lengthmi ()[]\"',/°_-.", max_size=30))
def test_any_heading_gives_a_known_unit_or_itself(heading: str) -> None:
    words, unit = unit_in_heading(heading)
    if unit is None:
        assert words == heading
    else:
        assert words
        assert any(unit in spellings for spellings in UNITS_OF.values())
