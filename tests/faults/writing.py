"""Faults while the shelf is written: killed at any moment, errors of the disk, a full disk."""

from __future__ import annotations

import random
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

from tests.faults.harness import Commands, Scene, Tally, counted, injected

KILLED_AT = ("pwrite64", "fdatasync", "fsync", "ftruncate", "unlink", "rename", "openat")
"""The system calls by which SQLite and the copying change the disk, and each opening of a file."""

WRITE_ERRORS = ("pwrite64:error=ENOSPC", "pwrite64:error=EIO")
SYNC_ERRORS = ("fdatasync:error=EIO", "fsync:error=EIO")
OTHER_ERRORS = ("ftruncate:error=EIO", "unlink:error=EIO", "rename:error=EIO", "openat:error=EMFILE")
FOR_GOOD = "+"
"""strace's mark for "from the K-th on": a disk that is full stays full."""


def at_every_call(
    commands: Commands, folder: Path, scene: Scene, fault: str, chance: random.Random, at_most: int | None = None
) -> Tally:
    """Do ``fault`` (``pwrite64:signal=SIGKILL``) at each of the command's calls, or at so many of them drawn by chance."""
    call, what = fault.split(":", 1)
    for_good = what.endswith(FOR_GOOD)
    what = what.removesuffix(FOR_GOOD)
    tally = Tally(f"{_in_words(what)} at {call}" + (", and from then on" if for_good else ""), scene.name)
    place = scene.set_up(folder / "place")
    count = counted(commands, folder, scene.arguments(place), (call,))[call]
    moments = list(range(1, count + 1))
    if at_most is not None and count > at_most:
        moments = sorted(chance.sample(moments, at_most))
    for moment in moments:
        place = scene.set_up(folder / "place")
        when = f"{moment}+" if for_good else str(moment)
        ended = injected(commands, folder, scene.arguments(place), call, what, when)
        if not ended.hit and not for_good and call != "openat":  # what is imported late is not opened alike each time
            tally.failures.append(f"{tally.fault}, {scene.name}, {moment} of {count}: the fault was not met")
        scene.judge(tally, place, ended, f"{moment} of {count}")
    return tally


def _in_words(what: str) -> str:
    return {"signal=SIGKILL": "killed", "error=ENOSPC": "disk full", "error=EIO": "disk error"}.get(what, what)


def at_random_moments(commands: Commands, folder: Path, scene: Scene, chance: random.Random, times: int) -> Tally:
    """Kill the command at random moments of its run."""
    tally = Tally("killed at random moments", scene.name)
    longest = 0.0
    for _ in range(3):
        place = scene.set_up(folder / "place")
        running = commands.start(*scene.arguments(place))
        began = time.perf_counter()
        running.go()
        running.wait()
        longest = max(longest, time.perf_counter() - began)
    for attempt in range(times):
        place = scene.set_up(folder / "place")
        running = commands.start(*scene.arguments(place))
        running.go()
        after_s = chance.uniform(0, longest)
        time.sleep(after_s)
        running.kill()
        scene.judge(tally, place, running.wait(), f"attempt {attempt}, after {after_s * 1000:.1f} ms")
    return tally


def on_a_full_disk(
    commands: Commands, folder: Path, scene: Scene, disk: Path, chance: random.Random, times: int
) -> Tally:
    """Run the command on a small disk of its own, with more or less room on it beside the files that are there."""
    tally = Tally("no room on the disk", scene.name)
    place = scene.set_up(folder / "place")
    there = _kib(place)
    commands.run(*scene.arguments(place))
    needed = _kib(place) - there + 512
    for _ in range(times):
        room = chance.randrange(4, needed + 4, 4)
        with tmpfs(disk, there + room):
            place = scene.set_up(disk / "place")
            ended = commands.run(*scene.arguments(place), environment={"TMPDIR": str(disk)})
            # Looked at where there is room again: without any, SQLite cannot even open a shelf that has a log beside it.
            shutil.rmtree(folder / "place", ignore_errors=True)
            shutil.copytree(place, folder / "place", dirs_exist_ok=True)
        scene.judge(tally, folder / "place", ended, f"{room} KiB of room")
    return tally


def _kib(place: Path) -> int:
    blocks = sum(-(-each.stat().st_size // 4096) + 1 for each in place.rglob("*"))
    return 4 * (blocks + 4)


class tmpfs:  # noqa: N801 # used as a word: with tmpfs(...)
    """A file system in memory of so many KiB, mounted for as long as the block lasts."""

    def __init__(self, disk: Path, kib: int) -> None:
        self.disk = disk
        self.kib = kib

    def __enter__(self) -> None:
        self.disk.mkdir(exist_ok=True)
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={self.kib}k", "bayshelf-faults", self.disk], check=True)

    def __exit__(self, *_: object) -> None:
        subprocess.run(["umount", self.disk], check=True)


def can_mount(disk: Path) -> bool:
    """Return whether a file system can be mounted here (root may, in most containers nobody may)."""
    disk.mkdir(exist_ok=True)
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "bayshelf-faults", disk], capture_output=True, check=False
    )
    if done.returncode == 0:
        subprocess.run(["umount", disk], check=True)
    return done.returncode == 0


def with_small_files(commands: Commands, folder: Path, scene: Scene, chance: random.Random, times: int) -> Tally:
    """Run the command where no file may grow beyond a limit (RLIMIT_FSIZE): writing fails with EFBIG."""
    tally = Tally("no file may grow beyond a limit", scene.name)
    place = scene.set_up(folder / "place")
    commands.run(*scene.arguments(place))
    largest = max(each.stat().st_size for each in place.rglob("*") if each.is_file())
    for _ in range(times):
        limit = chance.randrange(4096, largest, 4096)
        place = scene.set_up(folder / "place")
        ended = commands.run(*scene.arguments(place), largest_file=limit)
        scene.judge(tally, place, ended, f"{limit // 1024} KiB")
    return tally


def faults() -> Iterator[str]:
    """Name what is done at every call of a command."""
    yield from (f"{call}:signal=SIGKILL" for call in KILLED_AT)
    for one in (*WRITE_ERRORS, *SYNC_ERRORS, *OTHER_ERRORS):
        yield one
        yield one + FOR_GOOD


def with_nowhere_to_print(commands: Commands, folder: Path, scene: Scene) -> Tally:
    """Send the answer to a full disk: what the command did is done, and is told so."""
    tally = Tally("no room for the answer", scene.name)
    place = scene.set_up(folder / "place")
    running = commands.start(*scene.arguments(place), out_to="/dev/full")
    running.go()
    ended = running.wait()
    if (
        scene.judge(tally, place, ended, "/dev/full") != "after"
        or ended.code != 1
        or "answer could not be" not in ended.err
    ):
        tally.failures.append(f"{tally.fault}, {scene.name}: {ended}")
    return tally
