"""Merging another bay's shelf into this one: what either knows, both know, whatever the order.

Parts are the same by supplier and part number, drives and lines by name: the row of the newest load holds. Jobs are the
same by id: the newest revision along a chain holds, and revisions made apart from the same state are both kept
(:mod:`kb.revisions`).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from importers import index
from importers.jobs import JobStore
from importers.ledger import clock_behind
from kb.conflicts import in_conflict
from kb.errors import ShelfError
from kb.fields import PARTS
from kb.scratch import scratch
from kb.shelf import copy_to, now, open_to_write, share, transaction

STAYS = {
    "private_price": "a price is what this bay was asked",
    "private_job": "customers and private notes stay in their bay",
    "private_refused_row": "a refused row can hold a price",
    "refusal": "what was refused is mended by the bay that loaded the sheet",
    "heading_choice": "what a person said of a heading counts for the sheets that this bay loads",
    "reference_override": "a limit that a bay set for itself is taken back there too",
    "search_code": "made from the rows",
    "search_word": "made from the rows",
    "search_form": "made from the rows",
    "search_shape": "made from the rows",
}
"""Tables that merging leaves alone, each with its reason."""

MERGED = (
    "supplier", "load", "load_column", *(kind.name for kind in PARTS), "drive", "drive_pulley", "drive_distance", "line",
    "job", "job_part", "job_trouble", "job_measurement", "job_revision", "job_conflict",
)  # fmt: skip

SHEETS = {"drive": ("drive_pulley", "drive_distance"), "line": ()}
"""What is kept as one sheet under a name, with the tables of its lists."""


@dataclass(slots=True)
class MergeReport:
    """What a merge brought: counts, and the ids of the jobs that two bays changed apart."""

    shelf: str
    parts_added: int = 0
    parts_updated: int = 0
    drives_added: int = 0
    drives_updated: int = 0
    lines_added: int = 0
    lines_updated: int = 0
    jobs_added: int = 0
    jobs_updated: int = 0
    revisions: int = 0
    loads: int = 0
    suppliers: int = 0
    conflicts: list[str] = field(default_factory=list)
    """All jobs of the shelf that wait to be settled, not only this merge's."""
    notes: list[str] = field(default_factory=list)
    """What to say beside it: a clock that is wrong."""

    @property
    def changed(self) -> bool:
        """Whether anything in the other shelf was new here."""
        return any(value for name, value in self.as_json().items() if name not in ("shelf", "conflicts", "notes"))

    def as_json(self) -> dict[str, Any]:
        """Return the documented form."""
        return asdict(self)


def merge_file(shelf: Path, other: Path, *, dry_run: bool = False) -> MergeReport:
    """Merge the shelf ``other`` into ``shelf``, in one transaction; ``other`` is only read.

    Raises :class:`~kb.errors.ShelfError` or one of its kinds where either cannot be used; then nothing was changed.
    """
    if shelf.exists() and other.exists() and shelf.samefile(other):
        raise ShelfError("this is the shelf itself.", where=str(other), do="Name another bay's shelf.")
    with scratch("bayshelf-merge-") as folder:
        copy = folder / "other.db"
        copy_to(other, copy)
        connection = open_to_write(shelf)
        try:
            connection.execute("ATTACH DATABASE ? AS other", (str(copy),))
            report = _in_one_go(connection, shelf, other, dry_run)
            connection.execute("DETACH DATABASE other")
            if not dry_run:
                share(connection)
            return report
        finally:
            connection.close()


class _DryRunError(Exception):
    """Takes the transaction back."""


def _in_one_go(connection: sqlite3.Connection, shelf: Path, other: Path, dry_run: bool) -> MergeReport:
    report = MergeReport(other.name)
    try:
        with transaction(connection, shelf):
            merge_attached(connection, report)
            if dry_run:
                raise _DryRunError
    except _DryRunError:
        pass
    except sqlite3.IntegrityError as error:
        raise ShelfError(
            f"a row of it breaks the shelf's own rules ({error}).",
            where=str(other),
            do="Nothing was changed. Look at that shelf with `bayshelf check`.",
        ) from error
    return report


def merge_attached(connection: sqlite3.Connection, report: MergeReport) -> None:
    """Merge the database attached as ``other``, in the caller's transaction; write down in the report what was new."""
    newest = connection.execute("SELECT max(loaded_at) FROM other.load").fetchone()[0]
    behind = clock_behind(newest, now())
    if behind:
        report.notes.append(f"{report.shelf}: {behind}")
    _suppliers(connection, report)
    _loads(connection, report)
    _supplier_facts(connection, report)
    for kind in PARTS:
        _parts(connection, kind.name, report)
    for name, lists in SHEETS.items():
        _sheets(connection, name, lists, report)
    _jobs(connection, report)
    connection.execute("DROP TABLE temp.supplier_of")
    connection.execute("DROP TABLE temp.load_of")


