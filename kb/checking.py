"""What `bayshelf check` finds: damage of the file's build, and rows that no longer say what their sheets said.

SQLite looks after its own structure, the declared limits of columns and the indexes; it keeps no checksum of what a row
holds. The shelf keeps most things twice, though: a row's cells as they stood in the sheet, a drive's or line's whole sheet
with the digest of its bytes, a job's revision beside its row, a word index beside the words. Where the two disagree one of
them was changed by something else than bayshelf. What stands nowhere twice (a price, a customer, a private note, an older
revision that a job sheet brought) is beyond that.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path
from typing import Any

from kb.errors import BayshelfError
from kb.fields import BY_PLURAL, PARTS, Field, Kind
from kb.mechanics.belt_lengths import outside_from_effective, pitch_from_effective
from kb.new_shelf import lay_out
from kb.scratch import scratch
from kb.searched import SEARCHED
from kb.sheets.columns import Reader, reader
from kb.sheets.job_sheet import JobSheet, job_of_content
from kb.shelf import open_to_read, what_is_wrong
from kb.spelling import normalise_code

MOST = 20
"""At most so many findings of each sort are told."""


def look_through(path: Path) -> list[str]:
    """Look through a shelf, its structure and what its rows say; return what is wrong in sentences.

    Raises :class:`~kb.errors.ShelfError` or one of its kinds where it cannot be opened at all.
    """
    with closing(open_to_read(path)) as connection:
        found = what_is_wrong(connection)
        found += _cut_short(connection, path)
        for look in (
            _schema_against_todays,
            _parts_against_sheets,
            _sheets_against_digests,
            _jobs_against_revisions,
            _loads_against_digests,
        ):
            found += _told(look, connection)
        return found or _told(_words_against_rows, connection)


def _cut_short(connection: sqlite3.Connection, path: Path) -> list[str]:
    """SQLite reads what is missing of the last page as noughts."""
    size = int(connection.execute("PRAGMA page_size").fetchone()[0])
    return ["The file ends inside a page: it was cut short."] if path.stat().st_size % size else []


def _schema_against_todays(connection: sqlite3.Connection) -> Iterator[str]:
    """The tables are those that this version lays out; where a step added a column, SQLite spaces it as it likes."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as new:
        lay_out(new)
        todays = _schema(new)
    held = _schema(connection)
    for name in sorted({*todays, *held} - {"publication"}):
        if todays.get(name) != held.get(name) and not (name.startswith("private_") and name not in held):
            yield f"The declaration of {name!r} is not the one that this version lays out."


def _schema(connection: sqlite3.Connection) -> dict[str, str]:
    rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE '%sqlite_%'")
    return {name: re.sub(r" ?([(),]) ?", r"\1", " ".join(sql.split())) for name, sql in rows}


def _told(look: Callable[[sqlite3.Connection], Iterator[str]], connection: sqlite3.Connection) -> list[str]:
    """Return at most :data:`MOST` findings; what cannot even be read or understood is one."""
    found: list[str] = []
    try:
        found.extend(islice(look(connection), MOST))
    except (sqlite3.DatabaseError, BayshelfError, ValueError, TypeError, KeyError, IndexError, AttributeError) as error:
        found.append(f"Something on the shelf cannot be understood any more ({error}).")
    return found


# Parts --------------------------------------------------------------------------------------------------------------


def _parts_against_sheets(connection: sqlite3.Connection) -> Iterator[str]:
    settings = dict(map(tuple, connection.execute("SELECT number, settings FROM load")))
    for kind in PARTS:
        columns = _columns_of_loads(connection, kind, settings)
        for row in connection.execute(f"SELECT * FROM {kind.name}"):
            place = f"{kind.name} {row['part_no']}"
            if row["code"] != normalise_code(row["part_no"]):
                yield f"{place}: the part number is not the one that it is filed under."
            cells = json.loads(row["written"])
            for at, field, read in columns.get(row["load_number"], ()):
                if _differs(field.name, read[cells[at]], row[field.name]):
                    yield (
                        f"{place}: {field.label.lower()} is {_with_unit(field.name, row[field.name])}, "
                        f"and its sheet said {cells[at]!r} (row {row['row_number']} of load {row['load_number']})."
                    )
            if kind.name == "belt":
                yield from _belt_lengths(row, {field.name for _, field, _ in columns.get(row["load_number"], ())})


def _columns_of_loads(
    connection: sqlite3.Connection, kind: Kind, settings: dict[int, str]
) -> dict[int, list[tuple[int, Field, Reader]]]:
    """Return, by load, where each field's cell stands in ``written``, and how it was read."""
    found: dict[int, list[tuple[int, Field, Reader]]] = {}
    fields = {field.name: field for field in kind.fields if field.own_column and not field.private}
    for row in connection.execute(
        "SELECT load_number, place, field, unit FROM load_column JOIN load ON load.number = load_number "
        "WHERE place IS NOT NULL AND kind = ?",
        (kind.name,),
    ):
        if row["field"] in fields:
            field = fields[row["field"]]
            unit = row["unit"] or (json.loads(settings[row["load_number"]]) or [None] * 4)[3]
            found.setdefault(row["load_number"], []).append((row["place"], field, reader(field, unit)))
    return found


