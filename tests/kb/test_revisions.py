"""Which revisions hold, against a brute-force model that follows the definition word for word."""

from __future__ import annotations

import itertools
import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.errors import ShelfError
from kb.revisions import Revision, differences, live, plain_content, unreplaced

CONTENTS = ['{"work": "a"}', '{"work": "b"}', '{"work": "c"}', '{"bay": null, "work": "a", "parts": []}']


@st.composite
def histories(draw: st.DrawFn) -> list[Revision]:
    """Revisions that are made from earlier ones, or from none, some of them settling others."""
    made: list[Revision] = []
    for number in range(draw(st.integers(1, 7))):
        parents = draw(st.lists(st.sampled_from(range(number)), unique=True, max_size=3)) if number else []
        based_on, *settled = [made[each].id for each in parents] or [None]
        time = draw(st.sampled_from(["2026-01-01T00:00:00Z", "2026-01-02T00:00:00Z"]))
        settles = tuple(one for one in settled if one is not None)
        made.append(Revision(f"r{number}", time, draw(st.sampled_from(CONTENTS)), based_on, settles))
    return made


def _modelled(revisions: list[Revision]) -> set[str]:
    """Return the contents that hold. A state is its content and, all the way back, the states it was made from."""
    by_id = {one.id: one for one in revisions}

    def state(one: Revision) -> tuple:
        return (json.dumps(_said(one.content), sort_keys=True), frozenset(state(by_id[each]) for each in one.parents))

    def before(one: tuple) -> set[tuple]:
        return set(one[1]).union(*(before(each) for each in one[1]))

    states = {state(one) for one in revisions}
    heads = {one for one in states if not any(one in other[1] for other in states)}
    groups = {content: {one for one in heads if one[0] == content} for content, _ in heads}
    lines = {content: set(group).union(*map(before, group)) for content, group in groups.items()}

    def passed(one: str, other: str) -> bool:
        shared = lines[one] & lines[other]
        parting = {each for each in shared if not any(each in before(later) for later in shared)}
        return any(each[0] == one for each in (lines[other] - shared) | parting)

    edges = {(a, b) for a, b in itertools.permutations(groups, 2) if passed(a, b) and not passed(b, a)}
    held = {one for one in groups if not any(a == one for a, _ in edges)}
    leads = {one: {one} for one in groups}
    for _ in groups:
        for a, b in edges:
            leads[a] |= leads[b]
    return {one for one in groups if one in held or not (leads[one] & held)}


def _said(content: str) -> dict[str, object]:
    return {name: value for name, value in json.loads(content).items() if value not in (None, [])}


@given(histories())
def test_as_the_model_has_it(history) -> None:
    held = live(history)
    assert {plain_content(one.content) for one in held} == _modelled(history)
    assert len(held) == len({plain_content(one.content) for one in held}) > 0


@given(histories(), st.randoms(use_true_random=False))
def test_order_and_repetition_do_not_matter(history, chance: random.Random) -> None:
    shuffled = history * 2
    chance.shuffle(shuffled)
    assert live(shuffled) == live(history)


@given(histories())
@settings(max_examples=500)
def test_settling_leaves_one(history) -> None:
    held = live(history)
    others = tuple(one.id for one in unreplaced(history) if one.id != held[0].id)
    settled = Revision("z", "2026-01-03T00:00:00Z", held[0].content, held[0].id, others)
    assert [plain_content(one.content) for one in live([*history, settled])] == [plain_content(held[0].content)]


A, B, C = CONTENTS[:3]


@pytest.mark.parametrize(
    ("revisions", "held"),
    [
        ([Revision("1", "t1", A), Revision("2", "t2", B, "1"), Revision("3", "t3", C, "2")], ["3"]),
        ([Revision("1", "t1", A), Revision("2", "t2", B, "1"), Revision("3", "t3", C, "1")], ["2", "3"]),
        # one sheet, loaded in two bays
        ([Revision("1", "t1", A), Revision("2", "t2", A)], ["1"]),
        ([Revision("1", "t1", A), Revision("2", "t2", A), Revision("3", "t3", B, "1")], ["3"]),
        # a bay that first met the job in its second state
        ([Revision("1", "t1", A), Revision("2", "t2", B, "1"), Revision("3", "t3", B), Revision("4", "t4", C, "3")], ["4"]),
        # one bay changed it and took that back, the other changed it: nothing of the first is left to contradict
        ([Revision("1", "t1", A), Revision("2", "t2", B, "1"), Revision("3", "t3", A, "2"), Revision("4", "t4", C, "1")],
         ["4"]),
        # one bay took back what the other went on from: that is a contradiction
        ([Revision("1", "t1", A), Revision("2", "t2", B, "1"), Revision("3", "t3", A, "2"), Revision("4", "t4", C, "2")],
         ["3", "4"]),
        # the same job's name for two jobs
        ([Revision("1", "t1", A), Revision("2", "t2", B)], ["1", "2"]),
    ],
)  # fmt: skip
def test_cases_in_words(revisions, held) -> None:
    assert [one.id for one in live(revisions)] == held


def test_a_circle_is_refused() -> None:
    with pytest.raises(ShelfError, match="made from each other"):
        live([Revision("1", "t1", A, "2"), Revision("2", "t2", B, "1")])


def test_differences_name_what_is_said_on_one_side_only() -> None:
    assert differences(['{"work": "a", "bay": null}', '{"work": "a", "bay": "north"}']) == {"bay": [None, "north"]}
