"""Whatever is typed into an address is answered: a page or a refusal in words, never a traceback, a path, or markup.

Every route with every field it reads, the others filled in as their own examples say, is asked with values made to
trouble whoever reads them. A seeded dozen per field is tried in each run; ``BAYSHELF_EVERY_VALUE=1`` tries them all.
"""

from __future__ import annotations

import asyncio
import os
import random
import shutil
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote, quote_from_bytes

import pytest

from queries.explorer import drive_pages, job_pages, register_routes
from queries.explorer.forms import FORMS
from queries.explorer.server import build_datasette
from queries.explorer.worked_forms import TOPICS

SLOWEST_S = 5.0
"""Of processor time; the slowest of our own pages takes a third of a second."""

DRIVE = "/drives/" + quote("Water tender 4, fan plane", safe="")
FIELDS: dict[str, Mapping[str, str]] = {
    "/": {"q": "belt"},
    "/find": {"q": "8 rib 73 1/8 in", "as": "json"},
    **{f"/{page}": {**{ask.name: ask.example for ask in asks}, "as": "csv"} for page, asks in FORMS.items()},
    "/morning": {ask.name: ask.example for ask in job_pages.MORNING},
    DRIVE: {**{ask.name: ask.example for ask in drive_pages.FORM}, "pulley": "fan"},
    **{
        f"/{path}": {
            **{ask.name: "" for ask in topic.form},
            **{name: str(value) for name, value in topic.example.items()},
        }
        for path, topic in TOPICS.items()
    },
    "/units": {"first": "mm", "back": "/belts?ribs=8"},
}
PATHS = ("/parts/", "/parts/belt/", "/parts/belt/a/", "/jobs/", "/drives/", "/lines/", "/lines/a/", "/closing/", "/summary/",
         "/measure/", "/", "/fluids/", "/holes/", "/-/", "/shelf/", "/shelf/belt/")  # fmt: skip
NO_FIELDS = ("/drives", "/closing", "/measure", "/poster", "/lines", "/fluids")

MARK = "<script>x7</script>"
VALUES: tuple[bytes, ...] = (
    b"", b" ", b"\0", b"8\0", b"\r\nSet-Cookie: a=b", b"\xff", b"\xc3\x28", b"\xed\xa0\x80", b"\xed\xbf\xbf8 in",
    b"\xfe\xff\x00\x38",
    "8".encode("utf-16"), "1½ in".encode("cp1252"), "۸".encode(), "８".encode(), "\u202e8 in".encode(),
    "\ufeff8".encode(),
    "é".encode() * 150, "e\u0301".encode() * 100, "🛠".encode() * 50, b"x" * 250, b"9" * 250, b"x" * 5_000,
    b"1/" * 100, b"((" * 100,
    b"' OR 1=1 --", b'"; DROP TABLE belt; --', b"belt:*", b'"', b"NEAR(a b)", b"*", b"%", b"a AND", b"rowid:1",
    b"{a b}:c",
    MARK.encode(),
    b'"><img src=x onerror=x7>', b"{{ 7*7 }}", b"{% raw %}", b"${7*7}", b"../../etc/passwd", b"/etc/passwd",
    b"file:///etc/passwd", b"http://[", b"//elsewhere/", b"\\\\elsewhere", b"javascript:x7",
    b"nan", b"inf", b"-inf", b"-1", b"-1 in", b"0", b"-0", b"0.0000000001 mm", b"1e308", b"1e-308", b"1E5 mm",
    b"1e309", b"9e99 in",
    b"0x10", b"1_000", b"99999999999999 mm", b"99999999999999999999", b"100000 mm", b"20000 mm", b"40", b"180",
    b"359.999", b"1/0",
    b"0/5 in", b"1 1/1024 in", b"1,2,3,4", b",", b";", b"1;2;3", b"4 in, 7 in, 4 in, 7 in, 4 in, 7 in, 4 in, 7 in",
    b"90," * 80, b"0,0", b"-5,-5 in", b"true", b"null", b"[]", b"json", b"csv", b"xml", b"None", b"crank",
    b"tensioner",
)  # fmt: skip


