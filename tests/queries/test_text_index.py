"""Part numbers and words found on a small shelf, loaded from sheets as a shop loads them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.cli import cli
from kb.shelf import open_to_read, open_to_write
from queries.text_index import KINDS, Hit, search

SHEETS = {
    "belts": """Part no,Description,Profile,Ribs,Effective length (mm)
8PK1854,"Multi-rib belt, plow truck fan drive",PK,8,1854
8PK1885,"Multi-rib belt, heavy duty",PK,8,1885
6PK1854,Multi-rib belt,PK,6,1854
KB-7043-21,"Multi-rib belt, brine sprayer",PK,6,1200
KB-7043-55,"Multi-rib belt, culvert flusher",PK,6,1300
00123,Multi-rib belt,PK,4,900
1E5,Multi-rib belt,PK,4,910
ZZ-99-4417,Multi-rib belt EPDM,PK,4,920
Quellmoor,"Multi-rib belt, winter",PK,4,930
01100,Multi-rib belt,PK,4,940
""",
    "pulleys": """Part no,Description,Face,Outside diameter (mm)
PT-89-76,"Idler pulley, flat, sealed bearing",flat,76.2
PT-20-51,IDLER FLAT NYLON,flat,70
PT-22-66,Crankshaft damper pulley,grooved,180
""",
    "tensioners": """Part no,Description,Face,Pulley diameter (mm)
TN-4051,"Automatic tensioner, flat pulley, left hand spring",flat,76.2
TN-4052,"Automatic tensioner, grooved pulley",grooved,76.2
""",
    "hoses": """Part no,Description,Inside diameter (mm),Length (mm),Service
47/3556,"Formschlauch für Kühlwasser, 1 Bogen",32,265,
SH-610,"Straight coolant hose, silicone",38,900,
SH-611,"Heater hose",16,900,
WH-7788,"Reinforced, black",51,1200,charge air
""",
    "jobs": """Job,Opened on,Bay,Machine,Work,Parts,Trouble,Remedy,Outcome
