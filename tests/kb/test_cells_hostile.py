"""Files that are damaged or made to do harm: rows or an error in words, within bounded memory.

Peak memory is measured in a process of its own, by what Linux counts for it: ``VmHWM`` of proc(5), since getrusage also
counts what the process was before it began this program.
"""

from __future__ import annotations

import io
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.errors import SheetError
from kb.sheets.cells import read_worksheets

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
ROOT = Path(__file__).parents[2]
READ = """
import sys
from pathlib import Path
from kb.errors import SheetError
from kb.sheets.cells import read_worksheets
rows = 0
try:
    for sheet in read_worksheets(Path(sys.argv[1])):
        for row in sheet.rows:
            rows += 1
    print(f"{rows} rows")
except SheetError as error:
    print(error)
print(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0])
"""


def outcome(path: Path) -> tuple[str, int]:
    """Read a file in a process of its own; return what came of it and the peak memory in MiB."""
    command = [sys.executable, "-W", "error", "-c", READ, str(path)]
    done = subprocess.run(command, check=False, cwd=ROOT, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    said, peak = done.stdout.rsplit("\n", 2)[:2]
    return said, int(peak) // 1024


def plain_parts() -> dict[str, bytes]:
    book = openpyxl.Workbook()
    book.active.append(["Part", "Length", "Ribs"])
    book.active.append(["A1", 1857.5, 8])
    file = io.BytesIO()
    book.save(file)
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


PARTS = plain_parts()
SHEET = "xl/worksheets/sheet1.xml"


def workbook(path: Path, **changed: bytes) -> Path:
    """Write the plain workbook with another worksheet, shared texts, or other parts."""
    names = {"sheet": SHEET, "strings": "xl/sharedStrings.xml", "book": "xl/workbook.xml"}
    parts = PARTS | {names.get(name, name): content for name, content in changed.items()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def sheet_xml(rows: str) -> bytes:
    return f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>'.encode()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "prices.xlsx"


def refusal(path: Path) -> str:
    with pytest.raises(SheetError) as caught:
        [list(sheet.rows) for sheet in read_worksheets(path)]
    assert str(caught.value).startswith("prices.xlsx")
    assert caught.value.do
    return str(caught.value)


def test_a_cell_in_the_last_corner_is_refused_within_bounded_memory(path: Path) -> None:
    xml = '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    said, peak = outcome(workbook(path, sheet=sheet_xml(xml)))
    assert "16,384" in said
    assert peak < 150


def test_a_stray_cell_far_below_costs_little(path: Path) -> None:
    xml = '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="B1048576"><v>1</v></c></row>'
    said, peak = outcome(workbook(path, sheet=sheet_xml(xml)))
    assert said == "1048576 rows"
    assert peak < 400
    xml = xml.replace("B1048576", "Z1048576")
    assert "more than 5,000,000 cells" in refusal(workbook(path, sheet=sheet_xml(xml)))


def test_cells_that_only_have_a_style_reach_nowhere(path: Path) -> None:
    xml = '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576" s="0"/></row>'
    (sheet,) = read_worksheets(workbook(path, sheet=sheet_xml(xml)))
    assert [row.cells for row in sheet.rows] == [["1"]]


@pytest.mark.parametrize("place", ["A0", "A1048577", "AAAA1", "1", "A", "Ä1", "A1B", "A-1", "XFD99999999", ""])
def test_places_that_are_none(path: Path, place: str) -> None:
    xml = f'<row r="1"><c r="{place}"><v>1</v></c></row>'
    assert "damaged" in refusal(workbook(path, sheet=sheet_xml(xml)))


def test_a_part_that_unpacks_to_gigabytes(path: Path) -> None:
    blank = b" " * (1 << 20)
    with zipfile.ZipFile(workbook(path), "a", zipfile.ZIP_DEFLATED) as archive, archive.open("xl/x.xml", "w") as part:
        for _ in range(600):
            part.write(blank)
    said, peak = outcome(path)
    assert "unpacks to" in said
    assert peak < 150


def test_a_part_that_is_longer_than_the_archive_says(path: Path) -> None:
    workbook(path, sheet=sheet_xml("<row><c><v>1</v></c></row>" + " " * 3_000_000))
    content = bytearray(path.read_bytes())
    for signature, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):  # APPNOTE.TXT 4.3.7, 4.3.12: uncompressed size
        start = -1
        while (start := content.find(signature, start + 1)) >= 0:
            if int.from_bytes(content[start + offset : start + offset + 4], "little") > 3_000_000:
                content[start + offset : start + offset + 4] = (1_000).to_bytes(4, "little")
    path.write_bytes(content)
    assert "longer than the archive says" in refusal(path)


def test_entities_are_refused(path: Path) -> None:
    laughs = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
    assert "entities" in refusal(workbook(path, sheet=laughs + sheet_xml("<row><c><v>&b;</v></c></row>")))
    outside = b'<!DOCTYPE x SYSTEM "file:///etc/passwd">'
    assert "entities" in refusal(workbook(path, book=outside + PARTS["xl/workbook.xml"]))


@pytest.mark.parametrize("part", [SHEET, "xl/sharedStrings.xml", "xl/styles.xml", "xl/workbook.xml", "_rels/.rels"])
def test_deep_nesting_is_refused(path: Path, part: str) -> None:
    assert "deeper" in refusal(workbook(path, **{part: b"<a>" * 100_000}))


def test_one_long_text_shown_in_every_cell_is_refused_within_bounded_memory(path: Path) -> None:
    strings = f'<sst xmlns="{MAIN}"><si><t>{"x" * 30_000}</t></si></sst>'.encode()
    xml = "".join(f'<row r="{n}"><c r="A{n}" t="s"><v>0</v></c></row>' for n in range(1, 100_001))
    said, peak = outcome(workbook(path, strings=strings, sheet=sheet_xml(xml)))
    assert "200,000,000 characters" in said
    assert peak < 200


def test_a_text_that_there_is_not(path: Path) -> None:
    strings = f'<sst xmlns="{MAIN}"><si><t>{"x" * 100}</t></si></sst>'.encode()
    xml = '<row r="1"><c r="A1" t="s"><v>7</v></c></row>'
    assert "damaged" in refusal(workbook(path, strings=strings, sheet=sheet_xml(xml)))


def test_encrypted_members_and_double_names(path: Path) -> None:
    workbook(path)
    content = bytearray(path.read_bytes())
    start = content.find(b"PK\x01\x02")
    content[start + 8] |= 1  # APPNOTE.TXT 4.4.4: bit 0 of the general purpose flags
    path.write_bytes(content)
    assert "encrypted" in refusal(path)
    with pytest.warns(UserWarning, match="Duplicate name"), zipfile.ZipFile(workbook(path), "a") as archive:
        archive.writestr(SHEET, b"<x/>")
    assert "two parts" in refusal(path)


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"notes.txt": b"x"}, "without a workbook"),
        ({"content.xml": b"<x/>", "mimetype": b"application/vnd.oasis.opendocument.spreadsheet"}, "OpenDocument"),
        ({"xl/workbook.bin": b"x"}, "xlsb"),
        ({"word/document.xml": b"<x/>"}, "word processor"),
        ({f"x{n}": b"" for n in range(5_001)}, "5,001 parts"),
    ],
)
def test_archives_that_are_no_workbook(path: Path, parts: dict[str, bytes], said: str) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    assert said in refusal(path)


