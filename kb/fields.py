"""What is known of each kind of thing on the shelf, declared once.

Headings are matched to these fields, the command's options and the pages' forms take their labels and hints from
them, and a test holds them against the columns of ``schema.sql``. Loading this module imports no other of ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """One thing that is known of a kind.

    ``quantity`` names a quantity of :mod:`kb.measure`, or one of ``text``, ``choice``, ``date``, and
    ``lengths``/``angles``/``texts`` for a list. ``low`` and ``high`` are in the canonical unit of the quantity.
    """

    name: str
    quantity: str
    label: str
    words: tuple[str, ...] = ()
    how: str = ""
    required: bool = False
    private: bool = False
    """Kept in a table of its own, that published copies leave out."""
    own_column: bool = True
    """Whether the kind's table has a column of that name."""
    low: float | None = None
    high: float | None = None
    choices: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """One kind of thing: its table, its fields, and which of them make a row worth storing."""

    name: str
    plural: str
    label: str
    fields: tuple[Field, ...]
    one_of: tuple[tuple[str, ...], ...] = ()
    """Groups of field names: of each group a row needs at least one."""

    def field(self, name: str) -> Field:
        """Return the field of that name; ``KeyError`` if the kind has none."""
        for one in self.fields:
            if one.name == name:
                return one
        raise KeyError(name)

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns of the kind's own table, in the order of the declaration."""
        return tuple(one.name for one in self.fields if one.own_column and not one.private)


FACES = {
    "grooved": "grooved", "ribbed": "grooved", "multi-rib": "grooved", "rib": "grooved", "gerippt": "grooved",
    "flat": "flat", "smooth": "flat", "plain": "flat", "backside": "flat", "glatt": "flat",
}  # fmt: skip
SERVICES = {
    "coolant": "coolant", "radiator": "coolant", "water": "coolant", "kühlwasser": "coolant", "kühlmittel": "coolant",
    "heater": "heater", "heizung": "heater",
    "charge air": "charge air", "intercooler": "charge air", "turbo": "charge air", "ladeluft": "charge air",
    "refrigerant suction": "refrigerant suction", "suction": "refrigerant suction",
    "refrigerant discharge": "refrigerant discharge", "discharge": "refrigerant discharge",
    "refrigerant liquid": "refrigerant liquid", "liquid": "refrigerant liquid",
    "refrigerant": "refrigerant", "a/c": "refrigerant", "air conditioning": "refrigerant", "kältemittel": "refrigerant",
    "oil": "oil", "öl": "oil", "hydraulic": "hydraulic", "hydraulik": "hydraulic", "air": "air", "luft": "air",
    "water spray": "water spray", "brine": "brine",
}  # fmt: skip
END_FORMS = {
    "male": "male", "m": "male", "external": "male", "aussen": "male", "außen": "male",
    "female": "female", "f": "female", "internal": "female", "swivel": "female", "female swivel": "female",
    "innen": "female", "nut": "female",
    "hose": "hose", "hose tail": "hose", "barb": "hose", "tail": "hose", "crimp": "hose",
    "tube": "tube", "port": "female",
}  # fmt: skip
OUTCOMES = {
    "worked": "worked", "ok": "worked", "good": "worked", "done": "worked", "success": "worked",
    "worked after a change": "worked after a change", "worked after change": "worked after a change",
    "after a change": "worked after a change", "ok after change": "worked after a change",
    "did not work": "did not work", "failed": "did not work", "no good": "did not work", "fail": "did not work",
}  # fmt: skip

PART_NO = Field(
    "part_no", "text", "Part number", required=True,
    words=("part no", "part number", "part", "part #", "item", "item no", "item number", "sku", "article", "article no",
           "stock no", "stock number", "order no", "order code", "catalogue no", "catalog number", "code", "ref",
           "artikel nr", "artikelnummer", "artikel-nr.", "teilenummer", "bestellnummer", "best.-nr.", "pn", "p/n"),
)  # fmt: skip
DESCRIPTION = Field(
    "description", "text", "Description",
    words=("description", "desc", "descr.", "text", "name", "title", "details", "remarks", "item description",
           "bezeichnung", "beschreibung", "artikelbezeichnung"),
)  # fmt: skip
MAKER = Field(
    "maker", "text", "Maker", words=("maker", "made by", "manufacturer", "mfr", "brand", "make", "hersteller")
)
PRICE = Field(
    "price", "text", "Price", private=True,
    words=("price", "net price", "list price", "unit price", "cost", "our cost", "each", "preis", "netto", "vk", "ek"),
)  # fmt: skip
SUPPLIER = Field(
    "supplier", "text", "Supplier", own_column=False,
    words=("supplier", "vendor", "sold by", "from supplier", "lieferant", "source of supply"),
)  # fmt: skip


