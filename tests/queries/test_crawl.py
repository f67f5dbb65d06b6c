"""Every link of every page answers, nothing can be written, and the shelf's bytes are the same after it."""

from __future__ import annotations

import asyncio
import hashlib
import re
import shutil
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urljoin, urlsplit

import pytest

from queries.explorer.server import build_datasette

STARTS = [
    "/",
    "/find?q=belt",
    "/belts?length=73+1/8+in&ribs=8",
    "/jobs?text=belt",
    "/drives",
    "/lines",
    "/measure",
    "/closing",
]
MOST = 420
"""Pages asked at most; of the many alike (parts, jobs, rows of tables) only the first dozen of each kind is followed."""
ALIKE = 12


def digest(folder: Path) -> dict[str, str]:
    return {one.name: hashlib.sha256(one.read_bytes()).hexdigest() for one in folder.iterdir()}


def kind_of(path: str) -> str:
    return "/".join(urlsplit(path).path.split("/")[:3]) if path.startswith(("/shelf", "/parts")) else path.split("/")[1]


@pytest.fixture
def own_shelf(demo_shelf: Path, tmp_path: Path) -> Path:
    """A copy of the demo's shelf with nobody else at it."""
    import sqlite3

    copy = tmp_path / "crawl" / "shelf.db"
    copy.parent.mkdir()
    source, target = sqlite3.connect(demo_shelf), sqlite3.connect(copy)
    source.backup(target)
    source.close()
    target.close()
    return copy


def crawl(shelf: Path, share: bool) -> dict[str, int]:
    async def followed() -> dict[str, int]:
        datasette = build_datasette(shelf, share=share)
        await datasette.invoke_startup()
        seen: dict[str, int] = {}
        counts: dict[str, int] = {}
        waiting = list(STARTS)
        while waiting and len(seen) < MOST:
            path = waiting.pop(0)
            if path in seen:
                continue
            counts[kind_of(path)] = counts.get(kind_of(path), 0) + 1
            if counts[kind_of(path)] > ALIKE:
                continue
            answer: Any = await datasette.client.get(path, headers={"host": "localhost"}, follow_redirects=True)
            seen[path] = answer.status_code
            if "text/html" not in answer.headers.get("content-type", ""):
                continue
            for link in re.findall(r'(?:href|src|action)="([^"#]+)', answer.text):
                full = urlsplit(urljoin(f"http://localhost{path}", unescape(link)))
                if full.scheme == "http":
                    assert full.netloc == "localhost", (path, link)
                    waiting.append(full.path + (f"?{full.query}" if full.query else ""))
        return seen

    return asyncio.run(followed())


@pytest.mark.parametrize("share", [False, True])
def test_every_link_answers_and_the_shelf_stays_as_it_was(own_shelf, share) -> None:
    before = digest(own_shelf.parent)
    seen = crawl(own_shelf, share)
    assert len(seen) > 100
    assert {path: status for path, status in seen.items() if status >= 400} == {}
    assert any(path.startswith("/shelf/") for path in seen) is not share
    after = {name: text for name, text in digest(own_shelf.parent).items() if not name.endswith(("-shm", "-wal"))}
    assert after == {name: text for name, text in before.items() if not name.endswith(("-shm", "-wal"))}


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_no_other_method_is_answered(own_shelf, method) -> None:
    async def asked() -> list[int]:
        datasette = build_datasette(own_shelf)
        await datasette.invoke_startup()
        return [
            (await datasette.client.request(method, path, headers={"host": "localhost"})).status_code
            for path in (*STARTS, "/shelf/belt", "/shelf", "/-/settings", "/jobs/N-001")
        ]

    before = digest(own_shelf.parent)
    assert all(400 <= status < 500 for status in asyncio.run(asked()))
    assert digest(own_shelf.parent)[own_shelf.name] == before[own_shelf.name]


def test_a_copy_of_the_shelf_is_all_that_is_needed(own_shelf, tmp_path) -> None:
    elsewhere = tmp_path / "elsewhere.db"
    shutil.copy(own_shelf, elsewhere)
    assert crawl(elsewhere, True)["/"] == 200
