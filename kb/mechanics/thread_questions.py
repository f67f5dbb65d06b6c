"""What would settle which thread it is, and how look-alikes are told apart, in words for the bench.

A hypothesis is one family's use of one thread, weighed by its likelihood. Of the measurements that have not been taken, the
one that is expected to take most doubt away is named: entropy now less the mean entropy after its possible answers,
each of which comes with the chance of being read wrongly that :mod:`kb.mechanics.threads` gives it. Gauges and calipers
come first; a look at how an end seals, and at the angle of its flanks, is asked for only where they have no more to say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from kb.mechanics.threads import (
    LEAVES_MM,
    MM_PER_INCH,
    Candidate,
    Seen,
    Thread,
    Use,
    ends_mm,
    form_likelihood,
    pitch_likelihood,
    seat_likelihood,
    taper_likelihood,
    tube_likelihood,
)

WORTH_ASKING_BITS = 0.1
"""A measurement expected to settle less than this is not worth the walk to the toolbox."""

ABOUT_EQUAL_BITS = 0.05
"""Measurements this near each other count as equal; the handier one is asked for."""

SEEN_SEALING_RIGHT = 0.95
"""How often a look at how an end seals is right: common practice, no source."""

Answer = float | str | bool


@dataclass(frozen=True, slots=True)
class Question:
    """A measurement: what to do in words, the bits it is expected to settle, and each answer with what it points to."""

    kind: str
    words: str
    gain_bits: float
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    thread: Thread
    use: Use
    weight: float


@dataclass(frozen=True, slots=True)
class _Asking:
    """One kind of question: whether it was answered, the truth under a hypothesis, and an answer's likelihood under it."""

    kind: str
    answered: Callable[[Seen], bool]
    truth: Callable[[_Hypothesis], Answer]
    likelihood: Callable[[_Hypothesis, Answer], float]
    says: Callable[[Answer], str]
    words: str
    last_resort: bool = False


def _number(answer: Answer) -> float:
    assert isinstance(answer, (int, float))
    return float(answer)


def pitch_words(pitch_mm: float) -> str:
    """Return a pitch as a mechanic says it: a metric one in mm, another per inch.

    >>> pitch_words(1.5), pitch_words(25.4 / 14), pitch_words(2.2087)
    ('1.5 mm', '14 per inch', '11.5 per inch')
    """
    if abs(pitch_mm * 4 - round(pitch_mm * 4)) < 1e-6:
        return f"{pitch_mm:g} mm"
    return f"{round(2 * MM_PER_INCH / pitch_mm) / 2:g} per inch"


def _seat_words(answer: Answer) -> str:
    half = _number(answer)
    if half == 0:
        return "no cone"
    return f"{2 * half:g} degree cone" if half < 20 else f"{half:g} degree seat"


def _tube_words(answer: Answer) -> str:
    from fractions import Fraction  # brings decimal along, which most answers can do without

    tube = _number(answer)
    sixteenths = Fraction(round(tube * 16 / MM_PER_INCH), 16)
    if tube == 0:
        return "no tube"
    return (
        f"{tube:.4g} mm ({sixteenths} in) tube" if abs(sixteenths * MM_PER_INCH - tube) < 0.01 else f"{tube:g} mm tube"
    )


def _tube_read_so(one: _Hypothesis, answer: Answer) -> float:
    if answer == 0:
        return 1.0 if one.use.tube_outside_mm is None else 0.05
    return tube_likelihood(one.use.tube_outside_mm, _number(answer))


def sealing_words(sealing: str) -> str:
    """Return what a look tells of how an end seals: NPT from NPTF, for one, it does not.

    >>> sealing_words("taper thread (dry seal)"), sealing_words("metal cone, tube flared 45 deg")
    ('on the thread', 'metal cone')
    """
    if sealing.startswith("taper thread"):
        return "on the thread"
    if sealing.startswith("metal cone"):
        return "metal cone"
    return "seal or cone beside the thread" if sealing.startswith("bonded seal") else sealing


