"""Answers as web pages: a Datasette plugin package, registered by ``serve`` in its own process only."""

from __future__ import annotations

from typing import Any

from datasette import hookimpl

from queries.explorer import drive_pages, job_pages, measure_pages, worked_pages
from queries.explorer.errors import answer_error
from queries.explorer.guard import guarded
from queries.explorer.line_pages import LINE_ROUTES
from queries.explorer.pages import ROUTES
from queries.explorer.server import rules_of


@hookimpl  # type: ignore[untyped-decorator] # Datasette publishes no types
def register_routes(datasette: Any) -> list[tuple[str, Any]]:
    """Add our pages; they are matched before Datasette's own."""
    return [*ROUTES, *drive_pages.ROUTES, *job_pages.ROUTES, *measure_pages.ROUTES, *LINE_ROUTES, *worked_pages.ROUTES]


@hookimpl  # type: ignore[untyped-decorator] # Datasette publishes no types
def asgi_wrapper(datasette: Any) -> Any:
    """Put the guard in front of every route."""
    return lambda app: guarded(app, lambda: rules_of(datasette))


@hookimpl  # type: ignore[untyped-decorator] # Datasette publishes no types
def handle_exception(datasette: Any, request: Any, exception: BaseException) -> Any:
    """Answer every error with a page in our own words."""
    return lambda: answer_error(datasette, request, exception)
