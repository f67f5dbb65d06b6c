"""Our pages: each reads its form, asks one query function, and shows the rows."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from functools import cache
from typing import Any
from urllib.parse import quote

from datasette.utils.asgi import Response

from kb.errors import BayshelfError
from kb.measure import both_text
from queries.explorer.errors import NoSuchPageError
from queries.explorer.exports import as_data, export_links
from queries.explorer.forms import FORMS, question_of, read_form
from queries.explorer.hose_page import view_hoses
from queries.explorer.links import part_link
from queries.explorer.rendering import LABELS, fields, names_in, render, texts_of
from queries.explorer.switches import other_meanings
from queries.explorer.thread_page import view_adapters, view_fittings

_OURS = re.compile(rf"/(?:|find|parts/.+|summary/.+|poster|units|(?:{'|'.join(LABELS)})(?:/.+)?)")
_TABLE = {
    "belts": "belt",
    "pulleys": "pulley",
    "hoses": "hose",
    "clamps": "clamp",
    "fittings": "fitting",
    "adapters": "fitting",
    "jobs": "job",
}
_LEFT_OUT = {
    "part_no", "supplier", "why", "equivalents", "stands_in", "description", "record", "because", "parts", "troubles",
    "id", "title", "source", "checked", "legs_mm", "jobs_after_change", "fit", "likeness", "difference_mm",
}  # fmt: skip


_VIEWS: dict[str, Callable[[Any], dict[str, Any]]] = {
    "fittings": view_fittings,
    "adapters": view_adapters,
    "hoses": view_hoses,
}
"""Pages with a template of their own, and what makes its values from an answer."""


def is_ours(path: str) -> bool:
    """Whether a path is one of our own pages."""
    return _OURS.fullmatch(path) is not None


async def first(request: Any, datasette: Any) -> Response:
    """The search box."""
    return await render(datasette, request, "shelf_first.html", {"title": "The shelf", "asked": ""})


async def find(request: Any, datasette: Any) -> Response:
    """Answers over every kind."""
    from queries.find import ask_find
    from queries.understanding import understand

    asked = (request.args.get("q") or "").strip()
    if not asked:
        return await first(request, datasette)
    answer = await datasette.get_database("shelf").execute_fn(lambda connection: ask_find(connection, asked, 20))
    if (exported := as_data(request, answer)) is not None:
        return exported
    values = {
        "switches": other_meanings(understand(asked)), "exports": export_links(request),
        "title": f"Found for {asked[:60]}", "asked": asked, "understood": answer.understood,
        "rows": [_found(row) for row in answer.rows], "misses": [_found(row) for row in answer.misses],
    }  # fmt: skip
    return await render(datasette, request, "shelf_find.html", values)


def _found(row: Any) -> dict[str, str]:
    kind, _, rest = row.id.partition(":")
    if kind == "job":
        link = f"/jobs/{quote(rest, safe='')}"
    elif kind == "thread":
        link = f"/fittings?text={quote(rest.split(':')[0])}"
    else:
        supplier, _, part_no = rest.partition(":")
        link = part_link(kind, supplier, part_no)
    return {"kind": row.kind, "title": row.title, "why": row.why, "link": link}


def _kind_page(page: str) -> Any:
    async def answer_page(request: Any, datasette: Any) -> Response:
        texts = texts_of(request, FORMS[page])
        values: dict[str, Any] = {
            "title": LABELS[page], "page": page, "fields": fields(FORMS[page], texts), "table": _TABLE[page],
            "rows": None, "misses": [], "asked": "",
        }  # fmt: skip
        asked = [
            text
            for ask in FORMS[page]
            # A choice alone asks nothing, since a form always sends one; one that is not offered is said to be wrong.
            if (text := texts[ask.name].strip()) and text not in ask.choices
        ]
        status = 200
        if asked or page == "jobs":
            try:
                ask, question = question_of(page, read_form(page, texts))
                answer = await datasette.get_database("shelf").execute_fn(lambda connection: ask(connection, question))
                if (exported := as_data(request, answer)) is not None:
                    return exported
                values["exports"] = export_links(request)
                values["understood"], values["notes"] = answer.understood, answer.notes
                values["strip"] = _strip(question, answer.rows) if page == "belts" else ""
                values |= _VIEWS[page](answer) if page in _VIEWS else _cards(page, answer)
            except BayshelfError as error:
                values["error"], status = " ".join(filter(None, (error.what, error.do))), 400
        template = f"shelf_{page}.html" if page in _VIEWS else "shelf_kind.html"
        return await render(datasette, request, template, values, status)

    return answer_page


def _strip(question: Any, rows: Any) -> str:
    """The belts found along a scale of length, where a length was asked for that can be compared."""
    from queries.drawings.belt_strip import belt_strip

    belts = [
        (f"{row.supplier} {row.part_no}", row.effective_length_mm)
        for row in rows
        if row.effective_length_mm is not None and row.difference_mm is not None
    ]
    if question.length_mm is None or not belts:
        return ""
    asked = belts[0][1] - next(row.difference_mm for row in rows if row.difference_mm is not None)
    return belt_strip(asked, question.window_mm, belts)


def _cards(page: str, answer: Any) -> dict[str, Any]:
    return {name: [_shown(page, row.as_json()) for row in getattr(answer, name)] for name in ("rows", "misses")}


def _shown(page: str, row: dict[str, Any]) -> dict[str, Any]:
    """A row as a card: a title with a link, labelled facts, and why."""
    if page == "jobs":
        return {
            "title": row["title"], "link": f"/jobs/{quote(row['id'], safe='')}", "why": "; ".join(row["because"]),
            "fit": row["id"] if row["because"] == ["the newest"] else f"{row['likeness']:.0f} alike",
            "facts": [("Job", row["id"]), ("Outcome", row["outcome"] or "not said"), ("Opened", row["opened_on"] or "")],
            "more": [_trouble(one) for one in row["troubles"]],
        }  # fmt: skip
    title = " · ".join(filter(None, (row["part_no"], row.get("description"), row["supplier"])))
    link = part_link(_TABLE[page], row["supplier"], row["part_no"]) if row["supplier"] else None
    more = [f"The same from {one}" for one in row.get("equivalents", [])]
    facts = [(_label(name), _fact(name, value)) for name, value in row.items() if name not in _LEFT_OUT and value]
    return {
        "title": title,
        "link": link,
        "why": row["why"],
        "fit": f"fit {row['fit']:.0f}",
        "facts": facts,
        "more": more,
    }


@cache
def _label(name: str) -> str:
    for unit in ("_mm", "_deg"):
        name = name.removesuffix(unit)
    return name.replace("_", " ").capitalize()


def _fact(name: str, value: Any) -> str:
    if name.endswith("_mm") and isinstance(value, (int, float)):
        return both_text(value)
    if isinstance(value, list):
        return ", ".join(f"{one:g}°" for one in value)
    if name.endswith("_deg"):
        return f"{value:g}°"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _trouble(one: dict[str, Any]) -> str:
    hours = f" ({one['hours_lost']:g} h lost)" if one["hours_lost"] else ""
    return " → ".join(filter(None, (one["trouble"], one["remedy"]))) + hours


async def part(request: Any, datasette: Any) -> Response:
    """One part with everything known of it."""
    from queries.parts import ask_part

    kind, supplier, part_no = names_in(request, 3)
    found = await datasette.get_database("shelf").execute_fn(lambda each: ask_part(each, kind, supplier, part_no))
    if found is None:
        raise NoSuchPageError("no such part")
    for job in found["history"]:
        job["link"] = f"/jobs/{quote(job['id'], safe='')}"
        job["told"] = [_trouble(one) for one in job["troubles"]]
    for same in found["equivalents"]:
        same["link"] = part_link(kind, same["supplier"], same["part_no"])
    return await render(datasette, request, "shelf_part.html", {**found, "part": found, "asked": ""})


async def job(request: Any, datasette: Any) -> Response:
    """One job with everything known of it but its private fields."""
    from kb.revisions import as_text, differences
    from queries.explorer.job_pages import job_values
    from queries.jobs import ask_job

    (job_id,) = names_in(request, 1)

    def ask(connection: sqlite3.Connection) -> tuple[dict[str, Any], dict[str, Any]]:
        known = ask_job(connection, job_id)
        if known is None:
            raise NoSuchPageError("no such job")
        return known, job_values(connection, job_id)

    found, measured = await datasette.get_database("shelf").execute_fn(ask)
    names = ("id", "opened_on", "closed_on", "bay", "machine", "engine", "work", "outcome", "profile", "ribs", "drive")
    facts = [(_label(name), found[name]) for name in names if found[name]]
    if found["belt_length_mm"]:
        facts.append(("Belt length", both_text(found["belt_length_mm"])))
    if measured["is_open"]:
        facts.append(("Still open", "yes"))
    apart = differences([one.content for one in found["versions"]])
    measured["apart"] = {_label(name): [as_text(one) for one in values] for name, values in apart.items()}
    values = {**found, **measured, "facts": facts, "told": [_trouble(one) for one in found["troubles"]], "asked": ""}
    return await render(datasette, request, "shelf_job.html", values)


ROUTES = (
    (r"^/$", first),
    (r"^/find$", find),
    *((rf"^/{page}$", _kind_page(page)) for page in FORMS),
    (r"^/parts/.+$", part),
    (r"^/jobs/.+$", job),
)