def _grooves(label: str = "Grooves") -> Field:
    return Field(
        "grooves", "count", label, low=1, high=40,
        words=("grooves", "no of grooves", "number of grooves", "ribs", "no of ribs", "number of ribs", "groove count",
               "rillen", "anzahl rillen", "rippen"),
        how="Count the grooves across the running face.",
    )  # fmt: skip


def _outside_diameter(words: tuple[str, ...] = ()) -> Field:
    return Field(
        "outside_diameter_mm", "length", "Outside diameter", low=10, high=1500,
        words=(*words, "outside diameter", "od", "o.d.", "outer diameter", "diameter", "dia", "overall diameter",
               "außen-ø", "außendurchmesser", "durchmesser"),
        how="Caliper across the rib tips, or across the flat running face; keep clear of the rims.",
    )  # fmt: skip


FACE = Field(
    "face", "choice", "Running face", choices=FACES,
    words=("face", "running face", "type", "surface", "pulley type", "lauffläche"),
    how="Grooved: the ribs run on it. Flat: the belt's back runs on it.",
)  # fmt: skip
USE = Field(
    "use", "text", "Used on",
    words=("use", "used on", "application", "for", "fits", "position", "drives", "accessory", "verwendung", "einsatz"),
)  # fmt: skip
PROFILE = Field(
    "profile", "text", "Profile",
    words=("profile", "belt profile", "rib profile", "profil", "rib section", "series"),
    how="PK has its ribs 3.56 mm apart: lay a rule across the ribs and divide.",
)  # fmt: skip
WIDTH = Field(
    "width_mm", "length", "Width", low=2, high=500,
    words=("width", "face width", "overall width", "wd", "breite"),
)  # fmt: skip

BELT = Kind(
    "belt", "belts", "Belts",
    (
        PART_NO, DESCRIPTION, MAKER, SUPPLIER,
        Field(
            "designation", "text", "Designation",
            words=("designation", "iso designation", "belt size", "size", "marking", "belt code", "größe", "kurzzeichen"),
        ),
        PROFILE,
        Field(
            "ribs", "count", "Ribs", low=1, high=40,
            words=("ribs", "no of ribs", "no. of ribs", "number of ribs", "rib count", "rib qty", "rippen",
                   "anzahl rippen", "rippenzahl"),
            how="Count the ribs across the belt, not the grooves between them.",
        ),
        Field(
            "section", "text", "Section",
            words=("section", "cross section", "v section", "belt section", "v-belt section", "querschnitt"),
        ),
        Field(
            "top_width_mm", "length", "Top width", low=3, high=80,
            words=("top width", "width", "belt width", "top wd", "nominal top width", "breite", "obere breite"),
            how="Caliper across the belt's widest side, its back, without squeezing.",
        ),
        Field(
            "effective_length_mm", "length", "Effective length", low=150, high=12000,
            words=("effective length", "eff length", "eff. length", "eff len", "el", "e.l.", "length", "belt length",
                   "length effective", "le", "wirklänge", "länge", "bezugslänge"),
            how="The length the maker prints; on a bench, two equal measuring pulleys under load (ISO 9981).",
        ),
        Field(
            "outside_length_mm", "length", "Outside length", low=150, high=12000,
            words=("outside length", "outside circumference", "oc", "o.c.", "outer length", "outside len", "la",
                   "length outside", "außenlänge"),
            how="Lay a tape round the belt's back, belt off and lying in a round loop.",
        ),
        Field(
            "pitch_length_mm", "length", "Pitch length", low=150, high=12000,
            words=("pitch length", "datum length", "lp", "ld", "pl", "length pitch", "richtlänge"),
        ),
        Field(
            "length_tolerance_mm", "length", "Length tolerance", low=0.01, high=100,
            words=("length tolerance", "tolerance", "tol", "+/-", "tol.", "toleranz"),
        ),
        PRICE,
    ),
    one_of=(("effective_length_mm", "outside_length_mm", "pitch_length_mm"), ("ribs", "section", "top_width_mm")),
)  # fmt: skip

