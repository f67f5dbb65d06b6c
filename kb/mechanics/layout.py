"""Where the pulleys sit: centres with their doubts, from coordinates, tape distances or a mixture of both.

    fan o-----------o generator      places (``at``), tapes, or both -> centres (x right, y up, mm),
         \\       /                   their full covariance, what disagrees, and what to tape next
          o crank

Method: weighted least squares of the observation equations of a survey network (textbook adjustment theory, from
memory), all starts tried, mirror images and folds reported; :mod:`kb.mechanics.layout_checks` says what the
measurements can tell.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from kb.mechanics import layout_checks as checks
from kb.mechanics.layout_fit import (
    Array,
    Equations,
    Fit,
    LayoutError,
    ScaleReading,
    Survey,
    Tape,
    all_fits,
    pair_distances,
)

__all__ = [
    "Disagreement",
    "ImpossibleDistancesError",
    "Layout",
    "LayoutError",
    "ScaleReading",
    "Survey",
    "Suspect",
    "Tape",
    "TooFewDistancesError",
    "Turning",
    "fit_layout",
    "next_tape",
    "order_turning",
]

Turning = Callable[[Array], float]
"""Given centres (n, 2) in the survey's order: positive for the right way round, negative for its mirror image, NaN
for a layout that no belt in that order can follow."""

DISAGREE_BELOW = 0.01
"""Chance of so much disagreement between measurements as good as their doubts say, below which it is reported."""
ALSO_POSSIBLE = 9.0
"""A second layout whose sum of squares is this much larger (three doubts) is not ruled out by the measurements."""
HARDLY_HELD = 10.0
"""A centre more doubtful than this many times the worst measurement is called hardly held."""


class TooFewDistancesError(LayoutError):
    """Measurements that leave pulleys loose: ``loose`` names them, ``to_tape`` the pairs that would hold them."""

    def __init__(self, loose: tuple[str, ...], to_tape: tuple[tuple[str, str], ...]) -> None:
        self.loose = loose
        self.to_tape = to_tape
        asked = ", ".join(f"{one} to {other}" for one, other in to_tape)
        held = f"{' and '.join(loose)} {'is' if len(loose) == 1 else 'are'} not held in place"
        super().__init__(f"{held}: {len(to_tape)} more distance(s) are needed; tape {asked} (centre to centre)")


class ImpossibleDistancesError(LayoutError):
    """Taped distances that no layout can have, and too few others to tell which one is wrong."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A measurement that may be the wrong one.

    ``kind``: ``tape`` (two names), ``place`` (one) or ``scale`` (none). ``off_mm``: as measured less what the others
    say, so a positive tape read too long; x and y for a place. ``layout``: the layout without it.
    """

    kind: str
    index: int
    names: tuple[str, ...]
    off_mm: tuple[float, ...]
    doubt_mm: float
    weight: float
    layout: Layout


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Measurements that cannot all be right. ``named`` is set where one stands out and the data can carry it."""

    suspects: tuple[Suspect, ...]
    named: Suspect | None
    impossible: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """Centres of the pulleys and how far to trust them.

    ``centres_mm`` is (n, 2), ``covariance_mm2`` (2n, 2n) in the order x0, y0, x1, y1, ...; where distances alone hold
    the layout, its sliding and turning as a whole are not in it (they change no belt length), and ``oriented`` is
    false: only then the driver stands at its place or the origin and the next pulley in the list to the right of it.
    ``tape_residuals_mm``: taped less fitted. ``redundancy``: measurements beyond those needed; without any,
    ``p_value`` is None: nothing checks anything. ``alternatives``: other layouts the measurements allow, and
    ``tells_apart`` the pair to tape to choose. ``mirror_assumed``: only the belt order chose this mirror image.
    """

    names: tuple[str, ...]
    centres_mm: Array
    covariance_mm2: Array
    tape_residuals_mm: Array
    chi_square: float
    redundancy: int
    p_value: float | None
    oriented: bool
    mirror_assumed: bool = False
    scale: tuple[float, float] | None = None
    hardly_held: tuple[str, ...] = ()
    unchecked: tuple[tuple[str, ...], ...] = ()
    alternatives: tuple[Array, ...] = ()
    tells_apart: tuple[str, str] | None = None
    disagreement: Disagreement | None = None

    @property
    def doubts_mm(self) -> Array:
        """Standard deviation of each coordinate, (n, 2)."""
        return np.asarray(np.sqrt(np.maximum(np.diag(self.covariance_mm2), 0.0))).reshape(-1, 2)

    @property
    def check(self) -> str:
        """What the measurements say of each other, in words."""
        if self.p_value is None:
            return "no check is possible: every measurement is needed"
        return "the measurements disagree" if self.disagreement else "the measurements agree within their doubts"