def encoded(fields: Mapping[str, str | bytes]) -> str:
    """A question, each value percent-encoded byte by byte: httpx would refuse what is no text."""
    return "&".join(
        f"{quote(name)}={quote_from_bytes(value if isinstance(value, bytes) else value.encode())}"
        for name, value in fields.items()
    )


def some(values: tuple[bytes, ...], seed: str, count: int) -> list[bytes]:
    if os.environ.get("BAYSHELF_EVERY_VALUE"):
        return list(values)
    return random.Random(seed).sample(values, min(count, len(values)))


class Asker:
    """Asks an explorer over the demo's shelf, and holds what must be true of every answer."""

    def __init__(self, shelf: Path, share: bool = False) -> None:
        self.shelf = shelf
        self.datasette: Any = build_datasette(shelf, share=share)
        self.app: Any = None

    async def ask(self, path: str, query: bytes | str = b"", headers: tuple[tuple[bytes, bytes], ...] = ()) -> int:
        """Ask as a server hands a request on, byte for byte; return the status."""
        if self.app is None:
            await self.datasette.invoke_startup()
            self.app = self.datasette.app()
        from urllib.parse import unquote

        asked = query.encode() if isinstance(query, str) else query
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
            "path": unquote(path), "raw_path": path.encode("latin-1"), "query_string": asked, "root_path": "",
            "headers": [*([] if b"host" in dict(headers) else [(b"host", b"localhost")]), *headers],
            "client": ("127.0.0.1", 1), "server": ("localhost", 80),
        }  # fmt: skip
        sent: list[dict[str, Any]] = []

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: dict[str, Any]) -> None:
            sent.append(message)

        started = time.process_time()
        await self.app(scope, receive, send)
        took = time.process_time() - started
        where = f"{path}?{asked.decode('latin-1')}"[:400]
        assert took < SLOWEST_S, f"{took:.1f} s: {where}"
        return self._held(sent, where)

    def _held(self, sent: list[dict[str, Any]], where: str) -> int:
        status = int(sent[0]["status"])
        body = b"".join(message.get("body", b"") for message in sent[1:]).decode()
        headers = {name.lower(): value for name, value in sent[0]["headers"]}
        assert status < 500, f"{status}: {where}"
        assert b"content-security-policy" in headers, where
        assert not [value for value in headers.values() if b"\n" in value or b"\r" in value], where
        assert not headers.get(b"location", b"/").startswith((b"//", b"http")), where
        assert b"a" not in headers.get(b"set-cookie", b"")[:1], where
        for told in (
            "Traceback",
            'File "',
            "site-packages",
            str(self.shelf),
            str(self.shelf.parent),
            "sqlite3.",
            "kb.errors",
        ):
            assert told not in body, f"{told}: {where}"
        if headers.get(b"content-type", b"").startswith(b"text/html"):
            assert MARK not in body, where
            assert "<img src=x" not in body, where
        return status


@pytest.fixture
def asker(demo_shelf: Path, tmp_path: Path) -> Asker:
    own = tmp_path / "own" / "shelf.db"
    own.parent.mkdir()
    shutil.copy(demo_shelf, own)
    return Asker(own)


def test_every_route_is_tried() -> None:
    import re

    tried = [*FIELDS, *NO_FIELDS, *(f"{path}x" for path in PATHS), "/lines/a/order"]
    for pattern, _ in register_routes(datasette=None):
        assert any(re.search(pattern, path) for path in tried), pattern


