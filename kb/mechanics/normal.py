"""Normal probabilities of one and two quantities, without loading a numerical library for them."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
NODES = 48


def normal_below(standard: Floats) -> Floats:
    """Return the chance that a standard normal quantity is below each of the given values.

    >>> normal_below(np.array([0.0, 1.959964])).round(4)
    array([0.5  , 0.975])
    """
    flat = np.ravel(standard)
    values = [0.5 * math.erfc(-one / math.sqrt(2.0)) for one in flat.tolist()]
    return np.reshape(np.array(values), np.shape(standard))


def both_below(first: Floats, second: Floats, correlation: float) -> Floats:
    """Return the chance that two standard normal quantities of that correlation are below the given values, both.

    Plackett's integral over the correlation r, put as r = sin t (R. L. Plackett, Biometrika 41, 1954; Drezner and
    Wesolowsky, 1990; from memory, tested against scipy)::

        P = P(first) P(second) + 1/(2 pi) integral_0^asin(r) exp(-(h^2 + k^2 - 2 h k sin t) / (2 cos^2 t)) dt

    >>> both_below(np.array([0.0]), np.array([0.0]), 0.5).round(6)  # 1/4 + asin(r)/(2 pi) = 1/3
    array([0.333333])
    """
    if correlation > 1.0 - 1e-9:
        return normal_below(np.minimum(first, second))
    if correlation < -1.0 + 1e-9:
        return np.maximum(normal_below(first) + normal_below(second) - 1.0, 0.0)
    nodes, weights = _nodes()
    top = math.asin(correlation)
    angle = top * nodes
    h, k = np.ravel(first)[:, np.newaxis], np.ravel(second)[:, np.newaxis]
    exponent = (h * h + k * k - 2.0 * h * k * np.sin(angle)) / (-2.0 * np.cos(angle) ** 2)
    integral = np.reshape(np.exp(exponent) @ weights * (top / (2.0 * math.pi)), np.shape(first))
    return np.clip(normal_below(first) * normal_below(second) + integral, 0.0, 1.0)


@lru_cache(maxsize=1)
def _nodes() -> tuple[Floats, Floats]:
    """Return Gauss-Legendre nodes and weights from 0 to 1."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    return (nodes + 1.0) / 2.0, weights / 2.0
