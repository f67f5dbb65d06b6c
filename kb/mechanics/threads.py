"""Which thread a caliper and a gauge have seen: every thread's likelihood, and the families that use the likeliest.

A reading is a diameter somewhere on the thread, less what is worn or was made small, plus the caliper's own doubt; each
of these is integrated over. For a parallel male thread of nominal diameter d

    reading = d - wear - made_small + doubt        wear uniform to 0.12 mm, made_small uniform over its tolerance

where half of all threads are taken as made to size: their made_small is nothing. A female thread's minor diameter reads
large by the same. Along a 1:16 taper the diameter grows 0.31 mm in 5 mm, so that a reading depends on where the caliper
sat: uniform from the small end to the large end.

       ____----____        large end: NPT, the pipe's outside diameter; R, 2.75 turns past the gauge plane
      /\\/\\/\\/\\/\\/\\
     small end             NPT, E0 + 0.8 P; R, the gauge plane's diameter less the gauge length over 16

Lengths are millimetres, angles degrees, since seat gauges are marked so. What these likelihoods rest on is common practice
without a source unless a line says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

MM_PER_INCH = 25.4
"""Exact (NIST SP 811)."""

WEAR_MM = 0.12
"""The most that worn crests take off a diameter: common practice, no source."""

CALIPER_DOUBT_MM = 0.08
"""One standard deviation of a caliper on a thread: common practice, no source."""

MADE_TO_SIZE_SHARE = 0.5
"""The share of threads that are taken as made to size; the rest lie anywhere in their tolerance: no source."""

PITCH_DOUBT = 0.017
"""One standard deviation of the ratio of a leaf taken to the pitch: 18 is taken for 19 less than once in a hundred."""

RULER_DOUBT_MM = 0.5
"""One standard deviation of a length over which threads are counted."""

GROSS_SLIP = 1e-4
"""What stays of a likelihood that a gauge contradicts: nobody is never wrong."""

HARDLY = 5e-4
"""Where every thread is less plausible than this, what was measured is none of them: two contradictions, or a far one."""

SEAT_DOUBT_DEG = 1.5
"""One standard deviation of a seat's half angle by gauge."""

TUBE_DOUBT_MM = 0.15
"""One standard deviation of a tube's outside diameter by caliper."""

FROM_MEMORY = 0.9
"""A family that stands in the table from memory counts this much of one that was checked: it never comes before."""

TPI_LEAVES = (4, 4.5, 5, 6, 7, 8, 9, 10, 11, 11.5, 12, 13, 14, 16, 18, 19, 20, 22, 24, 26, 27, 28, 30, 32, 36, 40)
METRIC_LEAVES_MM = (0.5, 0.6, 0.7, 0.75, 0.8, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0)
LEAVES_MM = tuple(sorted({*METRIC_LEAVES_MM, *(MM_PER_INCH / count for count in TPI_LEAVES)}))
"""The pitches on the leaves of an inch and a metric gauge together."""


class ThreadError(ValueError):
    """A reading that no thread can give."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was measured; what is ``None`` was not looked at.

    ``seat_deg`` is the half or the whole angle of a cone, 0 where there is no cone. ``counted_over_mm`` is the length over
    which threads were counted, where ``pitch_mm`` comes from counting. ``form_deg`` is the angle between flanks.
    """

    diameter_mm: float | None
    inside: bool = False
    pitch_mm: float | None = None
    seat_deg: float | None = None
    taper: bool | None = None
    doubt_mm: float = CALIPER_DOUBT_MM
    counted_over_mm: float | None = None
    tube_outside_mm: float | None = None
    form_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Use:
    """A family's use of a thread for one size; ``seat_half_deg`` is ``None`` where it has no cone."""

    family: str
    gender_and_use: str
    dash: str
    thread: str
    seat_half_deg: float | None
    sealing: str
    tube_outside_mm: float | None
    standard: str
    note: str
    checked: bool