_ASKINGS = (
    _Asking(
        "pitch",
        lambda seen: seen.pitch_mm is not None,
        lambda one: one.thread.pitch_mm,
        lambda one, answer: pitch_likelihood(one.thread.pitch_mm, _number(answer)),
        lambda answer: pitch_words(_number(answer)),
        "{}: put the pitch gauge on, and count threads over an inch (25.4 mm) to be sure.",
    ),
    _Asking(
        "seat",
        lambda seen: seen.seat_deg is not None,
        lambda one: one.use.seat_half_deg or 0.0,
        lambda one, answer: seat_likelihood(one.use.seat_half_deg, None, _number(answer)),
        _seat_words,
        "{}: put the seat gauge on the cone.",
    ),
    _Asking(
        "taper",
        lambda seen: seen.taper is not None,
        lambda one: one.thread.taper,
        lambda one, answer: taper_likelihood(one.thread.taper, bool(answer)),
        lambda answer: "taper" if answer else "parallel",
        "{}: lay a straightedge along the thread, or caliper it at both ends; a taper grows 0.31 mm in 5 mm.",
    ),
    _Asking(
        "tube",
        lambda seen: seen.tube_outside_mm is not None,
        lambda one: one.use.tube_outside_mm or 0.0,
        _tube_read_so,
        _tube_words,
        "{}: caliper the outside of the tube that the fitting takes.",
    ),
    _Asking(
        "sealing",
        lambda seen: bool(seen.seat_deg),  # who has gauged a cone has seen how it seals
        lambda one: sealing_words(one.use.sealing),
        lambda one, answer: SEEN_SEALING_RIGHT if sealing_words(one.use.sealing) == answer else 1 - SEEN_SEALING_RIGHT,
        str,
        "{}: look at how it seals.",
        last_resort=True,
    ),
    _Asking(
        "form",
        lambda seen: seen.form_deg is not None,
        lambda one: one.thread.form_deg,
        lambda one, answer: form_likelihood(one.thread.form_deg, _number(answer)),
        lambda answer: f"{_number(answer):g} degree flanks",
        "{}: hold a gauge of each form to the flanks against the light.",
        last_resort=True,
    ),
)


def settling_question(candidates: Sequence[Candidate], seen: Seen) -> Question | None:
    """Return the measurement to take next; ``None`` where none is expected to settle :data:`WORTH_ASKING_BITS`."""
    hypotheses = _hypotheses(candidates)
    for last_resort in (False, True):
        best: tuple[float, _Asking] | None = None
        for asking in _ASKINGS:
            if asking.last_resort != last_resort or asking.answered(seen):
                continue
            gain = _gain_bits(hypotheses, asking)
            if gain >= WORTH_ASKING_BITS and (best is None or gain > best[0] + ABOUT_EQUAL_BITS):
                best = (gain, asking)
        if best is not None:
            return _in_words(hypotheses, *best)
    return None


def _hypotheses(candidates: Sequence[Candidate]) -> list[_Hypothesis]:
    found = [_Hypothesis(one.thread, use, weight) for one in candidates for use, weight in one.uses]
    total = sum(one.weight for one in found)
    return [_Hypothesis(one.thread, one.use, one.weight / total) for one in found if one.weight > 1e-4 * total]


def _answers(hypotheses: Sequence[_Hypothesis], asking: _Asking) -> list[Answer]:
    """What can be answered: every leaf of a pitch gauge, else what is true of some hypothesis."""
    if asking.kind == "pitch":
        return list(LEAVES_MM)
    return list(dict.fromkeys(asking.truth(one) for one in hypotheses))


def _gain_bits(hypotheses: Sequence[_Hypothesis], asking: _Asking) -> float:
    answers = _answers(hypotheses, asking)
    joint: list[list[float]] = []
    for one in hypotheses:
        row = [asking.likelihood(one, answer) for answer in answers]
        joint.append([one.weight * value / sum(row) for value in row])
    after = 0.0
    for column in zip(*joint, strict=True):
        chance = sum(column)
        after += chance * _entropy_bits([value / chance for value in column]) if chance > 0 else 0.0
    return _entropy_bits([one.weight for one in hypotheses]) - after


def _entropy_bits(shares: Sequence[float]) -> float:
    whole = sum(shares)
    return -sum(share / whole * math.log2(share / whole) for share in shares if share > 0)