PULLEY = Kind(
    "pulley", "pulleys", "Pulleys",
    (
        PART_NO, DESCRIPTION, MAKER, SUPPLIER, USE, FACE, PROFILE, _grooves(), _outside_diameter(),
        Field(
            "effective_diameter_mm", "length", "Effective diameter", low=10, high=1500,
            words=("effective diameter", "eff diameter", "eff dia", "ed", "wirkdurchmesser", "bezugsdurchmesser"),
        ),
        Field(
            "over_balls_mm", "length", "Diameter over balls", low=10, high=1500,
            words=("over balls", "diameter over balls", "over pins", "dia over balls", "k", "über kugeln"),
            how="Two 2.5 mm balls in opposite grooves, caliper over both (PK, ISO 9981).",
        ),
        WIDTH,
        Field(
            "bore_mm", "length", "Bore", low=1, high=400,
            words=("bore", "bore diameter", "bore dia", "id", "inside diameter", "shaft", "bohrung"),
        ),
        Field(
            "pilot_mm", "length", "Pilot", low=1, high=400,
            words=("pilot", "pilot diameter", "pilot bore", "register", "spigot", "zentrierung"),
        ),
        Field(
            "bolt_circle_mm", "length", "Bolt circle", low=5, high=600,
            words=("bolt circle", "bc", "b.c.", "pcd", "pitch circle", "bolt circle diameter", "lochkreis"),
            how="Two holes: centre to centre is the circle. More: see bolt circle from adjacent holes.",
        ),
        Field(
            "hole_count", "count", "Holes", low=1, high=24,
            words=("holes", "no of holes", "number of holes", "bolt holes", "bolts", "anzahl löcher"),
        ),
        Field(
            "offset_mm", "length", "Offset", low=-300, high=300,
            words=("offset", "plane offset", "backspacing", "first groove to hub", "versatz"),
            how="From the hub's mounting face to the middle of the first groove; behind the face is minus.",
        ),
        PRICE,
    ),
    one_of=(("outside_diameter_mm", "effective_diameter_mm", "over_balls_mm"),),
)  # fmt: skip

TENSIONER = Kind(
    "tensioner", "tensioners", "Tensioners",
    (
        PART_NO, DESCRIPTION, MAKER, SUPPLIER, USE, FACE, _grooves(),
        _outside_diameter(("pulley diameter", "roller diameter", "pulley od", "pulley dia", "rolle ø", "idler diameter")),
        WIDTH,
        Field(
            "arm_length_mm", "length", "Arm length", low=5, high=600,
            words=("arm length", "arm", "lever", "arm radius", "pivot to pulley", "armlänge"),
            how="Pivot centre to pulley centre.",
        ),
        Field(
            "travel_deg", "angle", "Arm travel", low=1, high=360,
            words=("travel", "arm travel", "swing", "rotation", "arm swing", "range", "weg"),
            how="From the slack stop to the free stop. Keep fingers out of the arm's path: it snaps back.",
        ),
        Field(
            "torque_nm", "torque", "Spring torque", low=0.1, high=1000,
            words=("torque", "spring torque", "arm torque", "mean torque", "drehmoment"),
        ),
        Field(
            "rate_nm_per_deg", "torque rate", "Spring rate", low=0.001, high=100,
            words=("rate", "spring rate", "torque rate", "nm per degree", "federrate"),
        ),
        PRICE,
    ),
    one_of=(("outside_diameter_mm", "arm_length_mm"),),
)  # fmt: skip

