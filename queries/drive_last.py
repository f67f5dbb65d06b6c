"""Which pulley the belt goes over last: what each needs, what there is, in order of ease."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from kb.errors import AnswerError
from kb.mechanics.last_pulley import CAUTION, LastPulley
from queries.answers import Answer, apart
from queries.drives import KnownDrive


@dataclass(frozen=True, slots=True)
class LastRow:
    """One pulley as the last one; slack in mm."""

    KEYS: ClassVar[tuple[str, ...]] = ("pulley", "needs_low_mm", "needs_high_mm", "slack_mm", "verdict", "why")

    last: LastPulley

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        one = self.last
        return {
            "pulley": one.pulley,
            "needs_low_mm": round(one.needs_low_mm, 3),
            "needs_high_mm": round(one.needs_high_mm, 3),
            "slack_mm": round(one.slack_mm, 3),
            "verdict": one.verdict,
            "why": one.why,
        }


def ask_last(
    known: KnownDrive, belt_length_mm: float | None = None, reachable: tuple[str, ...] = ()
) -> Answer[LastRow]:
    """Return what every pulley that can be reached needs to go on last, the easiest first.

    Without a belt's length the middle of the drive's window is taken, and said. Raises
    :class:`~kb.errors.AnswerError` where the belt's width or rim climb is not known.
    """
    length = known.marks.middle_mm if belt_length_mm is None else belt_length_mm
    names = tuple(known.sheet.pulleys[known.place_of(name)].name for name in reachable)
    lasts = known.lasts(length, names)
    if not lasts:
        raise AnswerError(
            f"how wide a {known.sheet.profile} belt is, or how far it must climb over a rim, is not known.",
            do="Give ribs, belt_thickness and belt_over_rim in the drive sheet, for a profile of ISO 9981.",
        )
    where = "with the arm at its slack stop" if known.window else "with the pulleys at their slackest"
    notes = [CAUTION]
    if belt_length_mm is None:
        notes.insert(0, "No belt was named (--belt): the length in the middle of the drive's window is taken.")
    slack = length - known.slack_route.length_mm
    said = (
        f"a belt of {apart(length)}, {where}: {apart(slack)} {'of slack' if slack >= 0 else 'too short'}, "
        f"give or take {apart(2 * known.length_doubt_mm)}"
    )
    return Answer([LastRow(one) for one in lasts], [], said, tuple(notes))