def order_turning(centres: Array) -> float:
    """Area enclosed by the centres in their order, mm^2: positive when the order runs anticlockwise.

    The surveyor's (shoelace) formula. ``centres`` is (n, 2).

    >>> order_turning(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0]]))
    1.0
    """
    x, y = centres[:, 0], centres[:, 1]
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2)


def fit_layout(survey: Survey, turning: Turning = order_turning) -> Layout:
    """Fit the centres to all that was measured.

    ``turning`` settles the mirror image where the measurements leave it open, and drops layouts that no belt can
    follow; the default wants the pulleys listed anticlockwise, seen from the front.

    Raises :class:`TooFewDistancesError`, :class:`ImpossibleDistancesError`, or :class:`LayoutError` for measurements
    that are none.

    >>> tapes = (Tape(0, 1, 300.0), Tape(1, 2, 400.0), Tape(2, 0, 500.0))
    >>> layout = fit_layout(Survey(("crank", "pump", "fan"), (None, None, None), tapes))
    >>> [[round(float(value), 3) + 0.0 for value in centre] for centre in layout.centres_mm]
    [[0.0, 0.0], [300.0, 0.0], [300.0, 400.0]]
    >>> layout.p_value is None  # three distances, three unknowns: nothing checks them
    True
    """
    _look_at(survey)
    if not survey.tapes and not survey.scaled and (len(survey.placed) == len(survey.names) or len(survey.names) == 1):
        return _as_given(survey)
    held = checks.rigidity(survey)
    if held.missing:
        name = survey.names
        raise TooFewDistancesError(
            tuple(name[k] for k in held.loose), tuple((name[i], name[j]) for i, j in held.to_tape)
        )
    fits, mirror_assumed = _right_way_round(survey, all_fits(survey), turning)
    layout = _layout(survey, fits, mirror_assumed)
    return _judged(survey, fits[0], layout, turning)


def next_tape(
    survey: Survey, layout: Layout, gradient: Array | None = None, doubt_mm: float = 1.5
) -> tuple[tuple[str, str], float, float] | None:
    """The pair whose distance, taped next, settles most: (names, doubt now, doubt then), mm; None if all are taped.

    The doubt is that of all centre-to-centre distances (root mean square), or of the number whose derivatives with
    respect to the centres, in the layout's frame, are ``gradient`` (2n,), such as the route's length.
    """
    log_scale = math.log(layout.scale[0]) if layout.scale else 0.0
    fit = Fit(layout.centres_mm.ravel(), log_scale, layout.chi_square)
    found = checks.best_next_tape(survey, fit, doubt_mm, gradient)
    return found and ((survey.names[found[0][0]], survey.names[found[0][1]]), found[1], found[2])


def _look_at(survey: Survey) -> None:
    """Refuse measurements that are none, by name."""
    count = len(survey.names)
    if not count or count != len(survey.places) or len(set(survey.names)) != count:
        raise LayoutError("every pulley needs a name of its own and a place (or None)")
    if not 0 <= survey.driver < count:
        raise LayoutError("the driver is none of the pulleys")
    for tape in survey.tapes:
        if not (0 <= tape.first < count and 0 <= tape.second < count) or tape.first == tape.second:
            raise LayoutError("a distance must be between two different pulleys of the list")
        ends = f"{survey.names[tape.first]} to {survey.names[tape.second]}"
        _positive(tape.distance_mm, f"the distance {ends}")
        _positive(tape.doubt_mm, f"the doubt of the distance {ends}")
    for name, place in zip(survey.names, survey.places, strict=True):
        if place is not None and not all(map(math.isfinite, place)):
            raise LayoutError(f"the place of {name} must be two numbers")
    _positive(survey.place_doubt, "the doubt of the places")
    if survey.scaled:
        _look_at_scale(survey)


