"""Looking through a worksheet's XML for what the workbook reader would not tell: how far its cells reach, cells that
show an error, formulas without a stored value, numbers shown with zeros in front."""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from xml.parsers import expat

from kb.sheets.cells import MOST_CHARACTERS, MOST_COLUMNS
from kb.sheets.package import MOST_DEPTH, Package

MOST_CELLS = 5_000_000
"""Our own bound on rows times columns of a worksheet, some 400 MB while it is read."""

MOST_FAULTS = 100_000
"""Our own bound on the cells of a workbook that cannot be trusted."""

LAST_ROW = 1_048_576
"""What a worksheet can hold (from memory: the common spreadsheets' own limit)."""

_REFERENCE = re.compile("([A-Za-z]{1,3})([0-9]{1,7})")
_ZEROS = re.compile("0{2,20}")
_MOST_REPEATED = 200_000_000
"""Our own bound on the characters of a worksheet's cells: one long stored text can be shown in every cell."""

_MOST_SHARED = 100_000_000
"""Our own bound on the characters of a workbook's different texts."""

MOST_ROW_BYTES = 16 << 20
"""Our own bound on a row's XML: with that, whatever its cells are made of, a cell is bounded too."""

_SHORT = 64
"""Texts of no more characters than this cannot reach that bound by much, and are not added up."""


@dataclass(slots=True)
class Scan:
    """What a worksheet holds; rows and columns count from 1."""

    last_row: int = 0
    last_column: int = 0
    cells: int = 0
    formulas: int = 0
    faults: dict[int, dict[int, tuple[str, str]]] = field(default_factory=dict)
    """Row, column: what stands for the cell's text, and why it cannot be trusted."""
    padded: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    """Row: columns of whole numbers, each with the number of digits that are shown."""
    merged: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Shared:
    """What the worksheets of a workbook share."""

    lengths: array[int] = field(default_factory=lambda: array("I"))
    """Characters of each shared text."""
    padded_styles: dict[str, int] = field(default_factory=dict)
    """Cell styles that show whole numbers with zeros in front, and their digits."""
    faults: int = 0
    """How many were found in all worksheets."""


