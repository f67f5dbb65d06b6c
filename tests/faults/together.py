"""Several at once on one shelf, and clocks that are wrong by hours."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from kb.shelf import check, open_to_read
from tests.faults.harness import BELTS, Commands, Scene, Tally, belts

_DATABASE_WORDS = re.compile(r"sqlite|database|locked|transaction|traceback|busy", re.IGNORECASE)


def _counts(path: Path) -> tuple[int, ...]:
    """What a reader sees, in one transaction: rows, what the word search knows of them, loads, revisions."""
    with closing(open_to_read(path)) as connection:
        connection.execute("BEGIN")
        return tuple(
            connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("belt", "belt_fts_docsize", "load", "job", "job_revision", "job_fts_docsize")
        )


def readers_during(commands: Commands, folder: Path, scene: Scene, times: int) -> Tally:
    """Read, over and over, while the command runs: all of it is seen or nothing of it, and no reader ever fails."""
    tally = Tally("read while it runs", scene.name)
    for attempt in range(times):
        place = scene.set_up(folder / "place")
        read = place / ("shared/shelf.db" if scene.name == "publish" else "shelf.db")
        before = _counts(read)
        running = commands.start(*scene.arguments(place))
        command = commands.start("--shelf", read, "find", "truck belt", "--json")
        running.go()
        command.go()
        seen = {before}
        while not _ended(running.pid):
            seen.add(_counts(read))
        told, ended = command.wait(), running.wait()
        after = _counts(read)
        scene.judge(tally, place, ended, f"attempt {attempt}")
        if before == after or not seen <= {before, after}:
            tally.failures.append(f"{tally.fault}, {scene.name}: readers saw {seen - {before, after}}")
        if told.code != 0 or told.in_words():
            tally.failures.append(f"{tally.fault}, {scene.name}: a reader was told {told.err!r}")
    return tally


def _ended(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


def writers_at_once(commands: Commands, template: Path, folder: Path, times: int) -> Tally:
    """Let two loads, a recording, a merge, publishing and readers go at once: each succeeds, and all is there."""
    tally = Tally("all at once", "load, load, record, merge, publish")
    for attempt in range(times):
        place = folder / "place"
        shutil.rmtree(place, ignore_errors=True)
        shutil.copytree(template, place)
        (place / "two.csv").write_text(belts("E", 40), encoding="utf-8")
        on = ("--shelf", place / "shelf.db")
        asked: list[tuple[object, ...]] = [
            (*on, "load", place / "more.csv", "--supplier", "Anyone"),
            (*on, "load", place / "two.csv", "--supplier", "Other"),
            (*on, "record", "add", place / "form.toml"), (*on, "merge", place / "wash.db"),
            (*on, "publish", place / "shared"), (*on, "find", "truck belt"), (*on, "check"),
        ]  # fmt: skip
        running = [commands.start(*arguments) for arguments in asked]
        for one in running:
            one.go()
        ended = [one.wait() for one in running]
        tally.count("after")
        note = f"all at once, attempt {attempt}"
        for arguments, one in zip(asked, ended, strict=True):
            if one.code != 0 or _DATABASE_WORDS.search(one.err):
                tally.failures.append(f"{note}: {arguments[2]} ended with {one.code}: {one.err!r}")
        counts = _counts(place / "shelf.db")
        with closing(open_to_read(place / "shelf.db")) as connection:
            letters = {row[0] for row in connection.execute("SELECT DISTINCT substr(part_no, 1, 1) FROM belt")}
            jobs = {row[0] for row in connection.execute("SELECT id FROM job")}
        if letters != set("ABCDE") or jobs != {"N-1", "W-1"} or counts[0] != counts[1] or check(place / "shelf.db"):
            tally.failures.append(f"{note}: {letters}, {jobs}, {counts}")
    return tally


# Clocks -------------------------------------------------------------------------------------------------------------

HOUR = 3600.0
OFF_H = (-30 * 24, -5, -1, 1, 5)


def wrong_clocks(commands: Commands, folder: Path) -> Tally:
    """Work in two bays whose clocks differ by hours: what one bay knew of is older, and no word is lost."""
    tally = Tally("a clock off by hours", "load, record, merge, settle")
    for off_h in OFF_H:
        for story in (_later_load_wins, _corrections_win, _changed_apart):
            place = folder / "clocks"
            shutil.rmtree(place, ignore_errors=True)
            place.mkdir()
            tally.count("after")
            problem = story(_Bays(commands, place, off_h * HOUR))
            if problem:
                tally.failures.append(f"{tally.fault}, {off_h:+} h, {story.__name__}: {problem}")
    return tally


class _Bays:
    """Two shelves, north's and wash's; north's clock is off from the second command on."""

    def __init__(self, commands: Commands, place: Path, off_s: float) -> None:
        self.commands, self.place, self.off_s = commands, place, off_s
        self.told = ""

    def shelf(self, bay: str) -> Path:
        return self.place / f"{bay}.db"

    def do(self, bay: str, *words: object, off: bool = False) -> str:
        how = {"clock_off_s": self.off_s} if off else {}
        ended = self.commands.run("--shelf", self.shelf(bay), *words, **how)
        assert ended.code == 0, ended
        self.told += ended.out + ended.err
        return ended.out

    def sheet(self, length_mm: int) -> Path:
        path = self.place / f"belts-{length_mm}.csv"
        path.write_text(f"{BELTS}A-1,truck belt,8,{length_mm},1.50\n", encoding="utf-8")
        return path

    def form(self, notes: str) -> Path:
        path = self.place / f"form-{len(os.listdir(self.place))}.toml"
        path.write_text(f'job = "N-1"\nwork = "belt in"\nnotes = "{notes}"\n', encoding="utf-8")
        return path

    def one(self, bay: str, sql: str) -> object:
        with closing(sqlite3.connect(self.shelf(bay))) as connection:
            return connection.execute(sql).fetchone()[0]

    def must_tell(self) -> str | None:
        """A clock that was put back is told where it is met."""
        if self.off_s < 0 and not ("clock" in self.told and "set this machine's clock" in self.told):
            return f"nobody was told of the clock: {self.told!r}"
        return None


