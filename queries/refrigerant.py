"""Refrigerant: saturation both ways, what a changed line holds, oil for parts taken off, and a suction line's loss."""

from __future__ import annotations

from dataclasses import dataclass

from kb.errors import AnswerError
from kb.measure import QUANTITIES, both_text, found_in
from kb.mechanics import refrigerant as fluid
from kb.mechanics.air import SEA_LEVEL_KPA
from kb.reference.refrigerants import named, names, saturation, source
from queries.vacuum_fill import air_outside_kpa, both_feet
from queries.worked import PSI_KPA, Worked, asking, gauge_text, mass_text, temperature_text, volume_text

CAUTIONS = (
    "Certified handling is required: it is recovered, evacuated and charged by certified people, under the local code.",
    "The charge is the label's, by weight; pressures and temperatures do not tell how much is in it.",
    "Eye protection and gloves: it freezes skin and eyes. Away from flame; R-1234yf burns.",
)
_USUAL: dict[str, tuple[float, float]] = {"liquid": (45.0, 0.0), "suction": (2.0, 6.0), "discharge": (50.0, 30.0)}
"""Saturation temperature in degC and superheat in K of each line: common practice, no source."""
USUAL_SHIFT_K = 1.0
"""What a suction line may cost in saturation temperature: common practice, no source."""
LEAST_OIL_L = 0.001
"""Of oil, that can be poured."""
CLOSE_K = 2.0
"""How far a pressure at rest may lie from saturation before it says something: common practice, no source."""


@dataclass(frozen=True, slots=True)
class SaturationQuestion:
    """degC, gauge kPa and m; with both a temperature and a pressure they are compared, as of a system at rest."""

    name: str
    temperature_c: float | None = None
    gauge_kpa: float | None = None
    altitude_m: float = 0.0
    air_kpa: float | None = None


def _known(text: str) -> str:
    name = named(text)
    if name is None:
        raise AnswerError(
            f"there is no table of {text!r}.",
            do=f"There are tables of {' and '.join(names())}: read the machine's label.",
        )
    return name


def _range(name: str) -> str:
    table = saturation(name)
    low, high = table[0], table[-1]
    return (
        f"The table of {name} goes from {temperature_text(low.temperature_c)} to {temperature_text(high.temperature_c)}, "
        f"{gauge_text(low.pressure_kpa - SEA_LEVEL_KPA)} to {gauge_text(high.pressure_kpa - SEA_LEVEL_KPA)} on a gauge at "
        "sea level."
    )


def ask_saturation(question: SaturationQuestion) -> Worked:
    """Look saturation up. Raises :class:`~kb.errors.AnswerError` outside the table, with what it spans."""
    name = _known(question.name)
    table = saturation(name)
    air = air_outside_kpa(question.altitude_m, question.air_kpa)
    if question.temperature_c is None and question.gauge_kpa is None:
        raise AnswerError("a temperature or a pressure is needed.", do="Give one of them, or both to compare.")
    with asking(_range(name)):
        if question.temperature_c is not None:
            state = fluid.state_at_temperature(question.temperature_c, table)
        else:
            assert question.gauge_kpa is not None
            state = fluid.state_at_pressure(question.gauge_kpa + air, table)
        rest_k = None
        if question.temperature_c is not None and question.gauge_kpa is not None:
            rest_k = fluid.state_at_pressure(question.gauge_kpa + air, table).temperature_c - state.temperature_c
    gauge = state.pressure_kpa - air
    values: dict[str, object] = {
        "refrigerant": name, "temperature_c": round(state.temperature_c, 2), "pressure_kpa": round(state.pressure_kpa, 2),
        "gauge_psi": round(gauge / PSI_KPA, 2), "gauge_kpa": round(gauge, 2), "air_kpa": round(air, 2),
        "density_liquid_kg_m3": round(state.density_liquid_kg_m3, 1),
        "density_vapour_kg_m3": round(state.density_vapour_kg_m3, 3),
        "at_rest_k": None if rest_k is None else round(rest_k, 2), "source": source(name),
    }  # fmt: skip
    facts = [
        ("Saturation temperature", temperature_text(state.temperature_c)),
        ("On the gauge", gauge_text(gauge)),
        ("Absolute", f"{state.pressure_kpa / PSI_KPA:.1f} psi ({state.pressure_kpa:.1f} kPa)"),
        ("Liquid", f"{state.density_liquid_kg_m3:.0f} kg/m³"),
        ("Vapour", f"{state.density_vapour_kg_m3:.2f} kg/m³"),
        ("Air outside", f"{air:.1f} kPa" + (f" at {both_feet(question.altitude_m)}" if question.altitude_m else "")),
    ]
    says = (
        f"{name} boils or condenses at {temperature_text(state.temperature_c)} where a gauge shows {gauge_text(gauge)}."
    )
    notes = [f"From {source(name)}."]
    if rest_k is not None:
        facts.append(("At rest", _at_rest(rest_k)))
    return Worked(says, values, tuple(facts), CAUTIONS, tuple(notes))