def test_an_archive_that_is_cut_off(path: Path) -> None:
    whole = workbook(path).read_bytes()
    for length in range(4, len(whole), 97):
        path.write_bytes(whole[:length])
        assert "damaged" in refusal(path)


def test_a_long_text_file_is_read_in_flat_memory(tmp_path: Path) -> None:
    peaks = []
    for thousands in (20, 400):
        path = tmp_path / "prices.csv"
        path.write_text("Part,Length,Ribs,Text\n" + 'A1,1857.5,8,"73 1/8"" long, black"\n' * (thousands * 1_000))
        said, peak = outcome(path)
        assert said == f"{thousands * 1_000 + 1} rows"
        peaks.append(peak)
    assert peaks[1] - peaks[0] < 10


def test_a_quote_mark_that_is_never_closed_is_read_in_flat_memory(tmp_path: Path) -> None:
    path = tmp_path / "prices.csv"
    path.write_text('Part,Length,Ribs\nA1,"1857,8\n' + "A2,1857,8\n" * 500_000)
    said, peak = outcome(path)
    assert said == "500002 rows"
    assert peak < 60


CSV_SEED = 'Part;Länge;Ribs\r\n"A1";"73 1/8""";8\r\nA2;1857,5;"two\nlines"\r\n'
SEEDS = [
    CSV_SEED.encode(),
    CSV_SEED.encode("utf-8-sig"),
    CSV_SEED.encode("utf-16"),
    CSV_SEED.encode("utf-16-le"),
    CSV_SEED.encode("cp1252"),
]
edits = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), st.binary(max_size=6)), max_size=6)


def mutated(content: bytes, changes: list[tuple[float, int, bytes]]) -> bytes:
    for where, length, put in changes:
        start = int(where * len(content))
        content = content[:start] + put + content[start + length :]
    return content


def read_through(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    said: list[str] = []
    try:
        for sheet in read_worksheets(path):
            for row in sheet.rows:
                assert all(type(cell) is str for cell in row.cells)
                assert all(0 <= place < len(row.cells) for place in row.faults)
                "".join(row.cells).encode()
    except SheetError as error:
        said.append(str(error))
    assert all(text.startswith(path.name) for text in said)


fuzzed = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)


