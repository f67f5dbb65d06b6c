"""What words mean in plain language, for what the trade's own list does not know: a bicycle's spokes, a card, a tunnel.

Every piece of a word has a direction in space, and pieces that people use in the same places point the same way. A text's
direction is the sum of its pieces', less what every text of the trade has in common. The directions come from a general
language model, published for any use; ``tests/make_word_vectors.py`` names it and writes the table anew.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from kb.reference.tables import table

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_WORD = re.compile(r"[a-z]+")


@cache
def _pieces() -> tuple[dict[str, int], dict[str, int]]:
    """Return the row of each piece that begins a word, and of each that goes on with one."""
    heads: dict[str, int] = {}
    tails: dict[str, int] = {}
    text = (files("kb.reference") / "word_pieces.txt").read_text(encoding="ascii")
    for row, piece in enumerate(text.split()):
        if piece.startswith("-"):
            tails[piece[1:]] = row
        else:
            heads[piece] = row
    return heads, tails


@cache
def _rows() -> NDArray[np.int8]:
    import numpy as np

    # Mapped, not read: a question touches a few hundred of the rows.
    rows: NDArray[np.int8] = np.load(Path(str(files("kb.reference"))) / "word_pieces.npy", mmap_mode="r")
    return rows


@lru_cache(maxsize=16384)
def _rows_of(word: str) -> tuple[int, ...]:
    """Return the rows of a word's pieces: the longest that fits, then the longest of what is left."""
    table, tails = _pieces()
    found = []
    start = 0
    while start < len(word):
        for end in range(len(word), start, -1):
            if (row := table.get(word[start:end])) is not None:
                found.append(row)
                start = end - 1
                break
        start, table = start + 1, tails
    return tuple(found)


def _sum_of(text: str) -> NDArray[np.float32]:
    import numpy as np

    rows = [row for word in _WORD.findall(text.casefold()) for row in _rows_of(word)]
    if not rows:
        return np.zeros(_rows().shape[1], np.float32)
    total = _rows()[rows].astype(np.float32).sum(0)
    return _of_length_one(total)


def _of_length_one(total: NDArray[np.float32]) -> NDArray[np.float32]:
    import numpy as np

    unit: NDArray[np.float32] = total / np.linalg.norm(total)
    return unit


@cache
def _in_common() -> NDArray[np.float32]:
    import numpy as np

    common: NDArray[np.float32] = np.mean(
        [_sum_of(row["words"]) for row in table("trade_words")], axis=0, dtype=np.float32
    )
    return common


@lru_cache(maxsize=4096)
def direction(text: str) -> NDArray[np.float32]:
    """Return the direction of a text, shape (256,), of length 1; all zeros for a text without words.

    The mean of word vectors less their common part is the plain baseline of S. Arora, Y. Liang and T. Ma, A simple but
    tough-to-beat baseline for sentence embeddings (ICLR 2017).

    >>> cold, wind, mud = direction("the blade clips its tunnel"), direction("fan tip hits the cowl"), direction("oil cap")
    >>> float(cold @ wind) > float(cold @ mud)
    True
    """
    total = _sum_of(text)
    if total.any():
        total = _of_length_one(total - _in_common())
    total.flags.writeable = False
    return total


def closeness(one: str, other: str) -> float:
    """Return how near two texts' directions lie: the cosine between them, 0 where it is less."""
    cosine = 1.0 if one == other and says(one) else float(direction(one) @ direction(other))
    return min(1.0, max(0.0, cosine))


def says(text: str) -> bool:
    """Whether a text has words that point anywhere: a bare number has not."""
    return bool(direction(text).any())
