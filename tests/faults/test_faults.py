"""Real faults, real processes, the real commands: killed, failing and full disks, damaged files, many at once, wrong clocks.

A few of each, drawn with a fixed seed; ``PYTHONPATH=. python tests/faults/run.py --full`` does all of each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from tests.faults import suite
from tests.faults.harness import Commands, Tally, stage
from tests.faults.together import wrong_clocks


@pytest.fixture(scope="module")
def commands(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Commands]:
    with stage(tmp_path_factory.mktemp("commands")) as started:
        yield started


def _none_failed(tallies: Iterable[Tally]) -> list[Tally]:
    done = list(tallies)
    assert [failure for tally in done for failure in tally.failures] == []
    assert all(tally.times for tally in done)
    return done


@pytest.mark.parametrize("name", [*suite.WRITING, "opening a shelf of schema 1", "opening a shelf of schema 4"])
def test_killed_or_failing_at_any_call_leaves_the_rows_before_or_after_and_says_so(commands, tmp_path, name) -> None:
    done = _none_failed(suite.at_calls(commands, tmp_path, name, 1))
    killed = [tally for tally in done if tally.fault.startswith("killed")]
    assert sum(tally.before for tally in killed) > 0  # or nothing was tried
    assert sum(tally.refused for tally in done) > 0  # and some were told


@pytest.mark.parametrize("name", [*suite.WRITING, "opening a shelf of schema 2"])
def test_killed_at_random_moments_leaves_the_rows_before_or_after(commands, tmp_path, name) -> None:
    _none_failed(suite.at_moments(commands, tmp_path, name, 5))


@pytest.mark.parametrize("name", [*suite.WRITING, "opening a shelf of schema 1", "opening a shelf of schema 3"])
def test_where_there_is_no_room_the_rows_are_those_before_and_the_user_is_told(commands, tmp_path, name) -> None:
    done = _none_failed(suite.on_full_disks(commands, tmp_path, name, 3))
    assert sum(tally.refused for tally in done) > 0


def test_what_a_killed_merge_or_publishing_left_is_taken_away(commands, tmp_path) -> None:
    _none_failed(suite.leftovers(commands, tmp_path))


def test_writers_and_readers_at_once_lose_nothing_and_see_no_half(commands, tmp_path) -> None:
    _none_failed(suite.at_once(commands, tmp_path, 1))


def test_a_clock_off_by_hours_loses_nothing_and_is_told(commands, tmp_path) -> None:
    _none_failed([wrong_clocks(commands, tmp_path)])


def test_a_file_that_is_no_shelf_or_part_of_one_is_refused_in_words_and_left(commands, tmp_path) -> None:
    _none_failed(suite.on_damage(commands, tmp_path, 6))


def test_a_flipped_bit_never_ends_in_a_traceback_and_is_mostly_found(commands, tmp_path: Path) -> None:
    tally, flips = suite.on_flips(commands, tmp_path, 16)
    _none_failed([tally])
    assert flips.found > flips.unseen