HOSE = Kind(
    "hose", "hoses", "Hoses",
    (
        PART_NO, DESCRIPTION, MAKER, SUPPLIER,
        Field(
            "service", "choice", "Service", choices=SERVICES,
            words=("service", "medium", "carries", "fluid", "hose type", "type", "application", "use", "einsatz"),
        ),
        Field(
            "inside_diameter_mm", "length", "Inside diameter", low=2, high=300,
            words=("inside diameter", "id", "i.d.", "inside dia", "bore", "inner diameter", "hose id", "inside",
                   "id end 1", "id 1", "innen-ø", "innendurchmesser", "nennweite", "dn"),
            how="Caliper inside the cut end, or measure the stub it goes on.",
        ),
        Field(
            "far_inside_diameter_mm", "length", "Inside diameter, far end", low=2, high=300,
            words=("id end 2", "id 2", "far id", "second id", "inside diameter 2", "other end id", "innen-ø 2"),
        ),
        Field(
            "outside_diameter_mm", "length", "Outside diameter", low=3, high=320,
            words=("outside diameter", "od", "o.d.", "outer diameter", "outside dia", "hose od", "außen-ø"),
        ),
        Field(
            "length_mm", "length", "Length", low=10, high=100000,
            words=("length", "overall length", "centreline length", "centerline length", "len", "lg", "length cl",
                   "developed length", "roll length", "länge", "gesamtlänge"),
            how="Along the middle of the hose, end to end, round its bends.",
        ),
        Field(
            "legs_mm", "lengths", "Legs",
            words=("legs", "leg lengths", "legs a b c", "straight legs", "schenkel", "schenkellängen"),
            how="From end to the first bend's corner, corner to corner, and corner to end.",
        ),
        Field(
            "bends_deg", "angles", "Bends",
            words=("bends", "bend angles", "angles", "bend", "angle", "bögen", "winkel"),
            how="How far each bend turns the hose: a straight hose is 0, an elbow 90.",
        ),
        Field(
            "twists_deg", "angles", "Twist between bends", low=-360, high=360,
            words=("twists", "twist", "plane rotation", "rotation between bends", "clocking", "verdrehung"),
            how="Look along the hose: how far the next bend is turned clockwise from the last; 0 the same way, 180 opposite.",
        ),
        Field(
            "min_bend_radius_mm", "length", "Minimum bend radius", low=1, high=5000,
            words=("minimum bend radius", "min bend radius", "bend radius", "mbr", "min radius", "biegeradius"),
        ),
        Field(
            "pressure_kpa", "pressure", "Working pressure", low=1, high=200000,
            words=("working pressure", "max pressure", "pressure", "wp", "rated pressure", "betriebsdruck", "druck"),
        ),
        Field(
            "temperature_c", "temperature", "Highest temperature", low=-60, high=600,
            words=("max temperature", "temperature", "max temp", "temp rating", "temp", "temperatur"),
        ),
        PRICE,
    ),
    one_of=(("inside_diameter_mm",),),
)  # fmt: skip


def _end(letter: str, place: str) -> tuple[Field, ...]:
    number = {"a": "1", "b": "2"}[letter]

    def words(*texts: str) -> tuple[str, ...]:
        prefixed = [f"{text} {mark}" for text in texts for mark in (number, letter)]
        prefixed += [f"end {mark} {text}" for text in texts for mark in (number, letter)]
        return (*prefixed, *(texts if letter == "a" else ()))

    return (
        Field(f"end_{letter}_form", "choice", f"{place} end, form", choices=END_FORMS,
              words=words("form", "gender", "m/f", "sex", "end form", "connection")),
        Field(f"end_{letter}_thread", "text", f"{place} end, thread",
              words=words("thread", "thread size", "port thread", "gewinde")),
        Field(f"end_{letter}_standard", "text", f"{place} end, standard",
              words=words("standard", "style", "family", "type", "seat type", "thread type", "norm")),
        Field(f"end_{letter}_dash", "text", f"{place} end, dash size",
              words=words("dash", "dash size", "size")),
        Field(f"end_{letter}_seat_deg", "angle", f"{place} end, seat angle", low=1, high=90,
              words=words("seat", "seat angle", "cone", "flare angle", "cone angle", "dichtkegel")),
        Field(f"end_{letter}_hose_mm", "length", f"{place} end, hose it takes", low=2, high=150,
              words=words("hose id", "hose", "hose size", "hose bore", "for hose", "hose tail", "schlauch")),
    )  # fmt: skip


FITTING = Kind(
    "fitting", "fittings", "Fittings",
    (
        PART_NO, DESCRIPTION, MAKER, SUPPLIER,
        Field("angle_deg", "angle", "Angle", low=0, high=180,
              words=("angle", "body angle", "elbow", "bend", "shape angle", "winkel"),
              how="Between the two ends' axes: a straight fitting is 0."),
        *_end("a", "First"),
        *_end("b", "Second"),
        Field("material", "text", "Material", words=("material", "mat", "made of", "werkstoff")),
        PRICE,
    ),
    one_of=(("end_a_thread", "end_a_dash", "end_a_hose_mm"),),
)  # fmt: skip

