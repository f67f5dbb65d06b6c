"""What one line in the search box means: a belt's size, a thread, a hose, or words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from kb.measure import LENGTH, both_text, found_in
from kb.mechanics.belt_lengths import parse_designation
from kb.reference.tables import table

_RIBS = re.compile(r"\b(\d{1,2})\s*-?\s*(?:ribs?|ribbed|rb|rippen)\b", re.IGNORECASE)
_DESIGNATION = re.compile(r"\b\d{1,2}[\s.-]*(?:PH|PJ|PK|PL|PM)[\s.-]*\d{3,5}\b", re.IGNORECASE)
_BENDS = re.compile(r"\b(\d{2,3})\s*(?:degrees?|deg|°)", re.IGNORECASE)
_THREAD = re.compile(
    r"\b(?:\d+\s)?\d+/\d+\s*-\s*\d{1,2}\b|\bM\d{1,2}\s*[x\u00d7]\s*\d(?:[.,]\d+)?\b|\b[GR]c?\s?\d+/\d+\b", re.IGNORECASE
)
_KIND_WORDS = {
    "belt": "belt", "belts": "belt", "hose": "hose", "hoses": "hose", "clamp": "clamp", "clamps": "clamp",
    "pulley": "pulley", "pulleys": "pulley", "idler": "pulley", "idlers": "pulley", "tensioner": "tensioner",
    "tensioners": "tensioner", "fitting": "fitting", "fittings": "fitting", "thread": "fitting",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Understanding:
    """``kind`` is what is asked for where that is plain; lengths in mm; ``sentence`` says it back."""

    text: str
    kind: str | None = None
    ribs: int | None = None
    profile: str | None = None
    length_mm: float | None = None
    bends_deg: tuple[float, ...] = ()
    thread: str | None = None
    sentence: str = ""


@lru_cache(maxsize=1024)
def understand(text: str) -> Understanding:
    """Say what a line means.

    >>> understand("8 rib 73 1/8 in").sentence
    'a belt: 8 ribs, 73 1/8 in (1857.4 mm), as effective length'
    """
    text = " ".join(text[:300].split())
    named = next((_KIND_WORDS[word] for word in re.findall(r"\w+", text.casefold()) if word in _KIND_WORDS), None)
    designation = _DESIGNATION.search(text)
    parsed = parse_designation(designation[0]) if designation else None
    if parsed is not None:
        ribs, profile, length = parsed
        said = f"a belt: {ribs} ribs {profile}, {both_text(length)}, as effective length"
        return Understanding(text, "belt", ribs, profile, length, sentence=said)
    thread = _THREAD.search(text)
    if thread and named in (None, "fitting") and _is_known(thread[0]):
        return Understanding(text, "fitting", thread=thread[0], sentence=f"the thread {thread[0]}")
    lengths = found_in(text, LENGTH)
    ribs_found = _RIBS.search(text)
    bends = tuple(float(bend) for bend in _BENDS.findall(text) if 10 <= float(bend) <= 180)
    length_mm = lengths[0].value if lengths else None
    if ribs_found and length_mm is not None and named in (None, "belt"):
        said = f"a belt: {ribs_found[1]} ribs, {both_text(length_mm)}, as effective length"
        return Understanding(text, "belt", int(ribs_found[1]), None, length_mm, sentence=said)
    if length_mm is not None and named is not None:
        turned = f", bent {', '.join(f'{bend:g}' for bend in bends)} degrees" if bends else ""
        sentence = f"a {named}: {both_text(length_mm)}{turned}"
        return Understanding(text, named, None, None, length_mm, bends, sentence=sentence)
    return Understanding(text, None, sentence=f"the words {text!r}")


def _is_known(thread: str) -> bool:
    def plain(name: str) -> str:
        return re.sub(r"[^a-z0-9/.]", "", name.casefold().replace("\u00d7", "x"))

    asked = plain(thread)
    return any(plain(row["thread"]).startswith(asked) for row in table("threads"))