def _look_at_scale(survey: Survey) -> None:
    if survey.floating:
        raise LayoutError("a photo's scale needs at least two pulleys placed in it")
    if not survey.tapes and not survey.scale_readings:
        raise LayoutError("a photo alone has no scale: tape one distance, or give one diameter in mm as well")
    for one in survey.scale_readings:
        for value in (one.known_mm, one.read, one.known_doubt_mm, one.read_doubt):
            _positive(value, "a known size, its reading in the photo, and their doubts")


def _positive(value: float, what: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise LayoutError(f"{what} must be more than nothing, not {value:g}")


def _as_given(survey: Survey) -> Layout:
    """Coordinates alone: they are the layout, each with its own doubt, and nothing checks them."""
    centres = np.array([place or (0.0, 0.0) for place in survey.places], dtype=np.float64)
    covariance = np.eye(centres.size) * (0.0 if survey.floating else survey.place_doubt**2)
    unchecked = () if survey.floating else tuple((name,) for name in survey.names)
    return Layout(
        survey.names, centres, covariance, np.zeros(0), 0.0, 0, None, not survey.floating, unchecked=unchecked
    )


def _right_way_round(survey: Survey, fits: Sequence[Fit], turning: Turning) -> tuple[list[Fit], bool]:
    """Keep the fits that the measurements do not rule out, as the belt order wants them; best first."""
    likely = [fit for fit in fits if fit.chi_square <= fits[0].chi_square + ALSO_POSSIBLE]
    if survey.floating:
        turned = [_turned(fit, turning) for fit in likely]
        return _best_first([fit for fit in turned if fit is not None] or likely, turning), True
    right = [fit for fit in likely if turning(fit.centres.reshape(-1, 2)) > 0] or likely
    return _best_first(right, turning), len(right) < len(likely)


def _best_first(fits: Sequence[Fit], turning: Turning) -> list[Fit]:
    """Best fit first; of equally good ones that which turns most surely, as the order's enclosed area says."""
    return sorted(fits, key=lambda fit: (round(fit.chi_square, 3), -np.nan_to_num(turning(fit.centres.reshape(-1, 2)))))


def _turned(fit: Fit, turning: Turning) -> Fit | None:
    """The fit or its mirror image, whichever runs the right way; None where no belt can follow either."""
    mirrored = fit.centres * np.tile((1.0, -1.0), len(fit.centres) // 2)
    signs = [turning(centres.reshape(-1, 2)) for centres in (fit.centres, mirrored)]
    if signs[0] > 0 or not (signs[1] > 0 or math.isnan(signs[0])):
        return fit
    return Fit(mirrored, fit.log_scale, fit.chi_square) if signs[1] > 0 else None


def _framed(survey: Survey, fit: Fit) -> tuple[Array, Array]:
    """Centres (n, 2) in the drawing's frame, and the rotation (2, 2) that brought them there."""
    points = fit.centres.reshape(-1, 2)
    if not survey.floating or len(points) < 2:
        return points, np.eye(2)
    base = survey.placed[0] if survey.placed else survey.driver
    ahead = points[(survey.driver + 1) % len(points)] - points[survey.driver]
    cosine, sine = ahead / max(float(np.hypot(*ahead)), 1e-12)
    rotation = np.array([[cosine, sine], [-sine, cosine]])
    return (points - points[base]) @ rotation.T + np.array(survey.places[base] or (0.0, 0.0)), rotation


def _layout(survey: Survey, fits: Sequence[Fit], mirror_assumed: bool) -> Layout:
    fit, count = fits[0], len(survey.names)
    centres, rotation = _framed(survey, fit)
    fitted = checks.full_covariance(survey, fit)
    turn = np.kron(np.eye(count), rotation)
    covariance = turn @ fitted[: 2 * count, : 2 * count] @ turn.T
    redundancy = Equations(survey).count - survey.size + (3 if survey.floating else 0)
    residuals = np.array([tape.distance_mm for tape in survey.tapes], dtype=np.float64)
    residuals -= [pair_distances(fit.centres)[tape.first, tape.second] for tape in survey.tapes]
    alternatives = tuple(_framed(survey, other)[0] for other in fits[1:])
    mm_per_unit = math.exp(fit.log_scale)
    return Layout(
        names=survey.names,
        centres_mm=centres,
        covariance_mm2=covariance,
        tape_residuals_mm=residuals,
        chi_square=fit.chi_square,
        redundancy=redundancy,
        p_value=_chance_of(fit.chi_square, redundancy) if redundancy > 0 else None,
        oriented=not survey.floating,
        mirror_assumed=mirror_assumed,
        scale=(mm_per_unit, mm_per_unit * math.sqrt(fitted[-1, -1])) if survey.scaled else None,
        hardly_held=_hardly_held(survey, covariance, mm_per_unit),
        unchecked=tuple(_who(survey, kind, index) for kind, index in checks.unchecked(survey, fit)),
        alternatives=alternatives,
        tells_apart=_tells_apart(survey, centres, alternatives),
    )


def _chance_of(chi_square: float, redundancy: int) -> float:
    """Chance that good measurements disagree as much as this or more (chi-square distribution)."""
    from scipy.special import chdtrc  # already loaded where a layout had to be fitted

    return float(chdtrc(redundancy, chi_square))


def _hardly_held(survey: Survey, covariance: Array, mm_per_unit: float) -> tuple[str, ...]:
    doubts = np.sqrt(np.maximum(np.diag(covariance), 0.0)).reshape(-1, 2).max(axis=1)
    measured = [tape.doubt_mm for tape in survey.tapes]
    if not survey.floating:
        measured.append(survey.place_doubt * mm_per_unit)
    limit = HARDLY_HELD * max(measured)
    return tuple(name for name, doubt in zip(survey.names, doubts, strict=True) if doubt > limit)


def _who(survey: Survey, kind: str, index: int) -> tuple[str, ...]:
    if kind == "tape":
        return survey.names[survey.tapes[index].first], survey.names[survey.tapes[index].second]
    return (survey.names[index],) if kind == "place" else ()


def _tells_apart(survey: Survey, centres: Array, alternatives: Sequence[Array]) -> tuple[str, str] | None:
    """The untaped pair whose distance differs most between the layouts."""
    taped = {frozenset((tape.first, tape.second)) for tape in survey.tapes}
    pairs = [pair for pair in combinations(range(len(centres)), 2) if frozenset(pair) not in taped]
    if not alternatives or not pairs:
        return None
    here = pair_distances(centres.ravel())
    differences = sum(np.abs(pair_distances(other.ravel()) - here) for other in alternatives)
    i, j = max(pairs, key=lambda pair: float(np.asarray(differences)[pair]))
    return survey.names[i], survey.names[j]


def _judged(survey: Survey, fit: Fit, layout: Layout, turning: Turning) -> Layout:
    """The layout with what disagrees, or an error where nothing can be made of it."""
    impossible = checks.impossible_distances(survey)
    said = tuple(_say_impossible(survey, one) for one in impossible)
    if not said and (layout.p_value is None or layout.p_value >= DISAGREE_BELOW):
        return layout
    blamed = checks.suspects(checks.blames(survey, fit), layout.redundancy) if layout.redundancy > 1 else ()
    if said and not blamed:
        raise ImpossibleDistancesError(f"{'; '.join(said)}. Tape these again")
    suspects = tuple(_suspect(survey, one, turning) for one in blamed)
    named = suspects[0] if suspects and layout.redundancy > 3 else None
    return replace(layout, disagreement=Disagreement(suspects, named, said))


def _suspect(survey: Survey, blame: checks.Blame, turning: Turning) -> Suspect:
    rest = checks.without(survey, blame.kind, blame.index)
    fits, mirror_assumed = _right_way_round(rest, [blame.fit], turning)
    names = _who(survey, blame.kind, blame.index)
    layout = _layout(rest, fits, mirror_assumed)
    return Suspect(blame.kind, blame.index, names, blame.off_mm, blame.doubt_mm, blame.weight, layout)


def _say_impossible(survey: Survey, one: checks.Impossible) -> str:
    tape, names = survey.tapes[one.tape], survey.names
    way = " and ".join(names[k] for k in one.way_round)
    return (
        f"{names[tape.first]} to {names[tape.second]} ({tape.distance_mm:.1f} mm) is {one.too_long_mm:.1f} mm longer "
        f"than the way round by {way}"
    )
