"""Pulley centres by weighted least squares: what was measured, where to start, and the fits that result.

Everything here is in one flat vector ``x0, y0, x1, y1, ...`` (mm), with the logarithm of the scale (mm per unit
of the given places) behind it where the places come from a photo. Distances alone leave a layout free to slide,
turn and be mirrored; three extra equations hold it still while it is fitted, and cost nothing.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SAME_MM = 0.1
"""Two fits closer than this everywhere are one layout: no tape tells them apart."""
RANDOM_STARTS = 10
MOST_FITS = 80


class LayoutError(ValueError):
    """Measurements from which no layout can be made."""


@dataclass(frozen=True, slots=True)
class Tape:
    """A distance taped from centre to centre, mm, between two pulleys given by their index."""

    first: int
    second: int
    distance_mm: float
    doubt_mm: float = 1.5


@dataclass(frozen=True, slots=True)
class ScaleReading:
    """Something whose size is known in mm and was read in the photo's own unit, such as a pulley's diameter."""

    known_mm: float
    read: float
    known_doubt_mm: float = 0.3
    read_doubt: float = 1.0

    @property
    def log_scale(self) -> float:
        """Natural logarithm of the scale, mm per unit read."""
        return math.log(self.known_mm / self.read)

    @property
    def log_doubt(self) -> float:
        """Standard deviation of :attr:`log_scale` (first order: the relative doubts, added in squares)."""
        return math.hypot(self.known_doubt_mm / self.known_mm, self.read_doubt / self.read)


@dataclass(frozen=True, slots=True)
class Survey:
    """All that was measured of where the pulleys sit.

    ``places`` has one entry per name: (x, y) or None. It is in mm, or, where ``scaled``, in a photo's unit whose
    size is fitted too. ``place_doubt`` is the standard deviation of each coordinate, in the unit of the places.
    One place alone only says where the drawing begins: it is not a measurement.
    """

    names: tuple[str, ...]
    places: tuple[tuple[float, float] | None, ...]
    tapes: tuple[Tape, ...] = ()
    place_doubt: float = 1.0
    scaled: bool = False
    scale_readings: tuple[ScaleReading, ...] = ()
    driver: int = 0

    @property
    def placed(self) -> tuple[int, ...]:
        """Indices of the pulleys whose places were given."""
        return tuple(k for k, place in enumerate(self.places) if place is not None)

    @property
    def floating(self) -> bool:
        """Whether distances alone hold the layout, so that it may slide and turn as a whole."""
        return len(self.placed) < 2

    @property
    def size(self) -> int:
        """How many numbers are fitted."""
        return 2 * len(self.names) + self.scaled


@dataclass(frozen=True, slots=True)
class Fit:
    """One layout that the measurements allow: flat centres (2n,), log scale, weighted sum of squares."""

    centres: Array
    log_scale: float
    chi_square: float


class Equations:
    """Weighted residuals of a survey and their exact derivatives."""

    def __init__(self, survey: Survey) -> None:
        self.survey = survey
        self.first = np.array([tape.first for tape in survey.tapes], dtype=np.intp)
        self.second = np.array([tape.second for tape in survey.tapes], dtype=np.intp)
        self.taped = np.array([tape.distance_mm for tape in survey.tapes], dtype=np.float64)
        self.tape_doubt = np.array([tape.doubt_mm for tape in survey.tapes], dtype=np.float64)
        placed = () if survey.floating else survey.placed
        self.columns = np.array([2 * k + axis for k in placed for axis in (0, 1)], dtype=np.intp)
        self.given = np.array([value for k in placed for value in survey.places[k] or ()], dtype=np.float64)
        self.log_scales = np.array([one.log_scale for one in survey.scale_readings], dtype=np.float64)
        self.log_doubts = np.array([one.log_doubt for one in survey.scale_readings], dtype=np.float64)
        self.count = len(self.taped) + len(self.given) + (len(self.log_scales) if survey.scaled else 0)

    def residuals(self, unknowns: Array) -> Array:
        """(fitted - measured) / doubt: tapes, then coordinates, then scale readings."""
        centres, log_scale = self._split(unknowns)
        lengths, _ = self._lengths(centres)
        parts = [
            (lengths - self.taped) / self.tape_doubt,
            (centres.ravel()[self.columns] * math.exp(-log_scale) - self.given) / self.survey.place_doubt,
        ]
        if self.survey.scaled:
            parts.append((log_scale - self.log_scales) / self.log_doubts)
        return np.concatenate(parts)

    def jacobian(self, unknowns: Array) -> Array:
        """Derivatives of :meth:`residuals`, (count, unknowns)."""
        centres, log_scale = self._split(unknowns)
        lengths, ahead = self._lengths(centres)
        tapes = len(self.taped)
        matrix = np.zeros((self.count, self.survey.size))
        rows = np.arange(tapes)
        slopes = ahead / lengths[:, None] / self.tape_doubt[:, None]
        for axis in (0, 1):
            matrix[rows, 2 * self.first + axis] = -slopes[:, axis]
            matrix[rows, 2 * self.second + axis] = slopes[:, axis]
        shrink = math.exp(-log_scale) / self.survey.place_doubt
        places = np.arange(tapes, tapes + len(self.given))
        matrix[places, self.columns] = shrink
        if self.survey.scaled:
            matrix[places, -1] = -centres.ravel()[self.columns] * shrink
            matrix[tapes + len(self.given) :, -1] = 1 / self.log_doubts
        return matrix

    def _split(self, unknowns: Array) -> tuple[Array, float]:
        count = 2 * len(self.survey.names)
        return unknowns[:count].reshape(-1, 2), float(unknowns[count]) if self.survey.scaled else 0.0

    def _lengths(self, centres: Array) -> tuple[Array, Array]:
        ahead = centres[self.second] - centres[self.first]
        return np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9), ahead


def rigid_motions(centres: Array) -> Array:
    """Orthonormal basis (2n, 3) of sliding two ways and turning about the middle, for flat centres (2n,)."""
    points = centres.reshape(-1, 2)
    middle = points - points.mean(axis=0)
    basis = np.zeros((centres.size, 3))
    basis[0::2, 0] = basis[1::2, 1] = 1.0
    basis[0::2, 2], basis[1::2, 2] = -middle[:, 1], middle[:, 0]
    if not middle.any():
        return basis[:, :2] / math.sqrt(len(points))
    return np.asarray(basis / np.linalg.norm(basis, axis=0))


def fit_from(survey: Survey, start: Array, log_scale: float = 0.0) -> Fit:
    """Least squares (Levenberg-Marquardt, scipy's MINPACK) from flat starting centres (2n,)."""
    from scipy.optimize import least_squares  # 0.3 s to import, and coordinates alone do without

    equations = Equations(survey)
    begin = np.append(start, log_scale) if survey.scaled else start.copy()
    still = rigid_motions(start).T if survey.floating else np.zeros((0, survey.size))

    def held(unknowns: Array) -> Array:
        return np.concatenate([equations.residuals(unknowns), still @ (unknowns - begin)])

    def slopes(unknowns: Array) -> Array:
        return np.vstack([equations.jacobian(unknowns), still])

    answer = least_squares(held, begin, jac=slopes, method="lm", xtol=1e-13, ftol=1e-14, gtol=1e-14)
    count = 2 * len(survey.names)
    chi_square = float(np.sum(equations.residuals(answer.x) ** 2))
    return Fit(answer.x[:count], float(answer.x[count]) if survey.scaled else 0.0, chi_square)


def all_fits(survey: Survey) -> list[Fit]:
    """Every different layout found that is a least-squares fit, best first.

    Started from several places, and then from each layout found with a pulley, or a group that hangs on two
    pulleys only, mirrored over to its other side.
    """
    found: list[Fit] = []
    waiting = deque(starting_centres(survey))
    groups = list(_groups_to_mirror(survey))
    fits = 0
    while waiting and fits < MOST_FITS:
        fit = fit_from(survey, waiting.popleft(), _first_log_scale(survey))
        fits += 1
        if any(_same(survey, fit, other) for other in found):
            continue
        found.append(fit)
        waiting.extend(_mirrored(fit.centres, group, line) for group, line in groups)
    return sorted(found, key=lambda fit: fit.chi_square)


def starting_centres(survey: Survey) -> Iterator[Array]:
    """Rough layouts to start from, flat (2n,): the places given, classical scaling, or trilateration.

    Classical scaling (Torgerson's method): the squared distances, centred twice, are the centres' inner products,
    whose two largest eigenvectors are the layout; it needs every pair taped. Otherwise each pulley in turn goes
    where two tapes from pulleys that already stand meet, on the side the other tapes like better.
    """
    if len(survey.placed) == len(survey.names):
        yield np.array(survey.places, dtype=np.float64).ravel() * math.exp(_first_log_scale(survey))
        return
    taped = taped_table(survey)
    if survey.floating and np.isfinite(taped).all():
        yield _classical_scaling(taped)
    chance = np.random.default_rng(20)  # seeded: the same sheet gives the same layout every time
    for _ in range(RANDOM_STARTS):
        yield _trilaterate(survey, taped, chance)


def taped_table(survey: Survey) -> Array:
    """Distances between each pair, mm (n, n): as taped (the mean where taped twice), infinite where not."""
    total = np.zeros((len(survey.names), len(survey.names)))
    times = np.zeros_like(total)
    for tape in survey.tapes:
        for row, column in ((tape.first, tape.second), (tape.second, tape.first)):
            total[row, column] += tape.distance_mm
            times[row, column] += 1
    table = np.where(times > 0, total / np.maximum(times, 1), np.inf)
    np.fill_diagonal(table, 0.0)
    return np.asarray(table)


def _classical_scaling(taped: Array) -> Array:
    count = len(taped)
    centring = np.eye(count) - 1 / count
    values, vectors = np.linalg.eigh(-0.5 * centring @ taped**2 @ centring)
    largest = values[::-1][:2]
    return np.asarray(vectors[:, ::-1][:, :2] * np.sqrt(np.maximum(largest, 0.0))).ravel()


def _first_log_scale(survey: Survey) -> float:
    """A first guess of the logarithm of the scale: the median of what each measurement says by itself."""
    if not survey.scaled:
        return 0.0
    guesses = [one.log_scale for one in survey.scale_readings]
    for tape in survey.tapes:
        ends = survey.places[tape.first], survey.places[tape.second]
        if ends[0] is not None and ends[1] is not None and ends[0] != ends[1]:
            guesses.append(math.log(tape.distance_mm / math.dist(ends[0], ends[1])))
    return float(np.median(guesses)) if guesses else 0.0


def _trilaterate(survey: Survey, taped: Array, chance: np.random.Generator) -> Array:
    count = len(survey.names)
    spread = float(np.max(taped[np.isfinite(taped)]))
    centres = chance.normal(0.0, spread or 1.0, (count, 2))  # for what is reached by fewer than two tapes
    standing = list(survey.placed) if not survey.floating else []
    for k in standing:
        centres[k] = np.array(survey.places[k]) * math.exp(_first_log_scale(survey))
    if not standing:
        base, other = _first_pair(taped, chance)
        centres[base], centres[other] = (0.0, 0.0), (taped[base, other], 0.0)
        standing = [base, other]
    while len(standing) < count:
        waiting = [k for k in range(count) if k not in standing]
        known = [sum(math.isfinite(taped[k, s]) for s in standing) for k in waiting]
        k = waiting[int(np.argmax(np.array(known) + chance.uniform(0.0, 0.5, len(waiting))))]
        centres[k] = _where_tapes_meet(centres, taped[k], [s for s in standing if math.isfinite(taped[k, s])],
                                       centres[k], chance)  # fmt: skip
        standing.append(k)
    return centres.ravel()


def _first_pair(taped: Array, chance: np.random.Generator) -> tuple[int, int]:
    pairs = [(i, j) for i, j in zip(*np.nonzero(np.isfinite(taped)), strict=True) if i < j]
    base, other = pairs[int(chance.integers(len(pairs)))]
    return int(base), int(other)


def _where_tapes_meet(
    centres: Array, taped: Array, fixed: Sequence[int], otherwise: Array, chance: np.random.Generator
) -> Array:
    """Where the circles round the two fixed pulleys furthest apart meet, on the side that suits the others."""
    if len(fixed) < 2:
        return centres[fixed[0]] + taped[fixed[0]] * _unit(chance.uniform(0, 2 * math.pi)) if fixed else otherwise
    pairs = [(i, j) for i in fixed for j in fixed if i < j]
    i, j = max(pairs, key=lambda pair: float(np.linalg.norm(centres[pair[0]] - centres[pair[1]])))
    axis = centres[j] - centres[i]
    apart = max(float(np.linalg.norm(axis)), 1e-9)
    along = (taped[i] ** 2 - taped[j] ** 2 + apart**2) / (2 * apart)
    aside = math.sqrt(max(taped[i] ** 2 - along**2, 0.0))
    axis = axis / apart
    foot, normal = centres[i] + along * axis, np.array([-axis[1], axis[0]])
    sides = [foot + aside * normal, foot - aside * normal]
    misses = [sum((float(np.linalg.norm(side - centres[k])) - taped[k]) ** 2 for k in fixed) for side in sides]
    if abs(misses[0] - misses[1]) < 1e-6 * apart**2:
        return np.asarray(sides[int(chance.integers(2))])
    return np.asarray(sides[int(misses[1] < misses[0])])


def _unit(angle_rad: float) -> Array:
    return np.array([math.cos(angle_rad), math.sin(angle_rad)])


def neighbours(survey: Survey) -> list[set[int]]:
    """For each pulley, those whose distance from it was measured: taped, or both places given."""
    near: list[set[int]] = [set() for _ in survey.names]
    fixed = () if survey.floating else survey.placed
    pairs = [(tape.first, tape.second) for tape in survey.tapes] + [(i, j) for i in fixed for j in fixed if i < j]
    for i, j in pairs:
        near[i].add(j)
        near[j].add(i)
    return near


def _groups_to_mirror(survey: Survey) -> Iterator[tuple[list[int], list[int]]]:
    """Groups that could sit on the other side of a line, each with the pulleys that the line runs through."""
    near = neighbours(survey)
    count = len(survey.names)
    free = [k for k in range(count) if survey.places[k] is None]
    if free and not survey.floating:
        yield free, list(survey.placed)
    for k in range(count):
        if len(near[k]) >= 2 and (survey.floating or survey.places[k] is None):
            yield [k], sorted(near[k])
    for i in range(count):
        for j in range(i + 1, count):
            pieces = _pieces(near, {i, j})
            if len(pieces) > 1 or not survey.floating:
                yield from ((piece, [i, j]) for piece in pieces if len(piece) > 1 and _may_move(survey, piece))


def _may_move(survey: Survey, piece: Sequence[int]) -> bool:
    return survey.floating or all(survey.places[k] is None for k in piece)


def _pieces(near: Sequence[set[int]], without: set[int]) -> list[list[int]]:
    left = set(range(len(near))) - without
    pieces = []
    while left:
        piece, edge = set(), {min(left)}
        while edge:
            piece |= edge
            edge = {k for one in edge for k in near[one]} - piece - without
        pieces.append(sorted(piece))
        left -= piece
    return pieces


def _mirrored(centres: Array, group: Sequence[int], line: Sequence[int]) -> Array:
    """The layout with a group mirrored in the straight line that fits the pulleys of ``line`` best."""
    points = centres.reshape(-1, 2).copy()
    middle = points[line].mean(axis=0)
    _, _, directions = np.linalg.svd(points[line] - middle)
    normal = directions[1]
    points[group] -= 2 * ((points[group] - middle) @ normal)[:, None] * normal
    return points.ravel()


def _same(survey: Survey, one: Fit, other: Fit) -> bool:
    if not survey.floating:
        return float(np.max(np.abs(one.centres - other.centres))) < SAME_MM
    return float(np.max(np.abs(pair_distances(one.centres) - pair_distances(other.centres)))) < SAME_MM


def pair_distances(centres: Array) -> Array:
    """Distances between all pairs, mm (n, n), of flat centres (2n,)."""
    points = centres.reshape(-1, 2)
    ahead = points[:, None, :] - points[None, :, :]
    return np.asarray(np.hypot(ahead[..., 0], ahead[..., 1]))
