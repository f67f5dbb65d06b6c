"""What the system and the disk say becomes a sentence with what to do; a fault of the program's own stays one."""

from __future__ import annotations

import errno
import os
import sqlite3

import pytest

from kb.trouble import in_words


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "/a/form.xlsx"), ("/a/form.xlsx", "No space left", "make room")),
        (PermissionError(errno.EACCES, os.strerror(errno.EACCES), "/a"), ("Permission denied", "permissions")),
        (sqlite3.OperationalError("database or disk is full"), ("the disk is full", "nothing was changed")),
        (sqlite3.OperationalError("disk I/O error"), ("the disk failed", "bayshelf check")),
        (sqlite3.DatabaseError("database disk image is malformed"), ("the shelf is damaged", "--save-to")),
    ],
)  # fmt: skip
def test_each_is_told_with_what_to_do(tmp_path, error, told) -> None:
    words = str(in_words(error, tmp_path / "shelf.db"))
    assert [one for one in told if one not in words] == []


def test_an_error_on_a_whole_shelf_is_the_programs_own(demo_shelf) -> None:
    assert in_words(KeyError("x"), demo_shelf) is None


def test_an_error_on_a_damaged_shelf_is_the_shelfs(demo_shelf, tmp_path) -> None:
    data = bytearray(demo_shelf.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 16384] = b"\xff" * 16384
    path = tmp_path / "shelf.db"
    path.write_bytes(data)
    assert "is damaged" in str(in_words(KeyError("x"), path))
