"""A command's own folder goes at its end; what a killed one left goes a day later, what is in use stays."""

from __future__ import annotations

import os

from kb.scratch import scratch


def test_old_ones_are_taken_away_and_fresh_ones_stay(tmp_path) -> None:
    old, fresh, other = tmp_path / "mine-old", tmp_path / "mine-fresh", tmp_path / "theirs"
    for folder in (old, fresh, other):
        folder.mkdir()
        (folder / "file").touch()
    for folder in (old, other):
        os.utime(folder, (1, 1))
    with scratch("mine-", tmp_path) as place:
        (place / "file").touch()
        assert sorted(one.name for one in tmp_path.iterdir()) == sorted([place.name, "mine-fresh", "theirs"])
    assert sorted(one.name for one in tmp_path.iterdir()) == ["mine-fresh", "theirs"]
