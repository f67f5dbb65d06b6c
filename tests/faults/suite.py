"""The whole of the fault suite, in two sizes: a few of each drawn by chance for CI, all of each for ``run.py --full``."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

from tests.faults import reading, together, writing
from tests.faults.harness import Commands, Tally, scenes, traced

SEED = 20261125
WRITING = ("load", "load, a new shelf", "record", "merge", "publish")
OLD = tuple(f"opening a shelf of schema {steps}" for steps in (1, 2, 3, 4))


def at_calls(commands: Commands, folder: Path, name: str, at_most: int | None) -> Iterator[Tally]:
    """Kill and fail one command at each system call that changes the disk, or at ``at_most`` of each."""
    for scene in scenes(commands, folder, (name,)):
        for fault in writing.faults():
            chance = random.Random(f"{SEED} {fault} {name}")
            few = at_most and at_most * (2 if "SIGKILL" in fault else 1)
            tally = writing.at_every_call(commands, folder, scene, fault, chance, few)
            if tally.times:
                yield tally


def at_moments(commands: Commands, folder: Path, name: str, times: int) -> Iterator[Tally]:
    """Kill one command at random moments."""
    for scene in scenes(commands, folder, (name,)):
        yield writing.at_random_moments(commands, folder, scene, random.Random(SEED), times)


def on_full_disks(commands: Commands, folder: Path, name: str, times: int) -> Iterator[Tally]:
    """Run one command where there is no room: a small disk where one can be mounted, and files that may not grow."""
    for scene in scenes(commands, folder, (name,)):
        if writing.can_mount(folder / "disk"):
            yield writing.on_a_full_disk(commands, folder, scene, folder / "disk", random.Random(SEED), times)
        yield writing.with_small_files(commands, folder, scene, random.Random(SEED), times)
        if name not in OLD:
            yield writing.with_nowhere_to_print(commands, folder, scene)


def leftovers(commands: Commands, folder: Path) -> Iterator[Tally]:
    """Kill merge and publish where they hold a folder of their own; the next one takes it away when it is a day old."""
    for scene in scenes(commands, folder, ("merge", "publish")):

        def kill(spare: Path, scene: together.Scene = scene) -> None:
            running = commands.start(*scene.arguments(folder / "place"), environment={"TMPDIR": str(spare)})
            tracer = traced(running, folder / "strace.log", "pwrite64", "pwrite64:signal=SIGKILL:when=20")
            running.wait()
            tracer.wait()

        yield together.leftovers(commands, folder, scene, kill)


def at_once(commands: Commands, folder: Path, times: int) -> Iterator[Tally]:
    """Readers while each command runs; writers and readers all at once; clocks that are wrong."""
    for scene in scenes(commands, folder, ("load", "record", "merge", "publish")):
        yield together.readers_during(commands, folder, scene, times)
    yield together.writers_at_once(commands, folder / "template", folder, times)


def on_damage(commands: Commands, folder: Path, times: int) -> Iterator[Tally]:
    """Files that are no shelf, and shelves cut short."""
    for _ in scenes(commands, folder, ("record",)):  # makes the template
        pass
    yield from reading.on_no_shelf(commands, folder / "template", folder)
    yield reading.shortened(commands, folder / "template", folder, random.Random(SEED), times)


def on_flips(commands: Commands, folder: Path, times: int, seed: int = SEED) -> tuple[Tally, reading.Flips]:
    """Flipped bits of the demo shop's shelf."""
    for _ in scenes(commands, folder, ("record",)):
        pass
    shelf = reading.larger(commands, folder)
    return reading.flipped_bits(commands, folder / "template", folder, random.Random(seed), times, shelf)