@dataclass(frozen=True, slots=True)
class Thread:
    """A distinct thread: one form, diameter, pitch and taper, whatever families use it.

    ``male_small_mm`` and ``male_large_mm`` are the crests at the ends of a taper, both the nominal diameter of a parallel
    thread; ``female_small_mm`` and ``female_large_mm`` likewise the minor diameter, small deep inside, large at the mouth.
    ``allowance_mm`` is what the largest male thread is under nominal.
    """

    name: str
    form_deg: float
    nominal_mm: float
    pitch_mm: float
    taper: bool
    male_small_mm: float
    male_large_mm: float
    female_small_mm: float
    female_large_mm: float
    allowance_mm: float
    uses: tuple[Use, ...]

    @property
    def checked(self) -> bool:
        """Whether any family's use of it was checked against something outside."""
        return any(use.checked for use in self.uses)

    @property
    def threads_per_inch(self) -> float:
        """Threads per inch."""
        return MM_PER_INCH / self.pitch_mm


@dataclass(frozen=True, slots=True)
class Candidate:
    """A thread that it could be, its uses likeliest first with the likelihood of each.

    ``fit`` is 100 for the likeliest; ``share`` its part of all likelihood; ``plausible`` how near the reading comes to
    the best one that this thread could give, 1 at most: where it is next to nothing for all, it is none of them.
    """

    thread: Thread
    uses: tuple[tuple[Use, float], ...]
    likelihood: float
    fit: float
    share: float
    plausible: float


def pitch_from_threads_per_inch(threads_per_inch: float) -> float:
    """Return the pitch.

    >>> round(pitch_from_threads_per_inch(14), 4)
    1.8143
    """
    return MM_PER_INCH / _more_than_nothing(threads_per_inch, "threads per inch")


def pitch_counted(threads: float, length_mm: float) -> float:
    """Return the pitch for that many threads over a length: count crest to crest, so that seven pitches have eight crests.

    >>> round(pitch_counted(7, 12.7), 3)
    1.814
    """
    return _more_than_nothing(length_mm, "length in mm") / _more_than_nothing(threads, "count")


def small_end_npt_mm(pipe_outside_mm: float, pitch_mm: float) -> float:
    """Return the crest diameter at a male NPT thread's small end, E0 + 0.8 P (ASME B1.20.1).

    E0 = D - (0.05 D + 1.1) P in inches, so that with millimetres the 0.05 D stands over 25.4.

    >>> round(small_end_npt_mm(21.336, 25.4 / 14), 2)
    20.72
    """
    return pipe_outside_mm - (0.05 * pipe_outside_mm / MM_PER_INCH + 1.1) * pitch_mm + 0.8 * pitch_mm


def large_end_r_mm(gauge_plane_mm: float, pitch_mm: float) -> float:
    """Return the crest diameter at a male R thread's large end: 2.75 turns past the gauge plane (ISO 7-1, from memory).

    >>> round(large_end_r_mm(20.955, 25.4 / 14), 2)
    21.27
    """
    return gauge_plane_mm + 2.75 * pitch_mm / 16


def made_small_mm(pitch_mm: float, inside: bool) -> float:
    """Return the diameter tolerance of a thread's crests (ISO 965-1 grade 6, formulas from memory).

    Male major diameter 0.18 P^(2/3) - 0.00315 / sqrt(P), female minor diameter 0.23 P^0.7, under 1 mm of pitch
    0.433 P - 0.19 P^1.22; ASME B1.1 class 2A is the same within some hundredths.

    >>> round(made_small_mm(1.5, inside=False), 2), round(made_small_mm(1.5, inside=True), 2)
    (0.23, 0.31)
    """
    if inside:
        return 0.23 * math.pow(pitch_mm, 0.7) if pitch_mm >= 1 else 0.433 * pitch_mm - 0.19 * math.pow(pitch_mm, 1.22)
    return 0.18 * math.pow(pitch_mm, 2 / 3) - 0.00315 / math.sqrt(pitch_mm)


