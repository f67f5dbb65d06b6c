"""The TOML text of a sheet that was measured in the shop: from a file or a text to its tables, or an error in words."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from kb.errors import BayshelfError

LARGEST_BYTES = 1_000_000
"""Such a sheet is a page of text: a larger file is something else."""


def read_toml(
    source: Path | str, name: str | None, kind: str, error_class: type[BayshelfError]
) -> tuple[dict[str, Any], str, str, str | None]:
    """Return a sheet's tables, its text, what errors call it, and the file's stem (``None`` for a text).

    ``source`` is a file, or a text that holds a line break or an equals sign; ``kind`` is what it should be, such as
    ``drive``. Raises ``error_class``.

    >>> read_toml("ribs = 8", None, "drive", BayshelfError)
    ({'ribs': 8}, 'ribs = 8', 'drive sheet', None)
    """
    stem: str | None
    if isinstance(source, str) and ("\n" in source or "=" in source):
        text, called, stem = source, name or f"{kind} sheet", None
    else:
        path = Path(source)
        called, stem = name or path.name, path.stem
        text = _file_text(path, called, kind, error_class)
    try:
        return tomllib.loads(text), text, called, stem
    except tomllib.TOMLDecodeError as error:
        raise error_class(
            f"it is not understood as TOML: {error}.",
            where=called,
            do='Texts stand in double quotes (at = ["1 1/2 in", 0]) and each [[table]] on a line of its own.',
        ) from error
    except RecursionError as error:
        raise error_class(f"it is nested too deep for a {kind} sheet.", where=called) from error


def _file_text(path: Path, called: str, kind: str, error_class: type[BayshelfError]) -> str:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise error_class(f"it is too large for a {kind} sheet.", where=called, do=f"Name the {kind}'s TOML file.")
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise error_class("there is no such file.", where=str(path), do="Check the name and the folder.") from error
    except UnicodeDecodeError as error:
        raise error_class("it is not UTF-8 text.", where=called, do="Save it as UTF-8.") from error
    except OSError as error:
        raise error_class(f"it cannot be read: {error.strerror}.", where=str(path)) from error