def _columns(connection: sqlite3.Connection, table: str, *left_out: str) -> list[str]:
    names = [row[1] for row in connection.execute(f"PRAGMA main.table_info({table})")]
    return [name for name in names if name not in left_out]


def _suppliers(connection: sqlite3.Connection, report: MergeReport) -> None:
    """Suppliers are the same by name in any case; of two spellings the first in the order of characters holds."""
    report.suppliers += connection.execute(
        "INSERT INTO supplier (name) SELECT name FROM other.supplier "
        "WHERE name NOT IN (SELECT name FROM main.supplier) ORDER BY id"
    ).rowcount
    report.suppliers += connection.execute(
        "UPDATE main.supplier SET name = o.name FROM other.supplier AS o WHERE o.name = supplier.name "
        "AND o.name COLLATE BINARY < supplier.name COLLATE BINARY"
    ).rowcount
    connection.execute("CREATE TEMP TABLE supplier_of (there INTEGER PRIMARY KEY, here INTEGER NOT NULL)")
    connection.execute(
        "INSERT INTO supplier_of SELECT o.id, m.id FROM other.supplier AS o JOIN main.supplier AS m ON m.name = o.name"
    )


def _loads(connection: sqlite3.Connection, report: MergeReport) -> None:
    columns = _columns(connection, "load", "number", "supplier_id", "merged_from")
    last = connection.execute("SELECT coalesce(max(number), 0) FROM main.load").fetchone()[0]
    report.loads = connection.execute(
        f"INSERT INTO load (supplier_id, merged_from, {', '.join(columns)}) "
        f"SELECT here, ?, {', '.join(f'o.{name}' for name in columns)} FROM other.load AS o "
        "LEFT JOIN supplier_of ON there = o.supplier_id WHERE o.id NOT IN (SELECT id FROM main.load) "
        "ORDER BY o.loaded_at, o.id",
        (report.shelf,),
    ).rowcount
    connection.execute("CREATE TEMP TABLE load_of (there INTEGER PRIMARY KEY, here INTEGER NOT NULL)")
    connection.execute(
        "INSERT INTO load_of SELECT o.number, m.number FROM other.load AS o JOIN main.load AS m ON m.id = o.id"
    )
    columns = _columns(connection, "load_column", "load_number")
    connection.execute(
        f"INSERT INTO load_column (load_number, {', '.join(columns)}) SELECT here, {', '.join(columns)} "
        "FROM other.load_column JOIN load_of ON there = load_number WHERE here > ?",
        (last,),
    )


def _supplier_facts(connection: sqlite3.Connection, report: MergeReport) -> None:
    """What suppliers can do stands on a sheet: the newest load holds, and any load before none."""
    columns = _columns(connection, "supplier", "id", "name", "load_number")
    report.suppliers += connection.execute(
        f"UPDATE main.supplier SET {', '.join(f'{name} = o.{name}' for name in columns)}, load_number = theirs.number "
        "FROM other.supplier AS o JOIN supplier_of ON supplier_of.there = o.id "
        "JOIN load_of ON load_of.there = o.load_number JOIN main.load AS theirs ON theirs.number = load_of.here "
        "WHERE supplier.id = supplier_of.here AND (theirs.loaded_at, theirs.id) > "
        "(SELECT coalesce(max(loaded_at), ''), coalesce(max(ours.id), '') FROM main.load AS ours "
        "WHERE ours.number = supplier.load_number)"
    ).rowcount


def _parts(connection: sqlite3.Connection, kind: str, report: MergeReport) -> None:
    columns = _columns(connection, kind, "id", "supplier_id", "load_number")
    names = ", ".join(columns)
    found = (
        f"other.{kind} AS o JOIN supplier_of ON supplier_of.there = o.supplier_id "
        "JOIN load_of ON load_of.there = o.load_number"
    )
    connection.execute("CREATE TEMP TABLE newer (here INTEGER PRIMARY KEY, there INTEGER NOT NULL, load INTEGER)")
    connection.execute(
        f"INSERT INTO newer SELECT m.id, o.id, load_of.here FROM {found} "
        f"JOIN main.{kind} AS m ON m.supplier_id = supplier_of.here AND m.part_no = o.part_no "
        "JOIN main.load AS theirs ON theirs.number = load_of.here JOIN main.load AS ours ON ours.number = m.load_number "
        "WHERE (theirs.loaded_at, theirs.id, o.row_number) > (ours.loaded_at, ours.id, m.row_number)"
    )
    before = index.known(connection, kind, "SELECT here FROM newer")
    connection.execute(
        f"UPDATE main.{kind} SET {', '.join(f'{name} = o.{name}' for name in columns)}, load_number = newer.load "
        f"FROM newer JOIN other.{kind} AS o ON o.id = newer.there WHERE {kind}.id = newer.here"
    )
    first_id = 1 + int(connection.execute(f"SELECT coalesce(max(id), 0) FROM main.{kind}").fetchone()[0])
    report.parts_added += connection.execute(
        f"INSERT INTO main.{kind} (supplier_id, load_number, {names}) "
        f"SELECT supplier_of.here, load_of.here, {', '.join(f'o.{name}' for name in columns)} FROM {found} "
        f"WHERE NOT EXISTS (SELECT 1 FROM main.{kind} AS m "
        "WHERE m.supplier_id = supplier_of.here AND m.part_no = o.part_no) ORDER BY o.id"
    ).rowcount
    report.parts_updated += len(before)
    index.add(connection, kind, first_id)
    index.changed(connection, kind, before)
    connection.execute("DROP TABLE temp.newer")