def _differs(name: str, read: Any, stored: Any) -> bool:
    """Whether a cell says another thing than its column; a cell that was refused, or overruled, has left it empty."""
    if read is None or stored is None or read == stored:
        return False
    return not (name == "profile" and str(read).upper() == stored)


def _belt_lengths(row: sqlite3.Row, said: set[str]) -> Iterator[str]:
    if row["profile"] != "PK" or row["effective_length_mm"] is None:
        return
    worked_out = {"outside_length_mm": outside_from_effective, "pitch_length_mm": pitch_from_effective}
    for name, work_out in worked_out.items():
        should = work_out(row["effective_length_mm"])
        if name not in said and row[name] is not None and abs(row[name] - should) > 1e-6:
            label = name.removesuffix("_mm").replace("_", " ")
            yield f"belt {row['part_no']}: {label} is {row[name]} mm, and its effective length makes it {should:g} mm."


def _with_unit(name: str, value: Any) -> str:
    """Return a column's value with the unit that its name ends in."""
    unit = {"mm": " mm", "deg": " degrees", "rpm": " rpm", "kpa": " kPa"}.get(name.rpartition("_")[2], "")
    return f"{value}{unit}"


# Drives, lines, jobs ------------------------------------------------------------------------------------------------


def _sheets_against_digests(connection: sqlite3.Connection) -> Iterator[str]:
    """A drive's or line's sheet has the digest that its load wrote down, and its lists say what it says."""
    for kind in ("drive", "line"):
        for row in connection.execute(
            f"SELECT {kind}.*, digest FROM {kind} JOIN load ON load.number = {kind}.load_number"
        ):
            if row["digest"] not in _digests(row["sheet_text"]):
                yield f"{kind} {row['name']}: its sheet is not the one that was loaded."
                continue
            columns = _drive_columns(row["sheet_text"]) if kind == "drive" else _line_columns(row["sheet_text"])
            for name, value in columns.items():
                if row[name] != value:
                    yield (
                        f"{kind} {row['name']}: {name} is {_with_unit(name, row[name])}, "
                        f"and its sheet says {_with_unit(name, value)}."
                    )
            if kind == "drive":
                yield from _drive_lists(connection, row)


def _digests(text: str) -> set[str]:
    """The digests of the files that a text can have stood in: with or without a byte order mark, ends of lines either way."""
    ends = (text, text.replace("\n", "\r\n"))
    return {hashlib.sha256(mark + one.encode()).hexdigest() for one in ends for mark in (b"", b"\xef\xbb\xbf")}


def _drive_columns(text: str) -> dict[str, Any]:
    from kb.sheets.drive import read_drive

    sheet = read_drive(text)
    names = ("name", "profile", "ribs", "rotation", "idle_rpm", "governed_rpm", "belt_over_rim_mm", "belt_thickness_mm")
    return {name: getattr(sheet, name) for name in names}


def _line_columns(text: str) -> dict[str, Any]:
    from kb.sheets.line import read_line

    sheet = read_line(text)
    names = ("name", "machine", "service", "hose_inside_mm", "hose_outside_mm", "min_bend_radius_mm", "quantity")
    return {name: getattr(sheet, name) for name in names}


def _drive_lists(connection: sqlite3.Connection, row: sqlite3.Row) -> Iterator[str]:
    from kb.sheets.drive import read_drive

    sheet = read_drive(row["sheet_text"])
    names = ("name", "face", "grooves", "outside_diameter_mm", "effective_diameter_mm", "over_balls_mm")
    pulleys = connection.execute(
        f"SELECT {', '.join(names)} FROM drive_pulley WHERE drive_id = ? ORDER BY position", (row["id"],)
    )
    distances = connection.execute(
        "SELECT from_pulley, to_pulley, distance_mm FROM drive_distance WHERE drive_id = ? ORDER BY position",
        (row["id"],),
    )
    if [tuple(one) for one in pulleys] != [tuple(getattr(one, name) for name in names) for one in sheet.pulleys]:
        yield f"drive {row['name']}: its pulleys are not those of its sheet."
    if [tuple(one) for one in distances] != [(one.first, one.second, one.distance_mm) for one in sheet.distances]:
        yield f"drive {row['name']}: its distances are not those of its sheet."


