"""The TOML text of a sheet that was measured in the shop: from a file or a text to its tables, or an error in words."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from kb.errors import BayshelfError

LARGEST_BYTES = 1_000_000
"""Such a sheet is a page of text: a larger file is something else."""

_LONG_DOTTED_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){32}""", re.ASCII
)
"""A key of so many parts: the parser's time and memory grow with their square (20,000 took 4 s and 1.5 GB, measured)."""


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
        text = file_text(path, called, kind, error_class)
    return parsed(text, called, kind, error_class), text, called, stem


def parsed(text: str, called: str, kind: str, error_class: type[BayshelfError]) -> dict[str, Any]:
    """Return a TOML text's tables. Raises ``error_class``, also for what is made to exhaust its reader."""
    if len(text) > LARGEST_BYTES:
        raise _too_large(called, kind, error_class)
    if _LONG_DOTTED_KEY.search(text):
        raise error_class(
            "it has a key of more than 32 parts.", where=called, do="Write each value under its own [table]."
        )
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise error_class(
            f"it is not understood as TOML: {error}.",
            where=called,
            do='Texts stand in double quotes (at = ["1 1/2 in", 0]) and each [[table]] on a line of its own.',
        ) from error
    except ValueError as error:  # Python's own bound on the digits of an integer
        raise error_class("it has a number of thousands of digits.", where=called, do="Mend that number.") from error
    except RecursionError as error:
        raise error_class(f"it is nested too deep for a {kind} sheet.", where=called) from error


def file_text(path: Path, called: str, kind: str, error_class: type[BayshelfError]) -> str:
    """Return the text of such a sheet's file. Raises ``error_class``."""
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
        if len(content) > LARGEST_BYTES:
            raise _too_large(called, kind, error_class)
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError as error:
        raise error_class("there is no such file.", where=str(path), do="Check the name and the folder.") from error
    except UnicodeDecodeError as error:
        raise error_class("it is not UTF-8 text.", where=called, do="Save it as UTF-8.") from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise error_class(f"it cannot be read: {why}.", where=str(path)) from error


def _too_large(called: str, kind: str, error_class: type[BayshelfError]) -> BayshelfError:
    return error_class(f"it is too large for a {kind} sheet.", where=called, do=f"Name the {kind}'s TOML file.")
