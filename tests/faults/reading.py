"""Faults of the file itself: no shelf, an empty one, a shortened one, one from a newer program, one with flipped bits."""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from kb.errors import BayshelfError
from kb.salvage import carry_over
from kb.shelf import check
from tests.faults.harness import Commands, Ended, Tally

PAGE = 4096

READERS: tuple[tuple[str, ...], ...] = (
    ("belts", "--length", "1010 mm", "--ribs", "8"), ("pulleys", "--diameter", "3 in"), ("tensioners", "idler"),
    ("hoses", "--inside", "1 1/2 in"), ("clamps", "--around", "2 1/4 in"), ("fittings", "--outside", "22.1 mm"),
    ("find", "truck belt a3"), ("find", "A-33"), ("jobs", "belt"), ("jobs", "--like", "N-1"), ("morning", "N-1"),
    ("closing", "N-1"), ("record", "show", "N-1"), ("record", "limit"), ("settle",), ("check",), ("check", "--json"),
)  # fmt: skip
WRITERS: tuple[tuple[str, ...], ...] = (
    ("load", "{place}/more.csv", "--supplier", "Anyone"), ("record", "add", "{place}/form.toml"),
    ("record", "new", "{place}/new.toml", "--from", "N-1"), ("merge", "{place}/wash.db"), ("publish", "{place}/shared"),
    ("record", "limit", "belt-slack", "--high", "9", "--reason", "seen"), ("check", "--save-to", "{place}/saved.db"),
)  # fmt: skip


@dataclass(slots=True)
class Damaged:
    """A way in which a file stands where a shelf should, and the words that every command must answer with."""

    name: str
    words: tuple[str, ...]
    bytes: bytes | None = None
    """Nothing: a folder."""


def no_shelves(shelf: Path, scratch: Path) -> Iterator[Damaged]:
    """Yield files that are no shelf at all."""
    whole = shelf.read_bytes()
    for name, statements, words in (
        (
            "from a newer program",
            ["PRAGMA user_version = 900", "INSERT INTO _sqlite_migrations (name) VALUES ('m900')"],
            ("newer bayshelf", "Update bayshelf"),
        ),
        ("of another program", ["CREATE TABLE mine (a)"], ("some other program's database", "--shelf")),
    ):
        scratch.unlink(missing_ok=True)
        if "PRAGMA" in statements[0]:
            scratch.write_bytes(whole)
        connection = sqlite3.connect(scratch)
        for statement in statements:
            connection.execute(statement)
        connection.commit()
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.close()
        yield Damaged(name, words, scratch.read_bytes())
    not_ours = ("not a shelf", "")
    yield Damaged("a letter", not_ours, b"Dear all, the belts are in the second drawer. " * 200)
    yield Damaged("noise", not_ours, random.Random(3).randbytes(3 * PAGE))
    yield Damaged("a short letter", not_ours, b"Dear all, the belts are in the second drawer.")
    yield Damaged("a hundred noughts", not_ours, bytes(100))
    yield Damaged("its first page noughts", not_ours, bytes(PAGE) + whole[PAGE:])
    yield Damaged("a folder", ("that is a folder", "Name"), None)


def put(damaged: Damaged, path: Path) -> None:
    """Put the file where the shelf should be, and nothing beside it."""
    for ending in ("", "-wal", "-shm", "-journal"):
        Path(f"{path}{ending}").unlink(missing_ok=True)
    if damaged.bytes is None:
        path.mkdir()
    else:
        path.write_bytes(damaged.bytes)