def _in_words(hypotheses: Sequence[_Hypothesis], gain: float, asking: _Asking) -> Question:
    weights: dict[Answer, float] = {}
    for one in hypotheses:
        weights[asking.truth(one)] = weights.get(asking.truth(one), 0.0) + one.weight
    likely = [answer for answer in weights if weights[answer] >= 0.01] or list(weights)
    likely.sort(key=lambda answer: (-weights[answer], str(answer)))
    likely = sorted(
        likely[:4], key=lambda answer: (not isinstance(answer, bool) and answer == 0, str(asking.says(answer)))
    )
    answers = tuple((asking.says(answer), _points_to(hypotheses, asking, answer)) for answer in likely)
    choice = _or([said for said, _ in answers])
    return Question(asking.kind, asking.words.format(choice[0].upper() + choice[1:]), gain, answers)


def _or(choices: Sequence[str]) -> str:
    """Join choices; of numbers with one unit the unit is said once.

    >>> _or(["37 degree seat", "45 degree seat", "no cone"])
    '37 or 45 degree seat, or no cone'
    >>> _or(["1.5 mm", "14 per inch", "18 per inch"])
    '1.5 mm, or 14 or 18 per inch'
    >>> _or(["parallel", "taper"])
    'parallel or taper'
    """
    groups: dict[str, list[str]] = {}
    for choice in choices:
        head, _, unit = choice.partition(" ")
        groups.setdefault(unit if head[0].isdigit() else choice, []).append(head if head[0].isdigit() else "")
    said = [f"{' or '.join(heads)} {unit}".strip() for unit, heads in groups.items()]
    return (", or " if any(" " in one for one in said) else " or ").join(said)


def _points_to(hypotheses: Sequence[_Hypothesis], asking: _Asking, answer: Answer) -> str:
    """The threads and families that an answer leaves, likeliest first."""
    left = sorted((one for one in hypotheses if asking.truth(one) == answer), key=lambda one: -one.weight)
    return "; ".join(dict.fromkeys(use_name(one.use) for one in left[:3]))


def use_name(use: Use) -> str:
    """Return a family's use of a thread by name; a family whose name the thread carries is not said twice."""
    return use.thread if use.thread.endswith(use.family) else f"{use.thread}, {use.family}"


def describe(thread: Thread, inside: bool = False) -> str:
    """Return a thread in a line: taper or parallel, pitch, and what its crests measure, outside or inside.

    A male taper's nominal diameter is said as what it is: a pipe's outside diameter, or that at the gauge plane.
    """
    pitch = f"{pitch_words(thread.pitch_mm)} ({thread.pitch_mm:.3f} mm)"
    if pitch_words(thread.pitch_mm).endswith("mm"):
        pitch = f"{pitch_words(thread.pitch_mm)} ({thread.threads_per_inch:.1f} per inch)"
    small, large = ends_mm(thread, inside)
    where = "inside" if inside else "outside"
    if not thread.taper:
        return f"{thread.name}: parallel, {pitch}, {_both(large)} {where}"
    said = f"{thread.name}: taper, {pitch}, {small:.2f} to {large:.2f} mm {where} along it"
    if inside:
        return said
    what = "pipe outside diameter" if thread.form_deg == 60.0 else "at the gauge plane"
    return f"{said} ({what} {_both(thread.nominal_mm)})"


def _both(length_mm: float) -> str:
    return f"{length_mm:.2f} mm ({length_mm / MM_PER_INCH:.3f} in)"


def tell_apart(this: Thread, other: Thread, inside: bool = False) -> str:
    """Return how another thread differs from this one, the surest difference first; empty for the same thread."""
    said = []
    if this.taper != other.taper:
        said.append("taper instead of parallel" if other.taper else "parallel instead of taper")
    if abs(math.log(this.pitch_mm / other.pitch_mm)) > 0.003:
        said.append(f"{pitch_words(other.pitch_mm)} instead of {pitch_words(this.pitch_mm)}")
    if this.form_deg != other.form_deg:
        said.append(f"flanks {other.form_deg:g} instead of {this.form_deg:g} degrees")
    return ", ".join([*said, *_size_apart(this, other, inside)])


def _size_apart(this: Thread, other: Thread, inside: bool) -> list[str]:
    where = "inside" if inside else "outside"
    its, own = ends_mm(other, inside), ends_mm(this, inside)
    if other.taper:
        return [f"{its[0]:.2f} to {its[1]:.2f} mm {where} along it"] if its != own else []
    if this.taper:
        return [f"{its[1]:.2f} mm {where}"]
    off = its[1] - own[1]
    return [f"{abs(off):.2f} mm {'larger' if off > 0 else 'smaller'} {where}"] if abs(off) > 0.005 else []
