"""Jobs are raised by their company: never lowered, whole stays whole, and only by those that are like both."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from queries.company import COMPARED_TOO, raised

SHARES = st.lists(st.floats(0.0, 1.0), min_size=0, max_size=40).map(lambda found: sorted(found, reverse=True))


@given(direct=SHARES, seed=st.randoms(use_true_random=False))
def test_none_becomes_less_or_more_than_whole(direct, seed) -> None:
    shares: dict[frozenset[int], float] = {}
    found = raised(direct, lambda one, other: shares.setdefault(frozenset((one, other)), seed.random()))
    assert len(found) == len(direct)
    for before, after in zip(direct, found, strict=True):
        assert before <= after <= 1.0
    assert found[COMPARED_TOO:] == direct[COMPARED_TOO:]


def test_a_job_without_company_keeps_its_likeness() -> None:
    assert raised([0.7, 0.4, 0.1], lambda one, other: 0.0) == [0.7, 0.4, 0.1]
    assert raised([0.7], lambda one, other: 1.0) == [0.7]


def test_who_is_like_the_likest_stands_before_who_is_not() -> None:
    # Two are as like the asked job; one of them is like the likest of all, which so vouches for it.
    joined = {frozenset((0, 2)): 0.9, frozenset((0, 1)): 0.1, frozenset((1, 2)): 0.0}
    found = raised([0.8, 0.3, 0.3], lambda one, other: joined[frozenset((one, other))])
    assert found[2] > found[1]


def test_a_chain_holds_what_its_weakest_link_does() -> None:
    # By hand: one job stands between, and either way round the chain through it holds what its weaker half does.
    found = raised([0.6, 0.2], lambda one, other: 0.5)
    assert found[1] == pytest.approx(0.2 + 0.8 * 0.5)


def test_strangers_who_are_alike_do_not_raise_each_other() -> None:
    found = raised([0.1, 0.1, 0.1], lambda one, other: 1.0)
    assert max(found) < 0.2
