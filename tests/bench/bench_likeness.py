"""`jobs --like` in process against one full-text query of all the asked job's words joined by OR, on the same shelf.

PYTHONPATH=. python tests/bench/bench_likeness.py --jobs 10000

The jobs are invented: works, troubles and remedies put together from lists, with synonyms, slips and missing fields.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from importers import index, ledger
from importers.jobs import JobStore
from importers.report import Report
from kb.sheets.job_sheet import JobMeasurement, JobPart, JobSheet, JobTrouble
from kb.shelf import open_to_read, writing
from kb.spelling import words_of
from queries.jobs import JobQuestion, ask_jobs

WORKS = (
    "V-belts out, ribbed belt in, new fan drive", "alternator upgrade on the serpentine", "a/c compressor bracket made",
    "water pump and belt replaced", "refrigerant lines remade", "heater hoses and clamps", "radiator and shroud fitted",
    "idler moved, tensioner renewed", "compressor retrofit", "condenser and drier replaced", "charge air hose remade",
)  # fmt: skip
TROUBLES = (
    "belt chirps on cold start", "squeals with the lights on", "belt too short to go over the last pulley",
    "tensioner on its stop when hot", "bracket cracked at the weld", "fan blade touched the ring", "hose kinked at the frame",
    "clamp wept after first heat", "alternator turns backwards", "battery not charging at idle", "vent air not cold",
    "belt walks off the compressor pulley", "wrong thread on the adapter", "liquid line 40 mm short",
)  # fmt: skip
REMEDIES = (
    "idler shimmed 2 mm forward", "next size longer taken", "moved the idler out one hole", "bracket gusseted",
    "shroud trimmed to 3/4 in", "formed hose fitted", "nipped up cold", "belt routed over the other side", "smaller pulley",
)  # fmt: skip
ENGINES = ("inline six 7.6 L diesel", "V8 10.4 L diesel", "I6 8.3 dsl", "inline four 4.5 L diesel", "six in line 5.9")
MACHINES = ("Plow truck", "Water tender", "Brine sprayer", "Culvert flusher", "Grader", "Loader")
EXTRA = (
    "frost",
    "salt",
    "spare",
    "noted",
    "checked",
    "driver",
    "rattle",
    "gravel",
    "shift",
    "cover",
    "guard",
    "paint",
    "loom",
)


def made_up(number: int, chance: random.Random) -> JobSheet:
    """Make one job; about a third of its fields are missing."""

    def maybe(value: str) -> str | None:
        return value if chance.random() < 0.7 else None

    def slipped(text: str) -> str:
        words = text.split()
        place = chance.randrange(len(words))
        word = words[place]
        if len(word) > 5 and chance.random() < 0.3:
            at = chance.randrange(1, len(word) - 2)
            words[place] = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
        return " ".join([*words, *chance.sample(EXTRA, chance.randrange(3))])

    troubles = [
        JobTrouble(
            slipped(chance.choice(TROUBLES)), slipped(chance.choice(REMEDIES)), chance.randrange(1, 12) / 2, True
        )
        for _ in range(chance.randrange(3))
    ]
    return JobSheet(
        f"J-{number:05d}", slipped(chance.choice(WORKS)),
        opened_on=f"20{chance.randrange(18, 27)}-0{chance.randrange(1, 9)}-11",
        machine=maybe(f"{chance.choice(MACHINES)} {chance.randrange(1, 40)}"),
        engine=maybe(f"{chance.choice(ENGINES)}, {chance.randrange(1985, 2006)}"), outcome="worked",
        notes=maybe(" ".join(chance.sample(EXTRA, 4))),
        accessories=("alternator", "fan") if chance.random() < 0.5 else (),
        profile=maybe("PK"), ribs=chance.choice((6, 8, 10, None)),
        belt_length_mm=chance.choice((None, 1400.0, 1854.0, 2110.0)),
        parts=tuple(JobPart(f"{chance.randrange(90000):05d}") for _ in range(chance.randrange(1, 4))),
        troubles=tuple(troubles),
        measurements=(JobMeasurement("charging voltage at idle, loads on", "V", "13.2", "14.1"),),
    )  # fmt: skip


def fill(shelf: Path, count: int) -> list[JobSheet]:
    """Store the jobs as a load does."""
    chance = random.Random(5)
    jobs = [made_up(number, chance) for number in range(count)]
    with writing(shelf) as connection:
        report = Report("made up", "job", rows_read=count)
        store = JobStore(connection, ledger.open_load(connection, report, "0", "{}", None))
        for row, job in enumerate(jobs, 2):
            store.store(job, row, "[]")
        index.add(connection, "job", store.first_id)
    return jobs


def main() -> None:
    """Print medians and the ratio, all from this run, interleaved."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--jobs", type=int, default=10_000)
    count = parser.parse_args().jobs
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "shelf.db"
        jobs = fill(shelf, count)
        connection = open_to_read(shelf)
        chance = random.Random(7)
        plain, ours = [], []
        for job in chance.sample(jobs, 40):
            match = " OR ".join(f'"{word}"' for word in dict.fromkeys(words_of(job.words)))
            started = time.perf_counter()
            connection.execute(
                "SELECT job.id, job.title FROM job_fts JOIN job ON job.number = job_fts.rowid WHERE job_fts MATCH ? "
                "ORDER BY bm25(job_fts) LIMIT 10",
                (match,),
            ).fetchall()
            middle = time.perf_counter()
            # a sheet of the morning: the same job under no name, so that it finds itself first
            rows = ask_jobs(connection, JobQuestion(like=replace(job, id=None))).rows
            ended = time.perf_counter()
            assert rows[0].likeness > 95.0, (job, rows[0])
            plain.append(1000 * (middle - started))
            ours.append(1000 * (ended - middle))
        connection.close()
    ratio = statistics.median(ours) / statistics.median(plain)
    print(f"{count:,} jobs: one OR query {statistics.median(plain):.1f} ms, jobs --like {statistics.median(ours):.1f} ms "
          f"(slowest {max(ours):.1f}): {ratio:.1f}x, goal under 10x")  # fmt: skip


if __name__ == "__main__":
    main()