N-101,2023-01-10,north,plow truck 7,Renewed the fan belt,8PK1854,belt too short,one longer,worked after a change
S-044,2023-03-02,south,water tender 4,Replaced the idler,PT-89-76,bearing noisy,new idler,worked
""",
}


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("words")
    path = folder / "shelf.db"
    for kind, text in SHEETS.items():
        sheet = folder / f"{kind}.csv"
        sheet.write_text(text, encoding="utf-8")
        loaded = CliRunner().invoke(
            cli, ["--shelf", str(path), "load", str(sheet), "--as", kind, "--supplier", "Dry Creek"]
        )
        assert loaded.exit_code == 0, loaded.output
    return path


@pytest.fixture
def connection(shelf: Path) -> Iterator[sqlite3.Connection]:
    connection = open_to_read(shelf)
    yield connection
    connection.close()


def names(connection: sqlite3.Connection, hits: list[Hit]) -> list[str]:
    """The part numbers or job ids of the hits."""
    found = []
    for hit in hits:
        column, key = ("id", "number") if hit.kind == "job" else ("part_no", "id")
        row = connection.execute(f"SELECT {column} FROM {hit.kind} WHERE {key} = ?", (hit.row_id,)).fetchone()
        found.append(row[0])
    return found


def first(connection: sqlite3.Connection, text: str) -> tuple[str, str]:
    hits = search(connection, text)
    assert hits, f"nothing was found for {text!r}"
    return names(connection, hits)[0], hits[0].why


@pytest.mark.parametrize("written", ["8PK1854", "8pk 1854", "8-PK-1854", " 8pk1854 ", "8PKI854", "8PKl854", "８PK1854"])
def test_a_part_number_is_found_as_people_write_it(connection: sqlite3.Connection, written: str) -> None:
    assert first(connection, written) == ("8PK1854", "the part number asked for")


@pytest.mark.parametrize(("written", "meant"), [("OO123", "00123"), ("1e5", "1E5"), ("47 3556", "47/3556")])
def test_part_numbers_are_text(connection: sqlite3.Connection, written: str, meant: str) -> None:
    assert first(connection, written) == (meant, "the part number asked for")


@pytest.mark.parametrize(
    ("written", "slip"),
    [
        ("KB-7034-21", "two characters swapped"),
        ("KB-743-21", "one character missing"),
        ("kb 77043 21", "one character doubled"),
        ("KB704321X", "one character too many"),
        ("KB-7048-21", "one character wrong"),
        ("KB-7034-12", "two slips"),
    ],
)
def test_a_slip_is_forgiven_and_named(connection: sqlite3.Connection, written: str, slip: str) -> None:
    assert first(connection, written) == ("KB-7043-21", f"part number, {slip}: KB-7043-21")


def test_the_right_part_number_stands_before_near_ones(connection: sqlite3.Connection) -> None:
    hits = search(connection, "8PK1885")
    assert names(connection, hits)[0] == "8PK1885"
    assert hits[0].score == 100.0
    assert all(hit.score < 100.0 for hit in hits[1:])


@pytest.mark.parametrize(
    ("written", "told", "meant"),
    [
        ("4417", "the part number ends so: ZZ-99-4417", {"ZZ-99-4417"}),
        ("7043", "the part number has that in it: KB-7043-21", {"KB-7043-21", "KB-7043-55"}),
        ("KB-7", "the part number begins so: KB-7043-21", {"KB-7043-21", "KB-7043-55"}),
    ],
)
def test_a_worn_label_shows_a_piece(connection: sqlite3.Connection, written: str, told: str, meant: set[str]) -> None:
    hits = search(connection, written)
    assert set(names(connection, hits)) == meant
    assert hits[0].why == told


def test_words_are_found_each_with_its_own_slip(connection: sqlite3.Connection) -> None:
    assert first(connection, "tensoner automatc") == (
        "TN-4052",
        "words: 'tensioner' (you wrote 'tensoner'), 'automatic' (you wrote 'automatc')",
    )
    assert first(connection, "idler") == ("PT-20-51", "words: 'idler'")


def test_more_of_the_words_is_better(connection: sqlite3.Connection) -> None:
    assert first(connection, "sealed idler pulley")[0] == "PT-89-76"
    assert first(connection, "heater hose")[0] == "SH-611"


def test_part_of_a_compound_and_words_without_their_marks(connection: sqlite3.Connection) -> None:
    assert first(connection, "schlauch bogen")[0] == "47/3556"
    assert first(connection, "kuhlwasser")[0] == "47/3556"
    assert first(connection, "kuehlwasser")[0] == "47/3556"


def test_part_number_and_words_together(connection: sqlite3.Connection) -> None:
    hits = search(connection, "8pk1845 plow belt")
    assert names(connection, hits)[0] == "8PK1854"
    assert hits[0].why.startswith("part number, two characters swapped: 8PK1854; words:")
    assert "'plow'" in hits[0].why
    assert first(connection, "KB 7043 flusher")[0] == "KB-7043-55"


def test_every_kind_at_once(connection: sqlite3.Connection) -> None:
    assert {hit.kind for hit in search(connection, "idler")} == {"pulley", "job"}
    assert "N-101" in names(connection, search(connection, "8PK1854"))
    assert "S-044" in names(connection, search(connection, "PT-89-76"))
    assert first(connection, "plow truck belt too short")[0] == "N-101"


def test_a_job_by_its_name(connection: sqlite3.Connection) -> None:
    assert first(connection, "n-101 ") == ("N-101", "the job asked for")


def test_only_the_kinds_asked_for(connection: sqlite3.Connection) -> None:
    assert {hit.kind for hit in search(connection, "idler", kinds=["job"])} == {"job"}
    assert not search(connection, "idler", kinds=[])
    for kind in KINDS:
        assert {hit.kind for hit in search(connection, "belt hose idler", kinds=[kind])} <= {kind}


@pytest.mark.parametrize(
    "written", ["qzxwv", "xylophone", "QX-55-1T", "77777", "qq", "", "   ", "---", "'\"", "*", "a"]
)
def test_nothing_close_gives_nothing(connection: sqlite3.Connection, written: str) -> None:
    assert search(connection, written) == []


def test_a_word_is_no_part_number_of_digits(connection: sqlite3.Connection) -> None:
    assert "01100" not in names(connection, search(connection, "oil"))
    assert first(connection, "quellmor") == ("Quellmoor", "part number, one character missing: Quellmoor")


def test_a_rare_size_does_not_hide_the_rest(connection: sqlite3.Connection) -> None:
    # 32 stands in no description of a hose, 1 in one only: what the other words say still counts.
    assert first(connection, "1 heater hose 32")[0] == "SH-611"


def test_one_word_in_four_is_no_answer(connection: sqlite3.Connection) -> None:
    assert search(connection, "idler xylophone quartz umbrella") == []


def test_the_order_does_not_move(connection: sqlite3.Connection) -> None:
    asked = ["multi-rib belt", "PT", "idler flat", "8pk"]
    once = [search(connection, text, 5) for text in asked]
    assert once == [search(connection, text, 5) for text in asked]
    for text, hits in zip(asked, once, strict=True):
        assert hits == search(connection, text, 50)[:5]
        assert hits == sorted(hits, key=lambda hit: (-hit.score, KINDS.index(hit.kind), hit.row_id))


@given(st.text(max_size=60) | st.text("8pk1854KB-\"'*()^:+ ORNEAT{}", max_size=60))
@settings(max_examples=300)
def test_no_text_is_an_error(shelf: Path, text: str) -> None:
    connection = open_to_read(shelf)
    hits = search(connection, text, 5)
    connection.close()
    assert len(hits) <= 5
    assert all(0.0 < hit.score <= 100.0 and hit.why for hit in hits)
    assert len({(hit.kind, hit.row_id) for hit in hits}) == len(hits)


def test_a_shelf_with_nothing_on_it(tmp_path: Path) -> None:
    open_to_write(tmp_path / "empty.db").close()
    connection = open_to_read(tmp_path / "empty.db")
    assert search(connection, "8PK1854 belt") == []
    connection.close()


def test_a_kinds_own_words_are_searched(connection: sqlite3.Connection) -> None:
    """What a hose carries and that it is a hose need not stand in its description; slips in the first are forgiven."""
    for asked in ("charge air hose", "hose charge air", "chrage air hoses"):
        hit = search(connection, asked)[0]
        assert (hit.kind, _part_no(connection, hit)) == ("hose", "WH-7788"), asked
    assert "'charge'" in search(connection, "charge air hose")[0].why


def test_only_the_name_of_a_kind_lists_that_kind(connection: sqlite3.Connection) -> None:
    assert {hit.kind for hit in search(connection, "clamps")} == set()
    assert {_part_no(connection, hit) for hit in search(connection, "hoses", kinds=("hose",))} == {
        "47/3556", "SH-610", "SH-611", "WH-7788",
    }  # fmt: skip


def _part_no(connection: sqlite3.Connection, hit: Hit) -> str:
    return str(connection.execute(f"SELECT part_no FROM {hit.kind} WHERE id = ?", (hit.row_id,)).fetchone()[0])
