"""Files made to exhaust their reader: refused in words, or read, in a child process of bounded memory and time.

The bound is what Linux counts for the child itself (``VmHWM`` of proc(5): getrusage also counts what the process was
before it began its program); ``RLIMIT_AS`` is the net below it.
"""

from __future__ import annotations

import math
import random
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MOST_MIB = 300
NET_BYTES = 2 << 30
SLOWEST_S = 60.0
"""Processor seconds: a busy machine is no failure."""

READ = """
import resource, sys, time
from pathlib import Path
resource.setrlimit(resource.RLIMIT_AS, (int(sys.argv[3]), int(sys.argv[3])))
from kb.errors import BayshelfError, DriveError
path, how = Path(sys.argv[2]), sys.argv[1]
try:
    if how == "rows":
        from kb.sheets.cells import read_worksheets
        print(sum(1 for sheet in read_worksheets(path) for row in sheet.rows), "rows")
    elif how == "load":
        from importers.load import Settings, load_file
        from kb.shelf import open_to_write
        shelf = path.with_name("shelf.db")
        connection = open_to_write(shelf)
        print(sum(one.rows_stored for one in load_file(connection, shelf, path, Settings(supplier="Dry Creek"))), "stored")
    elif how == "drive":
        from kb.sheets.drive import read_drive
        from queries.drive_path import ask_path
        from queries.drives import known_drive
        print(len(ask_path(known_drive(read_drive(path)), None, None, ()).as_json()["pulleys"]), "pulleys")
    elif how == "line":
        from kb.sheets.line import read_line
        from queries.lines import ask_line
        print(ask_line(read_line(path)).as_json()["order_length_mm"], "mm")
    elif how == "job":
        from kb.sheets.job import read_job
        print(len(read_job(path).parts), "parts")
    elif how == "form":
        from kb.sheets.job_form import read_form
        print(read_form(path).name)
except BayshelfError as error:
    print("refused:", error)
used = resource.getrusage(resource.RUSAGE_SELF)
print(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0], used.ru_utime + used.ru_stime)
"""