def on_no_shelf(commands: Commands, template: Path, folder: Path) -> list[Tally]:
    """Run every command on each file that is no shelf: refused in words, and the file as it was."""
    tallies = []
    for damaged in no_shelves(_closed(template / "shelf.db", folder), folder / "scratch.db"):
        tally = Tally(damaged.name, "every command")
        for words in (*READERS, *WRITERS):
            place = _place(template, folder)
            put(damaged, place / "shelf.db")
            ended = _run(commands, words, place)
            problems = [ended.in_words()] if ended.in_words() else []
            if ended.code != 1:
                problems.append(f"exit code {ended.code}, not 1")
            elif not all(word in ended.err + ended.out for word in damaged.words):
                problems.append(f"it does not say {damaged.words}: {ended.err!r}")
            elif str(place) not in ended.err:
                problems.append(f"it does not say where: {ended.err!r}")
            if damaged.bytes is not None and (place / "shelf.db").read_bytes() != damaged.bytes:
                problems.append("the file was changed")
            tally.count("before")
            tally.refused += ended.code == 1
            tally.failures += [f"{damaged.name}, {' '.join(words)}: {problem}" for problem in problems]
        tallies.append(tally)
    return tallies


def _run(commands: Commands, words: tuple[str, ...], place: Path) -> Ended:
    return commands.run("--shelf", place / "shelf.db", *(word.format(place=place) for word in words))


def _place(template: Path, folder: Path) -> Path:
    place = folder / "damaged"
    if place.exists():
        shutil.rmtree(place)
    shutil.copytree(template, place)
    return place


def _closed(shelf: Path, folder: Path) -> Path:
    """A copy of the shelf in one file."""
    copy = folder / "closed.db"
    copy.unlink(missing_ok=True)
    source, target = sqlite3.connect(shelf), sqlite3.connect(copy)
    source.backup(target)
    source.close()
    target.execute("PRAGMA journal_mode = DELETE")
    target.close()
    return copy


def shortened(commands: Commands, template: Path, folder: Path, chance: random.Random, times: int) -> Tally:
    """Cut the shelf's file short at many lengths: told, by every command that meets what is missing, and by check."""
    tally = Tally("shortened", "every command, check")
    whole = _closed(template / "shelf.db", folder).read_bytes()
    lengths = [0, 1, 15, 16, 99, 100, 512, PAGE - 1, PAGE, PAGE + 1, len(whole) - PAGE, len(whole) - 1]
    lengths += [chance.randrange(len(whole)) for _ in range(times)]
    for length in lengths:
        place = _place(template, folder)
        put(Damaged("", (), whole[:length]), place / "shelf.db")
        ended = _run(commands, ("check",), place)
        told = "no shelf here yet" if length == 0 else ""
        _count(tally, ended, f"{length} bytes, check", must_refuse=True, words=told)
        words = chance.choice((*READERS, *WRITERS))
        if length or words in READERS:  # writing to an empty file makes a new shelf of it
            _count(tally, _run(commands, words, place), f"{length} bytes, {' '.join(words)}")
    return tally


def _count(tally: Tally, ended: Ended, note: str, *, must_refuse: bool = False, words: str = "") -> None:
    tally.count("before")
    tally.refused += ended.code == 1
    problem = ended.in_words() if ended.code != 2 else None
    if problem is None and must_refuse and (ended.code != 1 or words not in ended.err):
        problem = f"exit code {ended.code}: {ended.err!r}"
    if problem:
        tally.failures.append(f"{tally.fault}, {note}: {problem}")


# Flipped bits -------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class Flips:
    """What became of flipped bits."""

    flipped: int = 0
    harmless: int = 0
    """In bytes that hold nothing: every row reads as before, and the file is whole."""
    found: int = 0
    unseen: int = 0
    by_sqlite: int = 0
    """Found by SQLite's own look at its structure, which is what check had before."""
    where_unseen: dict[str, int] = field(default_factory=dict)
    saved_rows: int = 0
    lost_rows: int = 0

    def __str__(self) -> str:
        harmful = self.found + self.unseen
        return (
            f"{self.flipped} bits flipped, one at a time: {self.harmless} changed nothing that is read, {harmful} did; "
            f"check found {self.found} of those ({self.found / max(1, harmful):.1%}; SQLite's own look "
            f"{self.by_sqlite / max(1, harmful):.1%}); "
            f"not found: {self.where_unseen}. Carried over from the damaged: {self.saved_rows} rows, "
            f"{self.lost_rows} lost."
        )


