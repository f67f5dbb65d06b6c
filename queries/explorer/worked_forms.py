"""The forms of the sums that need no shelf, and how their fields become questions."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Any

from kb.errors import AnswerError
from kb.measure import QUANTITIES, read
from queries.explorer.forms import Ask, value_of
from queries.worked import Worked

Values = Mapping[str, Any]
_SIGNED = {"gauge": ("pressure", "psi", -101.0, 6000.0), "signed length": ("length", None, -20_000.0, 20_000.0)}
"""Quantities that may be below nothing here: what is read, a bare number's unit, and bounds in the quantity's own unit."""
ALTITUDE = Ask("altitude", "Altitude of the shop", "altitude", "Gauges read from the air outside.", example="5,000 ft")
AIR = Ask(
    "air",
    "Or the air, by barometer",
    "pressure",
    "Its own reading there, not the weather report's.",
    example="24.9 inHg",
)
NAMES = ("R-134a", "R-1234yf")
FAMILIES = ("not said", "inorganic", "organic acid", "nitrited organic acid", "hybrid")


@dataclass(frozen=True, slots=True)
class Topic:
    """A page: its title, a sentence, its fields, those that must be filled, an example's answers, and the question."""

    title: str
    lead: str
    form: tuple[Ask, ...]
    needed: tuple[str, ...]
    example: Mapping[str, str]
    ask: Callable[[Values, sqlite3.Connection], Worked]


def values_of(topic: Topic, texts: Mapping[str, str]) -> dict[str, Any]:
    """Read a form's texts. Raises :class:`~kb.errors.BayshelfError` for one that is no measurement, or is missing."""
    values = {}
    for one in topic.form:
        text = texts.get(one.name, "").strip()
        if text and one.quantity in _SIGNED:
            quantity, unit, low, high = _SIGNED[one.quantity]
            values[one.name] = read(text, QUANTITIES[quantity], unit=unit, low=low, high=high)
        else:
            values[one.name] = value_of(one, text)
    missing = [one.label for one in topic.form if one.name in topic.needed and values[one.name] is None]
    if missing:
        raise AnswerError(f"{' and '.join(missing)}: not filled in.", do="Measure it, and ask again.")
    return values


