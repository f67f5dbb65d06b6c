"""Making a page: the templates, what every page has, and the fields of its form."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from datasette.utils.asgi import Response
from jinja2 import Environment, FileSystemLoader
from markupsafe import Markup

from queries.explorer.errors import NoSuchPageError
from queries.explorer.forms import Ask
from queries.explorer.guard import OUR_POLICY

LABELS = {
    "belts": "Belts", "pulleys": "Pulleys", "hoses": "Hoses", "clamps": "Clamps", "fittings": "Threads and fittings",
    "adapters": "Adapters", "drives": "Drives", "lines": "Lines", "fluids": "Fluids", "holes": "Bolt circles",
    "fan": "Fan gap", "jobs": "Past jobs", "morning": "Morning list", "closing": "Open jobs",
    "measure": "How to measure",
}  # fmt: skip
LONGEST = 300
"""Characters of a field that are read."""

UNIT_COOKIE = "first-unit"
FIRST_UNITS = ("in", "mm")
_BOTH_UNITS = re.compile(r"(-?\d[\d⁄/.]*(?: \d+[⁄/]\d+)? in) \((-?[\d.]+ mm)\)")
"""What :func:`kb.measure.both_text` writes: inches, and millimetres in brackets."""


@cache
def templates() -> Environment:
    """Our templates, compiled once, without the waiting points that Datasette's own environment puts at every loop."""
    return Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"), autoescape=True, auto_reload=False
    )  # fmt: skip


async def render(datasette: Any, request: Any, template: str, values: dict[str, Any], status: int = 200) -> Response:
    """Answer with one of our pages, under our policy; lengths in the order of units that the reader chose."""
    first_unit = request.cookies.get(UNIT_COOKIE, "in")
    values = {
        "asked": "", "nav": _nav(values.get("page")), "tables_open": datasette.bayshelf_rules.tables_open,
        "first_unit": first_unit, "back": request.full_path, **values,
    }  # fmt: skip
    body = templates().get_template(template).render(values)
    if first_unit == "mm":
        body = _BOTH_UNITS.sub(r"\2 (\1)", body)
    return Response.html(body, status=status, headers={"content-security-policy": OUR_POLICY})


@cache
def _nav(page: str | None) -> Markup:
    """Return the list of pages, the one that is shown marked; there are a few of it, each made once."""
    return Markup(templates().get_template("shelf_nav.html").render(nav=LABELS, page=page))


def texts_of(request: Any, asks: Sequence[Ask]) -> dict[str, str]:
    """Return what was filled into a form's fields, each cut at :data:`LONGEST` characters."""
    given = request.args  # parsed anew each time it is named
    return {ask.name: (given.get(ask.name) or "")[:LONGEST] for ask in asks}


def fields(asks: Sequence[Ask], texts: Mapping[str, str], needed: Sequence[str] = ()) -> list[Markup]:
    """Return a form's fields with what was filled in."""
    return [_field(ask, texts[ask.name], ask.name in needed) for ask in asks]


@lru_cache(maxsize=4096)  # of a form most fields are empty, or hold what they held before
def _field(ask: Ask, value: str, required: bool) -> Markup:
    template = templates().get_template("shelf_field.html")
    return Markup(template.render(ask=ask, value=value, required=required, longest=LONGEST))


def names_in(request: Any, count: int) -> list[str]:
    """The last parts of the path, decoded once: a part number may hold a slash. Raises ``NoSuchPageError``."""
    from urllib.parse import unquote

    raw = request.scope.get("raw_path") or request.path.encode()
    parts = raw.split(b"?")[0].decode("ascii", "replace").split("/")
    if len(parts) != 2 + count:
        raise NoSuchPageError("no such page")
    return [unquote(text) for text in parts[2:]]
