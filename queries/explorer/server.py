"""Building the explorer: one Datasette, one shelf, our pages in front."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from queries.explorer.guard import Rules

PRIVATE_TABLES = ("private_price", "private_job", "private_refused_row")


def rules_of(datasette: Any) -> Rules:
    """Return the rules that this server was started with."""
    rules = datasette.bayshelf_rules
    assert isinstance(rules, Rules)
    return rules


def build_datasette(
    shelf: Path, *, host_names: tuple[str, ...] = (), share: bool = False, allow_sql: bool = False
) -> Any:
    """Return a Datasette over the shelf, with our pages, read-only; nothing else in this process is changed by it.

    ``host_names`` are answered beside localhost; with any, and under ``share``, others read too: Datasette's own
    pages are closed.
    """
    from datasette.app import Datasette
    from datasette.plugins import pm

    import queries.explorer
    from queries.explorer.database import ShelfDatabase
    from queries.explorer.pages import is_ours

    closed = share or bool(host_names)
    if not pm.has_plugin("explorer"):
        pm.register(queries.explorer, name="explorer")
        built_in = pm.get_plugin("datasette.handle_exception")
        if built_in is not None:
            pm.unregister(built_in)  # it runs beside ours and prints tracebacks
    datasette = Datasette(
        [],
        metadata={
            "title": "bayshelf",
            "databases": {"shelf": {"tables": {name: {"allow": False, "hidden": True} for name in PRIVATE_TABLES}}},
        },
        settings={
            "default_allow_sql": allow_sql and not closed,
            "allow_download": False,
            "allow_csv_stream": False,
            "suggest_facets": False,
            "allow_facet": not closed,
            "sql_time_limit_ms": 2000,
        },
    )
    datasette.bayshelf_rules = Rules(
        frozenset({"127.0.0.1", "localhost", "[::1]", *(name.lower() for name in host_names)}), not closed, is_ours
    )
    datasette.add_database(ShelfDatabase(datasette, shelf), name="shelf")
    return datasette
