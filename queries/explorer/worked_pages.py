"""The pages of the sums that need no shelf: fluids, bolt circles, the fan's gap."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from datasette.utils.asgi import Response
from markupsafe import Markup

from kb.errors import BayshelfError
from queries.explorer.rendering import fields, render, texts_of
from queries.explorer.worked_forms import TOPICS, Topic, values_of


async def fluids(request: Any, datasette: Any) -> Response:
    """What can be worked out about fluids."""
    topics = [
        {"link": f"/{path}", "title": topic.title, "lead": topic.lead}
        for path, topic in TOPICS.items()
        if path.startswith("fluids/")
    ]
    return await render(
        datasette, request, "shelf_fluids.html", {"title": "Fluids", "page": "fluids", "topics": topics}
    )


def _topic_page(path: str, topic: Topic) -> Any:
    room = path.partition("/")[0]

    async def worked_page(request: Any, datasette: Any) -> Response:
        texts = texts_of(request, topic.form)
        values: dict[str, Any] = {
            "title": topic.title, "page": room, "here": f"/{path}", "topic": topic, "found": None,
            "fields": fields(topic.form, texts, topic.needed),
            "error": "", "try": f"/{path}?{urlencode(topic.example)}", "beside": _beside(path),
        }  # fmt: skip
        status = 200
        if any(texts[one.name].strip() and not (one.choices and texts[one.name] in one.choices) for one in topic.form):
            try:
                asked = values_of(topic, texts)
                found = await datasette.get_database("shelf").execute_fn(lambda each: topic.ask(asked, each))
                values |= {"found": found, "drawing": Markup(found.drawing)}
            except BayshelfError as error:
                values["error"], status = " ".join(filter(None, (error.what, error.do))), 400
        return await render(datasette, request, "shelf_worked.html", values, status)

    return worked_page


def _beside(path: str) -> list[dict[str, str]]:
    """The other pages of the same room."""
    room = path.partition("/")[0]
    return [
        {"link": f"/{other}", "title": topic.title}
        for other, topic in TOPICS.items()
        if other.partition("/")[0] == room and other != path
    ]


ROUTES = (
    (r"^/fluids$", fluids),
    *((rf"^/{path}$", _topic_page(path, topic)) for path, topic in TOPICS.items()),
)
