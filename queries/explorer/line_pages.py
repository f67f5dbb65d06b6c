"""The pages of lines: all of them, one with its drawings, and its order sheet with nothing else on the paper."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from datasette.utils.asgi import Response
from markupsafe import Markup

from kb.errors import LineError
from kb.measure import both_text
from queries.drawings.line import clock_face, end_drawing, end_words, route_views
from queries.explorer.errors import NoSuchPageError
from queries.explorer.rendering import names_in, render
from queries.lines import LineAnswer
from queries.order_html import order_body
from queries.order_sheet import BEND_HEADINGS, BEND_TITLE, CLEAR_HEADINGS, CLEAR_TITLE, clock_text, lengths, order_sheet
from queries.stored_lines import StoredLine, ask_lines, ask_stored_line

MOULDED_SERVICES = ("coolant", "heater", "charge air")
"""Services whose hoses are also sold moulded to shape."""


async def lines(request: Any, datasette: Any) -> Response:
    """Every line on the shelf."""
    found = await datasette.get_database("shelf").execute_fn(ask_lines)
    rows = [_listed(one) for one in found]
    return await render(
        datasette, request, "shelf_lines.html", {"title": "Lines", "page": "lines", "rows": rows, "asked": ""}
    )


def _listed(one: StoredLine) -> dict[str, Any]:
    said = one.error
    if one.answer is not None:
        order = one.answer.order_length_mm
        said = "no order length: see its bends" if order is None else f"order length {both_text(order)}"
        if one.answer.clock_deg is not None:
            said += f", clock angle {one.answer.clock_deg:.0f}°"
    about = " · ".join(filter(None, (one.machine, one.service)))
    return {"name": one.name, "about": about, "said": said, "link": f"/lines/{quote(one.name, safe='')}"}


async def line(request: Any, datasette: Any) -> Response:
    """One line: drawings, lengths, bends, what it passes, cautions."""
    found = await _found(datasette, names_in(request, 1)[0])
    values: dict[str, Any] = {"title": found.name, "page": "lines", "asked": "", "line": found}
    if found.answer is not None:
        values |= _shown(found.answer)
    return await render(datasette, request, "shelf_line.html", values)


async def order(request: Any, datasette: Any) -> Response:
    """The order sheet of one line."""
    name, last = names_in(request, 2)
    if last != "order":
        raise NoSuchPageError("no such page")
    found = await _found(datasette, name)
    link = f"/lines/{quote(found.name, safe='')}"
    try:
        if found.answer is None:
            raise LineError(found.error or "It cannot be read.")
        values = {"title": f"Order: {found.name}", "sheet": Markup(order_body(found.answer)), "back": link}
    except LineError as error:
        told = {"title": "Not to be ordered yet", "text": " ".join(filter(None, (error.what, error.do)))}
        return await render(datasette, request, "shelf_error.html", told, 409)
    return await render(datasette, request, "shelf_order.html", values)


async def _found(datasette: Any, name: str) -> StoredLine:
    found = await datasette.get_database("shelf").execute_fn(lambda connection: ask_stored_line(connection, name))
    if not isinstance(found, StoredLine):
        raise NoSuchPageError("no such line")
    return found


def _shown(answer: LineAnswer) -> dict[str, Any]:
    """What a line's page shows; the drawings escape every text of the sheet's themselves."""
    face, clock = clock_face(answer), clock_text(answer)
    ends = answer.sheet.ends
    drawn = [(Markup(end_drawing(end, key)), end_words(end)) for key, end in zip("AB", ends, strict=True)]
    if face is not None:
        drawn.insert(1, (Markup(face), "Clock angle of the elbows"))
    values: dict[str, Any] = {
        "facts": [*lengths(answer), *([("Clock angle", clock)] if clock else []), ("Points", answer.sheet.order_said)],
        "views": [(title, Markup(svg)) for title, svg in route_views(answer)],
        "drawn": drawn,
        "cautions": answer.cautions,
        "moulded": _moulded(answer),
        "order": None,
    }
    try:
        sheet = order_sheet(answer)
        values |= {
            "order": f"/lines/{quote(answer.sheet.name, safe='')}/order",
            "tables": [
                (BEND_TITLE, BEND_HEADINGS, sheet.bends),
                (CLEAR_TITLE, CLEAR_HEADINGS, sheet.clearances),
            ],
        }
    except LineError as error:
        values["error"] = str(error.what)
    return values


def _moulded(answer: LineAnswer) -> str | None:
    """The question for moulded hoses of this shape, where there are any for its service."""
    sheet, bends = answer.sheet, answer.route.bends
    if sheet.service not in MOULDED_SERVICES or not bends or not sheet.hose_inside_mm:
        return None
    angles = ", ".join(f"{row['angle_deg']:.0f}" for row in answer.bend_rows())
    legs = ", ".join(f"{leg.length_mm:.0f} mm" for leg in answer.route.legs)
    asked = {"inside": f"{sheet.hose_inside_mm:.1f} mm", "bends": angles, "legs": legs}
    return "/hoses?" + "&".join(f"{name}={quote(text)}" for name, text in asked.items())


LINE_ROUTES = (
    (r"^/lines$", lines),
    (r"^/lines/[^/]+$", line),
    (r"^/lines/.+$", order),
)
