"""The answer on a page as JSON or CSV, for people who script: the same forms as the commands' ``--json`` and ``--csv``."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlencode

from datasette.utils.asgi import Response

from queries.explorer.guard import OUR_POLICY

FORMS = (("json", "JSON"), ("csv", "CSV"))


def as_data(request: Any, answer: Any) -> Response | None:
    """Return the answer's rows where ``as=json`` or ``as=csv`` was asked for; ``None`` where a page was."""
    wanted = request.args.get("as") if b"as=" in request.scope["query_string"] else None
    rows = [row.as_json() for row in answer.rows] if wanted in ("json", "csv") else []
    headers = {"content-security-policy": OUR_POLICY}
    if wanted == "json":
        text = json.dumps(rows, ensure_ascii=False, indent=2)
        return Response(text, headers=headers, content_type="application/json; charset=utf-8")
    if wanted == "csv":
        from kb.console import csv_of

        return Response(csv_of(rows), headers=headers, content_type="text/csv; charset=utf-8")
    return None


def export_links(request: Any) -> list[dict[str, str]]:
    """Return the links to this page's answer in each form."""
    given = request.args  # parsed anew each time it is named
    asked = [(name, given[name]) for name in given if name != "as"]
    return [{"label": label, "link": f"{request.path}?{urlencode([*asked, ('as', form)])}"} for form, label in FORMS]