def _jobs_against_revisions(connection: sqlite3.Connection) -> Iterator[str]:
    for row in connection.execute(
        "SELECT job.*, content, (job.load_number, job.row_number, job.written) IS NOT (made.load_number, made.row_number, "
        "made.written) AS strays FROM job LEFT JOIN job_revision AS made ON made.id = job.revision"
    ):
        if row["content"] is None:
            yield f"job {row['id']}: the revision that it shows is not there."
            continue
        if row["strays"]:
            yield f"job {row['id']}: where it came from is not what its revision says."
        job = job_of_content(json.loads(row["content"]))
        for name in ("id", "opened_on", "closed_on", "bay", "machine", "engine", "work", "outcome", "notes",
                     "profile", "ribs", "belt_length_mm", "drive"):  # fmt: skip
            if row[name] != getattr(job, name):
                yield f"job {row['id']}: {name} is not what its revision says."
        yield from _job_lists(connection, row["number"], job)


def _job_lists(connection: sqlite3.Connection, number: int, job: JobSheet) -> Iterator[str]:
    parts = [(one.part_no, normalise_code(one.part_no), one.supplier, one.quantity, one.ordered_by, one.note)
             for one in job.parts]  # fmt: skip
    troubles = [(one.trouble, one.remedy, one.hours_lost, None if one.solved is None else int(one.solved))
                for one in job.troubles]  # fmt: skip
    measured = [(one.name, one.unit, one.as_found, one.as_left) for one in job.measurements]
    for table, names, should in (
        ("job_part", "part_no, code, supplier, quantity, ordered_by, note", parts),
        ("job_trouble", "trouble, remedy, hours_lost, solved", troubles),
        ("job_measurement", "name, unit, as_found_written, as_left_written", measured),
    ):
        held = connection.execute(f"SELECT {names} FROM {table} WHERE job_number = ? ORDER BY position", (number,))
        if [tuple(one) for one in held] != should:
            yield f"job {job.id}: its {table.removeprefix('job_')}s are not what its revision says."


def _loads_against_digests(connection: sqlite3.Connection) -> Iterator[str]:
    """A recorded revision has the digest that its load wrote down; a load's kind is one that there is."""
    kinds = {kind.name for kind in BY_PLURAL.values()} | {"drive", "line", "job", "supplier", "suppliers"}
    for number, kind in connection.execute("SELECT number, kind FROM load"):
        if kind not in kinds:
            yield f"load {number}: there is no such kind as {kind!r}."
    for row in connection.execute(
        "SELECT job_revision.id, job_id, content, digest FROM job_revision JOIN load ON load.number = load_number "
        "WHERE load.settings = '[\"record\"]'"
    ):
        if hashlib.sha256(row["content"].encode()).hexdigest() != row["digest"]:
            yield f"job {row['job_id']}: its revision {row['id']} is not the one that was recorded."


# Words --------------------------------------------------------------------------------------------------------------


def _words_against_rows(connection: sqlite3.Connection) -> Iterator[str]:
    """Compare the word search with the rows, on a copy: FTS5 looks itself through only where it may write."""
    from kb.search_buckets import file_terms
    from kb.search_index import rebuild

    with (
        scratch("bayshelf-check-") as folder,
        closing(sqlite3.connect(folder / "copy.db", isolation_level=None)) as copy,
    ):
        connection.backup(copy)
        copy.row_factory = sqlite3.Row
        copy.execute("PRAGMA synchronous = OFF")
        copy.execute("PRAGMA journal_mode = OFF")
        for kind in SEARCHED:
            try:
                copy.execute(f"INSERT INTO {kind}_fts ({kind}_fts, rank) VALUES ('integrity-check', 1)")
            except sqlite3.DatabaseError as error:
                yield f"The words of {kind}s are not those of the rows ({error}); the rows themselves are whole."
        before = _searched(copy)
        forms = copy.execute("SELECT bucket, entries FROM search_form ORDER BY 1").fetchall()
        copy.execute("DELETE FROM search_form")
        file_terms(copy, 1, 1)
        if forms != copy.execute("SELECT bucket, entries FROM search_form ORDER BY 1").fetchall():
            yield "The forgiving search does not find its own words any more; the rows themselves are whole."
        rebuild(copy)
        if not _knows(before, _searched(copy)):
            yield "The forgiving search does not know the rows' words any more; the rows themselves are whole."


def _searched(connection: sqlite3.Connection) -> dict[tuple[str, str], tuple[int, int]]:
    words = connection.execute("SELECT word, uses, kinds FROM search_word WHERE uses > 0")
    found = {("word", word): (uses, kinds) for word, uses, kinds in words}
    return found | {("code", code): (1, 0) for (code,) in connection.execute("SELECT code FROM search_code")}


def _knows(found: dict[tuple[str, str], tuple[int, int]], needed: dict[tuple[str, str], tuple[int, int]]) -> bool:
    """Whether a search knows all that it must; what rows said before they were changed stays known, and does no harm."""
    return all(
        term in found and found[term][0] >= uses and found[term][1] & kinds == kinds
        for term, (uses, kinds) in needed.items()
    )
