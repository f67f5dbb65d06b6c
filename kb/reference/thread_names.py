"""Threads by name, in the spellings people use: 7/8-14 UNF, 1-1/16-12, 1/2 NPT, NPT 1/2, G1/2, M22x1.5, M22×1,5."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from kb.mechanics.threads import MM_PER_INCH, Thread
from kb.reference.threads import thread_candidates

_SIZE = r"(?:(?P<whole>\d+)(?:\s+|-))?(?P<over>\d+)/(?P<under>\d+)|(?P<plain>\d*[.,]?\d+)"
_NOT_INSIDE = r"(?<![\w/.,\-])"
_INCH = re.compile(
    rf"{_NOT_INSIDE}(?:{_SIZE})\s*(?:in\b|\"|″)?\s*-\s*(?P<pitch>\d+(?:\.5)?)\s*(?P<kind>unef|unf|unc|uns|un|nptf|npt)?"
    rf"(?:-?[123][ab])?(?![\w/.])",
    re.IGNORECASE,
)
_PIPE = (
    re.compile(rf"(?<!\w)(?P<kind>nptf|npt|bspp|bspt|g|rc|r)\s*(?:{_SIZE})(?![\w/.])", re.IGNORECASE),
    re.compile(rf"{_NOT_INSIDE}(?:{_SIZE})\s*(?:in\b|\"|″)?\s*(?P<kind>nptf|npt|bspp|bspt)(?!\w)", re.IGNORECASE),
)
_METRIC = re.compile(
    r"(?<!\w)m\s*(?P<plain>\d+(?:[.,]\d+)?)\s*[x×*]\s*(?P<pitch>\d+(?:[.,]\d+)?)(?![\w/])", re.IGNORECASE
)
_KINDS = {"bspp": "g", "bspt": "r", "rc": "r", "unef": "un", "unf": "un", "unc": "un", "uns": "un"}

EXAMPLES = "3/4-16, 1 1/16-12 UN, 1/2 NPT, G 1/2, R 3/4 or M22x1.5"


@dataclass(frozen=True, slots=True)
class ThreadName:
    """A thread as it is called: ``kind`` un, npt, nptf, g, r or m; the size in inches, of m in mm; what is not said is none.

    ``pitch`` is threads per inch, of m mm.
    """

    kind: str | None
    size: float
    pitch: float | None

    def means(self, other: ThreadName) -> bool:
        """Whether another name, one with nothing left out, is one that this may stand for."""
        if self.kind is None and other.kind not in ("un", "npt", "nptf"):
            return False
        return (
            self.kind in (None, other.kind)
            and abs(self.size - other.size) < 0.002
            and (self.pitch is None or other.pitch is None or abs(self.pitch - other.pitch) < 0.01)
        )


def find_name(text: str) -> tuple[ThreadName, str] | None:
    """Return the first thread named in a text and the text without it; ``None`` where there is none.

    >>> find_name("male 7/8-14 UNF 37")
    (ThreadName(kind='un', size=0.875, pitch=14.0), 'male 37')
    >>> find_name("M22×1,5")[0], find_name("1-1/16-12")[0].size, find_name("1/2 npt male")
    (ThreadName(kind='m', size=22.0, pitch=1.5), 1.0625, (ThreadName(kind='npt', size=0.5, pitch=None), 'male'))
    """
    for pattern in (_METRIC, _INCH, *_PIPE):
        found = pattern.search(text)
        if found is not None:
            said = found.groupdict()
            kind = "m" if pattern is _METRIC else (said["kind"] or "").casefold()
            pitch = said.get("pitch")
            name = ThreadName(_KINDS.get(kind, kind) or None, _size(said), _number(pitch) if pitch else None)
            return name, " ".join((text[: found.start()] + " " + text[found.end() :]).split())
    return None


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _size(said: dict[str, str | None]) -> float:
    if said["plain"] is not None:
        return _number(said["plain"])
    over, under = said["over"], said["under"]
    assert over is not None
    assert under is not None
    return float(said["whole"] or 0) + (float(over) / float(under) if float(under) else float("inf"))


@cache
def _known() -> tuple[tuple[ThreadName, Thread], ...]:
    """Every name in the table with its thread; a pipe thread's pitch is its thread's."""
    known = []
    for thread in thread_candidates():
        for spelt in dict.fromkeys(use.thread for use in thread.uses):
            found = find_name(spelt)
            if found is None:
                raise LookupError(f"the table calls a thread {spelt!r}, which nobody would")
            name = found[0]
            pitch = thread.pitch_mm if name.kind == "m" else round(MM_PER_INCH / thread.pitch_mm, 2)
            known.append((ThreadName(name.kind, name.size, pitch), thread))
    return tuple(known)


def threads_named(text: str) -> tuple[Thread, ...]:
    """Return the threads of the table that a text names, in the table's order; none where it names none of them.

    >>> [thread.name for thread in threads_named("1/2-14")]
    ['1/2-14 NPT = 1/2-14 NPTF']
    >>> [thread.name for thread in threads_named("11/16-16")], [thread.name for thread in threads_named("1-1/16-16")]
    (['11/16-16 UN'], ['1 1/16-16 UN'])
    """
    found = find_name(text)
    if found is None:
        return ()
    return tuple(dict.fromkeys(thread for name, thread in _known() if found[0].means(name)))