def reading_density(thread: Thread, seen: Seen) -> float:
    """Return the density, per mm, of a caliper reading on a thread; 1 where none was taken."""
    if seen.diameter_mm is None:
        return 1.0
    small, large = ends_mm(thread, seen.inside)
    # A female thread reads large by what a male one reads small: mirrored, one sum serves both.
    reading, high = (-seen.diameter_mm, -small) if seen.inside else (seen.diameter_mm, large)
    if thread.taper:
        return _spread_density(high - reading, large - small, WEAR_MM, seen.doubt_mm)
    made = made_small_mm(thread.pitch_mm, seen.inside) + (0.0 if seen.inside else thread.allowance_mm)
    to_size = _spread_density(high - reading, 0.0, WEAR_MM, seen.doubt_mm)
    anywhere = _spread_density(high - reading, made, WEAR_MM, seen.doubt_mm)
    return MADE_TO_SIZE_SHARE * to_size + (1 - MADE_TO_SIZE_SHARE) * anywhere


def ends_mm(thread: Thread, inside: bool) -> tuple[float, float]:
    """Return the smallest and the largest diameter that a caliper meets along a new thread, outside or inside."""
    if inside:
        return thread.female_small_mm, thread.female_large_mm
    return thread.male_small_mm, thread.male_large_mm


def _spread_density(x: float, first: float, second: float, doubt: float) -> float:
    """Density at ``x`` of uniform(0, first) + uniform(0, second) + normal(0, doubt).

    The density of a sum with a uniform is a difference quotient of its distribution, so that of two is one of psi, the
    integral of the normal distribution function.
    """
    if first <= 0:
        return (_normal(x / doubt) - _normal((x - second) / doubt)) / second

    def psi(t: float) -> float:
        z = t / doubt
        return doubt * (z * _normal(z) + math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi))

    return max(0.0, psi(x) - psi(x - first) - psi(x - second) + psi(x - first - second)) / (first * second)


def _normal(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2))


def _best_density(thread: Thread, seen: Seen) -> float:
    """The density of the best reading that a thread could give."""
    if seen.diameter_mm is None:
        return 1.0
    small, large = ends_mm(thread, seen.inside)
    middle = (small + large) / 2 + (WEAR_MM / 2 if seen.inside else -WEAR_MM / 2)
    return reading_density(thread, Seen(middle, seen.inside, doubt_mm=seen.doubt_mm))


def pitch_likelihood(pitch_mm: float, seen_mm: float | None, counted_over_mm: float | None = None) -> float:
    """Return how likely a thread of that pitch was read so, 1 at best: never quite nothing, since neighbours look alike.

    By gauge the leaf taken is off by a ratio; counted over a length, by the ruler's share of that length.

    >>> pitch_likelihood(25.4 / 14, 25.4 / 14)
    1.0
    >>> round(pitch_likelihood(25.4 / 17, 1.5), 1), round(pitch_likelihood(25.4 / 18, 25.4 / 19), 3)
    (1.0, 0.006)
    """
    if seen_mm is None:
        return 1.0
    doubt = PITCH_DOUBT
    if counted_over_mm is not None:
        doubt = math.hypot(0.005, RULER_DOUBT_MM / _more_than_nothing(counted_over_mm, "length in mm"))
    off = math.log(seen_mm / pitch_mm) / doubt
    return GROSS_SLIP + (1 - GROSS_SLIP) * math.exp(-0.5 * off * off)


def seat_likelihood(half_deg: float | None, included_deg: float | None, seen_deg: float | None) -> float:
    """Return how likely a seat gauge read so; people say 37 (the half angle) as well as 74 (the whole cone).

    0 says that there is no cone.

    >>> seat_likelihood(37, 74, 74) > 0.9 > 0.1 > seat_likelihood(45, 90, 37)
    True
    """
    if seen_deg is None:
        return 1.0
    if half_deg is None:
        return 1.0 if seen_deg == 0 else 0.05
    if seen_deg == 0:
        return 0.05
    whole = 2 * half_deg if included_deg is None else included_deg
    off = min(abs(half_deg - seen_deg), abs(whole - seen_deg) / 2) / SEAT_DOUBT_DEG
    return 0.01 + 0.99 * math.exp(-0.5 * off * off)


def taper_likelihood(is_taper: bool, seen: bool | None) -> float:
    """Return how likely a look along a straightedge said so: short threads hide a taper one time in thirty."""
    return 1.0 if seen is None or is_taper == seen else 0.03


