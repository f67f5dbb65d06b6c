"""An end as someone writes it: ``male 7/8-14 37``, ``female 1/2 NPT``, ``M22x1.5 male 15L``, ``hose 1/2 in``.

In any order: male or female (also stud, port, swivel, nut); the thread by any of its names, or a dash size with its family;
the family by its seat's angle (half or whole), by a word, or by a tube's series; what is left out stays open.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from kb.errors import AnswerError
from kb.mechanics.threads import Thread, Use
from kb.reference.thread_names import EXAMPLES, find_name, threads_named
from kb.reference.threads import thread_candidates

HOW_TO_WRITE = 'Write an end like "male 7/8-14 37", "female 1/2 NPT", "male M22x1.5 15L" or "hose 1/2 in".'

_FORMS = {
    "male": "male", "m": "male", "stud": "male", "external": "male", "female": "female", "f": "female", "port": "female",
    "swivel": "female", "nut": "female", "internal": "female", "hose": "hose", "tail": "hose",
}  # fmt: skip
_NOISE = frozenset(
    ("deg", "degree", "degrees", "seat", "thread", "end", "fitting", "size", "cone", "with", "series", "metric", "taper",
     "parallel", "straight")
)  # fmt: skip


def _named(*parts: str) -> Callable[[Use], bool]:
    return lambda use: any(part in use.family for part in parts)


_FAMILIES: dict[str, Callable[[Use], bool]] = {
    "jic": _named("(JIC)"), "flare": _named("flare"), "inverted": _named("inverted"), "sae": _named("SAE"),
    "orb": _named("(ORB)"), "boss": _named("(ORB)"), "orfs": _named("(ORFS)"), "face": _named("(ORFS)"),
    "l": _named("L series"), "light": _named("L series"), "s": _named("S series"), "heavy": _named("S series"),
    "6149": _named("6149"), "iso": _named("ISO"), "refrigerant": _named("refrigerant"), "for": _named("/ FOR)"),
    "tube-o": _named("/ FOR)"), "mio": _named("(MIO)"), "insert": _named("(MIO)"), "npt": _named("NPT"),
    "nptf": _named("NPTF"), "bspp": _named("BSPP"), "bspt": _named("BSPT"), "o-ring": lambda use: "O-ring" in use.sealing,
    "oring": lambda use: "O-ring" in use.sealing, "flat": lambda use: use.seat_half_deg is None,
}  # fmt: skip
_TOKEN = re.compile(r"[^\s,;]+")
_DASH = re.compile(r"-\d{1,2}|\d{1,2}[ls]", re.IGNORECASE)
_ANGLE = re.compile(r"(\d{1,3}(?:\.\d+)?)(?:°|deg(?:rees?)?)?")


@dataclass(frozen=True, slots=True)
class GivenEnd:
    """An end to be joined; ``uses`` are the families that it may belong to, ``hose_mm`` a hose's bore."""

    text: str
    form: str
    thread: Thread | None
    uses: tuple[Use, ...]
    hose_mm: float | None = None

    @property
    def said(self) -> str:
        """The end in words, as it was understood."""
        from kb.measure import both_text

        if self.thread is None:
            return f"a hose of {both_text(self.hose_mm or 0.0)} inside"
        families = " or ".join(dict.fromkeys(use.family for use in self.uses))
        name = self.uses[0].thread
        if any(name.endswith(use.family) for use in self.uses):
            return f"{self.form} {name}"
        return f"{self.form} {name}, {families}"


def read_end(text: str) -> GivenEnd:
    """Read an end; raises :class:`~kb.errors.AnswerError` that says which part was not understood and how to write it."""
    found = find_name(text)
    rest = found[1] if found else text
    tokens = [token.casefold() for token in _TOKEN.findall(rest)]
    forms = {_FORMS[token] for token in tokens if token in _FORMS}
    if "hose" in forms:
        return _hose(text)
    if len(forms) != 1:
        what = "does not say whether it is male or female" if not forms else "says both male and female"
        raise AnswerError(f"the end {text!r} {what}.", do=HOW_TO_WRITE)
    tests = [_test(token, text) for token in tokens if token not in _FORMS and token not in _NOISE]
    uses = [use for thread in _threads(text, found is not None) for use in thread.uses]
    left = [use for use in uses if all(test(use) for test in tests)]
    if not left:
        raise AnswerError(f"no family uses {text!r} so. {_choices(uses)}", do=HOW_TO_WRITE)
    return _one_thread(text, forms.pop(), left)


def _threads(text: str, is_named: bool) -> tuple[Thread, ...]:
    if not is_named:
        return thread_candidates()
    named = threads_named(text)
    if not named:
        raise AnswerError(f"the thread of {text!r} is in no table here.", do=f"Threads are written like {EXAMPLES}.")
    return named


def _choices(uses: Iterable[Use]) -> str:
    families = list(dict.fromkeys(use.family for use in uses))
    return f"Those that use the thread: {', '.join(families)}." if len(families) < 8 else ""


def _test(token: str, text: str) -> Callable[[Use], bool]:
    """What a word says of a family."""
    if token in _FAMILIES:
        return _FAMILIES[token]
    if _DASH.fullmatch(token):
        return lambda use: use.dash.casefold() == token
    angle = _ANGLE.fullmatch(token)
    if angle is not None:
        seat = float(angle[1])
        return lambda use: use.seat_half_deg is not None and seat in (use.seat_half_deg, 2 * use.seat_half_deg)
    raise AnswerError(f"{token!r} in the end {text!r} is not understood.", do=HOW_TO_WRITE)


def _one_thread(text: str, form: str, uses: list[Use]) -> GivenEnd:
    threads = [thread for thread in thread_candidates() if any(use in thread.uses for use in uses)]
    if len(threads) > 1:
        some = ", ".join(thread.name for thread in threads[:6])
        raise AnswerError(
            f"{text!r} may be {len(threads)} threads: {some}{' …' if len(threads) > 6 else ''}.", do=HOW_TO_WRITE
        )
    allowed = tuple(use for use in uses if not use.family.startswith("inverted flare"))
    if not allowed:
        raise AnswerError(
            "inverted flares serve mostly brake and fuel lines: this tells what the thread is, and names no adapters for it.",
            do="Leave such a line to its maker's parts and to whoever is licensed to work on it.",
        )
    return GivenEnd(text, form, threads[0], allowed)


def _hose(text: str) -> GivenEnd:
    from kb.measure import LENGTH, found_in

    bore = found_in(text, LENGTH, low=2, high=150)
    if not bore:
        raise AnswerError(f"the hose {text!r} says no bore.", do='Write its inside: "hose 1/2 in".')
    return GivenEnd(text, "hose", None, (), bore[0].value)
