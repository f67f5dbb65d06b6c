"""The pages of the drives: the list, and one drive with its picture, its belts and what-if."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote, urlencode

from datasette.utils.asgi import Response

from kb.errors import BayshelfError
from kb.measure import both_text, inches_text
from queries.answers import apart
from queries.explorer.errors import NoSuchPageError
from queries.explorer.forms import Ask, value_of
from queries.explorer.links import part_link
from queries.explorer.rendering import fields, names_in, render, texts_of

FORM = (
    Ask("belt", "A belt of", "length", "Effective length, as printed.", example="73 1/8 in"),
    Ask("pulley", "Or move the pulley", hint="Its name, as in the picture."),
    Ask("right", "To the right by", "length", "A minus sign moves it left.", example="1/4 in"),
    Ask("up", "Up by", "length", "A minus sign moves it down.", example="-1/4 in"),
)
LONGEST_MM = (100.0, 20_000.0)


def drive_link(name: str) -> str:
    """Return the address of a drive's page."""
    return f"/drives/{quote(name, safe='')}"


async def drives(request: Any, datasette: Any) -> Response:
    """The drives on the shelf."""
    from queries.drive_list import drives_listed

    found = await datasette.get_database("shelf").execute_fn(drives_listed)
    for one in found:
        one["link"] = drive_link(one["name"])
    return await render(datasette, request, "shelf_drives.html", {"title": "Drives", "page": "drives", "drives": found})


async def drive(request: Any, datasette: Any) -> Response:
    """One drive: the picture, the belts that fit, which pulley last, and what a belt or a move would do."""
    from queries.drive_list import ask_drive_page, drive_named

    (asked_name,) = names_in(request, 1)
    name = await datasette.get_database("shelf").execute_fn(lambda each: drive_named(each, asked_name))
    if name is None:
        raise NoSuchPageError("no such drive")
    texts = texts_of(request, FORM)
    values: dict[str, Any] = {
        "title": name, "page": "drives", "fields": fields(FORM, texts), "texts": texts, "here": drive_link(name), "error": ""
    }  # fmt: skip
    status, asked = 200, _asked(texts)
    if isinstance(asked, BayshelfError):
        values["error"], status, asked = " ".join(filter(None, (asked.what, asked.do))), 400, (None, None)
    belt, moved = asked
    try:
        found = await datasette.get_database("shelf").execute_fn(lambda each: ask_drive_page(each, name, belt, moved))
    except BayshelfError as error:
        values["error"], status = " ".join(filter(None, (error.what, error.do))), 400
        try:
            found = await datasette.get_database("shelf").execute_fn(lambda each: ask_drive_page(each, name))
        except BayshelfError:
            found = None
    values |= {"found": found, "moved": ""} if found is None else {**_shown(found), "moved": _moved_name(moved, status)}
    return await render(datasette, request, "shelf_drive.html", values, status)


def _moved_name(moved: Any, status: int) -> str:
    return str(moved[0]) if moved is not None and status == 200 else ""


def _asked(texts: dict[str, str]) -> Any:
    """Return the belt's length and the move asked about, or the error to show."""
    from kb.errors import AnswerError
    from kb.measure import LENGTH, read

    try:
        belt = None
        if texts["belt"].strip():
            belt = read(texts["belt"], LENGTH, low=LONGEST_MM[0], high=LONGEST_MM[1])
        pulley = value_of(FORM[1], texts["pulley"])
        right, up = (
            read(texts[name], LENGTH, low=-1000.0, high=1000.0) if texts[name].strip() else 0.0
            for name in ("right", "up")
        )
        if pulley is None and (right or up):
            raise AnswerError("which pulley is moved is not said.", do="Name it, as in the picture.")
    except BayshelfError as error:
        return error
    return belt, (None if pulley is None else (pulley, (right, up)))


def _shown(found: Any) -> dict[str, Any]:
    return {
        "found": found,
        "picture": found.picture,
        "belts": [_belt(row) for row in found.belts],
        "lasts": [one.as_json() for one in found.lasts],
        "moves": [_move(one, found.ways.asked.belt_length_mm) for one in found.ways.moves] if found.ways else [],
        "ways": found.ways,
        "jobs": [{**job, "link": f"/jobs/{quote(str(job['id']), safe='')}"} for job in found.jobs],
        "apart": apart,
    }


def _belt(row: Any) -> dict[str, str]:
    belt = row.belt
    return {
        "title": f"{belt.part_no} · {belt.supplier}",
        "link": part_link("belt", belt.supplier, belt.part_no),
        "length": both_text(belt.effective_length_mm),
        "chance": f"{100 * row.chance_it_fits:.0f} %",
        "why": row.why,
        "try": "?" + urlencode({"belt": f"{belt.effective_length_mm:g} mm"}),
    }


def _move(one: Any, belt_mm: float) -> dict[str, str]:
    move = one.move
    shift = {"right": f"{move.dx_mm:.2f} mm", "up": f"{move.dy_mm:.2f} mm"}
    return {
        "what": f"{move.pulley}{' (its pivot)' if one.on_arm else ''}{', in its slot' if move.in_slot else ''}",
        "by": f"{inches_text(abs(one.drawn_mm))} ({abs(move.move_mm):.1f} mm)",
        "along": one.direction,
        "slack": apart(one.slack_at_stop_mm),
        "try": "?" + urlencode({"belt": f"{belt_mm:g} mm", "pulley": move.pulley, **shift}),
    }


ROUTES = ((r"^/drives$", drives), (r"^/drives/.+$", drive))
