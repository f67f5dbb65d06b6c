"""What the disk, the system or a damaged shelf did to a command, in words; looked at only once something has failed."""

from __future__ import annotations

import errno
import sqlite3
from contextlib import suppress
from pathlib import Path
from traceback import extract_tb

from kb.checking import look_through
from kb.errors import BayshelfError, ShelfError
from kb.shelf import damaged, in_words_of_sqlite

_OF_THE_SYSTEM = frozenset(
    {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EMFILE, errno.ENFILE, errno.ENOMEM, errno.EROFS}
)


def in_words(error: Exception, shelf: Path) -> BayshelfError | None:
    """Return the error as a user can use it, or nothing where it is a fault of the program's own.

    Any error counts as the shelf's where the shelf turns out to be damaged: a flipped bit can make any text no JSON.
    """
    if isinstance(error, sqlite3.DatabaseError) and not isinstance(error, sqlite3.ProgrammingError):
        return in_words_of_sqlite(error, shelf)
    if isinstance(error, OSError):
        return _of_the_system(error)
    with suppress(sqlite3.Error, OSError):
        if shelf.is_file():
            try:
                wrong = look_through(shelf)
            except BayshelfError as told:
                return told
            if wrong:
                return damaged(shelf, wrong[0])
    return None


def _cannot_print(error: OSError) -> bool:
    """Whether it is the answer itself that finds no room."""
    return any(frame.name in ("echo", "_echo_csv") for frame in extract_tb(error.__traceback__))


def _of_the_system(error: OSError) -> BayshelfError:
    where = str(error.filename) if error.filename is not None else None
    if where is None and _cannot_print(error):
        return ShelfError(
            f"what the command did is done, but its answer could not be printed ({error.strerror} where the output goes).",
            do="Make room there, and look with `bayshelf check`.",
        )
    if error.errno in _OF_THE_SYSTEM:
        do = "Mend that (make room, close other programs, look at the disk), and try again."
    else:
        do = "Check the name and its permissions."
    return ShelfError(f"the system refused ({error.strerror or error}).", where=where, do=do)