def _sheets(connection: sqlite3.Connection, kind: str, lists: Sequence[str], report: MergeReport) -> None:
    """A drive or a line is one sheet: the newest load's holds, whole."""
    columns = _columns(connection, kind, "id", "load_number")
    rows = connection.execute(
        f"SELECT o.id AS there, m.id AS here, load_of.here AS load, {', '.join(f'o.{name}' for name in columns)}, "
        "(theirs.loaded_at, theirs.id, o.row_number) > (ours.loaded_at, ours.id, m.row_number) AS newer "
        f"FROM other.{kind} AS o JOIN load_of ON load_of.there = o.load_number "
        f"JOIN main.load AS theirs ON theirs.number = load_of.here LEFT JOIN main.{kind} AS m ON m.name = o.name "
        "LEFT JOIN main.load AS ours ON ours.number = m.load_number ORDER BY o.id"
    ).fetchall()
    added = updated = 0
    for row in rows:
        values = [row["load"], *(row[name] for name in columns)]
        here = row["here"]
        if here is None:
            marks = ", ".join("?" * len(values))
            here = connection.execute(
                f"INSERT INTO main.{kind} (load_number, {', '.join(columns)}) VALUES ({marks})", values
            ).lastrowid
            added += 1
        elif row["newer"]:
            sets = ", ".join(f"{name} = ?" for name in ("load_number", *columns))
            connection.execute(f"UPDATE main.{kind} SET {sets} WHERE id = ?", (*values, here))
            updated += 1
        else:
            continue
        for table in lists:
            names = ", ".join(_columns(connection, table, f"{kind}_id"))
            connection.execute(f"DELETE FROM main.{table} WHERE {kind}_id = ?", (here,))
            connection.execute(
                f"INSERT INTO main.{table} ({kind}_id, {names}) SELECT ?, {names} FROM other.{table} "
                f"WHERE {kind}_id = ?",
                (here, row["there"]),
            )
    setattr(report, f"{kind}s_added", added)
    setattr(report, f"{kind}s_updated", updated)


def _jobs(connection: sqlite3.Connection, report: MergeReport) -> None:
    """Take over the revisions that are new here, then work out which of each job's hold."""
    other_text = connection.execute(
        "SELECT o.id, o.job_id FROM other.job_revision AS o JOIN main.job_revision AS m ON m.id = o.id "
        "WHERE (o.content, o.job_id, o.settles) <> (m.content, m.job_id, m.settles) "
        "OR o.based_on IS NOT m.based_on LIMIT 1"
    ).fetchone()
    if other_text:
        raise ShelfError(
            f"its revision {other_text[0]} of job {other_text[1]} is not what this shelf has under that name.",
            where=report.shelf,
            do="One of the two files was changed by something else: nothing was merged. Take another copy.",
        )
    new = "other.job_revision AS o WHERE o.id NOT IN (SELECT id FROM main.job_revision)"
    touched = [job for (job,) in connection.execute(f"SELECT DISTINCT job_id FROM {new} ORDER BY job_id")]
    known = {job for (job,) in connection.execute("SELECT id FROM main.job")}
    columns = _columns(connection, "job_revision", "load_number")
    report.revisions = connection.execute(
        f"INSERT INTO main.job_revision (load_number, {', '.join(columns)}) "
        f"SELECT (SELECT here FROM load_of WHERE there = o.load_number), {', '.join(f'o.{name}' for name in columns)} "
        f"FROM {new}"
    ).rowcount
    store = JobStore(connection, 0)
    for job in touched:
        store.show_what_holds(job)
    report.jobs_added = sum(job not in known for job in touched)
    report.jobs_updated = len(touched) - report.jobs_added
    index.add(connection, "job", store.first_id)
    index.changed(connection, "job", store.changed)
    report.conflicts = in_conflict(connection)
