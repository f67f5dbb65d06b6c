"""Reading a worksheet's rows in batches, each cell accounted for: stored, ignored with its column, or refused."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from json.encoder import encode_basestring
from operator import add

from importers.complete import complete_belts
from importers.report import Refusal, Report
from kb.fields import Kind
from kb.sheets.cells import Row
from kb.sheets.columns import Reader, Value, reader, texts
from kb.sheets.headings import Column

BATCH_ROWS = 4000
"""Rows read and stored together: memory stays flat however long the sheet is."""


@dataclass(slots=True)
class Batch:
    """Rows that were understood: ``values[field]`` and ``numbers`` and ``written`` run in step."""

    numbers: list[int]
    values: dict[str, list[Value]]
    written: list[str]
    cells: list[list[str]]
    stored_cells: list[int]

    def __len__(self) -> int:
        return len(self.numbers)

    def keep(self, wanted: Sequence[bool]) -> Batch:
        """Return the rows marked in ``wanted``."""
        pick = [place for place, keep in enumerate(wanted) if keep]
        return Batch(
            [self.numbers[place] for place in pick],
            {name: [column[place] for place in pick] for name, column in self.values.items()},
            [self.written[place] for place in pick],
            [self.cells[place] for place in pick],
            [self.stored_cells[place] for place in pick],
        )


class SheetReader:
    """Reads the rows below the headings of one worksheet."""

    def __init__(self, kind: Kind, columns: Sequence[Column], unit: str | None, report: Report) -> None:
        self.kind = kind
        self.report = report
        self.columns = tuple(columns)
        self.width = len(columns)
        self._plan: list[tuple[Column, Reader | None]] = []
        for column in columns:
            if column.field is not None:
                # Words are not remembered: almost every one of them is met once.
                plain_text = column.field.quantity == "text"
                self._plan.append((column, None if plain_text else reader(column.field, column.unit or unit)))
        self._kept = [column.position for column, _ in self._plan if column.field and not column.field.private]
        ignored = {column.position for column in columns} - {column.position for column, _ in self._plan}
        self._ignored = sorted(ignored)

    @property
    def places(self) -> dict[int, int]:
        """Where each kept column's text stands in the rows' ``written`` arrays."""
        return {position: place for place, position in enumerate(self._kept)}

    def batches(self, rows: Iterable[Row]) -> Iterator[Batch]:
        """Yield the rows that were understood; what was not is in the report when the batch is yielded."""
        source = iter(rows)
        while block := list(islice(source, BATCH_ROWS)):
            batch = self._read(self._readable(block))
            if len(batch):
                yield batch

    def refuse(self, number: int, cells: Sequence[str], reason: str, column: str | None, value: str | None) -> None:
        """Refuse a whole row: every cell of it is reported."""
        report = self.report
        report.rows_refused += 1
        report.cells_refused += count_cells(cells)
        report.refusals.append(Refusal(number, column, value, reason, private=self._is_private(column)))
        report.refused_rows[number] = list(cells)

    def refuse_understood(
        self, batch: Batch, place: int, reason: str, column: str | None = None, value: str | None = None
    ) -> None:
        """Refuse a row after all that had been understood: its ignored and refused cells were counted, and count once."""
        cells, number, report = batch.cells[place], batch.numbers[place], self.report
        ignored = sum(1 for position in self._ignored if cells[position].strip())
        report.cells_ignored -= ignored
        report.cells_refused -= count_cells(cells) - ignored - batch.stored_cells[place]
        if number in report.refused_rows:
            report.refusals = [each for each in report.refusals if each.row != number]
        self.refuse(number, cells, reason, column, value)

    def _is_private(self, heading: str | None) -> bool:
        """Whether the text under a heading may leave the shop: only columns that were understood may."""
        if heading is None:
            return False
        named = [column for column in self.columns if column.heading == heading]
        return not named or any(column.field is None or column.field.private for column in named)

    def _readable(self, block: list[Row]) -> list[Row]:
        """Return the rows that hold as many cells as there are headings; the others are filled up, refused or blank."""
        width, readable = self.width, []
        for row in block:
            cells = row.cells
            if len(cells) == width and row.reason is None and cells[0].strip():
                self.report.rows_read += 1
                readable.append(row)
            elif self._made_readable(row):
                readable.append(row)
        return readable

    def _made_readable(self, row: Row) -> bool:
        if row.reason is not None:
            self.report.rows_read += 1
            self.report.cells_read += count_cells(row.cells)
            self.refuse(row.number, row.cells, row.reason, None, None)
            return False
        if not "".join(row.cells).strip():
            return False
        self.report.rows_read += 1
        return len(row.cells) == self.width or self._ragged(row)

    def _ragged(self, row: Row) -> bool:
        """Fill a short row up; cut a long one only where what is cut is empty."""
        if len(row.cells) < self.width:
            row.cells.extend([""] * (self.width - len(row.cells)))
            return True
        extra = [cell for cell in row.cells[self.width :] if cell.strip()]
        if not extra:
            del row.cells[self.width :]
            return True
        self.report.cells_read += count_cells(row.cells)
        self.refuse(
            row.number,
            row.cells,
            f"the row has {len(row.cells)} cells and there are {self.width} headings: "
            "a separator inside a cell, or a heading missing?",
            None,
            extra[0],
        )
        return False

    def _read(self, rows: list[Row]) -> Batch:
        if not rows:
            return Batch([], {}, [], [], [])
        cells = [row.cells for row in rows]
        by_position = list(zip(*cells, strict=True))
        filled = [_filled(column) for column in by_position]
        counts = [len(rows) if column is None else sum(column) for column in filled]
        self.report.cells_read += sum(counts)
        ignored = sum(counts[position] for position in self._ignored)
        values: dict[str, list[Value]] = {}
        bad: list[tuple[int, Column, str]] = []
        for column, read in self._plan:
            assert column.field is not None
            column_texts = by_position[column.position]
            if read is None:
                values[column.field.name] = list(texts(column_texts))
                continue
            values[column.field.name] = list(map(read.__getitem__, column_texts))
            if read.bad:
                bad += [(place, column, read.bad[text]) for place, text in enumerate(column_texts) if text in read.bad]
        bad += self._faults(rows, values)
        if self.kind.name == "belt":
            self._complete_belts(values, len(rows), bad)
        used = [filled[column.position] for column, _ in self._plan]
        stored = [used.count(None)] * len(rows)
        for marks in used:
            if marks is not None:
                stored = list(map(add, stored, marks))
        written = _as_json([by_position[position] for position in self._kept], len(rows))
        batch = Batch([row.number for row in rows], values, written, cells, stored)
        self.report.cells_ignored += ignored
        return self._without_refused(batch, bad)

    def _complete_belts(self, values: dict[str, list[Value]], rows: int, bad: list[tuple[int, Column, str]]) -> None:
        by_field = {column.field.name: column for column, _ in self._plan if column.field}

        def contradiction(place: int, name: str, reason: str) -> None:
            values[name][place] = None
            bad.append((place, by_field[name], reason))

        for note in complete_belts(values, rows, contradiction):
            if note not in self.report.notes:
                self.report.notes.append(note)

    def _faults(self, rows: list[Row], values: dict[str, list[Value]]) -> list[tuple[int, Column, str]]:
        """Cells whose text the file itself cannot vouch for: spreadsheet errors, formulas without a stored value."""
        found = []
        used = {column.position: column for column, _ in self._plan}
        for place, row in enumerate(rows):
            for position, reason in row.faults.items() if row.faults else ():
                if position in used and (field := used[position].field) is not None:
                    values[field.name][place] = None
                    found.append((place, used[position], reason))
        return found

    def _without_refused(self, batch: Batch, bad: list[tuple[int, Column, str]]) -> Batch:
        """Refuse rows that lack what their kind needs, and single cells of rows that have it."""
        reasons: dict[int, list[tuple[Column, str]]] = {}
        for place, column, reason in bad:
            reasons.setdefault(place, []).append((column, reason))
        lacking = self._lacking(batch)
        for place, told in sorted(reasons.items()):
            if place in lacking:
                continue
            for column, reason in told:
                value = batch.cells[place][column.position]
                self.report.refusals.append(
                    Refusal(
                        batch.numbers[place], column.heading, value, reason, False, self._is_private(column.heading)
                    )
                )
                had_text = bool(value.strip())
                batch.stored_cells[place] -= had_text
                self.report.cells_refused += had_text
            self.report.refused_rows[batch.numbers[place]] = list(batch.cells[place])
        for place in sorted(lacking):
            self._refuse_lacking(batch, place, lacking[place], reasons.get(place, []))
        return batch.keep([place not in lacking for place in range(len(batch))]) if lacking else batch

    def _refuse_lacking(self, batch: Batch, place: int, needed: str, told: list[tuple[Column, str]]) -> None:
        cells = batch.cells[place]
        # The row's ignored cells were counted with their columns; here the whole row is reported.
        self.report.cells_ignored -= sum(1 for position in self._ignored if cells[position].strip())
        if told:
            column, reason = told[0]
            self.refuse(batch.numbers[place], cells, reason, column.heading, cells[column.position])
        else:
            self.refuse(batch.numbers[place], cells, f"{needed} is missing.", None, None)

    def _lacking(self, batch: Batch) -> dict[int, str]:
        lacking: dict[int, str] = {}
        nothing: list[Value] = [None] * len(batch)
        groups: list[tuple[tuple[str, ...], str]] = [
            ((one.name,), one.label) for one in self.kind.fields if one.required
        ]
        for names in self.kind.one_of:
            groups.append((names, " or ".join(self.kind.field(name).label.lower() for name in names)))
        for names, label in groups:
            columns = [batch.values[name] for name in names if name in batch.values]
            if any(None not in column for column in columns):
                continue  # one column alone gives every row what it needs
            first, *others = columns or [nothing]
            for place in [place for place, value in enumerate(first) if value is None]:
                if place not in lacking and all(column[place] is None for column in others):
                    lacking[place] = label[0].upper() + label[1:]
        return lacking


def _filled(column: Sequence[str]) -> list[bool] | None:
    """Mark a column's cells that hold something; ``None`` where all of them do."""
    if all(column) and not any(map(str.isspace, column)):
        return None
    return [bool(cell) and not cell.isspace() for cell in column]


def _as_json(columns: Sequence[Sequence[str]], rows: int) -> list[str]:
    """Return each row's cells as a JSON array; a column at a time is four times as quick as an encoder's call per row."""
    quoted = [map(encode_basestring, column) for column in columns]
    return [f"[{','.join(cells)}]" for cells in zip(*quoted, strict=True)] if quoted else ["[]"] * rows


def count_cells(cells: Iterable[str]) -> int:
    """Return how many of the cells hold something."""
    return sum(1 for cell in cells if cell and not cell.isspace())
