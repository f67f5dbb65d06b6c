"""Which of a job's revisions hold: the newest along a chain, and all of them where bays changed the same state apart.

A revision is made from another one (``based_on``), and may replace more of them (``settles``). What holds is worked out
from the set of revisions alone, so it does not matter in which order shelves were merged, or how often.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import Any

from kb.errors import ShelfError


@dataclass(frozen=True, slots=True)
class Revision:
    """One state of a job: ``content`` is the JSON text of :meth:`kb.sheets.job.JobSheet.content`."""

    id: str
    made_at: str
    content: str
    based_on: str | None = None
    settles: tuple[str, ...] = ()

    @property
    def parents(self) -> tuple[str, ...]:
        """The revisions that this one replaces."""
        return ((self.based_on,) if self.based_on else ()) + self.settles


@dataclass(slots=True)
class _State:
    """Revisions that say the same of the same: two bays that loaded one sheet each made a revision of it."""

    content: str
    revision: Revision
    ancestors: frozenset[int] = frozenset()


@dataclass(slots=True)
class _Head:
    content: str
    revision: Revision
    whole: frozenset[int]
    """The states it comes from, itself included."""


def live(revisions: Iterable[Revision]) -> list[Revision]:
    """Return the revisions that hold, the newest last: one, or several where they contradict each other.

    A revision that has been replaced does not hold. Of revisions with the same content one is returned. A state that
    another line of revisions has passed through since they parted adds nothing to it.

    >>> base = Revision("a", "2026-01-01", '{"work": "belt"}')
    >>> north = Revision("b", "2026-01-02", '{"work": "belt", "ribs": 8}', "a")
    >>> wash = Revision("c", "2026-01-03", '{"work": "belt", "ribs": 6}', "a")
    >>> [one.id for one in live([base, north, wash])]
    ['b', 'c']
    >>> [one.id for one in live([base, north])]
    ['b']

    Raises :class:`~kb.errors.ShelfError` where revisions are made from each other in a circle.
    """
    states = _states({one.id: one for one in revisions})
    inner = frozenset[int]().union(*(one.ancestors for one in states))
    heads: dict[str, _Head] = {}
    for number, state in enumerate(states):
        if number in inner:
            continue
        whole = state.ancestors | {number}
        there = heads.get(state.content)
        if there is None:
            heads[state.content] = _Head(state.content, state.revision, whole)
        else:
            there.whole |= whole
            there.revision = max(there.revision, state.revision, key=_age)
    kept = list(heads.values())
    if len(kept) > 1:
        kept = _uncovered(kept, states)
    return sorted((head.revision for head in kept), key=_age)


def unreplaced(revisions: Iterable[Revision]) -> list[Revision]:
    """Return every revision that none has replaced, also those that say the same as another: what settling replaces.

    >>> same = [Revision("a", "2026-01-01", '{"work": "belt"}', "x"), Revision("b", "2026-01-02", '{"work": "belt"}', "y")]
    >>> base = [Revision("x", "2026-01-01", '{"work": "fan"}'), Revision("y", "2026-01-01", '{"work": "hose"}')]
    >>> [one.id for one in unreplaced([*base, *same])], [one.id for one in live([*base, *same])]
    (['a', 'b'], ['b'])
    """
    states = _states({one.id: one for one in revisions})
    inner = frozenset[int]().union(*(one.ancestors for one in states))
    return [state.revision for number, state in enumerate(states) if number not in inner]


def _age(revision: Revision) -> tuple[str, str]:
    return revision.made_at, revision.id


def plain_content(content: str) -> str:
    """Return a content's text in one spelling: keys in order, and what is not said left out.

    >>> plain_content('{"work": "belt", "bay": null, "ribs": 8, "parts": []}')
    '{"ribs": 8, "work": "belt"}'
    """
    return json.dumps(_said(json.loads(content)), sort_keys=True, ensure_ascii=False)


def _said(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _said(one) for key, one in value.items() if one is not None and one != []}
    return [_said(one) for one in value] if isinstance(value, list) else value


def _states(revisions: Mapping[str, Revision]) -> list[_State]:
    graph = {key: [each for each in one.parents if each in revisions] for key, one in sorted(revisions.items())}
    try:
        order = list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        raise ShelfError(
            f"the revisions {', '.join(sorted(set(error.args[1])))} are made from each other.",
            do="Merge from a copy that is whole.",
        ) from None
    states: list[_State] = []
    number_of: dict[str, int] = {}
    known: dict[tuple[str, frozenset[int]], int] = {}
    for key in order:
        one = revisions[key]
        parents = frozenset(number_of[each] for each in graph[key])
        state = (plain_content(one.content), parents)
        if state in known:
            number = number_of[key] = known[state]
            states[number].revision = min(states[number].revision, one, key=_age)
            continue
        number_of[key] = known[state] = len(states)
        ancestors = parents.union(*(states[each].ancestors for each in parents))
        states.append(_State(state[0], one, ancestors))
    return states


def _uncovered(heads: list[_Head], states: Sequence[_State]) -> list[_Head]:
    """Leave out heads that another line has passed through, unless that line was passed through in its turn."""
    passed = {(a, b) for a in range(len(heads)) for b in range(len(heads)) if a != b and _passed(heads, states, a, b)}
    one_way = {(a, b) for a, b in passed if (b, a) not in passed}
    gone: set[int] = set()
    holds = {a for a in range(len(heads)) if not any(pair[0] == a for pair in one_way)}
    reached = set(holds)
    while more := {a for a, b in one_way if b in reached} - reached:
        reached |= more
        gone |= more
    return [head for place, head in enumerate(heads) if place not in gone]


def _passed(heads: Sequence[_Head], states: Sequence[_State], a: int, b: int) -> bool:
    """Whether the line that leads to head ``b`` said what head ``a`` says, at or after the point where they parted."""
    one, other = heads[a], heads[b]
    shared = one.whole & other.whole
    below = frozenset[int]().union(*(states[each].ancestors for each in shared)) if shared else frozenset()
    line = (other.whole - shared) | (shared - below)
    return any(states[each].content == one.content for each in line)


def differences(contents: Sequence[str]) -> dict[str, list[Any]]:
    """Return the fields in which contents differ, with the value that each has; ``None`` where it says nothing.

    >>> differences(['{"work": "belt", "ribs": 8}', '{"work": "belt", "ribs": 6}'])
    {'ribs': [8, 6]}
    """
    said = [_said(json.loads(content)) for content in contents]
    names = dict.fromkeys(name for each in said for name in each)
    values = {name: [each.get(name) for each in said] for name in names}
    return {name: each for name, each in values.items() if any(one != each[0] for one in each)}


def as_text(value: Any) -> str:
    """Return a field's value as people read it.

    >>> as_text([{"trouble": "belt squeals", "hours_lost": 0.5}, "fan"])
    'trouble: belt squeals, hours lost: 0.5; fan'
    """
    if value is None:
        return "not said"
    if isinstance(value, list):
        return "; ".join(map(as_text, value))
    if isinstance(value, dict):
        return ", ".join(f"{name.replace('_', ' ')}: {as_text(one)}" for name, one in value.items())
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
