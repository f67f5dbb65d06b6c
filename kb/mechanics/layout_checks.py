"""What a layout's measurements can and cannot tell: is it held, what to tape next, and which measurement is wrong.

Sources: rigidity of a framework of rods through the rank of its distance equations at a generic position
(Asimow and Roth); least-squares redundancy numbers and the search for one gross error by leaving out each
measurement in turn (Baarda's reliability theory, as used for survey networks). Textbook theory, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np

from kb.mechanics.layout_fit import (
    Array,
    Equations,
    Fit,
    Survey,
    fit_from,
    pair_distances,
    rigid_motions,
    starting_centres,
)

Pair = tuple[int, int]

BLAME_WEIGHT = 0.95
"""Suspects are named until one of them is the wrong one with this weight, if exactly one measurement is wrong."""
UNSEEN_REDUNDANCY = 0.01
"""Share of an error that shows as disagreement, below which it is said that nothing checks the measurement."""
TRIANGLE_DOUBTS = 3.0
"""A distance longer than the way round by more than this many doubts cannot be."""


@dataclass(frozen=True, slots=True)
class Rigidity:
    """Whether the measurements hold every pulley: how many are missing, what is loose, which pairs to tape."""

    missing: int
    body: tuple[int, ...]
    loose: tuple[int, ...]
    to_tape: tuple[Pair, ...]


@dataclass(frozen=True, slots=True)
class Impossible:
    """A taped distance longer than the way round through other pulleys, which no layout can have."""

    tape: int
    way_round: tuple[int, ...]
    too_long_mm: float


@dataclass(frozen=True, slots=True)
class Blame:
    """One measurement left out: what then remains, and by how much it disagrees with the rest.

    ``kind`` is ``tape`` (index into the tapes), ``place`` (index of the pulley) or ``scale`` (index into the scale
    readings). ``off_mm`` is the measurement less what the others say: one number for a tape (positive: read too
    long) or a scale reading, x and y for a place.
    """

    kind: str
    index: int
    chi_square: float
    numbers: int
    off_mm: tuple[float, ...]
    doubt_mm: float
    fit: Fit
    weight: float = 0.0


def rigidity(survey: Survey) -> Rigidity:
    """Tell whether the measurements hold the layout, by their number and arrangement, not their values.

    The derivatives are taken at random positions (seeded): their rank there is the rank everywhere but in special
    positions, such as pulleys exactly in line, whose doubt says so by itself.
    """
    count = len(survey.names)
    place = np.random.default_rng(7).uniform(-1.0, 1.0, 2 * count)
    table = {pair: _distance_row(place, pair, survey.size) for pair in combinations(range(count), 2)}
    loose = _null_space(_measured_rows(survey, place))
    body = _body(survey, table, loose)
    to_tape: list[Pair] = []
    fixed = set() if survey.floating else set(survey.placed)
    now = loose
    while now.shape[1]:
        useful = [p for p in table if np.linalg.norm(table[p] @ now) > 1e-8 and not set(p) <= fixed]
        if not useful:
            break
        best = max(useful, key=lambda p: (_settled(table, _shrunk(now, table[p])), _joins(p, body), -sum(p)))
        to_tape.append(best)
        now = _shrunk(now, table[best])
    outside = tuple(k for k in range(count) if k not in body)
    return Rigidity(loose.shape[1], body, outside if loose.shape[1] else (), tuple(to_tape))


def _measured_rows(survey: Survey, place: Array) -> Array:
    rows = [_distance_row(place, (tape.first, tape.second), survey.size) for tape in survey.tapes]
    if survey.floating:
        rows += list(rigid_motions(place).T)
    for k in () if survey.floating else survey.placed:
        for axis in (0, 1):
            row = np.zeros(survey.size)
            row[2 * k + axis] = 1.0
            if survey.scaled:
                row[-1] = -place[2 * k + axis]
            rows.append(row)
    if survey.scaled and survey.scale_readings:
        rows.append(np.eye(survey.size)[-1])
    return np.array(rows).reshape(-1, survey.size)


def _distance_row(place: Array, pair: Pair, size: int) -> Array:
    i, j = pair
    row = np.zeros(size)
    ahead = place[2 * j : 2 * j + 2] - place[2 * i : 2 * i + 2]
    row[2 * j : 2 * j + 2] = ahead / max(float(np.hypot(*ahead)), 1e-9)
    row[2 * i : 2 * i + 2] = -row[2 * j : 2 * j + 2]
    return row


def _null_space(rows: Array) -> Array:
    _, values, directions = np.linalg.svd(rows, full_matrices=True)
    rank = int(np.sum(values > 1e-9 * max(1.0, float(values.max(initial=0.0)))))
    return np.asarray(directions[rank:].T)


def _shrunk(loose: Array, row: Array) -> Array:
    """The motions still free once a further distance is held."""
    return np.asarray(loose @ _null_space((row @ loose).reshape(1, -1)))


def _settled(table: dict[Pair, Array], loose: Array) -> int:
    return sum(bool(np.linalg.norm(row @ loose) < 1e-8) for row in table.values())


def _joins(pair: Pair, body: Sequence[int]) -> bool:
    return (pair[0] in body) != (pair[1] in body)


def _body(survey: Survey, table: dict[Pair, Array], loose: Array) -> tuple[int, ...]:
    """The largest group of pulleys that hold each other; with places given, the one they are in."""
    held = {pair for pair, row in table.items() if np.linalg.norm(row @ loose) < 1e-8}
    groups = [{survey.driver}]
    for i, j in held:
        both = {k for k in range(len(survey.names)) if _held(held, i, k) and _held(held, j, k)}
        groups.append(both)
    fixed = set() if survey.floating else set(survey.placed)
    best = max(groups, key=lambda group: (fixed <= group, len(group), survey.driver in group, -min(group)))
    return tuple(sorted(best))


def _held(held: set[Pair], i: int, k: int) -> bool:
    return i == k or (min(i, k), max(i, k)) in held


def impossible_distances(survey: Survey) -> list[Impossible]:
    """Taped distances longer than a way round through other pulleys (triangle inequality), worst first.

    Only beyond :data:`TRIANGLE_DOUBTS` combined doubts; the way with the shortest taped sum is looked at.
    """
    found = []
    for index, tape in enumerate(survey.tapes):
        rest = [other for k, other in enumerate(survey.tapes) if k != index]
        steps = {(a, b): other for other in rest for a, b in ((other.first, other.second), (other.second, other.first))}
        way = _shortest_way({pair: other.distance_mm for pair, other in steps.items()}, tape.first, tape.second)
        if len(way) < 3:
            continue
        legs = [steps[pair] for pair in pairwise(way)]
        excess = tape.distance_mm - sum(leg.distance_mm for leg in legs)
        doubt = math.sqrt(tape.doubt_mm**2 + sum(leg.doubt_mm**2 for leg in legs))
        if excess > TRIANGLE_DOUBTS * doubt:
            found.append(Impossible(index, tuple(way[1:-1]), excess))
    return sorted(found, key=lambda one: -one.too_long_mm)


def _shortest_way(lengths: dict[Pair, float], start: int, end: int) -> list[int]:
    best: dict[int, tuple[float, list[int]]] = {start: (0.0, [start])}
    open_ends = {start}
    while open_ends:
        here = min(open_ends, key=lambda k: best[k][0])
        open_ends.remove(here)
        for (a, b), length in lengths.items():
            if a == here and (b not in best or best[here][0] + length < best[b][0]):
                best[b] = (best[here][0] + length, [*best[here][1], b])
                open_ends.add(b)
    return best[end][1] if end in best else []


def full_covariance(survey: Survey, fit: Fit) -> Array:
    """Covariance of all that was fitted: centres, mm^2 (2n, 2n), with the log scale behind them where it is fitted.

    The inverse of the weighted normal equations; sliding and turning as a whole, which no distance sees, are taken
    out (the inner-constraint solution of survey networks). Directions that the measurements hardly hold count as
    unknown by the layout's own size, since first-order doubts would call them infinite.
    """
    unknowns = np.append(fit.centres, fit.log_scale) if survey.scaled else fit.centres
    slopes = Equations(survey).jacobian(unknowns)
    normal = slopes.T @ slopes
    free = rigid_motions(fit.centres) if survey.floating else np.zeros((survey.size, 0))
    weight = max(float(np.trace(normal)), 1e-12)
    values, vectors = np.linalg.eigh(normal + weight * free @ free.T)
    size_mm = max(float(pair_distances(fit.centres).max(initial=0.0)), 1.0)
    values = np.maximum(values, 1 / size_mm**2)
    return np.asarray((vectors / values) @ vectors.T - free @ free.T / weight)


def redundancy_numbers(survey: Survey, fit: Fit) -> Array:
    """For each equation (tapes, then coordinates, ...) the share of its error that the others see: 0 none, 1 all."""
    unknowns = np.append(fit.centres, fit.log_scale) if survey.scaled else fit.centres
    slopes = Equations(survey).jacobian(unknowns)
    return np.asarray(1 - np.einsum("ij,jk,ik->i", slopes, full_covariance(survey, fit), slopes))


def measurements(survey: Survey) -> list[tuple[str, int, list[int]]]:
    """Each measurement with the equations it makes: (``tape``, ``place`` or ``scale``, index, equation numbers)."""
    tapes = len(survey.tapes)
    placed = () if survey.floating else survey.placed
    answer = [("tape", k, [k]) for k in range(tapes)]
    answer += [("place", k, [tapes + 2 * order, tapes + 2 * order + 1]) for order, k in enumerate(placed)]
    before = tapes + 2 * len(placed)
    answer += [("scale", k, [before + k]) for k in range(len(survey.scale_readings) if survey.scaled else 0)]
    return answer


def without(survey: Survey, kind: str, index: int) -> Survey:
    """The survey with one measurement left out."""
    if kind == "tape":
        return replace(survey, tapes=survey.tapes[:index] + survey.tapes[index + 1 :])
    if kind == "scale":
        readings = survey.scale_readings
        return replace(survey, scale_readings=readings[:index] + readings[index + 1 :])
    return replace(survey, places=tuple(None if k == index else place for k, place in enumerate(survey.places)))


def blames(survey: Survey, fit: Fit) -> list[Blame]:
    """Leave out each measurement that the others check and fit again; the most likely wrong one first.

    The weight of each is its likelihood, exp(-chi^2 / 2) of what remains less one for each number left out beyond
    the first, made to sum to one.
    """
    shares = redundancy_numbers(survey, fit)
    tried = []
    for kind, index, equations in measurements(survey):
        if min(shares[k] for k in equations) < 1e-6:
            continue
        rest = without(survey, kind, index)
        if rigidity(rest).missing or (kind == "place" and rest.floating):
            continue
        again = _fit_again(rest, fit)
        off, doubt = _off_by(survey, rest, again, kind, index)
        tried.append(Blame(kind, index, again.chi_square, len(equations), off, doubt, again))
    if not tried:
        return []
    scores = np.array([one.chi_square / 2 + one.numbers - 1 for one in tried])
    weights = np.exp(scores.min() - scores)
    weights /= weights.sum()
    return sorted(
        (replace(one, weight=float(weight)) for one, weight in zip(tried, weights, strict=True)),
        key=lambda one: -one.weight,
    )


def _fit_again(rest: Survey, fit: Fit) -> Fit:
    """The best fit near the one before; where that is poor, an error may have folded it: try from scratch too."""
    best = fit_from(rest, fit.centres, fit.log_scale)
    if best.chi_square > 25.0 * max(len(rest.tapes), 1):
        fresh = [fit_from(rest, start, fit.log_scale) for start in starting_centres(rest)]
        best = min([best, *fresh], key=lambda one: one.chi_square)
    return best


def _off_by(survey: Survey, rest: Survey, fit: Fit, kind: str, index: int) -> tuple[tuple[float, ...], float]:
    covariance = full_covariance(rest, fit)
    if kind == "tape":
        tape = survey.tapes[index]
        row = _distance_row(fit.centres, (tape.first, tape.second), rest.size)
        fitted = float(pair_distances(fit.centres)[tape.first, tape.second])
        return (tape.distance_mm - fitted,), math.sqrt(tape.doubt_mm**2 + float(row @ covariance @ row))
    scale = math.exp(fit.log_scale)
    if kind == "scale":
        one = survey.scale_readings[index]
        return (one.known_mm - one.read * scale,), one.known_mm * math.hypot(one.log_doubt, covariance[-1, -1] ** 0.5)
    given = np.array(survey.places[index]) * scale
    block = covariance[2 * index : 2 * index + 2, 2 * index : 2 * index + 2]
    doubt = math.sqrt(float(np.trace(block)) / 2 + (survey.place_doubt * scale) ** 2)
    off = given - fit.centres[2 * index : 2 * index + 2]
    return (float(off[0]), float(off[1])), doubt


def suspects(ranked: Sequence[Blame], redundancy: int) -> tuple[Blame, ...]:
    """Those that may be the wrong one, most likely first: none, two or more, or one, by what the data can carry.

    With one distance too many, leaving out any of them mends it, so none is named. With two or three, the noise
    of the others is too much for one name (five pulleys, every pair taped, have three): at least two. Beyond, as
    many as it takes to reach :data:`BLAME_WEIGHT`.
    """
    if redundancy <= 1 or not ranked:
        return ()
    least = 2 if redundancy <= 3 else 1
    total, count = 0.0, 0
    for one in ranked:
        if count >= least and total >= BLAME_WEIGHT:
            break
        total += one.weight
        count += 1
    return tuple(ranked[:count]) if count < len(ranked) else ()


def unchecked(survey: Survey, fit: Fit) -> list[tuple[str, int]]:
    """Measurements that could be wrong without the others noticing."""
    shares = redundancy_numbers(survey, fit)
    return [
        (kind, index)
        for kind, index, equations in measurements(survey)
        if min(shares[k] for k in equations) < UNSEEN_REDUNDANCY
    ]


def best_next_tape(
    survey: Survey, fit: Fit, doubt_mm: float = 1.5, gradient: Array | None = None
) -> tuple[Pair, float, float] | None:
    """The untaped pair whose distance settles most: (pair, doubt now, doubt then), mm; None if all are taped.

    The doubt is the root mean square over all centre-to-centre distances, or, where ``gradient`` (2n,) gives how a
    wanted number (such as the route's length) moves with the centres, that number's doubt. A further measurement
    a of variance s^2 lowers the covariance C by C a a' C / (s^2 + a' C a) (sequential least squares).
    """
    covariance = full_covariance(survey, fit)
    count = len(survey.names)
    table = {pair: _distance_row(fit.centres, pair, survey.size) for pair in combinations(range(count), 2)}
    wanted = np.array(list(table.values()))
    if gradient is not None:
        wanted = np.concatenate([gradient, np.zeros(survey.size - 2 * count)]).reshape(1, -1)
    taped = {(min(tape.first, tape.second), max(tape.first, tape.second)) for tape in survey.tapes}
    open_pairs = [pair for pair in table if pair not in taped]
    if not open_pairs:
        return None

    def left(pair: Pair) -> float:
        seen = covariance @ table[pair]
        return _root_mean(wanted, covariance - np.outer(seen, seen) / (doubt_mm**2 + float(table[pair] @ seen)))

    best = min(open_pairs, key=left)
    return best, _root_mean(wanted, covariance), left(best)


def _root_mean(wanted: Array, covariance: Array) -> float:
    return math.sqrt(max(float(np.einsum("ij,jk,ik->", wanted, covariance, wanted)) / len(wanted), 0.0))