def _later_load_wins(bays: _Bays) -> str | None:
    """The same part loaded again, after the clock was put back: the other bay takes the later sheet's row."""
    bays.do("north", "load", bays.sheet(1800), "--supplier", "Anyone")
    bays.do("wash", "merge", bays.shelf("north"))
    bays.do("north", "load", bays.sheet(1810), "--supplier", "Anyone", off=True)
    bays.do("wash", "merge", bays.shelf("north"))
    lengths = [bays.one(bay, "SELECT effective_length_mm FROM belt") for bay in ("north", "wash")]
    if lengths != [1810.0, 1810.0]:
        return f"the lengths are {lengths}"
    # And on the way back: wash, whose clock is right, knows of north's load and corrects it.
    bays.do("wash", "load", bays.sheet(1820), "--supplier", "Anyone")
    bays.do("north", "merge", bays.shelf("wash"), off=True)
    lengths = [bays.one(bay, "SELECT effective_length_mm FROM belt") for bay in ("north", "wash")]
    return f"the lengths are {lengths}" if lengths != [1820.0, 1820.0] else bays.must_tell()


def _corrections_win(bays: _Bays) -> str | None:
    """A job corrected after the clock was put back: the correction holds in both bays, and the history is in order."""
    bays.do("north", "record", "add", bays.form("first"))
    bays.do("wash", "merge", bays.shelf("north"))
    bays.do("north", "record", "add", bays.form("second"), off=True)
    bays.do("north", "record", "add", bays.form("third"))
    bays.do("wash", "merge", bays.shelf("north"))
    for bay in ("north", "wash"):
        if bays.one(bay, "SELECT notes FROM job") != "third":
            return f"{bay} says {bays.one(bay, 'SELECT notes FROM job')!r}"
        shown = re.findall(r"notes: \w+ \(was: \w+\)", bays.do(bay, "record", "show", "N-1"))
        if shown != ["notes: second (was: first)", "notes: third (was: second)"]:
            return f"{bay} shows the changes so: {shown}"
        if bays.one(bay, "SELECT count(*) FROM job_conflict") != 0:
            return f"{bay} sees a conflict where there is none"
    return bays.must_tell()


def _changed_apart(bays: _Bays) -> str | None:
    """A job changed apart: both versions are kept in both bays whatever the clocks say, and settling holds in both."""
    bays.do("north", "record", "add", bays.form("first"))
    bays.do("wash", "merge", bays.shelf("north"))
    bays.do("north", "record", "add", bays.form("north says"), off=True)
    bays.do("wash", "record", "add", bays.form("wash says"))
    bays.do("wash", "merge", bays.shelf("north"))
    bays.do("north", "merge", bays.shelf("wash"), off=True)
    for bay in ("north", "wash"):
        if bays.one(bay, "SELECT count(*) FROM job_conflict") != 2:
            return f"{bay} kept {bays.one(bay, 'SELECT count(*) FROM job_conflict')} versions"
    kept = bays.one("north", "SELECT id FROM job_revision WHERE content LIKE '%north says%'")
    bays.do("north", "settle", "N-1", "--keep", kept, off=True)
    bays.do("wash", "merge", bays.shelf("north"))
    for bay in ("north", "wash"):
        found = (bays.one(bay, "SELECT notes FROM job"), bays.one(bay, "SELECT count(*) FROM job_conflict"))
        if found != ("north says", 0):
            return f"{bay} holds {found}"
        if bays.one(bay, "SELECT count(*) FROM job_revision WHERE content LIKE '%wash says%'") != 1:
            return f"{bay} lost the version that was not kept"
    return bays.must_tell()


# What a killed command leaves beside the shelf, and an answer that cannot be printed ---------------------------------


def leftovers(commands: Commands, folder: Path, scene: Scene, kill: Callable[[Path], object]) -> Tally:
    """A killed merge or publishing leaves its folder of its own: a day later the next one takes it away."""
    tally = Tally("what a killed one left", scene.name)
    place = scene.set_up(folder / "place")
    spare = place / "spare"
    spare.mkdir()
    kill(spare)
    left = [one for where in (spare, place) for one in where.glob("*bayshelf-*")]
    if not left:
        tally.failures.append("nothing was left: the test proves nothing")
    for one in left:
        os.utime(one, (1, 1))
    ended = commands.run(*scene.arguments(place), environment={"TMPDIR": str(spare)})
    scene.judge(tally, place, ended, "the next one")
    if still := [one for where in (spare, place) for one in where.glob("*bayshelf-*")]:
        tally.failures.append(f"{tally.fault}, {scene.name}: still there: {still}")
    return tally
