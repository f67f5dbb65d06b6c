"""What every fault needs: a shelf to hurt, the commands that write to it, and a look at what is left."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kb.shelf import APPLICATION_ID, SCHEMA_VERSION, check

ROOT = Path(__file__).parent.parent.parent

BY_CHANCE = {
    "load": {"id", "loaded_at"},
    "job": {"revision"},
    "job_revision": {"id", "based_on", "made_at", "settles"},
    "job_conflict": {"revision"},
    "reference_override": {"made_at"},
    "_sqlite_migrations": {"applied_at"},
    "publication": {"id", "published_at"},
}
"""Columns that two runs of one command fill differently: ids and times."""

_TOLD = re.compile(r"^bayshelf: .{20,}", re.MULTILINE)


@dataclass(slots=True)
class Ended:
    """How a command ended: its exit code (below zero: the signal), and what it printed."""

    code: int
    out: str
    err: str
    hit: bool = True
    """Whether the fault was met at all."""

    @property
    def killed(self) -> bool:
        """Whether it was killed."""
        return self.code == -signal.SIGKILL

    def in_words(self) -> str | None:
        """Return what is wrong with the way in which a failure was told, nothing if it was told as it should be."""
        if "Traceback" in self.err + self.out:
            return f"a traceback: {self.err[-600:]}"
        if self.code == 1 and not _TOLD.search(self.err):
            return f"exit code 1 and no word of why: {self.err[-300:]!r}"
        if self.code not in (0, 1):
            return f"exit code {self.code}: {self.err[-300:]!r}"
        return None


class Commands:
    """Starts commands through :mod:`tests.faults.server`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        environment = {
            **os.environ, "PYTHONHASHSEED": "0", "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1",
            "PYTHONWARNINGS": "ignore", "PYTHONDONTWRITEBYTECODE": "1",
        }  # fmt: skip
        environment.pop("BAYSHELF_SHELF", None)
        self._server = subprocess.Popen(
            [sys.executable, str(Path(__file__).with_name("server.py"))],
            cwd=folder, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        self._answer()

    def close(self) -> None:
        """End the server."""
        assert self._server.stdin is not None
        self._server.stdin.close()
        self._server.wait()
        assert self._server.stdout is not None
        self._server.stdout.close()

    def _answer(self) -> dict[str, Any]:
        assert self._server.stdout is not None
        line = self._server.stdout.readline()
        assert line, "the server of commands ended"
        answer: dict[str, Any] = json.loads(line)
        return answer

    def _ask(self, **asked: Any) -> dict[str, Any]:
        assert self._server.stdin is not None
        self._server.stdin.write(json.dumps(asked) + "\n")
        self._server.stdin.flush()
        return self._answer()

    def start(self, *arguments: object, **how: Any) -> Running:
        """Fork the command and hold it at its gate; ``how``: environment, clock_off_s, largest_file."""
        place = self.folder / f"told-{time.monotonic_ns()}"
        out, err = place.with_suffix(".out"), place.with_suffix(".err")
        pid = self._ask(do="start", arguments=[str(one) for one in arguments], out=str(out), err=str(err), **how)["pid"]
        return Running(self, pid, out, err)

    def run(self, *arguments: object, **how: Any) -> Ended:
        """Run the command to its end."""
        running = self.start(*arguments, **how)
        running.go()
        return running.wait()


@dataclass(slots=True)
class Running:
    """A command that was started."""

    commands: Commands
    pid: int
    out: Path
    err: Path

    def go(self) -> None:
        """Let it run."""
        self.commands._ask(do="go", pid=self.pid)

    def kill(self) -> None:
        """Kill it, as a pulled plug or an impatient hand would."""
        os.kill(self.pid, signal.SIGKILL)

    def wait(self) -> Ended:
        """Wait for its end."""
        code = self.commands._ask(do="wait", pid=self.pid)["code"]
        told = [one.read_text(encoding="utf-8") if one.exists() else "" for one in (self.out, self.err)]
        self.out.unlink(missing_ok=True)  # killed early, it may not have come to open them
        self.err.unlink(missing_ok=True)
        return Ended(code, *told)


def injected(commands: Commands, folder: Path, arguments: list[object], call: str, what: str, when: str) -> Ended:
    """Run the command and let strace do ``what`` (``signal=SIGKILL``, ``error=ENOSPC``) at its K-th system call ``call``."""
    running = commands.start(*arguments)
    log = folder / "strace.log"
    tracer = traced(running, log, call, f"{call}:{what}:when={when}")
    ended = running.wait()
    tracer.wait()
    ended.hit = ended.killed if "SIGKILL" in what else "INJECTED" in log.read_text(errors="replace")
    return ended


def counted(commands: Commands, folder: Path, arguments: list[object], calls: tuple[str, ...]) -> Counter[str]:
    """Run the command undisturbed; return how often it makes each of the system calls."""
    running = commands.start(*arguments)
    log = folder / "strace.log"
    tracer = traced(running, log, ",".join(calls), None)
    ended = running.wait()
    tracer.wait()
    assert ended.code == 0, ended
    found = re.findall(r"^(?:\d+ +)?(\w+)\(", log.read_text(errors="replace"), re.MULTILINE)
    return Counter(name for name in found if name in calls)


def traced(running: Running, log: Path, trace: str, inject: str | None) -> subprocess.Popen[bytes]:
    """Let strace follow the waiting command, then let it go; return strace."""
    command = ["strace", "-f", "-qq", "-o", str(log), "-e", f"trace={trace}", "-e", "signal=none"]
    command += ["-e", f"inject={inject}"] if inject else []
    tracer = subprocess.Popen([*command, "-p", str(running.pid)], stderr=subprocess.PIPE)
    status = Path(f"/proc/{running.pid}/status")
    while not re.search(r"^TracerPid:\t[1-9]", status.read_text(), re.MULTILINE):
        if tracer.poll() is not None:
            assert tracer.stderr is not None
            raise AssertionError(f"strace cannot follow: {tracer.stderr.read()!r}")
        time.sleep(0.0005)
    running.go()
    assert tracer.stderr is not None
    tracer.stderr.close()
    return tracer


# What is left -------------------------------------------------------------------------------------------------------


def rows(path: Path) -> str:
    """Return a digest of all that a shelf's file holds, what chance and the clock make left out; ``no shelf`` for none.

    Opened by SQLite alone, which rolls back what a killed writer left; it must call the file whole.
    """
    if not path.exists() or (path.stat().st_size == 0 and not Path(f"{path}-wal").exists()):
        return "no shelf"
    connection = sqlite3.connect(path)
    try:
        found = connection.execute("PRAGMA integrity_check").fetchall()
        assert found == [("ok",)], f"damaged: {found[:3]}"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        tables = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        if not tables:
            return "no shelf"
        state = hashlib.sha256(repr((version, tables)).encode())
        for name, _ in tables:
            by_chance = BY_CHANCE.get(name, set())
            columns = [row[1] for row in connection.execute(f'PRAGMA table_info("{name}")') if row[1] not in by_chance]
            names = ", ".join(f'"{column}"' for column in columns) or "1"
            state.update(repr((name, sorted(map(repr, connection.execute(f'SELECT {names} FROM "{name}"'))))).encode())
        return f"{version}:{state.hexdigest()}"
    finally:
        connection.close()


def loads(path: Path) -> int:
    """Return how many loads the shelf's own book counts."""
    connection = sqlite3.connect(path)
    try:
        return int(connection.execute("SELECT count(*) FROM load").fetchone()[0])
    finally:
        connection.close()


@dataclass(slots=True)
class Tally:
    """One line of the table: what was done to which command, how often, and how it ended."""

    fault: str
    command: str
    times: int = 0
    before: int = 0
    after: int = 0
    refused: int = 0
    """Of all, how often the command told of the fault itself, in words."""
    failures: list[str] = field(default_factory=list)

    def count(self, outcome: str) -> None:
        """Count one."""
        self.times += 1
        self.before += outcome == "before"
        self.after += outcome == "after"

    def cells(self) -> tuple[str, ...]:
        """Return its line of the table."""
        numbers = (self.times, self.before, self.after, self.refused, len(self.failures))
        return (self.fault, self.command, *(str(number) for number in numbers))


# The commands that write --------------------------------------------------------------------------------------------


@dataclass(slots=True)
class Scene:
    """A folder with files as they stand before a command, and what they are after it.

    ``state`` says what the command's target holds; ``before`` and ``after`` are the states that may be found.
    """

    name: str
    template: Path
    arguments: Callable[[Path], list[object]]
    state: Callable[[Path], str]
    before: tuple[str, ...] = ()
    after: str = ""
    whole: Callable[[Path], list[str]] = lambda place: check(place / "shelf.db")

    def set_up(self, place: Path) -> Path:
        """Lay the files out anew."""
        if place.exists():
            shutil.rmtree(place)
        shutil.copytree(self.template, place)
        return place

    def learn(self, commands: Commands, folder: Path) -> None:
        """Run the command undisturbed, twice, and learn the states before and after."""
        states = []
        for _ in range(2):
            place = self.set_up(folder / "undisturbed")
            before = self.state(place)
            ended = commands.run(*self.arguments(place))
            assert (ended.code, ended.err) == (0, ""), ended
            states.append((before, self.state(place)))
        assert states[0] == states[1], f"{self.name}: two runs differ"
        assert states[0][0] != states[0][1], f"{self.name} does nothing"
        self.before = (*self.before, states[0][0])
        self.after = states[0][1]

    def judge(self, tally: Tally, place: Path, ended: Ended, note: str) -> str:
        """Count how it ended; what must not be goes to the tally's failures. Return the outcome."""
        problems = []
        outcome = "?"
        if not ended.killed:
            wrong = ended.in_words()
            if wrong:
                problems.append(wrong)
            elif ended.code == 1:
                tally.refused += 1
        try:
            state = self.state(place)
            outcome = "after" if state == self.after else "before" if state in self.before else "?"
            if outcome == "?":
                problems.append("the rows are neither those before nor those after")
            if outcome == "before" and ended.code == 0:
                problems.append("reported stored, and lost")
            if outcome == "after" and "nothing was changed" in ended.err:
                problems.append("said that nothing was changed, and it was")
            if state != "no shelf" and (wrong_now := self.whole(place)):
                problems.append(f"not whole: {wrong_now[:2]}")
        except (sqlite3.Error, AssertionError, OSError) as error:
            problems.append(f"{type(error).__name__}: {error}")
        tally.count(outcome)
        tally.failures += [f"{tally.fault}, {tally.command}, {note}: {problem}" for problem in problems]
        return outcome


def _on_shelf(*command: str) -> Callable[[Path], list[object]]:
    def arguments(place: Path) -> list[object]:
        filled = [word.format(place=place) for word in command]
        return ["--shelf", place / "shelf.db", *filled]

    return arguments


def _published(place: Path) -> str:
    """The copy in the folder, and the shelf that it was made from: publishing changes only the first."""
    names = sorted(one.name for one in (place / "shared").iterdir() if not one.name.startswith("."))
    return f"{names} {rows(place / 'shared' / 'shelf.db')} {rows(place / 'shelf.db')}"


def _merged(place: Path) -> str:
    return f"{rows(place / 'shelf.db')} {hashlib.sha256((place / 'wash.db').read_bytes()).hexdigest()}"


BELTS = "Part no,Description,Ribs,Eff. length,Price\n"
FORM = """job = "N-1"
work = "eight-rib belt in, water pump changed"
{more}
[[part]]
part_no = "A-3"
[[trouble]]
trouble = "belt squeals"
remedy = "pulley shimmed"
[[measurement]]
name = "charging voltage"
unit = "V"
as_left = "14.1"
[private]
customer = "the county"
"""


def belts(letter: str, count: int, first_mm: int = 1000) -> str:
    """Return a sheet of belts, the last of them once more with another length: one row is refused."""
    lines = [f"{letter}-{n},truck belt {letter}{n},8,{first_mm + n},{n}.50" for n in range(count)]
    return BELTS + "\n".join([*lines, lines[-1].replace(",8,", ",6,")]) + "\n"


def old_shelf(path: Path, steps: int) -> None:
    """Write a shelf of an earlier version: its first migration steps, a supplier, a load, belts, hoses and jobs."""
    import sqlite_utils

    from kb import migrations
    from kb.new_shelf import STEPS

    connection = sqlite3.connect(path, isolation_level=None)
    migrations.MIGRATIONS.apply(sqlite_utils.Database(connection), stop_before=STEPS[steps])
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {steps}")
    connection.execute("BEGIN")
    connection.execute("INSERT INTO supplier (id, name) VALUES (1, 'Dry Creek')")
    connection.executemany(
        "INSERT INTO load (number, id, kind, sheet, supplier_id, digest, settings, loaded_at, rows_read, rows_stored) "
        "VALUES (?, ?, ?, 's', ?, '', '{}', '2025-01-01T00:00:00Z', 40, 40)",
        [(1, "a", "belt", 1), (2, "b", "hose", 1), (3, "c", "job", None)],
    )
    for number in range(40):
        connection.execute(
            "INSERT INTO belt (supplier_id, part_no, code, description, profile, ribs, effective_length_mm, length_given, "
            "load_number, row_number, written) VALUES (1, ?, ?, 'truck belt', 'PK', 8, ?, 'effective', 1, ?, '[]')",
            (f"B-{number}", f"b{number}", 1000.0 + number, number),
        )
        connection.execute(
            "INSERT INTO hose (supplier_id, part_no, code, description, service, inside_diameter_mm, load_number, "
            "row_number, written) VALUES (1, ?, ?, 'silicone elbow', 'coolant', ?, 2, ?, '[]')",
            (f"H-{number}", f"h{number}", 30.0 + number, number),
        )
        connection.execute("INSERT INTO private_price (kind, part_id, price) VALUES ('belt', ?, '9.50')", (number + 1,))
        content = json.dumps({"id": f"J-{number}", "work": "belt in"})
        connection.execute(
            "INSERT INTO job_revision (id, job_id, made_at, content, load_number) VALUES (?, ?, '2025-01-01', ?, 3)",
            (f"r{number}", f"J-{number}", content),
        )
        connection.execute(
            "INSERT INTO job (id, revision, title, work, words, load_number, row_number, written) "
            "VALUES (?, ?, 'belt in', 'belt in', 'belt in', 3, 1, '[]')",
            (f"J-{number}", f"r{number}"),
        )
    for kind, texts in (("belt", "part_no, description"), ("hose", "part_no, description"), ("job", "title, words")):
        columns = {row[1] for row in connection.execute(f"PRAGMA table_info({kind}_fts)")}
        names = ", ".join(name for name in texts.split(", ") if name in columns)
        key = "number" if kind == "job" else "id"
        connection.execute(f"INSERT INTO {kind}_fts (rowid, {names}) SELECT {key}, {names} FROM {kind}")
    if steps >= 4:
        from kb.search_index import rebuild

        connection.row_factory = sqlite3.Row
        rebuild(connection)
    connection.execute("COMMIT")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.close()


def scenes(commands: Commands, folder: Path, names: tuple[str, ...] = ()) -> Iterator[Scene]:
    """Make every command's scene, or those named; each has learned its states."""
    template = folder / "template"
    if not template.exists():
        _template(commands, template)
    new = folder / "template-new"
    if not new.exists():
        shutil.copytree(template, new)
        (new / "shelf.db").unlink()
    shelf = lambda place: rows(place / "shelf.db")  # noqa: E731 # the commonest state, by name
    load = ("load", "{place}/more.csv", "--supplier", "Anyone")
    made = [
        Scene("load", template, _on_shelf(*load), shelf),
        Scene("load, a new shelf", new, _on_shelf(*load), shelf, (_laid_out(folder),)),
        Scene("record", template, _on_shelf("record", "add", "{place}/form.toml"), shelf),
        Scene("merge", template, _on_shelf("merge", "{place}/wash.db"), _merged),
        Scene("publish", template, _on_shelf("publish", "{place}/shared"), _published),
    ]
    for steps in range(1, SCHEMA_VERSION):
        old = folder / f"template-{steps}"
        if not old.exists():
            old.mkdir()
            old_shelf(old / "shelf.db", steps)
        made.append(Scene(f"opening a shelf of schema {steps}", old, _on_shelf("check"), shelf, whole=lambda place: []))
    for scene in made:
        if names and scene.name not in names:
            continue
        scene.learn(commands, folder)
        yield scene


def _template(commands: Commands, place: Path) -> None:
    place.mkdir()
    (place / "shared").mkdir()
    (place / "first.csv").write_text(belts("A", 30), encoding="utf-8")
    (place / "more.csv").write_text(belts("A", 10, 1100) + belts("B", 40).removeprefix(BELTS), encoding="utf-8")
    (place / "theirs.csv").write_text(belts("C", 40), encoding="utf-8")
    (place / "form.toml").write_text(FORM.format(more=""), encoding="utf-8")
    told = [
        ("--shelf", place / "shelf.db", "load", place / "first.csv", "--supplier", "Anyone"),
        ("--shelf", place / "shelf.db", "record", "add", place / "form.toml"),
        ("--shelf", place / "shelf.db", "publish", place / "shared"),
        ("--shelf", place / "wash.db", "load", place / "theirs.csv", "--supplier", "Someone"),
    ]
    for arguments in told:
        assert commands.run(*arguments).code == 0
    (place / "theirs.toml").write_text(FORM.format(more="").replace("N-1", "W-1"), encoding="utf-8")
    assert commands.run("--shelf", place / "wash.db", "record", "add", place / "theirs.toml").code == 0
    later = FORM.format(more='outcome = "worked"\nnotes = "run an hour, warm, and looked at again"')
    (place / "form.toml").write_text(later, encoding="utf-8")
    # So that publishing has something new to say, and a copy before to keep.
    (place / "extra.csv").write_text(belts("D", 5), encoding="utf-8")
    extra = commands.run("--shelf", place / "shelf.db", "load", place / "extra.csv", "--supplier", "Anyone")
    assert extra.code == 0


def _laid_out(folder: Path) -> str:
    """The state of a shelf that was made and holds nothing yet."""
    from kb.shelf import open_to_write

    path = folder / "empty.db"
    open_to_write(path).close()
    return rows(path)


@contextmanager
def stage(folder: Path) -> Iterator[Commands]:
    """Commands to run, for as long as the block lasts."""
    commands = Commands(folder)
    try:
        yield commands
    finally:
        commands.close()