@pytest.mark.parametrize("route", FIELDS)
def test_every_field_with_hostile_values(asker: Asker, route: str) -> None:
    async def asked() -> list[int]:
        own = FIELDS[route]
        statuses = [await asker.ask(route, encoded(own))]
        for name in own:
            for value in some(VALUES, f"{route} {name}", 12):
                statuses.append(await asker.ask(route, encoded({**own, name: value})))
                statuses.append(await asker.ask(route, encoded({name: value})))
        return statuses

    assert set(asyncio.run(asked())) <= {200, 303, 400, 404, 414}


@pytest.mark.parametrize("route", FIELDS)
def test_many_fields_at_once(asker: Asker, route: str) -> None:
    async def asked() -> None:
        chance = random.Random(route)
        for _ in range(200 if os.environ.get("BAYSHELF_EVERY_VALUE") else 15):
            fields = {
                name: chance.choice(VALUES) if chance.random() < 0.5 else text for name, text in FIELDS[route].items()
            }
            await asker.ask(route, encoded(fields))

    asyncio.run(asked())


@pytest.mark.parametrize("route", FIELDS)
def test_questions_that_are_no_form(asker: Asker, route: str) -> None:
    async def asked() -> None:
        name = next(iter(FIELDS[route]))
        for query in (
            f"{name}=8&{name}=9&{name}=nan", f"{name}[]=8", f"{name}", "=", "&&&", ";", "%", "%zz=%zz", f"{name}=%",
            f"{name}=%u0038", "a=" * 1_000, "&" * 5_000, f"{name}=" + "%41" * 1_900, "x" * 7_000, f"_facet=a&{name}=8",
            "_sort=x&_next=%00", "sql=select+1",
        ):  # fmt: skip
            await asker.ask(route, query)
        for raw in (
            b"\xff",
            name.encode() + b"=\xff\xfe",
            name.encode() + b"=\x00",
            "ü=½".encode(),
            b"%ff=%fe",
            b"\r\n",
        ):
            await asker.ask(route, raw)

    asyncio.run(asked())


@pytest.mark.parametrize("path", PATHS)
def test_hostile_addresses(asker: Asker, path: str) -> None:
    async def asked() -> None:
        for value in some(VALUES, path, 40):
            await asker.ask(path + quote_from_bytes(value, safe=""))
            await asker.ask(path + quote_from_bytes(value, safe="") + "/order")
            await asker.ask(path + quote_from_bytes(value), b"as=json")

    asyncio.run(asked())


def test_hostile_headers(asker: Asker) -> None:
    async def asked() -> None:
        for value in (b"", b"\xff", b"first-unit=", b"first-unit=<script>x7</script>", b"first-unit=mm; first-unit=in",
                      b";" * 3_000, b"=", b"a" * 5_000, b"first-unit=\xff", b'first-unit="\\'):  # fmt: skip
            for header in (
                b"cookie",
                b"accept",
                b"accept-language",
                b"referer",
                b"x-forwarded-host",
                b"authorization",
                b"range",
            ):
                await asker.ask("/belts", b"ribs=8&length=1857", ((header, value),))
        for host in (b"", b"\xff", b":", b"[", b"localhost:" + b"9" * 500, b"localhost\0", b"evil", b"LOCALHOST:8001"):
            status = await asker.ask("/poster", b"", ((b"host", host),))
            assert status in (200, 421)

    asyncio.run(asked())


def test_pages_of_the_shared_explorer(demo_shelf: Path) -> None:
    async def asked() -> None:
        shared = Asker(demo_shelf, share=True)
        for route, own in FIELDS.items():
            for value in some(VALUES, f"shared {route}", 3):
                await shared.ask(route, encoded(dict.fromkeys(own, value)))

    asyncio.run(asked())


def test_what_was_found_stays_mended(asker: Asker) -> None:
    async def asked() -> list[int]:
        return [
            await asker.ask("/units", "first=mm&back=http://["),
            await asker.ask("/hoses", "legs=0.0000000001+mm"),
            await asker.ask("/belts", "ribs=8", ((b"cookie", b"first-unit=\xff"),)),
        ]

    assert asyncio.run(asked()) == [303, 200, 200]
