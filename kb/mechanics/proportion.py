"""How sure a count of few is: 3 of 7 is no 43 per cent, it is somewhere between 16 and 75."""

from __future__ import annotations

import math
from statistics import NormalDist


class ProportionError(ValueError):
    """A count of more than there are."""


def wilson_interval(count: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the Wilson score interval of a proportion, low and high, 0 to 1, without continuity correction.

    E. B. Wilson, Journal of the American Statistical Association 22 (1927), 209-212. With p = count/of and z the normal
    quantile::

        (p + z^2/2n -+ z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n)

    Nothing counted of nothing says nothing: 0 to 1. Raises :class:`ProportionError`.

    >>> [round(end, 3) for end in wilson_interval(3, 7)]
    [0.158, 0.75]
    """
    if not 0 <= count <= of:
        raise ProportionError(f"{count} of {of} cannot be counted")
    if not 0.0 < confidence < 1.0:
        raise ProportionError(f"a confidence lies between 0 and 1, not at {confidence:g}")
    if of == 0:
        return 0.0, 1.0
    z = NormalDist().inv_cdf((1.0 + confidence) / 2.0)
    share = count / of
    middle = share + z * z / (2 * of)
    half = z * math.sqrt(share * (1.0 - share) / of + z * z / (4 * of * of))
    scale = 1.0 + z * z / of
    low = 0.0 if count == 0 else (middle - half) / scale
    high = 1.0 if count == of else (middle + half) / scale
    return low, high
