"""The readers of coolant, refrigerant and limit tables: only checked rows count, and what was remembered says so."""

from __future__ import annotations

from itertools import pairwise

import pytest

from kb.reference.coolants import GLYCOLS, freeze_table
from kb.reference.limits import limit
from kb.reference.refrigerants import named, names, saturation, source


@pytest.mark.parametrize("glycol", GLYCOLS)
def test_freeze_tables_go_one_way(glycol) -> None:
    table = freeze_table(glycol)
    assert table.status.startswith("checked:")
    assert (table.percents[0], table.percents[-1]) == (10, 60)
    assert list(table.percents) == sorted(set(table.percents))
    assert list(table.freeze_c) == sorted(table.freeze_c, reverse=True)
    assert 50.0 in table.percents


def test_no_other_glycol() -> None:
    with pytest.raises(KeyError):
        freeze_table("methyl")


@pytest.mark.parametrize("name", names())
def test_saturation_tables_go_one_way(name) -> None:
    table = saturation(name)
    assert len(table) == 37  # -20 to 160 degF in steps of five
    for one, other in pairwise(table):
        assert other.temperature_c - one.temperature_c == pytest.approx(5 / 1.8)
        assert other.pressure_kpa > one.pressure_kpa
        assert other.density_liquid_kg_m3 < one.density_liquid_kg_m3
        assert other.density_vapour_kg_m3 > one.density_vapour_kg_m3
    assert "checked:" in source(name)


@pytest.mark.parametrize(("text", "name"), [("R134a", "R-134a"), ("hfo-1234yf", "R-1234yf"), ("134", None), ("", None)])
def test_names(text, name) -> None:
    assert named(text) == name


def test_limits_know_their_ends_and_their_source() -> None:
    gap = limit("fan", "blade tip to shroud, shroud on chassis")
    assert [gap.state(mm) for mm in (18.9, 19, 25, 25.1)] == ["outside", "within", "within", "outside"]
    assert gap.checked
    deep = limit("evacuation", "deep vacuum target with electronic gauge")
    assert (deep.low, deep.checked, deep.status) == (None, False, "from memory")
    assert deep.as_json(600)["state"] == "outside"
    with pytest.raises(KeyError):
        limit("fan", "none such")
