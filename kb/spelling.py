"""How part numbers and words are compared: what people mix up counts as the same."""

from __future__ import annotations

import re
import unicodedata

_WORD = re.compile(r"[^\W_]+")
_LOOK_ALIKE = str.maketrans("oil", "011")
_NOT_CODE = re.compile(r"[\W_]+")


def normalise_code(text: str) -> str:
    """Reduce a part number to what is compared: no case, no dashes or spaces, O as 0, I and l as 1.

    >>> normalise_code("AB-l0 O1")
    'ab1001'
    """
    if text.isascii():
        folded = text.lower()
        if folded.isalnum():
            return folded.translate(_LOOK_ALIKE)
    else:
        decomposed = unicodedata.normalize("NFKD", text).casefold()
        folded = "".join(each for each in decomposed if not unicodedata.combining(each))
    return _NOT_CODE.sub("", folded).translate(_LOOK_ALIKE)


def words_of(text: str) -> list[str]:
    """Return a text's words as the word index keeps them: lower case, without accents.

    >>> words_of("Idler, 3 in. flat")
    ['idler', '3', 'in', 'flat']
    """
    decomposed = unicodedata.normalize("NFKD", text.replace("ß", "ss")).lower()
    plain = "".join(each for each in decomposed if not unicodedata.combining(each))
    return _WORD.findall(plain)


def slips_allowed(word: str) -> int:
    """Return how many letters may be wrong: none in a word of three, where one slip makes another word."""
    length = len(word)
    return 0 if length <= 3 else 1 if length <= 5 else 2