def column_number(letters: str) -> int:
    """Return a column's number.

    >>> column_number("A"), column_number("AB"), column_number("XFD")
    (1, 28, 16384)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def scan_worksheet(package: Package, name: str, shared: Shared) -> Scan:
    """Pass a worksheet's part on and tell what it holds.

    Raises :class:`~kb.errors.SheetError` where reading it would take more memory than it may.
    """
    scanner = _Scanner(package, shared)
    package.pass_on(name, scanner.attach)
    scanner.end_row()
    return scanner.scan


class _Scanner:
    """Follows one worksheet's elements: `row`, in it `c`, in it `v` (value), `is` (text) and `f` (formula)."""

    def __init__(self, package: Package, shared: Shared) -> None:
        self.scan = Scan()
        self._package = package
        self._shared = shared
        self._repeated = 0
        # The kinds of cells (`t`) whose values are looked at: errors, texts of formulas, and references to long texts.
        self._looked_at = {"e", "str", "s"} if max(shared.lengths, default=0) > _SHORT else {"e", "str"}
        self._depth = 0
        self._row = self._column = self._row_begins = 0
        self._row_digits = "0"
        self._columns: dict[str, int] = {}
        self._type = self._style = ""
        self._formula: list[str] | None = None
        self._value: list[str] | None = None
        self._starts: dict[str, Callable[[dict[str, str]], None]] = {
            "row": self._start_row,
            "c": self._start_cell,
            "v": self._start_value,
            "is": self._start_value,
            "f": self._start_formula,
            "mergeCell": self._merge,
        }

    def attach(self, parser: expat.XMLParserType) -> None:
        """Set the parser's handlers."""
        self._parser = parser
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > MOST_DEPTH:
            raise self._package.too_deep()
        if ":" in name:
            name = name.rpartition(":")[2]
        start = self._starts.get(name)
        if start is not None:
            start(attributes)

    def _end(self, name: str) -> None:
        self._depth -= 1
        if self._type or self._formula is not None:
            name = name.rpartition(":")[2]
            if name in ("f", "v"):
                self._parser.CharacterDataHandler = None
            elif name == "c":
                self._end_odd_cell()

    def _start_row(self, attributes: dict[str, str]) -> None:
        self.end_row()
        number = attributes.get("r")
        self._row = self._whole(number) if number else self._row + 1
        self._row_digits = str(self._row)
        self._column = 0

    def end_row(self) -> None:
        """Refuse a row, if one has begun, that is too long."""
        place = self._parser.CurrentByteIndex
        if self._row and place - self._row_begins > MOST_ROW_BYTES:
            raise self._package.refused(f"has a row of more than {MOST_ROW_BYTES >> 20} MB: row {self._row:,}.")
        self._row_begins = place

    def _start_cell(self, attributes: dict[str, str]) -> None:
        place = attributes.get("r")
        if place is None:
            self._column += 1
        else:
            # Nearly always the row's own number behind letters that were met before.
            column = self._columns.get(place[: -len(self._row_digits)]) if place.endswith(self._row_digits) else None
            self._column = column or self._column_of(place)
        kind = attributes.get("t", "")
        self._type = kind if kind in self._looked_at else ""
        self._style = attributes.get("s", "") if kind in ("", "n") else ""
        self._formula = self._value = None

    def _column_of(self, place: str) -> int:
        found = _REFERENCE.fullmatch(place)
        if found is None:
            raise self._package.damaged(f"a cell is called {place[:20]!r}")
        letters, digits = found.groups()
        if digits != self._row_digits:
            self._row = self._whole(digits)
            self._row_digits = str(self._row)
        return self._columns.setdefault(letters, column_number(letters))

    def _whole(self, digits: str) -> int:
        if not digits.isascii() or not digits.isdigit() or len(digits) > 7 or not 1 <= int(digits) <= LAST_ROW:
            raise self._package.damaged(f"a row is called {digits[:20]!r}")
        return int(digits)

    def _start_value(self, _attributes: dict[str, str]) -> None:
        if not self._column:
            return
        scan = self.scan
        scan.cells += 1
        if self._row > scan.last_row or self._column > scan.last_column:
            self._reach()
        digits = self._shared.padded_styles.get(self._style)
        if digits:
            scan.padded.setdefault(self._row, []).append((self._column, digits))
        if self._type or self._formula is not None:
            self._value = []
            self._parser.CharacterDataHandler = self._value.append

    def _reach(self) -> None:
        scan = self.scan
        scan.last_row = max(scan.last_row, self._row)
        scan.last_column = max(scan.last_column, self._column)
        place = f"row {scan.last_row:,}, column {scan.last_column:,}"
        if scan.last_column > MOST_COLUMNS:
            raise self._package.refused(
                f"reaches to {place}, and more than {MOST_COLUMNS:,} columns are not read.",
                "Delete the stray cells beside the table, or save the table as CSV.",
            )
        if scan.last_row * scan.last_column > MOST_CELLS:
            raise self._package.refused(
                f"reaches to {place}: more than {MOST_CELLS:,} cells.",
                "Delete the stray cells below and beside the table, or save the table as CSV.",
            )

    def _start_formula(self, _attributes: dict[str, str]) -> None:
        if not self._column:
            return
        self.scan.formulas += 1
        self._formula = []
        self._parser.CharacterDataHandler = self._formula.append

    def _end_odd_cell(self) -> None:
        value = "".join(self._value or ())
        if self._type == "s":
            self._repeat(value)
        elif self._type == "e":
            shown = value.strip()[:40] or "#ERROR"
            self._fault(shown, f"the cell shows {shown}. Mend it in the spreadsheet.")
        elif self._formula is not None and not value and self._type != "str":
            formula = "=" + ("".join(self._formula)[:80] or "…")  # a shared formula is written in one cell only
            self._fault(
                formula,
                f"the formula {formula} has no stored value. Open the workbook in a spreadsheet and save it again.",
            )
        self._type, self._formula, self._value = "", None, None

    def _repeat(self, value: str) -> None:
        lengths = self._shared.lengths
        place = int(value) if value.isascii() and value.isdigit() and len(value) < 10 else len(lengths)
        if place >= len(lengths):
            raise self._package.damaged(f"a cell shows text {value[:20]!r}, which there is not")
        self._repeated += lengths[place]
        if self._repeated > _MOST_REPEATED:
            raise self._package.refused(f"shows more than {_MOST_REPEATED:,} characters on one worksheet.")

    def _fault(self, shown: str, why: str) -> None:
        self._reach()
        row = self.scan.faults.setdefault(self._row, {})
        row[self._column] = (shown, why)
        self._shared.faults += 1
        if self._shared.faults > MOST_FAULTS:
            raise self._package.refused(f"shows errors in more than {MOST_FAULTS:,} cells.", "Mend them first.")

    def _merge(self, attributes: dict[str, str]) -> None:
        if len(self.scan.merged) < MOST_FAULTS:
            self.scan.merged.append(attributes.get("ref", "")[:20])


def scan_strings(package: Package, name: str, shared: Shared) -> None:
    """Pass the shared texts on and note how long each is."""
    lengths = shared.lengths
    total = 0

    def started(element: str, _attributes: dict[str, str]) -> None:
        if element == "si":
            lengths.append(0)
            if len(lengths) > MOST_CELLS:
                raise package.refused(f"holds more than {MOST_CELLS:,} different texts.")

    def text(characters: str) -> None:
        nonlocal total
        total += len(characters)
        if total > _MOST_SHARED:
            raise package.refused(f"holds more than {_MOST_SHARED:,} characters of different texts.")
        if lengths:
            lengths[-1] += len(characters)
            if lengths[-1] > MOST_CHARACTERS:
                raise package.refused(f"holds a text of more than {MOST_CHARACTERS:,} characters.")

    package.pass_on(name, package.listen(started, text))


def scan_styles(package: Package, name: str, shared: Shared) -> None:
    """Pass the styles on and note those that show whole numbers with zeros in front."""
    codes: dict[str, int] = {}
    used: list[str] = []
    within = ""

    def started(element: str, attributes: dict[str, str]) -> None:
        nonlocal within
        if element == "numFmt" and _ZEROS.fullmatch(attributes.get("formatCode", "")):
            codes[attributes.get("numFmtId", "")] = len(attributes["formatCode"])
        elif element == "xf" and within == "cellXfs":
            used.append(attributes.get("numFmtId", ""))
        elif element in ("cellXfs", "cellStyleXfs", "cellStyles", "dxfs"):
            within = element

    package.pass_on(name, package.listen(started))
    shared.padded_styles.update({str(place): codes[number] for place, number in enumerate(used) if number in codes})


def ranges_in_words(ranges: Sequence[str]) -> str:
    """Return ranges as a short list.

    >>> ranges_in_words(["A1:D1", "A5:A7", "B5:B7", "C5:C7"])
    'A1:D1, A5:A7, B5:B7 and 1 more'
    """
    shown = ", ".join(ranges[:3])
    return shown if len(ranges) <= 3 else f"{shown} and {len(ranges) - 3} more"
