"""What every request passes and every answer carries: whose name it asked for, which method, which headers."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from html import escape
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

OUR_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""The content security policy of our own pages: nothing inline, nothing from elsewhere."""

TABLE_POLICY = (
    "default-src 'none'; style-src 'self' 'unsafe-inline'; script-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Datasette's own table pages need their inline scripts; nothing from elsewhere there either."""

HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)

LONGEST_ADDRESS = 6000
"""Bytes of path and question together; a form's longest question is a few hundred."""


@dataclass(frozen=True, slots=True)
class Rules:
    """What is let through: the names this server answers to, and whether Datasette's own pages are open."""

    host_names: frozenset[str]
    tables_open: bool
    own_paths: Callable[[str], bool]


def guarded(app: App, rules: Callable[[], Rules]) -> App:
    """Wrap an ASGI application: refuse foreign hosts, odd methods and closed pages, and add the headers to every answer."""

    async def wrapped(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": _with_headers(message.get("headers", []))}
            await send(message)

        refusal = _refusal(scope, rules())
        if refusal is not None:
            await _answer(send_with_headers, *refusal, scope.get("method") == "HEAD")
            return
        await app(_without_odd_cookies(scope), receive, send_with_headers)

    return wrapped


def _without_odd_cookies(scope: Scope) -> Scope:
    """Leave out cookies that are no text, which the engine cannot decode: ours only says which unit comes first."""
    headers = [(name, value) for name, value in scope["headers"] if name != b"cookie" or value.isascii()]
    return scope if len(headers) == len(scope["headers"]) else {**scope, "headers": headers}


def _with_headers(headers: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    names = {name.lower() for name, _ in headers}
    added = [(name, value) for name, value in HEADERS if name not in names]
    if b"content-security-policy" not in names:
        added.append((b"content-security-policy", TABLE_POLICY.encode()))
    return [*headers, *added]


def _refusal(scope: Scope, rules: Rules) -> tuple[int, str, str] | None:
    if scope["method"] not in ("GET", "HEAD"):
        return 405, "Only reading", "This shelf is read here, not written. Use the bayshelf command to add to it."
    host = _host(scope)
    if host not in rules.host_names:
        return 421, "Another name", "This server does not answer to that name. Use the address it printed at start."
    path = scope["path"]
    if len(path) + len(scope.get("query_string", b"")) > LONGEST_ADDRESS:
        return 414, "Too long", "That question is longer than this page can answer. Ask for less at once."
    if "\x00" in path:
        return 400, "Not an address", "That address holds a character that no page has."
    if rules.own_paths(path) or path.startswith(("/-/static/", "/-/static-plugins/queries.explorer/")):
        return None
    if path.startswith("/-/") or not rules.tables_open:
        return 404, "No such page", "There is no page at that address."
    return None


def _host(scope: Scope) -> str:
    for name, value in scope["headers"]:
        if name == b"host":
            text = value.decode("latin-1").lower()
            bare = text.rsplit(":", 1)[0] if not text.endswith("]") else text
            return str(bare)
    return ""


async def _answer(send: Send, status: int, title: str, text: str, head: bool) -> None:
    body = (
        "<!doctype html><html lang=en><meta charset=utf-8>"
        "<meta name=viewport content='width=device-width, initial-scale=1'>"
        f"<title>{escape(title)} · bayshelf</title>"
        "<link rel=stylesheet href=/-/static-plugins/queries.explorer/shelf.css>"
        f"<main><h1>{escape(title)}</h1><p>{escape(text)}</p><p><a href=/>To the search box</a></main></html>"
    ).encode()
    headers = [
        (b"content-type", b"text/html; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"content-security-policy", OUR_POLICY.encode()),
    ]
    if status == 405:
        headers.append((b"allow", b"GET, HEAD"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": b"" if head else body})
