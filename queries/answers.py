"""What every query returns: rows, the nearest misses where there are none, and how the question was read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Generic, Protocol, TypeVar


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


def apart(mm: float) -> str:
    """Return how far apart two lengths are, in inches and millimetres; less than 1/32 in only in millimetres."""
    from kb.measure import both_text, millimetres_text

    return both_text(abs(mm)) if abs(mm) >= 25.4 / 32 else millimetres_text(abs(mm))


def caliper_text(mm: float) -> str:
    """Return what a caliper reads: inches to a thousandth, millimetres to a hundredth; a sixteenth is too coarse here.

    >>> caliper_text(22.1)
    '0.870 in (22.10 mm)'
    """
    return f"{mm / 25.4:.3f} in ({mm:.2f} mm)"
