"""Errors as pages: a 4xx where the question was at fault, 503 where the shelf cannot be read just now."""

from __future__ import annotations

import sqlite3
import sys
from typing import Any

from datasette.utils.asgi import Response
from datasette.views.base import DatasetteError

from kb.errors import BayshelfError, ShelfError
from queries.explorer.guard import OUR_POLICY


class NoSuchPageError(Exception):
    """Nothing stands at an address; unlike Datasette's own, never redirected to another spelling of that address."""

    status = 404


async def answer_error(datasette: Any, request: Any, exception: BaseException) -> Response:
    """Return the page for an error; no stack and no path ever reaches it."""
    status, title, text = in_words(exception)
    if status == 503:
        print(f"explorer: {request.path}: {type(exception).__name__}: {exception}", file=sys.stderr)
    body = await datasette.render_template("shelf_error.html", {"title": title, "text": text}, request=request)
    return Response.html(body, status=status, headers={"content-security-policy": OUR_POLICY})


def in_words(exception: BaseException) -> tuple[int, str, str]:
    """Return the status, title and text for an error.

    >>> in_words(ValueError("x"))[0]
    503
    """
    status = getattr(exception, "status", None)
    if isinstance(exception, (ShelfError, FileNotFoundError)):
        return 503, "The shelf is away", "The shelf cannot be read just now. Try again in a moment."
    if isinstance(exception, BayshelfError):
        return 400, "Not understood", " ".join(filter(None, (exception.what, exception.do)))
    if status == 404:
        return 404, "No such page", "There is no page at that address."
    if isinstance(exception, DatasetteError) or (isinstance(status, int) and 400 <= status < 500):
        status = status if status and status < 500 else 400
        return status, "Not answered", "That question cannot be asked here."
    if isinstance(exception, sqlite3.OperationalError) and "no such column" in str(exception):
        return 400, "Not answered", "There is no such column."
    return 503, "Something went wrong", "This page could not be made. What happened is on the terminal of the server."
