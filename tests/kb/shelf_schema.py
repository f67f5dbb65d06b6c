"""A shelf's schema as it can be compared: without the spaces at brackets and commas, which are the writer's."""

from __future__ import annotations

import re
import sqlite3


def schema_of(connection: sqlite3.Connection) -> set[tuple[str, str]]:
    """Return every table's and index's name and plain SQL, sqlite-utils' book of steps left out."""
    rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE '_sqlite_%'")
    # SQLite puts an added column where it likes.
    plain = {name: re.sub(r" ?([(),]) ?", r"\1", " ".join(sql.split())) for name, sql in rows}
    return {(name, sql) for name, sql in plain.items() if not name.startswith("idx__sqlite_")}
