"""How well `jobs --like` finds jobs of the same kind, beside plain rapidfuzz on the joined text: precision at 3, one run.

usage: PYTHONPATH=. python tests/bench/bench_similar.py [--set similar_jobs_fresh|similar_jobs|similar_jobs_hard] [--show]

The sets were written by people who did not know the weights: clusters of jobs in different people's words, with synonyms,
slips, abbreviations and missing fields, and jobs that belong to no cluster. ``similar_jobs_fresh`` was written last, and
measured when all else stood: nothing is tuned to it. On ``similar_jobs`` and on ``similar_jobs_hard``, which was made hard on
purpose (every machine stands in every cluster, unlike clusters share their words), weights and words were tried. Every
job of a cluster is asked about, itself left out; the three likest others count.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from rapidfuzz import fuzz

from importers import index, ledger
from importers.jobs import JobStore
from importers.report import Report
from kb.sheets.job_sheet import JobPart, JobSheet, JobTrouble
from kb.shelf import open_to_read, writing
from queries.jobs import JobQuestion, ask_jobs

SETS = ("similar_jobs_fresh", "similar_jobs", "similar_jobs_hard")
PLAIN = {
    "ratio": fuzz.ratio,
    "WRatio": fuzz.WRatio,
    "token_set_ratio": fuzz.token_set_ratio,
    "token_sort_ratio": fuzz.token_sort_ratio,
}
AT = 3


def read_set(name: str) -> list[tuple[str, JobSheet]]:
    """Return the labelled jobs: cluster, empty for none, and job."""
    return [
        (
            one["cluster"],
            JobSheet(
                one["id"], one["work"], machine=one["machine"], engine=one["engine"], notes=one["notes"],
                accessories=tuple(one["accessories"] or ()), profile=one["profile"], ribs=one["ribs"],
                belt_length_mm=one["belt_length_mm"], parts=tuple(JobPart(part) for part in one["parts"] or ()),
                troubles=tuple(
                    JobTrouble(each["trouble"], each["remedy"], each["hours_lost"], each["solved"])
                    for each in one["troubles"] or ()
                ),
            ),
        )
        for one in json.loads((Path(__file__).parent / f"{name}.json").read_text(encoding="utf-8"))
    ]  # fmt: skip


def joined(job: JobSheet) -> str:
    """Return everything a job says, as one text."""
    return job.words.casefold()


def precision(labelled: Sequence[tuple[str, JobSheet]], likest: Callable[[JobSheet], list[str]]) -> float:
    """Return the share of the first three answers that are of the asked job's cluster, over all jobs of clusters."""
    of = {job.id: cluster for cluster, job in labelled}
    asked = [job for cluster, job in labelled if cluster]
    right = sum(of[found] == of[job.id] for job in asked for found in likest(job)[:AT])
    return right / (AT * len(asked))


def main() -> None:
    """Print precision at 3 of ours and of each plain scorer."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--show", action="store_true", help="Print what each job found.")
    parser.add_argument("--set", choices=SETS, default=SETS[0])
    arguments = parser.parse_args()
    show, labelled = arguments.show, read_set(arguments.set)
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "shelf.db"
        with writing(shelf) as connection:
            report = Report("labelled", "job", rows_read=len(labelled))
            store = JobStore(connection, ledger.open_load(connection, report, "0", "{}", None))
            for row, (_, job) in enumerate(labelled, 2):
                store.store(job, row, "[]")
            index.add(connection, "job", store.first_id)
        connection = open_to_read(shelf)

        def ours(job: JobSheet) -> list[str]:
            rows = ask_jobs(connection, JobQuestion(like=job, limit=AT)).rows
            found = [row.id for row in rows]
            if show:
                print(f"{job.id}: {', '.join(map(str, found))}")
            return found

        print(
            f"{len(labelled)} jobs, {sum(bool(cluster) for cluster, _ in labelled)} of them in clusters; precision at {AT}"
        )
        print(f"jobs --like        {precision(labelled, ours):.3f}")
        connection.close()
    for name, scorer in PLAIN.items():

        def plain(job: JobSheet, scorer: Callable[..., float] = scorer) -> list[str]:
            text = joined(job)
            others = [(scorer(text, joined(other)), other.id) for _, other in labelled if other.id != job.id]
            return [str(found) for _, found in sorted(others, key=lambda pair: -pair[0])[:AT]]

        print(f"rapidfuzz {name:17}{precision(labelled, plain):.3f}")


if __name__ == "__main__":
    main()
