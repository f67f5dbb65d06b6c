"""A job is known by the company it keeps: two jobs that few words join may both be like the same third.

One writes of a squeal and polished ribs, another of polished ribs and dust, a third of dust. Among the likest jobs, each is
raised by how like the asked job its own likest are, and how like it the asked job's are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

COMPARED_TOO = 30
"""How many of the likest jobs are compared with each other: our own choice, so that an answer stays quick."""
NEAREST = 6
"""How many of its likest jobs are a job's company: our own choice, tried on two labelled sets (tests/bench)."""
RAISES = 1.0
"""How much of what two jobs lack in likeness the likeness of their company makes up, at most: our own choice, no source."""


def raised(direct: Sequence[float], between: Callable[[int, int], float]) -> list[float]:
    """Return the likeness of each job to the asked one with its company's, all from 0 to 1, likest first as ``direct`` is.

    ``between`` gives the likeness of two of these jobs by their places. What is whole stays whole, and none becomes less.

    >>> third_joins = raised([0.6, 0.2, 0.2], lambda one, other: 0.8 if {one, other} == {0, 2} else 0.0)
    >>> third_joins[2] > third_joins[1]
    True
    """
    near = min(len(direct), COMPARED_TOO)
    table = [[0.0] * near for _ in range(near)]
    for one in range(near):
        for other in range(one):
            table[one][other] = table[other][one] = between(one, other)
    asked = list(direct[:near])
    found = list(direct)
    for place in range(near):
        theirs, ours = table[place], [*asked[:place], 0.0, *asked[place + 1 :]]
        company = (_by_company(theirs, asked) + _by_company(ours, theirs)) / 2.0
        found[place] += (1.0 - direct[place]) * RAISES * company
    return found


def _by_company(weights: Sequence[float], likeness: Sequence[float]) -> float:
    """Return how well company joins two: over one's nearest, the weaker of both likenesses, the nearer counting most.

    A chain holds what its weakest link does: that two strangers are alike is no news of the one who is asked about.
    """
    nearest = sorted(range(len(weights)), key=lambda place: -weights[place])[:NEAREST]
    total = sum(weights[place] ** 4 for place in nearest)
    return (
        sum(weights[place] ** 4 * min(weights[place], likeness[place]) for place in nearest) / total if total else 0.0
    )