def outcome(how: str, path: Path) -> str:
    """Read a file in a child; return what it said, once its memory and time were within the bounds."""
    command = [sys.executable, "-W", "error", "-c", READ, how, str(path), str(NET_BYTES)]
    done = subprocess.run(command, check=False, cwd=ROOT, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr[-2_000:]
    assert done.stderr == ""
    said, last = done.stdout.rsplit("\n", 2)[:2]
    peak_kib, seconds = last.split()
    assert int(peak_kib) / 1024 < MOST_MIB, f"{int(peak_kib) // 1024} MiB: {said[:200]}"
    assert float(seconds) < SLOWEST_S, f"{seconds} s: {said[:200]}"
    assert len(said) < 3_000
    return said


# Workbooks ------------------------------------------------------------------------------------------------------------

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
SHEET, STRINGS, BOOK = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/workbook.xml"
RELATIONS, STYLES = "xl/_rels/workbook.xml.rels", "xl/styles.xml"
PLAIN = {
    "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>',
    "_rels/.rels": (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r1" '
        f'Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
    ),
    BOOK: f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets><sheet name="A" sheetId="1" r:id="r1"/></sheets></workbook>',
    RELATIONS: (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        f'<Relationship Id="r1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
        f'<Relationship Id="r2" Type="{OFFICE}/sharedStrings" Target="sharedStrings.xml"/>'
        f'<Relationship Id="r3" Type="{OFFICE}/styles" Target="styles.xml"/></Relationships>'
    ),
    STYLES: f'<styleSheet xmlns="{MAIN}"><cellXfs count="1"><xf numFmtId="0"/></cellXfs></styleSheet>',
    STRINGS: f'<sst xmlns="{MAIN}"><si><t>Part</t></si></sst>',
    SHEET: f'<worksheet xmlns="{MAIN}"><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c></row></sheetData></worksheet>',
}

Pieces = Iterator[bytes]


def workbook(path: Path, changed: dict[str, Callable[[], Pieces]], more: dict[str, Callable[[], Pieces]]) -> Path:
    """Write a workbook, some of whose parts are written piece by piece."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, text in PLAIN.items():
            if name not in changed:
                archive.writestr(name, text)
        for name, pieces in {**changed, **more}.items():
            with archive.open(name, "w") as part:
                for piece in pieces():
                    part.write(piece)
    return path


def around(start: str, pieces: Pieces, end: str) -> Pieces:
    yield start.encode()
    yield from pieces
    yield end.encode()


def in_sheet(pieces: Pieces) -> Pieces:
    return around(f'<worksheet xmlns="{MAIN}"><sheetData>', pieces, "</sheetData></worksheet>")


def in_strings(pieces: Pieces) -> Pieces:
    return around(f'<sst xmlns="{MAIN}">', pieces, "</sst>")


def noise(bytes_wanted: int) -> bytes:
    """Letters that do not compress far: what compresses 200 times over is refused for that alone."""
    return random.Random(4).randbytes(bytes_wanted // 2).hex().encode()


def laughs(root: str) -> bytes:
    entities = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    return f'<!DOCTYPE x [<!ENTITY l0 "lol">{entities}]>{root}&l9;'.encode()


def many_strings(count: int, length: int) -> Pieces:
    chance = random.Random(5)
    for _ in range(count // 1000):
        yield b"".join(b"<si><t>%s</t></si>" % chance.randbytes(length // 2).hex().encode() for _ in range(1000))


def test_a_sheet_that_unpacks_to_a_gigabyte_of_blanks(tmp_path: Path) -> None:
    blanks = {SHEET: lambda: in_sheet(b" " * (1 << 20) for _ in range(1_024))}
    assert "unpacks to" in outcome("rows", workbook(tmp_path / "a.xlsx", blanks, {}))


def test_parts_that_only_together_unpack_to_a_gigabyte(tmp_path: Path) -> None:
    parts = {f"xl/media/{n}.bin": lambda: (b"\0" * (1 << 20) for _ in range(15)) for n in range(70)}
    assert "unpacks to more than 512 MB" in outcome("rows", workbook(tmp_path / "a.xlsx", {}, parts))


def test_a_workbook_inside_a_workbook_is_not_unpacked(tmp_path: Path) -> None:
    inner = workbook(tmp_path / "inner.xlsx", {SHEET: lambda: in_sheet(b" " * (1 << 20) for _ in range(600))}, {})
    outer = workbook(tmp_path / "a.xlsx", {}, {"xl/embeddings/a.xlsx": lambda: iter([inner.read_bytes()])})
    assert outcome("rows", outer) == "1 rows"


@pytest.mark.parametrize("part", [SHEET, STRINGS, STYLES, BOOK, RELATIONS, "[Content_Types].xml", "_rels/.rels"])
def test_a_billion_laughs(tmp_path: Path, part: str) -> None:
    path = workbook(tmp_path / "a.xlsx", {part: lambda: iter([laughs("<a>")])}, {})
    assert "declares XML entities" in outcome("rows", path) or part == "[Content_Types].xml"


def test_millions_of_shared_texts(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", {STRINGS: lambda: in_strings(many_strings(3_000_000, 60))}, {})
    outcome("rows", path)


def test_one_enormous_shared_text(tmp_path: Path) -> None:
    text = around("<si><t>", (noise(1 << 20) for _ in range(200)), "</t></si>")
    assert "refused" in outcome("rows", workbook(tmp_path / "a.xlsx", {STRINGS: lambda: in_strings(text)}, {}))


@pytest.mark.parametrize(
    ("start", "end"),
    [('<c r="A1" t="inlineStr"><is><t>', "</t></is></c>"), ('<c r="A1" t="str"><v>', "</v></c>"),
     ('<c r="A1"><v>', "</v></c>"), ('<c r="A1"><f>', "</f><v>1</v></c>")],
)  # fmt: skip
def test_an_enormous_single_cell(tmp_path: Path, start: str, end: str) -> None:
    cell = around(f'<row r="1">{start}', (noise(1 << 20) for _ in range(200)), f"{end}</row>")
    outcome("rows", workbook(tmp_path / "a.xlsx", {SHEET: lambda: in_sheet(cell)}, {}))


def test_an_attribute_of_a_hundred_megabytes(tmp_path: Path) -> None:
    row = around('<row r="1" spans="', (noise(1 << 20) for _ in range(100)), '"><c r="A1"><v>1</v></c></row>')
    outcome("rows", workbook(tmp_path / "a.xlsx", {SHEET: lambda: in_sheet(row)}, {}))


def test_a_cell_in_the_last_corner(tmp_path: Path) -> None:
    corner = b'<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    assert "16,384" in outcome("rows", workbook(tmp_path / "a.xlsx", {SHEET: lambda: in_sheet(iter([corner]))}, {}))


def test_a_hundred_thousand_worksheets(tmp_path: Path) -> None:
    names = b"".join(b'<sheet name="S%d" sheetId="%d" r:id="r1"/>' % (n, n) for n in range(1, 100_001))
    book = around(f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>', iter([names]), "</sheets></workbook>")
    outcome("rows", workbook(tmp_path / "a.xlsx", {BOOK: lambda: book}, {}))


def test_merged_ranges_over_the_whole_sheet(tmp_path: Path) -> None:
    merges = b"".join(b'<mergeCell ref="A%d:XFD1048576"/>' % n for n in range(1, 200_001))
    sheet = around(
        f'<worksheet xmlns="{MAIN}"><sheetData><row r="1"><c r="A1"><v>1</v></c></row></sheetData><mergeCells>',
        iter([merges]), "</mergeCells></worksheet>",
    )  # fmt: skip
    outcome("rows", workbook(tmp_path / "a.xlsx", {SHEET: lambda: sheet}, {}))


# Text files -----------------------------------------------------------------------------------------------------------


def written(path: Path, pieces: Pieces) -> Path:
    with path.open("wb") as file:
        for piece in pieces:
            file.write(piece)
    return path


def test_a_line_of_a_gigabyte(tmp_path: Path) -> None:
    path = written(tmp_path / "a.csv", (b"x" * (1 << 20) for _ in range(1_024)))
    assert "has a line of more than 1 MB" in outcome("rows", path)
    path.unlink()


@pytest.mark.parametrize(
    "line", [b'"', b"x,", b'"",', b'"\n', b'x,"', b"\r", b"\n", b'b","d\n', b"'=", b"\xff", b"\xc3\xa4;"]
)
def test_three_megabytes_of_one_thing(tmp_path: Path, line: bytes) -> None:
    lines = (line * 1000 + b"\n" for _ in range(3_000_000 // (1000 * len(line))))
    outcome("rows", written(tmp_path / "a.csv", around("Part,Length\n", lines, "")))


@pytest.mark.parametrize("tail", [b"\0", b"a,b\n" * 500_000 + b"\0"])
def test_nul_bytes(tmp_path: Path, tail: bytes) -> None:
    said = outcome("rows", written(tmp_path / "a.csv", iter([b"Part,Length\nA,1\n", tail])))
    assert "holds a NUL byte" in said
    assert f"line {3 if len(tail) == 1 else 500_003}" in said


def test_a_quote_that_is_never_closed_over_a_hundred_megabytes(tmp_path: Path) -> None:
    lines = (b"A2,1857,8\n" * 10_000 for _ in range(100))
    path = written(tmp_path / "a.csv", around('Part,Length,Ribs\nA1,"1857,8\n', lines, ""))
    assert outcome("rows", path) == "1000002 rows"


def test_quotes_that_reopen_on_every_line(tmp_path: Path) -> None:
    """Each record runs on to the bound on lines, whichever line it begins at."""
    assert (
        outcome("rows", written(tmp_path / "a.csv", around("a,b\n", iter([b'b","d\n' * 200_000]), ""))) == "200001 rows"
    )


def test_rows_as_wide_as_a_line_may_be(tmp_path: Path) -> None:
    path = written(tmp_path / "a.csv", around("Part no,Length\n", (b"abc," * 200_000 + b"\n" for _ in range(30)), ""))
    assert "refused" in outcome("load", path)


def test_a_page_of_texts_that_could_all_be_headings(tmp_path: Path) -> None:
    chance = random.Random(6)
    rows = (
        ",".join("".join(chance.choices("abcdefghij kl", k=12)) for _ in range(2_000)).encode() + b"\n"
        for _ in range(30)
    )
    assert "refused" in outcome("load", written(tmp_path / "a.csv", rows))


# Sheets written in TOML -----------------------------------------------------------------------------------------------

TOMLS = {
    "nested arrays": ("a = " + "[" * 10_000 + "]" * 10_000, "nested too deep"),
    "nested tables": ("a = " + "{a=" * 10_000 + "1" + "}" * 10_000, "nested too deep"),
    "arrays never closed": ("a = " + "[" * 900_000, "nested too deep"),
    "a dotted key": (".".join("a" * 60_000) + " = 1", "more than 32 parts"),
    "a dotted key, quoted": (" . ".join(['"a b"'] * 60_000) + " = 1", "more than 32 parts"),
    "a dotted heading": ("[" + ".".join(["'a'"] * 60_000) + "]", "more than 32 parts"),
    "digits": ("a = " + "1" * 5_000, "thousands of digits"),
    "hexadecimal digits": ("a = 0x" + "f" * 900_000, ""),
    "a long word": ('a = "' + "x" * 990_000 + '"', ""),
    "quotes": ("a = '" + '"' * 990_000 + "'", ""),
    "words and dots": ("a = '" + "a-b " * 240_000 + "'", ""),
    "larger than a page": ("#" * 1_000_001, "too large"),
    "a gigabyte": ("", "too large"),
    "many tables": ("[[pulley]]\n" * 90_000, ""),
    "many parts": ("[[part]]\n" * 100_000, ""),
    "many ends": ("[[end]]\n" * 100_000, ""),
    "many keys": ("".join(f"a{n} = 1\n" for n in range(80_000)), ""),
}


@pytest.mark.parametrize("how", ["drive", "line", "job", "form", "load"])
@pytest.mark.parametrize("name", TOMLS)
def test_toml_that_exhausts(tmp_path: Path, name: str, how: str) -> None:
    text, expected = TOMLS[name]
    path = tmp_path / "a.toml"
    path.write_text(text, encoding="utf-8")
    if name == "a gigabyte":
        with path.open("r+b") as file:
            file.truncate(1 << 30)
    said = outcome(how, path)
    assert said.startswith("refused: ")
    assert expected in said


HEAD = 'name = "a"\nprofile = "PK"\nribs = 8\nrotation = "clockwise"\nbelt_over_rim = 2.5\nbelt_thickness = 4.6\n'


def taped_drive(count: int) -> str:
    """Pulleys round a circle, the first two given, every pair of them taped."""
    radius = 15 * count
    turns = [2 * math.pi * number / count for number in range(count)]
    at = [(round(radius * math.cos(turn)), round(radius * math.sin(turn))) for turn in turns]
    pulleys = "".join(
        f'[[pulley]]\nname = "p{number}"\neffective_diameter = 50\nface = "grooved"\ngrooves = 8\n'
        + (f"at = [{x}, {y}]\n" if number < 2 else "")
        + ("driver = true\n" if not number else "")
        for number, (x, y) in enumerate(at)
    )
    tapes = "".join(
        f'[[distance]]\nbetween = ["p{one}", "p{other}"]\nis = {math.dist(at[one], at[other]):.1f}\n'
        for one in range(count) for other in range(one)
    )  # fmt: skip
    return HEAD + pulleys + tapes


@pytest.mark.parametrize(
    ("count", "said"), [(40, "40 pulleys"), (41, "more than 40 are not"), (150, "more than 40 are not")]
)
def test_a_drive_taped_every_way(tmp_path: Path, count: int, said: str) -> None:
    path = tmp_path / "a.toml"
    path.write_text(taped_drive(count), encoding="utf-8")
    assert said in outcome("drive", path)


def test_the_same_tape_a_thousand_times_over(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text(taped_drive(5) + '[[distance]]\nbetween = ["p0", "p1"]\nis = 100\n' * 1_000, encoding="utf-8")
    assert "more than 1,000 are not" in outcome("drive", path)


@pytest.mark.parametrize(("count", "said"), [(200, "mm"), (201, "more than 200 are not"), (8_000, "more than 200")])
def test_a_line_of_many_points_past_many_things(tmp_path: Path, count: int, said: str) -> None:
    head = (
        'name = "a"\nservice = "coolant"\nhose_outside = 10\nmin_bend_radius = 10\n'
        '[[end]]\nname = "a"\n[[end]]\nname = "b"\n'
    )
    points = "".join(f"[[point]]\nat = [{100 * n}, {60 * (n % 2)}, 0]\n" for n in range(count))
    clear = "".join(f'[[keep_clear]]\nname = "k{n}"\nat = [{n}, {n}, 500]\nby = 1\n' for n in range(200))
    path = tmp_path / "a.toml"
    path.write_text(head + points + clear, encoding="utf-8")
    told = outcome("line", path)
    assert said in told
    if said == "mm":  # its corners are cut, each by at most the two legs' share that its arc takes
        legs = 199 * math.hypot(100, 60)
        assert legs - 198 * 2 * 15 < float(told.split()[0]) < legs
