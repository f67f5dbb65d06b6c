"""A folder for a command's own use, and the end of those that killed commands left."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

LEFT_AFTER_S = 24 * 3600
"""So old, what stands there belongs to no command that is still running."""


@contextmanager
def scratch(prefix: str, parent: Path | None = None) -> Iterator[Path]:
    """Make a folder that is taken away at the end; in ``parent``, else where the system keeps such things.

    A command that was killed leaves its folder: what is a day old is taken away by the next one. What cannot be taken
    away is no reason to fail: the command has done what it was asked.
    """
    sweep(parent or Path(tempfile.gettempdir()), f"{prefix}*")
    with tempfile.TemporaryDirectory(prefix=prefix, dir=parent, ignore_cleanup_errors=True) as place:
        yield Path(place)


def sweep(folder: Path, pattern: str) -> None:
    """Take away what killed commands left in ``folder`` a day ago or longer."""
    with suppress(OSError):
        for left in folder.glob(pattern):
            with suppress(OSError):
                if left.lstat().st_mtime < time.time() - LEFT_AFTER_S:
                    shutil.rmtree(left) if left.is_dir() and not left.is_symlink() else left.unlink()
