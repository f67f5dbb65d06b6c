"""What words mean in the trade: synonyms, abbreviations, slips; and no guessing where a word is its own.

The words are common practice, no source; each expectation is the writer's judgement.
"""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from kb.reference.tables import table
from kb.spelling import words_of
from kb.trade_words import families, is_everyday, meanings_of, spellings_of, tells_of


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("squeal", "chirp"), ("alternator", "alt"), ("generator", "altenator"), ("tensioner", "tnsnr"), ("brkt", "bracket"),
        ("A/C", "air con"), ("weeps", "leaking"), ("serpentine", "belt"), ("I6", "straight six"), ("V-8", "v8"),
        ("won't go on", "too short"), ("cowl", "shroud"), ("rubs", "touching"), ("cmprsr", "Compressor"), ("rad", "radiator"),
        ("trimmed", "trims"), ("shaving", "shave"), ("walks off", "throws a rib"), ("no output", "charge light"),
        ("hairline crack", "fatigued"), ("airlock", "burped"), ("visco", "fan clutch"), ("silent block", "rubber mount"),
        ("to short", "longer one"), ("bareing", "brg"), ("chafed", "scuffed"), ("boost hose", "charge air hose"),
        ("blt", "belt"), ("plough", "plow"), ("h2o pump", "waterpump"), ("compresor", "comp"),
        # belts, pulleys and what presses on them
        ("hydroplaning", "skids"), ("glazed", "shiny flanks"), ("chunked", "pieces missing"), ("jockey", "idler"),
        ("overtensioned", "bowstring"), ("hollowed out", "bottoms in the groove"), ("half moon key", "woodruff"),
        ("spun on the shaft", "fretting"), ("harmonic balancer", "torsional damper"), ("front main seal", "crank seal"),
        ("repair sleeve", "wear ring"), ("drawn off", "puller"), ("bolt pattern", "pitch circle"),
        ("taper lock", "split bushing"), ("delaminated", "ply separation"), ("jack bolt", "adjusting screw"),
        ("tensioner stuck", "arm seized"),
        # charging and its wires
        ("genny", "dynamo"), ("boils the batteries", "overcharging"), ("diode pack", "rectifier"),
        ("earth strap", "ground strap"), ("volt drop", "high resistance"), ("flash the field", "wont excite"),
        ("brown out", "cranks slow"),
        ("u/s", "conked out"),
        # water, fans and air
        ("tale hole", "weep hole"), ("surge tank", "expansion bottle"), ("sucked flat", "caves in"), ("t/stat", "thermostat"),
        ("packed with chaff", "packed with mud"), ("silicate dropout", "green goo"), ("pusher", "cupped side"),
        ("freeze plug", "core plug"), ("foaming", "sucking air"), ("winter front", "radiator muff"),
        # hoses, fittings and threads
        ("wore through", "sawed through"), ("cold leak", "seals when hot"), ("zip tied", "p-clips"),
        ("banjo bolt", "banjos"),
        ("crush washers", "bonded seal"), ("crossthreaded", "crossed thread"), ("o-ring", "orings"),
        ("boost leak", "no boost"),
        ("wire insert", "thread repair kit"), ("p/s", "pwr strg"), ("aircon", "A/C"), ("bkt", "bracket"), ("tens", "tensnr"),
        # noises, weather, work
        ("drone", "hum"), ("clunk", "thump"), ("freezing rain", "icing"), ("jetwash", "pressure washer"),
        ("reamed", "drilled out"), ("second hand", "wreckers"), ("hyd", "hydraulics"), ("prop shaft", "universal joint"),
    ],
)  # fmt: skip
def test_the_same_thing_in_other_words(one, other) -> None:
    assert set(meanings_of(one)) == set(meanings_of(other))


@pytest.mark.parametrize(
    ("one", "other"),
    [("felt", "belt"), ("slip", "squeal"), ("turned", "tunnel"), ("driven", "drier"), ("house", "hose"), ("lamp", "clamp"),
     ("7.6", "7"), ("short", "long"), ("three", "threw"), ("weeks", "weeps"), ("string", "spring"), ("could", "cold"),
     ("no charge", "lights dim"), ("frayed", "worn"), ("seat belt", "serpentine"), ("steering wheel", "jockey wheel"),
     ("brake pad", "rubber pad"), ("chased", "chafed"), ("round", "bolt"), ("boiler", "boiling"), ("trunk", "truck"),
     ("overcharging", "no charge"), ("kinked", "rubbed through"), ("floor conveyor", "belt"), ("controlled", "controller"),
     ("mayor", "mayo"), ("curved", "cured"), ("couple", "coupler"), ("soldier", "solder"), ("lined", "line")],
)  # fmt: skip
def test_other_things_stay_apart(one, other) -> None:
    assert not set(meanings_of(one)) & set(meanings_of(other))