def _at_rest(rest_k: float) -> str:
    if rest_k > CLOSE_K:
        return (
            f"the pressure is that of {rest_k:.1f} K warmer: air or another refrigerant is in it, or it is not settled"
        )
    if rest_k < -CLOSE_K:
        return f"the pressure is that of {-rest_k:.1f} K colder: hardly any liquid is left, or it is not settled"
    return "the pressure agrees with the temperature: some liquid is there, how much it does not tell"


@dataclass(frozen=True, slots=True)
class LineChargeQuestion:
    """mm, degC and K; ``length_mm`` with ``old_inside_mm`` where the bore of what was there changes too."""

    name: str
    inside_mm: float
    added_mm: float
    state: str
    old_inside_mm: float | None = None
    length_mm: float | None = None
    temperature_c: float | None = None
    superheat_k: float | None = None


def ask_line_charge(question: LineChargeQuestion) -> Worked:
    """Return the refrigerant that a longer or larger line holds more. Raises :class:`~kb.errors.AnswerError`."""
    name = _known(question.name)
    usual_c, usual_k = _USUAL[question.state]
    temperature = usual_c if question.temperature_c is None else question.temperature_c
    superheat = usual_k if question.superheat_k is None else question.superheat_k
    if (question.old_inside_mm is None) != (question.length_mm is None):
        raise AnswerError("a changed bore needs the old bore and the length it had.", do="Give both, or neither.")
    with asking(_range(name)):
        state = fluid.state_at_temperature(temperature, saturation(name))
        vapour = fluid.superheated_density_kg_m3(state, superheat)
    density = state.density_liquid_kg_m3 if question.state == "liquid" else vapour
    old_mm = question.length_mm or 0.0
    if question.length_mm is not None and old_mm + question.added_mm < 0:
        raise AnswerError(
            "more is taken off than the line had.", do="Give its old length, and what was added or taken off."
        )
    with asking("Give the bore and the length of the line."):
        volume = fluid.line_volume_ml(question.inside_mm, old_mm + question.added_mm) if old_mm else _signed(question)
        if question.old_inside_mm is not None:
            volume -= fluid.line_volume_ml(question.old_inside_mm, old_mm)
    charge = fluid.charge_g(volume, density)
    values: dict[str, object] = {
        "charge_g": round(charge, 2), "refrigerant": name, "state": question.state, "volume_ml": round(volume, 2),
        "density_kg_m3": round(density, 2), "temperature_c": temperature,
        "superheat_k": None if question.state == "liquid" else superheat,
    }  # fmt: skip
    verb = "more" if charge >= 0 else "less"
    at = f"{temperature_text(temperature)}{'' if question.state == 'liquid' else f' and {superheat:g} K of superheat'}"
    facts = (
        (f"It holds {verb}", mass_text(abs(charge))),
        ("Volume of the change", volume_text(volume / 1000)),
        ("In it", f"{question.state} at {at}: {density:.1f} kg/m³"),
    )
    says = f"The line holds {mass_text(abs(charge))} {verb} than before."
    matters = "Liquid lines matter: each metre counts." if question.state == "liquid" else (
        "Suction and discharge lines hold vapour, a few grams: what matters is the liquid line."
    )  # fmt: skip
    notes = (matters, "Follow the label charge, and the machine maker's word on a changed line where there is one.")
    return Worked(says, values, facts, CAUTIONS, notes)


def _signed(question: LineChargeQuestion) -> float:
    volume = fluid.line_volume_ml(question.inside_mm, abs(question.added_mm))
    return volume if question.added_mm >= 0 else -volume


@dataclass(frozen=True, slots=True)
class OilQuestion:
    """``taken_off``: each part with the oil that was in it, as ``compressor 60 mL``; ``in_new_l`` is in the new parts."""

    taken_off: tuple[str, ...]
    in_new_l: float = 0.0


def ask_oil(question: OilQuestion) -> Worked:
    """Return the oil to put back: what stayed in the parts taken off, less what the new ones bring."""
    parts = [_oil_of(text) for text in question.taken_off]
    if not parts:
        raise AnswerError("no part was named.", do='Name each with the oil poured out of it: "compressor 60 mL".')
    left = sum(volume for _, volume in parts)
    add = left - question.in_new_l
    values: dict[str, object] = {
        "oil_add_ml": round(1000 * add, 1), "left_in_parts_ml": round(1000 * left, 1),
        "in_new_ml": round(1000 * question.in_new_l, 1),
        "parts": [{"part": name, "oil_ml": round(1000 * volume, 1)} for name, volume in parts],
    }  # fmt: skip
    if abs(add) < LEAST_OIL_L:
        says = "Add none: the new parts bring what was lost."
    elif add > 0:
        says = f"Add {volume_text(add)} of oil."
    else:
        says = f"Take {volume_text(-add)} out of the new parts before they are fitted: they bring more than was lost."
    facts = (
        *((name, volume_text(volume)) for name, volume in parts),
        ("In the new parts", volume_text(question.in_new_l)),
    )
    notes = (
        "Oil follows the parts that were changed, never the length of a line: a line drains back and keeps a film.",
        "The kind and grade are those of the compressor's label; kinds are not mixed, and an open can draws moisture.",
    )
    return Worked(says, values, facts, CAUTIONS, notes)