@fuzzed
@given(st.binary(max_size=200))
def test_any_bytes_give_rows_or_an_error_in_words(tmp_path: Path, content: bytes) -> None:
    read_through(tmp_path / "any.csv", content)


@fuzzed
@given(st.sampled_from(SEEDS), edits)
def test_any_damage_to_a_text_file(tmp_path: Path, seed: bytes, changes: list[tuple[float, int, bytes]]) -> None:
    read_through(tmp_path / "damaged.csv", mutated(seed, changes))


@fuzzed
@given(edits)
def test_any_damage_to_a_workbooks_archive(tmp_path: Path, changes: list[tuple[float, int, bytes]]) -> None:
    whole = workbook(tmp_path / "whole.xlsx").read_bytes()
    read_through(tmp_path / "damaged.xlsx", mutated(whole, changes))


XML_BITS = st.sampled_from(
    (
        b'< > " / <c/> <v> </v> <f> <row/> <!-- --> <![CDATA[ ]]> <?x?> r="C3" t="s" t="d" t="e" s="1" s="9999" "1" '
        b"1E400 -1 NaN inf 2958466 99999999 &#0; &#x41; _x0000_ \xff <is><t>x</t></is> <mergeCell/>"
    ).split()
)
xml_edits = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 8), XML_BITS), min_size=1, max_size=5)
SHEET_SEED = sheet_xml(
    '<row r="1"><c r="A1" t="inlineStr"><is><t>Part</t></is></c><c r="B1" t="s"><v>0</v></c></row>'
    '<row r="2"><c r="A2" s="1"><v>45352.5</v></c><c r="B2"><f>A2</f><v>1</v></c><c r="C2" t="e"><v>#N/A</v></c></row>'
).replace(b"</sheetData>", b'</sheetData><mergeCells count="1"><mergeCell ref="A1:B1"/></mergeCells>')
STYLES_SEED = (
    f'<styleSheet xmlns="{MAIN}"><numFmts count="1"><numFmt numFmtId="164" formatCode="000"/></numFmts>'
    '<cellXfs count="3"><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/></cellXfs></styleSheet>'
).encode()
STRINGS_SEED = f'<sst xmlns="{MAIN}" count="1" uniqueCount="1"><si><t>Length</t></si></sst>'.encode()


@fuzzed
@given(st.sampled_from([SHEET, "xl/styles.xml", "xl/sharedStrings.xml", "xl/workbook.xml"]), xml_edits)
def test_any_damage_to_a_workbooks_parts(tmp_path: Path, part: str, changes: list[tuple[float, int, bytes]]) -> None:
    seeds = PARTS | {SHEET: SHEET_SEED, "xl/styles.xml": STYLES_SEED, "xl/sharedStrings.xml": STRINGS_SEED}
    seeds[part] = mutated(seeds[part], changes)
    path = workbook(tmp_path / "damaged.xlsx", **seeds)
    read_through(path, path.read_bytes())


@pytest.mark.parametrize("value", ["1E400", "-1E400", "NaN", "inf", "2958466", "-1", "1e300", "x", "", "99999999999"])
@pytest.mark.parametrize("style", ["0", "1", "2", "77"])
@pytest.mark.parametrize("kind", ["", ' t="n"', ' t="d"', ' t="b"', ' t="s"', ' t="zz"', ' t="str"'])
def test_values_that_no_spreadsheet_writes(tmp_path: Path, value: str, style: str, kind: str) -> None:
    xml = sheet_xml(f'<row r="1"><c r="A1" s="{style}"{kind}><v>{value}</v></c></row>')
    parts = {SHEET: xml, "xl/styles.xml": STYLES_SEED, "xl/sharedStrings.xml": STRINGS_SEED}
    path = workbook(tmp_path / "odd.xlsx", **parts)
    read_through(path, path.read_bytes())


def test_the_fuzzing_seeds_are_read_whole(tmp_path: Path) -> None:
    parts = {SHEET: SHEET_SEED, "xl/styles.xml": STYLES_SEED, "xl/sharedStrings.xml": STRINGS_SEED}
    (sheet,) = read_worksheets(workbook(tmp_path / "seed.xlsx", **parts))
    assert [row.cells for row in sheet.rows] == [["Part", "Length", ""], ["2024-03-01 12:00:00", "1", "#N/A"]]
    for seed in SEEDS:
        path = tmp_path / "seed.csv"
        path.write_bytes(seed)
        read = [row.cells for row in next(read_worksheets(path)).rows]
        assert read[1:] == [["A1", '73 1/8"', "8"], ["A2", "1857,5", "two\nlines"]]
