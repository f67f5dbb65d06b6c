"""Writes kb/reference/word_pieces.txt and word_pieces.npy anew: what the pieces of plain words mean.

    python tests/make_word_vectors.py --write

Source: the vectors and the tokenizer that wordllama (PyPI, MIT licence) carries in its wheel: 256 numbers for each of 32,000
pieces. Kept: pieces of lower-case ASCII letters, each of their numbers as a whole number from -127 to 127. Nothing else of
the library is needed to ask.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent.parent / "kb" / "reference"
_HEAD = "\N{LOWER ONE EIGHTH BLOCK}"
"""How the tokenizer marks a piece that begins a word."""
_NAMES = frozenset({"0187489c04b9", "7a3b3573cac2", "b2808c947ea0", "cb9b5a0f4a8b"})
"""SHA-256, shortened, of pieces that are names of makers or people: left out, and not named here either."""


def _hashed(word: str) -> str:
    return hashlib.sha256(word.encode()).hexdigest()[:12]


def made() -> tuple[str, bytes]:
    """Return the text of the pieces, one a line, ``-`` before one that goes on with a word; and the file of their numbers."""
    import wordllama

    # Both files are in the wheel; the library looks for them in a cache folder of that shape, or downloads them.
    model = wordllama.WordLlama.load(cache_dir=Path(wordllama.__file__).parent, disable_download=True)
    kept = {
        ("" if token.startswith(_HEAD) else "-") + token.removeprefix(_HEAD): row
        for token, row in model.tokenizer.get_vocab().items()
        if re.fullmatch(f"{_HEAD}?[a-z]+", token) and _hashed(token.removeprefix(_HEAD)) not in _NAMES
    }
    names = sorted(kept)
    numbers: NDArray[np.float64] = model.embedding[[kept[name] for name in names]].astype(np.float64)
    whole = np.round(numbers * (127.0 / np.abs(numbers).max())).astype(np.int8)
    file = io.BytesIO()
    np.save(file, whole)
    return "\n".join(names) + "\n", file.getvalue()


def main() -> None:
    """Write both files, or say whether they are what would be written."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true")
    text, numbers = made()
    if parser.parse_args().write:
        (HERE / "word_pieces.txt").write_text(text, encoding="ascii")
        (HERE / "word_pieces.npy").write_bytes(numbers)
    else:
        same = (HERE / "word_pieces.txt").read_text(encoding="ascii") == text
        same = same and (HERE / "word_pieces.npy").read_bytes() == numbers
        print("fresh" if same else "not what would be written: run with --write")


if __name__ == "__main__":
    main()