def _oil_of(text: str) -> tuple[str, float]:
    found = [one for one in found_in(text, QUANTITIES["volume"]) if one.unit_written]
    if len(found) != 1:
        raise AnswerError(
            f"{text!r} does not say one volume with its unit.",
            do='Write the part and its oil: "compressor 60 mL" or "2 fl oz".',
        )
    name = " ".join((text[: found[0].start] + text[found[0].end :]).replace(":", " ").replace("=", " ").split())
    return name or "part", found[0].value


@dataclass(frozen=True, slots=True)
class DropQuestion:
    """mm, kW or g/s, degC; the old line to compare with where there was one."""

    name: str
    inside_mm: float
    length_mm: float
    cooling_kw: float | None = None
    flow_g_s: float | None = None
    old_inside_mm: float | None = None
    old_length_mm: float | None = None
    temperature_c: float = 2.0
    superheat_k: float = 6.0
    liquid_c: float = 45.0


def _shift_k(drop_kpa: float, state: fluid.State, table: tuple[fluid.State, ...]) -> float:
    """Return what a drop costs; ``RefrigerantError`` where the compressor's end would stand below the table."""
    if state.pressure_kpa - drop_kpa < table[0].pressure_kpa:
        raise fluid.RefrigerantError(
            f"friction would take {drop_kpa / PSI_KPA:,.0f} psi ({drop_kpa:,.0f} kPa) of the "
            f"{state.pressure_kpa / PSI_KPA:,.0f} psi ({state.pressure_kpa:,.0f} kPa absolute) that stand in the line"
        )
    return fluid.saturation_shift_k(drop_kpa, state, table)


def ask_suction_drop(question: DropQuestion) -> Worked:
    """Return the friction in a suction line and what it costs. Raises :class:`~kb.errors.AnswerError`."""
    name = _known(question.name)
    table = saturation(name)
    if (question.cooling_kw is None) == (question.flow_g_s is None):
        raise AnswerError(
            "what runs in the line should be given once.", do="Give the cooling in kW, or the flow in g/s."
        )
    with asking(_range(name)):
        state = fluid.state_at_temperature(question.temperature_c, table)
        flow = question.flow_g_s or fluid.flow_for_cooling_g_s(
            question.cooling_kw or 0.0, state, question.liquid_c, table
        )
        density = fluid.superheated_density_kg_m3(state, question.superheat_k)
        new = fluid.friction_drop(flow, question.inside_mm, question.length_mm, density)
        old = None
        if question.old_inside_mm is not None or question.old_length_mm is not None:
            old = fluid.friction_drop(
                flow,
                question.old_inside_mm or question.inside_mm,
                question.old_length_mm or question.length_mm,
                density,
            )
    with asking("Check the bore and the flow: the line is far too narrow for it."):
        shift = _shift_k(new.drop_kpa, state, table)
    values: dict[str, object] = {
        "drop_kpa": round(new.drop_kpa, 3), "old_drop_kpa": None if old is None else round(old.drop_kpa, 3),
        "saturation_shift_k": round(shift, 3), "flow_g_s": round(flow, 2), "speed_m_s": round(new.speed_m_s, 2),
        "refrigerant": name, "density_kg_m3": round(density, 3), "reynolds": round(new.reynolds),
    }  # fmt: skip
    lost = f"{new.drop_kpa / PSI_KPA:.2f} psi ({new.drop_kpa:.1f} kPa)"
    facts = [
        ("Lost in the line", lost),
        ("That costs", f"{shift:.1f} K ({1.8 * shift:.1f} °F) of saturation temperature"),
        ("Vapour runs at", f"{new.speed_m_s:.1f} m/s ({new.speed_m_s / 0.3048:.0f} ft/s), {flow:.0f} g/s"),
    ]
    if old is not None:
        facts.insert(1, ("The old line lost", f"{old.drop_kpa / PSI_KPA:.2f} psi ({old.drop_kpa:.1f} kPa)"))
    notes = ["Straight, smooth line: bends and fittings add to it, and oil in it too."]
    if shift > USUAL_SHIFT_K:
        notes.insert(
            0,
            f"More than the usual {USUAL_SHIFT_K:g} K (common practice, no source): take a larger bore or a shorter way.",
        )
    says = f"The suction line of {both_text(question.length_mm)} loses {lost}."
    return Worked(says, values, tuple(facts), CAUTIONS, tuple(notes))