@pytest.mark.parametrize(
    ("finer", "coarser"),
    [("rattle", "noise"), ("growl", "bearing"), ("end float", "bearing"), ("glazed", "slip"), ("harmonic balancer", "crank"),
     ("rubbed through", "touches"), ("banjo", "fitting"), ("flare", "seat"), ("oring", "seal"), ("header tank", "tank"),
     ("exciter wire", "wiring"), ("ice", "cold"), ("battery", "charging"), ("reamed", "cut"), ("overtight", "tension")],
)  # fmt: skip
def test_a_finer_word_says_the_coarser_thing_too(finer, coarser) -> None:
    assert set(meanings_of(coarser)) < set(meanings_of(finer))


@pytest.mark.parametrize(
    ("text", "tells"),
    [("polished ribs", "grip"), ("burning rubber", "grip"), ("rubber dust", "grip"), ("rumbles", "bearing"),
     ("end float", "bearing"), ("key sheared", "hub"), ("fretting", "hub"), ("mounts torn", "flex"),
     ("radiator stay loose", "flex"),
     ("oil slung", "oil on it"), ("crossthreaded", "seat"), ("gassing", "charge circuit"), ("stud pulled thread", "breakage"),
     ("lined up", "line-up"), ("belt flipped", "line-up"), ("foaming", "aeration")],
)  # fmt: skip
def test_signs_tell_of_one_kind_of_trouble(text, tells) -> None:
    assert tells in {tells_of().get(meaning) for meaning in meanings_of(text)}


def test_a_phrase_keeps_the_thing_it_is_about() -> None:
    """What is wrong with a part does not hide the part."""
    for text, thing in [
        ("bracket cracked at the weld", "bracket"), ("alternator dead", "alternator"), ("fan rubs the cowl", "fan"),
        ("heater hose swollen", "hose"), ("tensioner weak", "tensioner"), ("w/p weeping", "water pump"),
        ("belt eats itself", "belt"), ("rad core plugged", "radiator"), ("compressor clutch slips", "compressor"),
    ]:  # fmt: skip
        assert thing in meanings_of(text)


def test_numbers_keep_their_decimals_and_letters_come_apart() -> None:
    assert meanings_of("8PK1854, 7,6L") == ("8", "ribbed", "1854", "7.6", "l")


def test_the_table_is_sound() -> None:
    rows = list(csv.DictReader((files("kb.reference") / "trade_words.csv").read_text(encoding="utf-8").splitlines()))
    meanings = [row["meaning"] for row in rows]
    assert len(set(meanings)) == len(meanings)
    assert all(row["source"] and row["status"] for row in rows)
    assert set(families()) <= set(meanings)
    assert set(tells_of()) <= set(meanings)
    too = {row["meaning"]: row["says_too"].split("; ") for row in rows if row["says_too"]}
    assert {each for besides in too.values() for each in besides} <= set(meanings) - set(too)  # one step, never a chain
    # As the rows stand: no spelling means two things.
    spelt = [tuple(words_of(spelling)) for row in rows for spelling in row["words"].split(";")]
    assert [spelling for spelling in set(spelt) if spelt.count(spelling) > 1] == []
    assert all(spellings_of(meaning) for meaning in meanings)


def test_everyday_words_are_no_slips() -> None:
    """Words that tell nothing are left out; words of their own stay as they are, unless the trade has a meaning for them."""
    kinds = {row["kind"]: {word.strip() for word in row["words"].split(";")} for row in table("plain_words")}
    assert set(kinds) == {"tells nothing", "its own word"}
    assert meanings_of("they could have told us twice, whatever") == meanings_of("twice")
    assert meanings_of("weeks road") == ("week", "road")
    assert is_everyday("road")
    assert not is_everyday("belt")
    spelt = {
        spelling[0] for row in table("trade_words") for spelling in spellings_of(row["meaning"]) if len(spelling) == 1
    }
    assert not spelt & kinds["tells nothing"]  # what the trade names is not left out
