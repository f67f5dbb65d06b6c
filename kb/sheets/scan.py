"""Looking through a worksheet's XML for what the workbook reader would not tell: how far its cells reach, cells that
show an error, formulas without a stored value, numbers shown with zeros in front."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from xml.parsers import expat

from kb.sheets.cells import MOST_CHARACTERS, MOST_COLUMNS
from kb.sheets.package import MOST_DEPTH, Package

MOST_CELLS = 10_000_000
"""Our own bound on rows times columns of a worksheet, some 400 MB while it is read."""

MOST_FAULTS = 100_000
LAST_ROW = 1_048_576
"""What a worksheet can hold (from memory: the common spreadsheets' own limit)."""

_REFERENCE = re.compile("([A-Za-z]{1,3})([0-9]{1,7})")
_ZEROS = re.compile("0{2,20}")
_FROM_SHARED = 400 << 20
"""Characters that a worksheet's cells may hold between them."""


@dataclass(slots=True)
class Scan:
    """What a worksheet holds; rows and columns count from 1."""

    last_row: int = 0
    last_column: int = 0
    cells: int = 0
    formulas: int = 0
    faults: dict[int, dict[int, tuple[str, str]]] = field(default_factory=dict)
    """Row, column: what stands for the cell's text, and why it cannot be trusted."""
    padded: dict[int, tuple[tuple[int, int], ...]] = field(default_factory=dict)
    """Row: columns of whole numbers, each with the number of digits that are shown."""
    merged: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Strings:
    """The workbook's shared texts, as far as their size goes."""

    count: int = 0
    longest: int = 0


def column_number(letters: str) -> int:
    """Return a column's number.

    >>> column_number("A"), column_number("AB"), column_number("XFD")
    (1, 28, 16384)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def scan_worksheet(package: Package, name: str, padded_styles: Mapping[str, int], strings: Strings) -> Scan:
    """Pass a worksheet's part on and tell what it holds.

    Raises :class:`~kb.errors.SheetError` where reading it would take more memory than it may.
    """
    scanner = _Scanner(package, padded_styles, strings)
    package.pass_on(name, scanner.attach)
    return scanner.scan


class _Scanner:
    """Follows one worksheet's elements: `row`, in it `c`, in it `v` (value), `is` (text) and `f` (formula)."""

    def __init__(self, package: Package, padded_styles: Mapping[str, int], strings: Strings) -> None:
        self.scan = Scan()
        self._package = package
        self._padded_styles = padded_styles
        self._longest = strings.longest
        self._depth = 0
        self._row = self._column = 0
        self._columns: dict[str, int] = {}
        self._type = self._style = ""
        self._formula: list[str] | None = None
        self._value: list[str] | None = None
        self._from_shared = 0
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
        start = self._starts.get(name) or self._starts.get(name.rpartition(":")[2])
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
        number = attributes.get("r")
        self._row = self._whole(number) if number else self._row + 1
        self._column = 0

    def _start_cell(self, attributes: dict[str, str]) -> None:
        place = attributes.get("r")
        if place is None:
            self._column += 1
        else:
            self._go_to(place)
        kind = attributes.get("t", "")
        self._type = kind if kind in ("e", "str") else ""
        if kind == "s":
            self._from_shared += self._longest
        self._style = attributes.get("s", "") if not kind or kind == "n" else ""
        self._formula = self._value = None

    def _go_to(self, place: str) -> None:
        letters = place.rstrip("0123456789")
        column = self._columns.get(letters)
        if column is None:
            found = _REFERENCE.fullmatch(place)
            if found is None:
                raise self._package.damaged(f"a cell is called {place[:20]!r}")
            column = self._columns[letters] = column_number(letters)
        self._column = column
        self._row = self._whole(place[len(letters) :])

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
        if self._style in self._padded_styles:
            pair = (self._column, self._padded_styles[self._style])
            scan.padded[self._row] = (*scan.padded.get(self._row, ()), pair)
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
        if self._type == "e":
            shown = value.strip()[:40] or "#ERROR"
            self._fault(shown, f"the cell shows {shown}. Mend it in the spreadsheet.")
        elif self._formula is not None and not value and self._type != "str":
            formula = "=" + ("".join(self._formula)[:80] or "…")  # a shared formula is written in one cell only
            self._fault(
                formula,
                f"the formula {formula} has no stored value. Open the workbook in a spreadsheet and save it again.",
            )
        self._type, self._formula, self._value = "", None, None

    def _fault(self, shown: str, why: str) -> None:
        self._reach()
        row = self.scan.faults.setdefault(self._row, {})
        row[self._column] = (shown, why)
        if len(self.scan.faults) > MOST_FAULTS:
            raise self._package.refused(f"more than {MOST_FAULTS:,} rows show errors.", "Mend it in the spreadsheet.")

    def _merge(self, attributes: dict[str, str]) -> None:
        if len(self.scan.merged) < MOST_FAULTS:
            self.scan.merged.append(attributes.get("ref", "")[:20])


def scan_strings(package: Package, name: str) -> Strings:
    """Pass the shared texts on and tell how many there are and how long the longest is."""
    strings = Strings()
    length = 0

    def started(element: str, _attributes: dict[str, str]) -> None:
        nonlocal length
        if element == "si":
            strings.count += 1
            length = 0
            if strings.count > MOST_CELLS // 2:
                raise package.refused(f"holds more than {MOST_CELLS // 2:,} different texts.")

    def text(characters: str) -> None:
        nonlocal length
        length += len(characters)
        strings.longest = max(strings.longest, length)
        if length > MOST_CHARACTERS:
            raise package.refused(f"holds a text of more than {MOST_CHARACTERS:,} characters.")

    package.pass_on(name, package.listen(started, text))
    return strings


def scan_styles(package: Package, name: str) -> dict[str, int]:
    """Pass the styles on; return the cell styles that show whole numbers with zeros in front, and their digits."""
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
    return {str(place): codes[number] for place, number in enumerate(used) if number in codes}


def ranges_in_words(ranges: Sequence[str]) -> str:
    """Return ranges as a short list.

    >>> ranges_in_words(["A1:D1", "A5:A7", "B5:B7", "C5:C7"])
    'A1:D1, A5:A7, B5:B7 and 1 more'
    """
    shown = ", ".join(ranges[:3])
    return shown if len(ranges) <= 3 else f"{shown} and {len(ranges) - 3} more"
