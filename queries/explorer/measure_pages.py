"""How to measure each thing, the poster for the wall, and which unit people want to see first."""

from __future__ import annotations

from io import BytesIO
from typing import Any
from urllib.parse import urlsplit

from datasette.utils.asgi import Response

from queries.drawings.measuring import measuring_svg
from queries.explorer.errors import NoSuchPageError
from queries.explorer.guard import OUR_POLICY
from queries.explorer.rendering import FIRST_UNITS, UNIT_COOKIE, names_in, render
from queries.measuring import BY_NAME, GUIDES

A_YEAR_S = 365 * 24 * 3600


async def measure(request: Any, datasette: Any) -> Response:
    """All that can be measured, each with its page."""
    return await render(datasette, request, "shelf_measure.html", {"title": "How to measure", "guides": GUIDES})


async def guide(request: Any, datasette: Any) -> Response:
    """One thing to measure, drawn."""
    (name,) = names_in(request, 1)
    found = BY_NAME.get(name)
    if found is None:
        raise NoSuchPageError("no such guide")
    values = {"title": found.title, "guide": found, "picture": measuring_svg(found.name, found.title)}
    return await render(datasette, request, "shelf_guide.html", values)


def qr_svg(address: str) -> str:
    """Return an address as a QR code (ISO/IEC 18004), drawn in black on white with the margin that scanners need."""
    import segno

    out = BytesIO()
    segno.make(address, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, border=4, scale=8, dark="#000", light="#fff", title=address, omitsize=True
    )
    return out.getvalue().decode("utf-8")


async def poster(request: Any, datasette: Any) -> Response:
    """A page to print and hang up: the address this page was asked at, as text and as a QR code."""
    address = f"http://{request.headers['host']}/"
    values = {
        "title": "The shelf on your phone", "address": address, "picture": qr_svg(address),
        "here_only": request.headers["host"].rpartition(":")[0] in ("localhost", "127.0.0.1", "[::1]"),
    }  # fmt: skip
    return await render(datasette, request, "shelf_poster.html", values)


async def units(request: Any, datasette: Any) -> Response:
    """Remember which unit comes first, and go back to the page that asked."""
    wanted = request.args.get("first") or ""
    if wanted not in FIRST_UNITS:
        return Response.text("Say first=in or first=mm.", status=400, headers={"content-security-policy": OUR_POLICY})
    try:
        back = urlsplit(request.args.get("back") or "/")
    except ValueError:  # such as a bracket that is never closed
        back = urlsplit("/")
    # Only a path of ours: an address elsewhere would make this page a way out of the shop's network.
    own = back.path.startswith("/") and not back.path.startswith("//") and "\\" not in back.path
    place = (back.path if own else "/") + (f"?{back.query}" if own and back.query else "")
    response = Response.redirect(place if place.isascii() and place.isprintable() else "/", status=303)
    response.set_cookie(UNIT_COOKIE, wanted, max_age=A_YEAR_S, httponly=True, samesite="lax")
    return response


ROUTES = (
    (r"^/measure$", measure),
    (r"^/measure/.+$", guide),
    (r"^/poster$", poster),
    (r"^/units$", units),
)