def tube_likelihood(tube_mm: float | None, seen_mm: float | None) -> float:
    """Return how likely a tube of that outside diameter, or a family that names none, was calipered so."""
    if seen_mm is None:
        return 1.0
    if tube_mm is None:
        return 0.1
    off = (tube_mm - seen_mm) / TUBE_DOUBT_MM
    return 0.01 + 0.99 * math.exp(-0.5 * off * off)


def form_likelihood(form_deg: float, seen_deg: float | None) -> float:
    """Return how likely flanks of 55 or 60 degrees were told so by the fit of a gauge's leaf."""
    return 1.0 if seen_deg is None else 0.9 if abs(form_deg - seen_deg) < 2.5 else 0.1


def use_likelihood(use: Use, seen: Seen) -> float:
    """Return how likely one family shows the seat and the tube that were seen; from memory counts a little less."""
    included = None if use.seat_half_deg is None else 2 * use.seat_half_deg
    seat = seat_likelihood(use.seat_half_deg, included, seen.seat_deg)
    return seat * tube_likelihood(use.tube_outside_mm, seen.tube_outside_mm) * (1.0 if use.checked else FROM_MEMORY)


def identify(threads: Iterable[Thread], seen: Seen, named: bool = False) -> tuple[Candidate, ...]:
    """Return all threads, likeliest first: a thread is as likely as the likeliest family that uses it.

    Threads that were picked by name, ``named``, need nothing measured. Raises :class:`ThreadError` where else nothing
    was measured, or a reading cannot be.
    """
    _check(seen, named)
    judged = sorted((_judge(thread, seen) for thread in threads), key=lambda one: (-one[1], not one[0].checked))
    total = sum(likelihood for _, likelihood, _, _ in judged)
    best = judged[0][1] if judged else 0.0
    return tuple(
        Candidate(
            thread,
            uses,
            likelihood,
            fit=100.0 * (likelihood / best) if best > 0 else 0.0,
            share=likelihood / total if total > 0 else 0.0,
            plausible=plausible,
        )
        for thread, likelihood, plausible, uses in judged
    )


def _judge(thread: Thread, seen: Seen) -> tuple[Thread, float, float, tuple[tuple[Use, float], ...]]:
    other = (
        pitch_likelihood(thread.pitch_mm, seen.pitch_mm, seen.counted_over_mm)
        * taper_likelihood(thread.taper, seen.taper)
        * form_likelihood(thread.form_deg, seen.form_deg)
    )
    density = reading_density(thread, seen)
    judged = [(use, density * other * use_likelihood(use, seen)) for use in thread.uses]
    uses = tuple(sorted(judged, key=lambda one: -one[1]))
    plausible = density / _best_density(thread, seen) * other * max(use_likelihood(use, seen) for use in thread.uses)
    return thread, uses[0][1], min(1.0, plausible), uses


def _check(seen: Seen, named: bool) -> None:
    measured = (seen.diameter_mm, seen.pitch_mm, seen.tube_outside_mm, seen.seat_deg)
    if not named and all(value is None for value in measured):
        raise ThreadError("nothing was measured: a diameter and a pitch tell most threads")
    for name, value in (
        ("diameter in mm", seen.diameter_mm),
        ("pitch in mm", seen.pitch_mm),
        ("tube in mm", seen.tube_outside_mm),
        ("caliper's doubt in mm", seen.doubt_mm),
    ):
        if value is not None:
            _more_than_nothing(value, name)
    if seen.seat_deg is not None and not 0 <= seen.seat_deg < 180:
        raise ThreadError(f"a seat's angle lies from 0 (no cone) to under 180 degrees, not {seen.seat_deg:g}")


def _more_than_nothing(value: float, name: str) -> float:
    if not (math.isfinite(value) and value > 0):
        raise ThreadError(f"the {name} is more than nothing, not {value:g}")
    return value


def shown(candidates: Sequence[Candidate], fit: float = 2.0) -> tuple[Candidate, ...]:
    """Return the candidates worth showing, none where no thread is near what was measured.

    A thread less than ``fit`` in a hundred as likely as the best is not shown; where even the best thread could hardly
    give what was measured (less than :data:`HARDLY` of its best), nothing is.
    """
    if not candidates or max(one.plausible for one in candidates) < HARDLY:
        return ()
    return tuple(one for one in candidates if one.fit >= fit)