CLAMP = Kind(
    "clamp", "clamps", "Clamps",
    (
        PART_NO, DESCRIPTION, MAKER, SUPPLIER,
        Field("size_number", "text", "Size number",
              words=("size number", "size no", "sae size", "clamp size", "size", "größe")),
        Field("style", "text", "Style",
              words=("style", "clamp type", "type", "clamp style", "design", "bauart")),
        Field("smallest_mm", "length", "Closes to", low=1, high=1000,
              words=("min", "min dia", "minimum diameter", "smallest", "closes to", "from", "min clamping", "spannbereich von",
                     "range min", "closed", "min."),
              how="The smallest outside diameter it still grips, hose over its stub."),
        Field("largest_mm", "length", "Opens to", low=1, high=1000,
              words=("max", "max dia", "maximum diameter", "largest", "opens to", "to", "max clamping", "spannbereich bis",
                     "range max", "open", "max.")),
        Field("band_width_mm", "length", "Band width", low=1, high=100,
              words=("band width", "band", "width", "bandbreite", "breite")),
        Field("material", "text", "Material", words=("material", "mat", "made of", "werkstoff")),
        PRICE,
    ),
    one_of=(("smallest_mm", "largest_mm", "size_number"),),
)  # fmt: skip

SUPPLIERS = Kind(
    "supplier", "suppliers", "Suppliers",
    (
        Field("name", "text", "Supplier", required=True, words=("name", "supplier", "vendor", "company", "firma", "lieferant")),
        Field("can_supply", "texts", "Can supply or make",
              words=("can supply", "can make", "can supply or make", "makes", "supplies", "capabilities", "services")),
        Field("lead_time_hours", "lead time", "Lead time", low=0, high=10000,
              words=("lead time", "lead time hours", "lead", "delivery", "delivery time", "hours", "lieferzeit")),
        Field("notes", "text", "Notes", words=("notes", "remarks", "comment", "description")),
    ),
)  # fmt: skip

JOB = Kind(
    "job", "jobs", "Jobs",
    (
        Field("id", "text", "Job", required=True, words=("job", "job id", "job no", "job number", "work order", "ro", "auftrag")),
        Field("opened_on", "date", "Opened on", words=("opened on", "opened", "start", "date", "date in", "started", "open date")),
        Field("closed_on", "date", "Closed on", words=("closed on", "closed", "finished", "date out", "end", "done on", "close date")),
        Field("bay", "text", "Bay", words=("bay", "shop", "location", "where")),
        Field("machine", "text", "Machine", words=("machine", "vehicle", "unit", "truck", "equipment", "fahrzeug")),
        Field("engine", "text", "Engine", words=("engine", "motor")),
        Field("work", "text", "Work", required=True, words=("work", "job done", "work done", "task", "what was done", "scope")),
        Field("parts", "texts", own_column=False, label="Parts", words=("parts", "parts used", "part numbers", "part list")),
        Field("trouble", "texts", own_column=False, label="Trouble",
              words=("trouble", "troubles", "problem", "problems", "what went wrong", "fault", "issue", "complaint")),
        Field("remedy", "texts", own_column=False, label="Remedy", words=("remedy", "remedies", "fix", "cure", "solution", "what fixed it", "action")),
        Field("hours_lost", "texts", own_column=False, label="Hours lost", words=("hours lost", "hrs lost", "lost hours", "time lost", "lost time")),
        Field("outcome", "choice", "Outcome", choices=OUTCOMES, words=("outcome", "result", "how it ended", "status")),
        Field("notes", "text", "Notes", words=("notes", "note", "remarks", "comment", "comments")),
        Field("accessories", "texts", "Accessories", words=("accessories", "driven", "what it drives", "accessory list")),
        Field("profile", "text", "Profile", words=("profile", "belt profile", "rib profile")),
        Field("ribs", "count", "Ribs", low=1, high=40, words=("ribs", "no of ribs", "number of ribs", "rib count")),
        Field("belt_length_mm", "length", "Belt length", low=150, high=12000,
              words=("belt length", "effective length", "length of belt")),
        Field("drive", "text", "Drive", words=("drive", "drive sheet", "belt drive", "drive name")),
        Field("customer", "text", "Customer", private=True, words=("customer", "client", "owner", "kunde")),
        Field("private_note", "text", "Private note", private=True, words=("private note", "private notes", "internal note")),
    ),
)  # fmt: skip

PARTS: tuple[Kind, ...] = (BELT, PULLEY, TENSIONER, HOSE, FITTING, CLAMP)
SHEET_KINDS: tuple[Kind, ...] = (*PARTS, JOB, SUPPLIERS)
KINDS: dict[str, Kind] = {kind.name: kind for kind in SHEET_KINDS}
BY_PLURAL: dict[str, Kind] = {kind.plural: kind for kind in SHEET_KINDS}