def _coolant(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.coolant import CONTAINERS, CoolantQuestion, ask_coolant

    families = [None if values[name] == "not said" else values[name] for name in ("inhibitor-now", "inhibitor-new")]
    return ask_coolant(
        CoolantQuestion(
            values["system"], values["now"], values["now-freeze"], values["want"], values["freeze"], values["with"],
            values["glycol"] or "ethylene", values["drainable"], values["containers"] or CONTAINERS, *families,
        )
    )  # fmt: skip


def _vacuum_fill(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.vacuum_fill import FillQuestion, ask_vacuum_fill

    return ask_vacuum_fill(
        FillQuestion(
            values["system"], values["reading"], values["altitude"] or 0.0, values["air"], values["head"] or 0.0,
            values["left-in"] or 0.0, values["hose-inside"], values["hose-length"], values["below-pickup"] or 0.0,
        )
    )  # fmt: skip


def _refrigerant(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.refrigerant import SaturationQuestion, ask_saturation

    return ask_saturation(
        SaturationQuestion(
            values["name"] or NAMES[0],
            values["temperature"],
            values["pressure"],
            values["altitude"] or 0.0,
            values["air"],
        )
    )


def _line_charge(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.refrigerant import LineChargeQuestion, ask_line_charge

    return ask_line_charge(
        LineChargeQuestion(
            values["name"] or NAMES[0], values["inside"], values["added"], values["state"] or "liquid",
            values["old-inside"], values["length"],
        )
    )  # fmt: skip


def _oil(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.refrigerant import OilQuestion, ask_oil

    parts = tuple(part.strip() for part in values["taken-off"].split(";") if part.strip())
    return ask_oil(OilQuestion(parts, values["in-new"] or 0.0))


def _suction_drop(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.refrigerant import DropQuestion, ask_suction_drop

    return ask_suction_drop(
        DropQuestion(
            values["name"] or NAMES[0], values["inside"], values["length"], values["cooling"],
            old_inside_mm=values["old-inside"], old_length_mm=values["old-length"],
        )
    )  # fmt: skip


def _evacuation(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.evacuation import EvacuationQuestion, ask_evacuation

    temperature = 20.0 if values["temperature"] is None else values["temperature"]
    return ask_evacuation(
        EvacuationQuestion(values["reading"], temperature, values["altitude"] or 0.0, values["air"], values["rise"])
    )


def _holes(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.holes import HolesQuestion, ask_holes

    return ask_holes(HolesQuestion(values["count"], values["adjacent"], values["across"]))


def _match(values: Values, connection: sqlite3.Connection) -> Worked:
    from queries.holes import MatchQuestion, ask_match

    question = MatchQuestion(
        values["hub"], values["part"], values["within"], values["flange"], values["adapter"] or 0.0, values["washer"] or 0.0,
        values["nut"], values["stud-out"], values["bolt"],
    )  # fmt: skip
    return ask_match(question, lambda: nullcontext(connection))


def _fan(values: Values, _: sqlite3.Connection) -> Worked:
    from queries.fan import FanQuestion, ask_fan

    return ask_fan(
        FanQuestion(
            values["fan"], values["ring"], values["offset"], values["gaps"], values["move"],
            values["ring-on"] == "engine", values["speed"],
        )
    )  # fmt: skip


NAME = Ask("name", "Refrigerant", choices=NAMES, hint="The machine's label says which.")
TOPICS: dict[str, Topic] = {
    "fluids/coolant": Topic(
        "Coolant", "What to drain and add for a concentration or a freeze point, and which containers to open.",
        (
            Ask("system", "The system holds", "volume", "All of it, heater too.", example="40 L"),
            Ask("now", "In it now", "percent", "Leave it empty for an empty system.", example="30 %"),
            Ask("now-freeze", "Or: it freezes at", "temperature", "By the refractometer.", example="-10 F"),
            Ask("want", "Wanted", "percent", "By volume, 60 % at most.", example="50 %"),
            Ask("freeze", "Or: it should freeze at", "temperature", example="-34 F"),
            Ask("with", "What goes in", "percent", "100 concentrate, 50 premixed, 0 water.", example="100 %"),
            Ask("drainable", "Comes out at one drain", "volume", "The block keeps some.", example="26 L"),
            Ask("glycol", "Glycol", choices=("ethylene", "propylene"), hint="By the label; a refractometer differs."),
            Ask("containers", "Sold in", hint="Sizes, parted by commas.", example="1 gal, 5 gal"),
            Ask("inhibitor-now", "Inhibitor in it", choices=FAMILIES, hint="By the label, never by the colour."),
            Ask("inhibitor-new", "Inhibitor that goes in", choices=FAMILIES),
        ),
        ("system",), {"system": "40 L", "now": "30", "want": "50", "drainable": "8 L", "with": "60"}, _coolant,
    ),
    "fluids/vacuum-fill": Topic(
        "Vacuum fill", "What an evacuated cooling system draws in, and what must stand ready in one vessel.",
        (
            Ask("system", "The system holds", "volume", example="40 L"),
            Ask("reading", "The gauge shows", "pressure", "Below the air, cold engine, held.", example="24 inHg"),
            ALTITUDE,
            AIR,
            Ask("head", "Lifted by", "length", "From the coolant in the vessel to the top.", example="3 ft"),
            Ask("left-in", "Left in the system", "volume", example="5 L"),
            Ask("hose-inside", "Filling hose, bore", "length", example="1/2 in"),
            Ask("hose-length", "Filling hose, length", "length", example="8 ft"),
            Ask("below-pickup", "Below the pick-up", "volume", "What it cannot reach in the vessel.", example="2 qt"),
        ),
        ("system", "reading"),
        {"system": "40 L", "reading": "24 inHg", "altitude": "2,000 ft", "head": "3 ft", "hose-inside": "1/2 in",
         "hose-length": "8 ft", "below-pickup": "2 qt"}, _vacuum_fill,
    ),
    "fluids/refrigerant": Topic(
        "Refrigerant", "Saturation pressure and temperature both ways, as the gauge shows them at your altitude.",
        (
            NAME,
            Ask("temperature", "Temperature", "temperature", example="70 F"),
            Ask("pressure", "Gauge pressure", "gauge", "Both, of a system at rest: do they agree?", example="71 psi"),
            ALTITUDE,
            AIR,
        ),
        (), {"name": "R-134a", "temperature": "70 F", "altitude": "5,000 ft"}, _refrigerant,
    ),
    "fluids/line-charge": Topic(
        "Line charge", "The refrigerant that a longer or larger line holds more.",
        (
            NAME,
            Ask("inside", "Bore of the line", "length", example="5/16 in"),
            Ask("added", "Length added", "signed length", "A minus sign: taken off.", example="2 ft"),
            Ask("state", "What runs in it", choices=("liquid", "suction", "discharge")),
            Ask("old-inside", "Old bore", "length", "Only where it changes too.", example="1/4 in"),
            Ask("length", "Length that had it", "length", example="6 ft"),
        ),
        ("inside", "added"), {"name": "R-134a", "inside": "5/16 in", "added": "2 ft", "state": "liquid"}, _line_charge,
    ),
    "fluids/oil": Topic(
        "Compressor oil", "The oil to put back: by what stayed in the parts taken off.",
        (
            Ask("taken-off", "Taken off", hint="Each part and the oil poured out of it, parted by semicolons.",
                example="compressor 60 mL; dryer 1 fl oz"),
            Ask("in-new", "In the new parts", "volume", "What they come with.", example="40 mL"),
        ),
        ("taken-off",), {"taken-off": "compressor 60 mL; dryer 1 fl oz", "in-new": "40 mL"}, _oil,
    ),
    "fluids/suction-drop": Topic(
        "Suction line", "What a longer or smaller suction line loses, and what that costs.",
        (
            NAME,
            Ask("inside", "Bore", "length", example="5/8 in"),
            Ask("length", "Length", "length", example="10 ft"),
            Ask("cooling", "Cooling", "power", "Of the whole system.", example="7 kW"),
            Ask("old-inside", "Old bore", "length", example="3/4 in"),
            Ask("old-length", "Old length", "length", example="6 ft"),
        ),
        ("inside", "length", "cooling"),
        {"name": "R-134a", "inside": "5/8 in", "length": "10 ft", "cooling": "7 kW", "old-length": "6 ft"}, _suction_drop,
    ),
    "fluids/evacuation": Topic(
        "Evacuation", "Whether a vacuum boils water away, and what a rise after valving off can mean.",
        (
            Ask("reading", "Vacuum", hint="inHg below the air, or micron absolute.", example="28.5 inHg"),
            Ask("temperature", "Coldest wet part", "temperature", "20 °C unless told.", example="70 F"),
            ALTITUDE,
            AIR,
            Ask("rise", "Rise after valving off", hint="Three readings or more, at equal times.",
                example="500 micron, 900 micron, 950 micron"),
        ),
        (), {"reading": "500 micron", "temperature": "70 F", "rise": "500 micron, 900 micron, 950 micron"}, _evacuation,
    ),
    "holes": Topic(
        "Bolt circles", "A bolt circle from the spacing of its holes.",
        (
            Ask("count", "Holes", "count", example="5"),
            Ask("adjacent", "Beside each other", "length", "Centre to centre, or edge to edge alike.", example="74.2 mm"),
            Ask("across", "Across", "length", "Straight across; of an odd count, to either farthest.", example="120 mm"),
        ),
        ("count",), {"count": "5", "across": "120 mm"}, _holes,
    ),
    "holes/match": Topic(
        "Does it go on the hub", "Whether a part goes on a hub: pattern, pilot, and what its bolts clamp.",
        (
            Ask("hub", "Hub", hint="Its studs and pilot, or a pulley's part number.",
                example="6 x 120.65 mm, pilot 63.5 mm, stud M10"),
            Ask("part", "Part", hint="Its hole sets with “or” between them, or a part number.",
                example="12 x 4 3/4 in hole 11 mm, pilot 63.6 mm"),
            Ask("within", "Each hole may be off by", "length", "Else from hole and stud.", example="0.5 mm"),
            Ask("flange", "Flange at its bolts", "length", example="8 mm"),
            Ask("adapter", "Adapter or spacer", "length", example="1 in"),
            Ask("washer", "Washer", "length", example="2 mm"),
            Ask("nut", "Nut's height", "length", example="8 mm"),
            Ask("stud-out", "Studs stand out", "length", example="46 mm"),
            Ask("bolt", "Or: bolts under the head", "length", example="50 mm"),
        ),
        ("hub", "part"),
        {"hub": "6 x 120.65 mm, pilot 63.5 mm, stud M10", "part": "12 x 4 3/4 in hole 11 mm, pilot 63.6 mm", "flange": "8 mm",
         "adapter": "1 in", "washer": "2 mm", "nut": "8 mm", "stud-out": "46 mm"}, _match,
    ),
    "fan": Topic(
        "Fan gap", "The gap all round between a fan and its ring, and how far to move the ring to even it.",
        (
            Ask("fan", "Fan, across the tips", "length", example="30 in"),
            Ask("ring", "Ring, inside", "length", example="31 1/2 in"),
            Ask("offset", "Fan from the ring's centre", hint="Right, up; minus is left, down.", example="1/8 in, -1/4 in"),
            Ask("gaps", "Or: the four gaps", hint="Top, right, bottom, left.", example="15, 20, 25, 20 mm"),
            Ask("move", "Move the ring by", hint="Right, up.", example="0, 1/4 in"),
            Ask("ring-on", "The ring is carried by the", choices=("chassis", "engine")),
            Ask("speed", "Fan's speed", "speed", example="2200 rpm"),
        ),
        ("fan",), {"fan": "760 mm", "ring": "800 mm", "offset": "3 mm, 8 mm", "speed": "2200 rpm"}, _fan,
    ),
}  # fmt: skip
