"""What every query returns: rows, the nearest misses where there are none, and how the question was read."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Generic, Protocol, TypeVar

from kb.measure import both_text, millimetres_text


class AsJson(Protocol):
    """Anything that has a documented JSON form."""

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        ...


Row = TypeVar("Row", bound=AsJson)


@dataclass(frozen=True, slots=True)
class Answer(Generic[Row]):
    """``rows`` best first; ``misses`` the nearest ones where nothing fits; ``understood`` the question in words."""

    rows: list[Row]
    misses: list[Row] = field(default_factory=list)
    understood: str = ""
    notes: tuple[str, ...] = ()


@lru_cache(maxsize=4096)  # the same windows, doubts and differences are told over and over
def apart(mm: float) -> str:
    """Return how far apart two lengths are, in inches and millimetres.

    Below a quarter inch a sixteenth is too coarse, and thirty-seconds are told; below one of those only millimetres.

    >>> apart(-100), apart(2.27), apart(0.4)
    ('3 15/16 in (100 mm)', '3/32 in (2.3 mm)', '0.4 mm')
    """
    off = abs(mm)
    if off < 25.4 / 32:
        return millimetres_text(off)
    return both_text(off, denominator=32 if off < 25.4 / 4 else 16)


def caliper_text(mm: float) -> str:
    """Return what a caliper reads: inches to a thousandth, millimetres to a hundredth; a sixteenth is too coarse here.

    >>> caliper_text(22.1)
    '0.870 in (22.10 mm)'
    """
    return f"{mm / 25.4:.3f} in ({mm:.2f} mm)"
