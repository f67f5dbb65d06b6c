"""Publishing: what is private is not in the copy's bytes, a reader never sees half of one, and what is no copy stays."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from kb import publish as publishing
from kb.errors import ShelfError
from kb.publish import LEFT_EMPTY, PRIVATE, SEARCH, publish
from kb.shelf import check, open_to_read, open_to_write, published_at

ROOT = Path(__file__).parent.parent.parent
SECRETS = ("4711.08", "Quenella Withersby", "pays late", "1,999.95", "888.77")
"""A price, a customer, a private note, a price in a refused row, one behind a separator too many."""


@pytest.fixture
def shelf(tmp_path, run) -> Path:
    """A shelf with something private wherever a sheet can put it, some of it overwritten since."""
    path = tmp_path / "north.db"
    prices, more, job = tmp_path / "prices.csv", tmp_path / "more.csv", tmp_path / "job.toml"
    prices.write_text(
        'Part no,Ribs,Eff. length,Price,Their own note\nX1,8,1800,4711.08,seen\nX2,many,1800,"1,999.95",seen\n'
        "X3,8,1800,1,seen,888.77\n",
        encoding="utf-8",
    )
    run("load", str(prices), "--supplier", "Anyone", shelf=path)
    more.write_text("Part no,Ribs,Eff. length,Price\nX1,8,1801,12\n", encoding="utf-8")
    for outcome in ("", 'outcome = "worked"\n'):
        job.write_text(
            f'job = "N-1"\nwork = "belt in"\n{outcome}[private]\ncustomer = "Quenella Withersby"\nnote = "pays late"\n',
            encoding="utf-8",
        )
        run("load", str(job), shelf=path)
    held = _everything(path)
    assert all(secret.encode() in held for secret in SECRETS)
    run("load", str(more), "--supplier", "Anyone", shelf=path)
    return path


def _everything(path: Path) -> bytes:
    return b"".join(each.read_bytes() for each in path.parent.glob(f"{path.name}*"))


def test_nothing_private_is_in_its_bytes(shelf, tmp_path, run) -> None:
    folder = tmp_path / "shared"
    folder.mkdir()
    done = run("publish", str(folder), "--json", shelf=shelf)
    assert done.exit_code == 0, done.output
    report = json.loads(done.stdout)
    copy = folder / "north.db"
    held = copy.read_bytes()
    assert report["bytes"] == len(held)
    assert [secret for secret in SECRETS if secret.encode() in held] == []
    for encoding in ("utf-16-le", "utf-16-be"):
        assert [secret for secret in SECRETS if secret.encode(encoding) in held] == []
    assert b"private_" not in held
    assert (held[18], held[19]) == (1, 1)  # the file format's versions: 1 is a rollback journal, 2 is WAL (sqlite.org)
    assert sorted(each.name for each in folder.iterdir()) == ["north.db"]
    assert sorted(each.name for each in tmp_path.iterdir() if each.name.startswith(".")) == []
    connection = open_to_read(copy)
    assert published_at(connection) == report["published_at"]
    assert connection.execute("SELECT effective_length_mm FROM belt").fetchone()[0] == 1801
    connection.close()
    assert check(copy) == []


def test_a_copy_answers_as_its_shelf_does(demo_shelf, tmp_path, run) -> None:
    publish(demo_shelf, tmp_path, "copy.db")
    copy = tmp_path / "copy.db"
    for asked in (
        ("belts", "--length", "73 1/8 in", "--ribs", "8"), ("find", "8pk 1854"), ("find", "hosee"),
        ("hoses", "--inside", "38 mm"),
        ("jobs", "--like", "N-001"), ("fittings", "--outside", "22.1 mm"), ("clamps", "--around", "2 1/4 in"),
    ):  # fmt: skip
        assert run(*asked, "--json", shelf=copy).stdout == run(*asked, "--json", shelf=demo_shelf).stdout, asked


def test_every_table_is_in_it_or_left_out_for_a_reason(demo_shelf, tmp_path) -> None:
    publish(demo_shelf, tmp_path, "copy.db")
    shelf, copy = open_to_read(demo_shelf), open_to_read(tmp_path / "copy.db")

    def counts(connection: sqlite3.Connection) -> dict[str, int]:
        names = [
            row["name"]
            for row in connection.execute("PRAGMA table_list")
            if row["type"] == "table" and not row["name"].startswith(("sqlite_", "_sqlite_", *SEARCH))
        ]
        return {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in names}

    there, here = counts(shelf), counts(copy)
    shelf.close()
    copy.close()
    assert here.pop("publication") == 1
    private = {name for name in there if name.startswith(PRIVATE)}
    assert len(private) == 3
    assert here == {name: 0 if name in LEFT_EMPTY else count for name, count in there.items() if name not in private}


def test_a_copy_is_only_read(shelf, tmp_path, run) -> None:
    publish(shelf, tmp_path, "copy.db")
    copy = tmp_path / "copy.db"
    before = copy.read_bytes()
    refused = run("load", str(tmp_path / "more.csv"), "--supplier", "Anyone", shelf=copy)
    assert refused.exit_code == 1
    assert "published copy" in refused.stderr
    assert "published copy itself" in run("publish", str(tmp_path), shelf=copy).stderr
    assert "published" in run("check", shelf=copy).stdout
    assert copy.read_bytes() == before
    connection = sqlite3.connect(copy)
    connection.execute("PRAGMA user_version = 1")
    connection.close()
    with pytest.raises(ShelfError, match="older bayshelf published"):
        open_to_read(copy)


@pytest.mark.parametrize("ending", ["-wal", "-journal"])
def test_a_target_that_someone_writes_is_refused(shelf, tmp_path, run, ending) -> None:
    folder = tmp_path / "shared"
    folder.mkdir()
    publish(shelf, folder)
    before = (folder / "north.db").read_bytes()
    (folder / f"north.db{ending}").touch()
    refused = run("publish", str(folder), shelf=shelf)
    assert refused.exit_code == 1
    assert f"north.db{ending} stands beside it" in refused.stderr
    assert (folder / "north.db").read_bytes() == before


def test_what_is_no_copy_is_left_alone(shelf, tmp_path, run) -> None:
    other, letter = tmp_path / "other", tmp_path / "letter"
    other.mkdir()
    letter.mkdir()
    open_to_write(other / "north.db").close()
    (letter / "north.db").write_text("Dear all", encoding="utf-8")
    for folder in (other, letter):
        before = (folder / "north.db").read_bytes()
        assert "no published copy" in run("publish", str(folder), shelf=shelf).stderr
        assert (folder / "north.db").read_bytes() == before
    assert "the shelf itself" in run("publish", str(tmp_path), shelf=shelf).stderr
    assert "no such folder" in run("publish", str(tmp_path / "none"), shelf=shelf).stderr
    assert not (tmp_path / "none").exists()
    for name in ("../x.db", "..", "a/b.db"):
        assert "no name of a file" in run("publish", str(tmp_path), "--name", name, shelf=shelf).stderr


def test_a_damaged_shelf_is_not_published(demo_shelf, tmp_path) -> None:
    folder, shelf = tmp_path / "shared", tmp_path / "shelf.db"
    folder.mkdir()
    publish(demo_shelf, folder)
    before = (folder / "shelf.db").read_bytes()
    data = bytearray(demo_shelf.read_bytes())
    data[len(data) // 4 : len(data) // 2] = b"\xff" * (len(data) // 2 - len(data) // 4)
    shelf.write_bytes(data)
    with pytest.raises(ShelfError):
        publish(shelf, folder)
    assert (folder / "shelf.db").read_bytes() == before
    assert [each.name for each in folder.iterdir()] == ["shelf.db"]


def test_another_disk(shelf, tmp_path, monkeypatch) -> None:
    """Where the folder is on another disk, the copy is carried over first, then put in place."""
    disk = Path("/dev/shm")
    if not disk.is_dir() or os.stat(disk).st_dev == os.stat(tmp_path).st_dev:
        pytest.skip("there is no second disk here")
    folder = disk / f"bayshelf-test-{os.getpid()}"
    folder.mkdir()
    monkeypatch.setattr(publishing.os, "access", lambda *_: False)  # its parent cannot be written
    try:
        publish(shelf, folder)
        assert check(folder / "north.db") == []
        assert [each.name for each in folder.iterdir()] == ["north.db"]
    finally:
        for each in folder.iterdir():
            each.unlink()
        folder.rmdir()


def test_killed_while_publishing(shelf, tmp_path) -> None:
    """A reader finds the copy before or the new one, whenever the publisher is killed."""
    folder = tmp_path / "shared"
    folder.mkdir()
    publish(shelf, folder)
    copy = folder / "north.db"
    command = [
        sys.executable,
        "-c",
        f"from kb.cli import main; main(['--shelf', {str(shelf)!r}, 'publish', {str(folder)!r}])",
    ]
    began = time.perf_counter()
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    whole_s = time.perf_counter() - began
    for attempt in range(12):
        process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
        time.sleep(whole_s * (0.3 + 0.07 * attempt))
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert [each.name for each in folder.iterdir()] == ["north.db"]
        assert check(copy) == []
        assert all(secret.encode() not in copy.read_bytes() for secret in SECRETS)
