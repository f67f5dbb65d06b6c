"""Everything that the belts of one front turn: how fast, which way round, and by which sheet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from kb.errors import DriveError
from kb.mechanics.speeds import Turned
from kb.sheets.drive_fields import DriveSheet, PulleySheet
from queries.drive_laid import laid_out

IDLERS = re.compile(r"\b(idler|roller|tensioner|jockey)", re.IGNORECASE)
FANS = re.compile(r"\bfan\b", re.IGNORECASE)


@dataclass(frozen=True)
class Part:
    """One part as its front turns it; ``turned`` counts against the front's own driver."""

    turned: Turned
    pulley: PulleySheet

    @property
    def name(self) -> str:
        """What it is called."""
        return self.turned.name

    @property
    def is_idler(self) -> bool:
        """Whether it only guides or tightens the belt, so that its direction does not matter."""
        return self.pulley.arm is not None or bool(IDLERS.search(said_of_pulley(self.pulley)))

    @property
    def is_fan(self) -> bool:
        """Whether a fan turns on it."""
        return not self.is_idler and bool(FANS.search(said_of_pulley(self.pulley)))


def said_of_pulley(pulley: PulleySheet) -> str:
    """Return what a pulley's sheet says that it is: its name and what it drives."""
    return f"{pulley.name} {pulley.drives or ''}"


@dataclass(frozen=True)
class Front:
    """The belts of one front, the first its main one, and everything they turn, by name."""

    sheets: tuple[DriveSheet, ...]
    parts: dict[str, Part]
    notes: tuple[str, ...]

    @property
    def main(self) -> DriveSheet:
        """The belt whose driver the engine turns."""
        return self.sheets[0]

    @property
    def driver(self) -> str:
        """The name of the main belt's driver."""
        return self.main.pulleys[self.main.driver_index].name

    def turned(self) -> list[Turned]:
        """Return every part as the front turns it."""
        return [one.turned for one in self.parts.values()]

    def load_kw(self, name: str) -> float | None:
        """Return what a part takes at governed speed, where its sheet says."""
        return self.parts[name].pulley.load_kw if name in self.parts else None


def read_front(sheets: Sequence[DriveSheet]) -> Front:
    """Follow the belts of a front from its main driver on.

    A further belt's driver is a pulley, by name, that a belt before it turns (or the same driver). Raises
    :class:`~kb.errors.DriveError` where it is none.
    """
    main = sheets[0]
    parts: dict[str, Part] = {}
    notes: list[str] = []
    waiting = list(sheets)
    while waiting:
        ready = next((one for one in waiting if one is main or _driver(one).name in parts), None)
        if ready is None:
            sheet = waiting[0]
            raise DriveError(
                f"its driver {_driver(sheet).name!r} is turned by no other belt of this front.",
                where=sheet.source,
                do=f"Name it as there: {', '.join(parts)}.",
            )
        waiting.remove(ready)
        _add(ready, parts, notes)
    return Front(tuple(sheets), parts, tuple(dict.fromkeys(notes)))


def _driver(sheet: DriveSheet) -> PulleySheet:
    return sheet.pulleys[sheet.driver_index]


def _add(sheet: DriveSheet, parts: dict[str, Part], notes: list[str]) -> None:
    numbers = laid_out(sheet)
    notes += numbers.notes
    further = bool(parts)  # its driver then is a pulley that another belt turns
    base = parts[_driver(sheet).name].turned if further else Turned(_driver(sheet).name, 1.0)
    for pulley, ratio, with_driver in zip(sheet.pulleys, numbers.speed_ratios, numbers.turns_with_driver, strict=True):
        if pulley.driver and further:
            continue
        name = pulley.name if pulley.name not in parts else f"{pulley.name} ({sheet.name})"
        turned = Turned(name, base.ratio * ratio, base.with_driver == with_driver, pulley.face == "flat")
        parts[name] = Part(turned, replace(pulley, name=name))
