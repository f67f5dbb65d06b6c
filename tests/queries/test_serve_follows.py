"""A running explorer shows what was published or merged within five seconds, without a restart: a real process is asked."""

from __future__ import annotations

import re
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
WITHIN_S = 5.0


def _command(*arguments: str) -> list[str]:
    return [sys.executable, "-u", "-c", "import sys; from kb.cli import main; main(sys.argv[1:])", *arguments]


def _do(*arguments: str) -> None:
    subprocess.run(_command(*arguments), cwd=ROOT, stdout=subprocess.DEVNULL, check=True)


@contextmanager
def _serving(shelf: Path) -> Iterator[str]:
    process = subprocess.Popen(
        _command("--shelf", str(shelf), "serve", "--port", "0"), cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        yield found[0].rstrip("/")
        assert process.poll() is None  # the same process answered throughout
    finally:
        process.terminate()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()


def _status(address: str) -> int:
    try:
        with urllib.request.urlopen(address, timeout=10) as response:
            return int(response.status)
    except urllib.error.HTTPError as error:
        with error:
            return error.code


def _shows_within(address: str, seconds: float) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if _status(address) == 200:
            return True
        time.sleep(0.1)
    return False


def _job(folder: Path, name: str) -> str:
    form = folder / f"{name}.toml"
    form.write_text(f'job = "{name}"\nwork = "ribbed belt in"\n', encoding="utf-8")
    return str(form)


def test_a_published_copy_is_followed(tmp_path: Path) -> None:
    shelf, folder = tmp_path / "shelf.db", tmp_path / "shared"
    folder.mkdir()
    _do("--shelf", str(shelf), "load", _job(tmp_path, "N-1"))
    _do("--shelf", str(shelf), "publish", str(folder))
    with _serving(folder / "shelf.db") as address:
        for number in range(2, 5):
            assert _shows_within(f"{address}/jobs/N-{number - 1}", WITHIN_S)
            _do("--shelf", str(shelf), "load", _job(tmp_path, f"N-{number}"))
            assert _status(f"{address}/jobs/N-{number}") == 404
            _do("--shelf", str(shelf), "publish", str(folder))
            assert _shows_within(f"{address}/jobs/N-{number}", WITHIN_S)
    assert sorted(each.name for each in folder.iterdir()) == ["shelf.db"]  # reading left nothing beside it


def test_a_merged_shelf_is_followed_and_its_conflict_shown(tmp_path: Path) -> None:
    north, wash = tmp_path / "north.db", tmp_path / "wash.db"
    _do("--shelf", str(north), "load", _job(tmp_path, "N-1"))
    _do("--shelf", str(wash), "merge", str(north))
    for shelf, ribs in ((north, 8), (wash, 6)):
        form = tmp_path / "N-1.toml"
        form.write_text(f'job = "N-1"\nwork = "ribbed belt in"\nribs = {ribs}\n', encoding="utf-8")
        _do("--shelf", str(shelf), "load", str(form))
    _do("--shelf", str(wash), "load", _job(tmp_path, "W-1"))
    with _serving(north) as address:
        assert _status(f"{address}/jobs/W-1") == 404
        _do("--shelf", str(north), "merge", str(wash))
        assert _shows_within(f"{address}/jobs/W-1", WITHIN_S)
        with urllib.request.urlopen(f"{address}/jobs/N-1", timeout=10) as response:
            page = response.read().decode()
    assert "Changed in two bays" in page
    assert "merged from wash.db" in page
    assert re.search(r"<th scope=\"row\">Ribs</th><td>[68]</td><td>[68]</td>", page)
