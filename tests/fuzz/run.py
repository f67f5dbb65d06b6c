"""Fuzz the readers with atheris, coverage-guided: ``python tests/fuzz/run.py --seconds 360 [TARGET …]``.

Each target runs in a process of its own, from seeds taken from the demo's sheets; what was found stands in ``--keep``,
one file per finding, and is tried again with ``--again FILE TARGET``. Prints one table; exits 1 where there are findings.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]
SLOWEST_S = 10
MOST_MEMORY_MB = 1_024
MOST_FINDINGS = 5


@dataclass
class Result:
    """What came of one target."""

    target: str
    seconds: float = 0.0
    runs: int = 0
    edges: int = 0
    features: int = 0
    peak_mb: int = 0
    findings: list[str] = field(default_factory=list)


def child(name: str, arguments: list[str]) -> None:
    """Run libFuzzer on one target, in this process: it does not return."""
    import atheris

    atheris.enabled_hooks.add("str")
    with atheris.instrument_imports(include=["kb", "importers", "queries", "tomllib"]):
        from tests.fuzz.changes import changed_text
        from tests.fuzz.targets import TARGETS

        target = TARGETS[name]
        for seed in target.seeds():  # what a target imports when it first runs is instrumented as well
            target.run(seed)

    def mutated(data: bytes, longest: int, seed: int) -> bytes:
        chance = random.Random(seed)
        if chance.random() < 0.8:
            text = changed_text(data.decode("utf-8", "replace"), chance, chance.choice((1, 1, 2, 4)))
            if text is not None and len(text.encode()) <= longest:
                return text.encode()
        return bytes(atheris.Mutate(data, longest))

    more = {"custom_mutator": mutated} if target.is_toml else {}
    atheris.Setup([sys.argv[0], *arguments], target.run, **more)
    atheris.Fuzz()


def fuzz(name: str, seconds: int, keep: Path) -> Result:
    """Fuzz one target for some seconds; go on behind a finding, up to five of them."""
    sys.path.insert(0, str(ROOT))
    from tests.fuzz.targets import TARGETS

    result = Result(name)
    end = time.monotonic() + seconds
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory() as corpus, tempfile.TemporaryDirectory(dir=memory) as folder:
        for place, seed in enumerate(TARGETS[name].seeds()):
            Path(corpus, f"seed-{place}").write_bytes(seed)
        while (left := int(end - time.monotonic())) > 0 and len(result.findings) < MOST_FINDINGS:
            started = time.monotonic()
            options = [
                f"-max_total_time={left}", f"-timeout={SLOWEST_S}", f"-rss_limit_mb={MOST_MEMORY_MB}", "-print_final_stats=1",
                f"-max_len={TARGETS[name].longest}", f"-artifact_prefix={keep}/{name}-", corpus,
            ]  # fmt: skip
            command = [sys.executable, str(Path(__file__)), "--child", name, *options]
            env = {**os.environ, "BAYSHELF_FUZZ_FOLDER": folder}  # the child ends without tidying up
            done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, check=False)
            result.seconds += time.monotonic() - started
            said = done.stderr.decode("utf-8", "replace") + done.stdout.decode("utf-8", "replace")
            _count(result, said)
            if done.returncode:
                result.findings.append(_finding(said))
    return result


def _count(result: Result, said: str) -> None:
    lines = re.findall(r"^#(\d+)\s.*?cov: (\d+) ft: (\d+)", said, re.MULTILINE)
    units = re.findall(r"stat::number_of_executed_units:\s*(\d+)", said)
    result.runs += int(units[-1]) if units else int(lines[-1][0]) if lines else 0
    for _, edges, features in lines[-1:]:
        result.edges, result.features = max(result.edges, int(edges)), max(result.features, int(features))
    for peak in re.findall(r"stat::peak_rss_mb:\s*(\d+)", said):
        result.peak_mb = max(result.peak_mb, int(peak))


def _finding(said: str) -> str:
    """What a run ended with: the exception's last line, or what libFuzzer says, and the file that brings it back."""
    raised = re.findall(r"=== Uncaught Python exception: ===\n(.+(?:\n.+){0,2})", said)
    told = re.findall(r"ERROR: libFuzzer: (.+)|SUMMARY: libFuzzer: (.+)", said)
    file = re.findall(r"Test unit written to (\S+)", said)
    what = raised[-1].replace("\n", " ") if raised else next(filter(None, told[-1]), "") if told else said[-500:]
    return f"{what[:300]} [{file[-1] if file else 'no file'}]"


def table(results: list[Result]) -> str:
    """The results, one row each."""
    lines = [f"{'target':<10}{'seconds':>9}{'runs':>12}{'edges':>8}{'features':>10}{'peak MB':>9}{'findings':>10}"]
    for one in results:
        lines.append(
            f"{one.target:<10}{one.seconds:>9.0f}{one.runs:>12,}{one.edges:>8,}{one.features:>10,}{one.peak_mb:>9,}"
            f"{len(one.findings):>10}"
        )
        lines.extend(f"    {each}" for each in one.findings)
    return "\n".join(lines)


def main() -> int:
    """Read the options, run the targets one after another, print the table."""
    if sys.argv[1:2] == ["--child"]:
        sys.path.insert(0, str(ROOT))
        child(sys.argv[2], sys.argv[3:])
        return 0
    sys.path.insert(0, str(ROOT))
    from tests.fuzz.targets import TARGETS

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=int, default=60, help="per target")
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "bayshelf-findings")
    parser.add_argument("--again", type=Path, metavar="FILE", help="run one target once, on this file's bytes")
    parser.add_argument("targets", nargs="*", metavar="TARGET", help=f"of {', '.join(TARGETS)}; else all")
    asked = parser.parse_args()
    unknown = set(asked.targets) - set(TARGETS)
    if unknown:
        parser.error(f"no such target: {', '.join(sorted(unknown))}")
    if asked.again:
        for name in asked.targets:
            TARGETS[name].run(asked.again.read_bytes())
        return 0
    asked.keep.mkdir(parents=True, exist_ok=True)
    results = []
    for name in asked.targets or TARGETS:
        results.append(fuzz(name, asked.seconds, asked.keep))
        print(table(results[-1:]), flush=True)
    print("\n" + table(results))
    return 1 if any(one.findings for one in results) else 0


if __name__ == "__main__":
    sys.exit(main())