def contents(path: Path) -> dict[str, list[str]] | None:
    """Return what every table holds, as text; nothing where it cannot be read."""
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    try:
        tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        found = {}
        for name in tables:
            found[name] = sorted(map(repr, connection.execute(f'SELECT * FROM "{name}"')))
        found["the schema"] = [repr(connection.execute("SELECT * FROM sqlite_master").fetchall())]
        found["the header"] = [
            repr(connection.execute(f"PRAGMA {name}").fetchall())
            for name in ("user_version", "application_id", "journal_mode", "encoding")
        ]
        return found
    except (sqlite3.Error, UnicodeDecodeError):
        return None
    finally:
        connection.close()


def flipped_bits(
    commands: Commands, template: Path, folder: Path, chance: random.Random, times: int, shelf: Path | None = None
) -> tuple[Tally, Flips]:
    """Flip one bit at a time: every command answers or refuses in words, and check is measured by what it finds.

    What ``check`` misses is counted, not failed: the share is the measure. What it must do is never end in a traceback,
    never call a whole shelf damaged, and carry over every row that still reads.
    """
    tally, flips = Tally("a flipped bit", "check, and a command drawn by chance"), Flips()
    whole_path = _closed(shelf or template / "shelf.db", folder)
    whole = whole_path.read_bytes()
    held = contents(whole_path)
    assert held is not None
    place = _place(template, folder)
    path = place / "shelf.db"
    for _ in range(times):
        at = chance.randrange(len(whole) * 8)
        data = bytearray(whole)
        data[at // 8] ^= 1 << at % 8
        note = f"bit {at}"
        put(Damaged("", (), bytes(data)), path)
        now = contents(path)
        structure = _structure(path)
        ended = _run(commands, ("check",), place)
        _count(tally, ended, f"{note}, check")
        flips.flipped += 1
        if ended.code == 1:
            flips.found += 1
            flips.by_sqlite += structure
            if flips.found % 5 == 1:
                _saved(tally, flips, path, held, note)
        elif now == held:
            flips.harmless += 1
        else:
            flips.unseen += 1
            changed = next((name for name in held if now is None or now.get(name) != held[name]), "a new table")
            flips.where_unseen[changed] = flips.where_unseen.get(changed, 0) + 1
        words = chance.choice((*READERS, *WRITERS))
        put(Damaged("", (), bytes(data)), path)
        _count(tally, _run(commands, words, place), f"{note}, {' '.join(words)}")
        for name in ("saved.db", "new.toml", "carried.db"):
            (place / name).unlink(missing_ok=True)
    return tally, flips


def _structure(path: Path) -> bool:
    try:
        return bool(check(path))
    except BayshelfError:
        return True


def _saved(tally: Tally, flips: Flips, path: Path, held: dict[str, list[str]], note: str) -> None:
    """Carry over what reads of a damaged shelf: the new one is whole, and one flipped bit has cost a page of rows at most."""
    target = path.with_name("carried.db")
    try:
        saved = {one.table: one.rows for one in carry_over(path, target)}
    except BayshelfError as error:
        flips.lost_rows += sum(len(rows) for name, rows in held.items() if name in ("belt", "job", "load"))
        if not str(error).startswith(str(path)) and "newer" not in str(error):
            tally.failures.append(f"a flipped bit, {note}, saving: {error}")
        return
    wrong = check(target)
    if wrong:
        tally.failures.append(f"a flipped bit, {note}: what was saved is not whole: {wrong[:2]}")
    flips.saved_rows += sum(saved.values())
    flips.lost_rows += sum(len(held[name]) - rows for name, rows in saved.items())
    for ending in ("", "-wal", "-shm"):
        Path(f"{target}{ending}").unlink(missing_ok=True)


def digest(path: Path) -> str:
    """Return a file's digest."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def larger(commands: Commands, folder: Path) -> Path:
    """Make the demo shop's shelf: every kind of thing is on it."""
    path = folder / "demo.db"
    if not path.exists():
        ended = commands.run("--shelf", path, "demo")
        assert ended.code == 0, ended
        assert os.path.getsize(path) > 0
    return path
