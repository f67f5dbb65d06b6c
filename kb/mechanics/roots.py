"""Finding where a function is zero, without loading a numerical library for it."""

from __future__ import annotations

from collections.abc import Callable


def find_root(
    value: Callable[[float], float], low: float, high: float, slope: Callable[[float], float] | None = None
) -> float:
    """Find where a continuous function that changes sign between two places is zero, to the last digits.

    Newton's method where a slope is given and its step stays between the places known to differ in sign, else halving.
    Raises ``ValueError`` where the sign is the same at both places.

    >>> round(find_root(lambda x: x * x - 2, 0.0, 2.0, lambda x: 2 * x), 12)
    1.414213562373
    """
    at_low, at_high = value(low), value(high)
    if at_low == 0.0 or at_high == 0.0:
        return low if at_low == 0.0 else high
    if (at_low > 0.0) == (at_high > 0.0):
        raise ValueError("the function does not change sign between the two places")
    here = (low + high) / 2
    for _ in range(200):
        at_here = value(here)
        if at_here == 0.0:
            return here
        if (at_here > 0.0) == (at_low > 0.0):
            low = here
        else:
            high = here
        following = _step(here, at_here, low, high, slope)
        if abs(following - here) <= 1e-15 * max(1.0, abs(here)):
            return following
        here = following
    return here


def _step(here: float, at_here: float, low: float, high: float, slope: Callable[[float], float] | None) -> float:
    steep = slope(here) if slope else 0.0
    if steep:
        newton = here - at_here / steep
        if min(low, high) < newton < max(low, high):
            return newton
    return (low + high) / 2
