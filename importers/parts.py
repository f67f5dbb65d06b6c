"""Storing rows of parts: new ones in bulk, changed ones with their search index, the same ones not at all."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence

from importers.batches import Batch, SheetReader
from importers.suppliers import supplier_id
from kb.fields import Kind
from kb.searched import TEXTS
from kb.sheets.columns import Value
from kb.spelling import normalise_codes

_WORKED_OUT = {"belt": ("length_given",)}
"""Columns of a kind that no sheet gives: :mod:`importers.complete` works them out."""

_OF_EVERY_ROW = ("code", "supplier_id", "load_number", "row_number", "written")


class PartStore:
    """Stores batches of one kind for one load, in the caller's transaction."""

    def __init__(self, connection: sqlite3.Connection, kind: Kind, load_number: int, default_supplier: int | None):
        self.connection = connection
        self.kind = kind
        self.load_number = load_number
        self.default_supplier = default_supplier
        self.columns = (*kind.columns, *_WORKED_OUT.get(kind.name, ()))
        self.first_id = 1 + int(connection.execute(f"SELECT coalesce(max(id), 0) FROM {kind.name}").fetchone()[0])
        self.changed: list[tuple[Value, ...]] = []
        """Of updated rows, what the search index knew: id, and the texts that are searched."""
        self._fresh = self._nothing_there()
        self._unchanged: set[tuple[int, str]] = set()
        self._suppliers: dict[str, int] = {}
        names = (*self.columns, *_OF_EVERY_ROW)
        self._insert = self._insert_of(self.columns)
        self._update = (
            f"UPDATE {kind.name} SET {', '.join(f'{name} = ?' for name in names)} WHERE supplier_id = ? AND part_no = ?"
        )

    def _insert_of(self, columns: Sequence[str]) -> str:
        names = (*columns, *_OF_EVERY_ROW)
        return (
            f"INSERT INTO {self.kind.name} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))}) "
            "ON CONFLICT (supplier_id, part_no) DO NOTHING"
        )

    def put_indexes_aside(self) -> list[str]:
        """Drop the kind's secondary indexes while its table is empty, so that they are built once, sorted, at the end.

        Returns the statements that make them again; the caller runs them in the same transaction.
        """
        if self.connection.execute(f"SELECT 1 FROM {self.kind.name} LIMIT 1").fetchone():
            return []
        indexes = self.connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND tbl_name = ? AND sql IS NOT NULL",
            (self.kind.name,),
        ).fetchall()
        for name, _ in indexes:
            self.connection.execute(f"DROP INDEX {name}")
        return [sql for _, sql in indexes]

    def store(self, batch: Batch, sheet: SheetReader) -> None:
        """Store the batch's rows; what cannot be stored is refused in the report."""
        report = sheet.report
        added: dict[int, int] | None = {}
        suppliers = self._supplier_of_each(batch)
        if not self._fresh:
            self._store_beside(batch, self._rows(batch, suppliers, self.columns), suppliers, sheet)
        elif (added := self._store_new(batch, suppliers)) is None:
            self._store_one_by_one(batch, self._rows(batch, suppliers, self.columns), sheet)
        else:
            report.rows_stored += len(added)
            if len(added) == len(batch):
                report.cells_stored += sum(batch.stored_cells)
            else:
                self._refuse_repeated(batch, added, sheet)
        self._store_prices(batch, suppliers, added or {})

    def _nothing_there(self) -> bool:
        if self.default_supplier is None:
            return self.connection.execute(f"SELECT 1 FROM {self.kind.name} LIMIT 1").fetchone() is None
        found = self.connection.execute(
            f"SELECT 1 FROM {self.kind.name} WHERE supplier_id = ? LIMIT 1", (self.default_supplier,)
        )
        return found.fetchone() is None

    def _supplier_of_each(self, batch: Batch) -> list[int]:
        named = batch.values.get("supplier")
        if named is None:
            assert self.default_supplier is not None
            return [self.default_supplier] * len(batch)
        return [self._supplier(str(name)) if name else (self.default_supplier or self._supplier("?")) for name in named]

    def _supplier(self, name: str) -> int:
        if name not in self._suppliers:
            self._suppliers[name] = supplier_id(self.connection, name)
        return self._suppliers[name]

    def _rows(self, batch: Batch, suppliers: Sequence[int], names: Sequence[str]) -> list[tuple[Value, ...]]:
        nothing: list[Value] = [None] * len(batch)
        columns: list[Sequence[Value]] = [batch.values.get(name, nothing) for name in names]
        columns.append(normalise_codes([str(part_no) for part_no in batch.values["part_no"]]))
        columns += [suppliers, [self.load_number] * len(batch), batch.numbers, batch.written]
        return list(zip(*columns, strict=True))

    def _store_new(self, batch: Batch, suppliers: Sequence[int]) -> dict[int, int] | None:
        """Insert all rows at once; return the ids, by row number, of the rows that were not there yet.

        Where the schema refuses one of them nothing is inserted, and the answer is ``None``. Only the columns of which
        something is known are named: binding the others' nulls costs a quarter of the time.
        """
        known = [name for name in self.columns if name in batch.values and batch.values[name].count(None) < len(batch)]
        rows = self._rows(batch, suppliers, known)
        last = self.connection.execute(f"SELECT coalesce(max(id), 0) FROM {self.kind.name}").fetchone()[0]
        self.connection.execute("SAVEPOINT batch")
        try:
            self.connection.executemany(self._insert_of(known), rows)
        except sqlite3.IntegrityError:
            self.connection.execute("ROLLBACK TO batch")
            return None
        finally:
            self.connection.execute("RELEASE batch")
        cursor = self.connection.cursor()
        cursor.row_factory = None  # plain tuples
        return dict(cursor.execute(f"SELECT row_number, id FROM {self.kind.name} WHERE id > ?", (last,)))

    def _refuse_repeated(self, batch: Batch, added: dict[int, int], sheet: SheetReader) -> None:
        for place, number in enumerate(batch.numbers):
            if number in added:
                sheet.report.cells_stored += batch.stored_cells[place]
            else:
                self._refuse_twice(batch, place, sheet)

    def _store_one_by_one(self, batch: Batch, rows: list[tuple[Value, ...]], sheet: SheetReader) -> None:
        for place, row in enumerate(rows):
            try:
                cursor = self.connection.execute(self._insert, row)
            except sqlite3.IntegrityError as error:
                sheet.refuse_understood(batch, place, _in_words(error))
                continue
            if cursor.rowcount == 1:
                sheet.report.rows_stored += 1
                sheet.report.cells_stored += batch.stored_cells[place]
            else:
                self._refuse_twice(batch, place, sheet)

    def _store_beside(
        self, batch: Batch, rows: list[tuple[Value, ...]], suppliers: Sequence[int], sheet: SheetReader
    ) -> None:
        """Compare each row with what the shelf holds: new, changed, or the same."""
        known = self._known(batch, suppliers)
        compared = len(self.columns)
        for place, row in enumerate(rows):
            key = (suppliers[place], str(batch.values["part_no"][place]))
            there = known.get(key)
            if key in self._unchanged or (there is not None and there[1] == self.load_number):
                self._refuse_twice(batch, place, sheet)
                continue
            if there is None:
                self._store_one_by_one(_one(batch, place), [row], sheet)
                known[key] = (-1, self.load_number, row[:compared])
            elif there[2] == row[:compared] and not self._price_changed(batch, place, there[0]):
                self._unchanged.add(key)
                sheet.report.rows_unchanged += 1
                sheet.report.cells_stored += batch.stored_cells[place]
            else:
                self._change(batch, place, row, key, there, sheet)
                known[key] = (there[0], self.load_number, row[:compared])

    def _known(
        self, batch: Batch, suppliers: Sequence[int]
    ) -> dict[tuple[int, str], tuple[int, int, tuple[Value, ...]]]:
        known = {}
        part_nos = json.dumps(batch.values["part_no"])
        for supplier in set(suppliers):
            found = self.connection.execute(
                f"SELECT id, load_number, {', '.join(self.columns)} FROM {self.kind.name} "
                "WHERE supplier_id = ? AND part_no IN (SELECT value FROM json_each(?))",
                (supplier, part_nos),
            )
            for row in found:
                values = tuple(row)
                known[supplier, str(row["part_no"])] = (values[0], values[1], values[2:])
        return known

    def _price_changed(self, batch: Batch, place: int, part_id: int) -> bool:
        prices = batch.values.get("price")
        if prices is None or prices[place] is None:
            return False
        found = self.connection.execute(
            "SELECT price FROM private_price WHERE kind = ? AND part_id = ?", (self.kind.name, part_id)
        ).fetchone()
        return found is None or found[0] != prices[place]

    def _change(
        self,
        batch: Batch,
        place: int,
        row: tuple[Value, ...],
        key: tuple[int, str],
        there: tuple[int, int, tuple[Value, ...]],
        sheet: SheetReader,
    ) -> None:
        try:
            self.connection.execute(self._update, (*row, *key))
        except sqlite3.IntegrityError as error:
            sheet.refuse_understood(batch, place, _in_words(error))
            return
        old = dict(zip(self.columns, there[2], strict=True))
        if there[0] >= 0 and there[0] < self.first_id:
            self.changed.append((there[0], *(old[name] for name in TEXTS[self.kind.name])))
        sheet.report.rows_updated += 1
        sheet.report.cells_stored += batch.stored_cells[place]

    def _refuse_twice(self, batch: Batch, place: int, sheet: SheetReader) -> None:
        part_no = str(batch.values["part_no"][place])
        heading = next(column.heading for column in sheet.columns if column.field and column.field.name == "part_no")
        reason = f"part number {part_no} stands twice in this sheet for one supplier; the first was kept."
        sheet.refuse_understood(batch, place, reason, heading, part_no)

    def _store_prices(self, batch: Batch, suppliers: Sequence[int], added: dict[int, int]) -> None:
        """Keep the prices of what this batch stored or changed, in their own table."""
        prices = batch.values.get("price")
        if prices is None:
            return
        ids = added or self._ids_of(batch, suppliers)
        priced = {
            ids[number]: price
            for price, number in zip(prices, batch.numbers, strict=True)
            if price is not None and number in ids
        }
        # One statement for the whole batch: the checks of a table are set up once for each run of one.
        self.connection.execute(
            "INSERT INTO private_price (kind, part_id, price) "
            "SELECT ?, CAST(key AS INTEGER), value FROM json_each(?) WHERE true "
            # Rows that are new have no price yet: without the conflict clause they are simply appended.
            + ("" if added else "ON CONFLICT (kind, part_id) DO UPDATE SET price = excluded.price"),
            (self.kind.name, json.dumps(priced)),
        )

    def _ids_of(self, batch: Batch, suppliers: Sequence[int]) -> dict[int, int]:
        """The ids, by row number, of the rows that this load has written."""
        found = self.connection.execute(
            f"SELECT row_number, id FROM {self.kind.name} WHERE load_number = ? "
            "AND row_number IN (SELECT value FROM json_each(?))",
            (self.load_number, json.dumps(batch.numbers)),
        )
        return dict(map(tuple, found))


def _one(batch: Batch, place: int) -> Batch:
    return batch.keep([each == place for each in range(len(batch))])


def _in_words(error: sqlite3.IntegrityError) -> str:
    text = str(error)
    if "smallest_mm" in text:
        return "the clamp closes to more than it opens to: are the two columns the right way round?"
    return f"the shelf's own rules refuse this row ({text})."
