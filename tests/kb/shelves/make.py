"""Write the shelves of earlier schemas with the code that wrote them then: ``python tests/kb/shelves/make.py``.

Each is made by one commit's own ``bayshelf load`` and, where it had it, ``merge``, out of ``git archive``; the sheets
beside this file are of every kind that the schemas know. Only what no command of the time wrote is put in by SQL: a
limit that the shop set for itself. Run again only where a schema's fixture must change: dates and ids come out anew.
"""

from __future__ import annotations

import lzma
import os
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
COMMITS = {1: "8578f99", 2: "798b508", 3: "2ee581e", 4: "a826551"}
"""A commit of each schema; 2 and 4 could merge (their commands by way of the function: today's click refuses the command)."""

PARTS = ("belts", "vbelts", "pulleys", "tensioners", "hoses", "fittings", "clamps")
LIMIT = (
    "INSERT INTO reference_override (table_name, row_key, column_name, value, reason, made_at) VALUES "
    "('practice_limits', 'belt wrap: alternator pulley wrap, V-ribbed', 'value_low', '110', "
    "'our alternators are small', '2025-04-03T10:00:00Z')"
)


COMMAND = "import sys; from kb.cli import main; sys.exit(main())"
MERGE = (
    "import sys; from pathlib import Path; from importers.merge import merge_file; merge_file(*map(Path, sys.argv[1:]))"
)


def bayshelf(code: Path, shelf: Path, *arguments: str) -> None:
    """Run a commit's own command on a shelf, in the folder of sheets."""
    run_with(code, COMMAND, "--shelf", str(shelf), *arguments)


def run_with(code: Path, run: str, *arguments: str) -> None:
    """Run a line of Python with a commit's own code."""
    command = [sys.executable, "-c", run, *arguments]
    done = subprocess.run(
        command,
        cwd=HERE / "sheets",
        env={**os.environ, "PYTHONPATH": str(code)},
        capture_output=True,
        text=True,
        check=False,
    )
    print(done.stdout + done.stderr)
    assert done.returncode == 0, arguments


def make(schema: int, folder: Path) -> Path:
    """Write one schema's shelf, packed tightly."""
    code, shelf = folder / f"code_{schema}", folder / f"schema_{schema}.db"
    code.mkdir()
    archive = subprocess.run(["git", "archive", COMMITS[schema]], cwd=ROOT, capture_output=True, check=True)
    subprocess.run(["tar", "x", "-C", str(code)], input=archive.stdout, check=True)
    bayshelf(code, shelf, "load", "suppliers.csv")
    bayshelf(code, shelf, "load", "--supplier", "Dry Creek Parts", *(f"{one}.csv" for one in PARTS))
    bayshelf(code, shelf, "load", "--supplier", "Dry Creek Parts", "belts_again.csv")
    bayshelf(
        code,
        shelf,
        "load",
        "--supplier",
        "Mill Lane Supply",
        "--as",
        "belts",
        "--map",
        "Shelf place=section",
        "belts.csv",
    )
    bayshelf(code, shelf, "load", "jobs.csv", "W-009.toml", "drive.toml", *(["line.toml"] if schema >= 3 else []))
    if schema in (2, 4):
        other = folder / f"other_{schema}.db"
        with sqlite3.connect(shelf) as source, sqlite3.connect(other) as target:
            source.backup(target)
        source.close()
        target.close()
        bayshelf(code, other, "load", "W-009-wash.toml")
        bayshelf(code, shelf, "load", "W-009-north.toml")
        run_with(code, MERGE, str(shelf), str(other))
    else:
        bayshelf(code, shelf, "load", "W-009-north.toml")
    connection = sqlite3.connect(shelf, isolation_level=None)
    connection.execute(LIMIT)
    assert connection.execute("PRAGMA user_version").fetchone()[0] == schema
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("VACUUM")
    connection.close()
    return shelf


def main() -> None:
    """Write every schema's shelf beside this file, compressed."""
    with tempfile.TemporaryDirectory() as folder:
        for schema in COMMITS:
            shelf = make(schema, Path(folder))
            packed = HERE / f"schema_{schema}.db.xz"
            packed.write_bytes(lzma.compress(shelf.read_bytes(), preset=9))
            print(f"{packed.name}: {shelf.stat().st_size:,} bytes, {packed.stat().st_size:,} packed")


if __name__ == "__main__":
    main()
