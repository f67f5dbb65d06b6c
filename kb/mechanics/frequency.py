"""The note of a plucked span: from tension to frequency and back.

Formula: the taut string, f = sqrt(T / m) / (2 L) (textbook string vibration), without the belt's bending stiffness,
which makes short spans sound a little higher. On a running belt the waves run with and against the motion at
c + v and c - v, where c = sqrt(T / m), and the fundamental falls to f = (c - v^2 / c) / (2 L) (axially moving string).

T is the span's whole tension, its centrifugal part included: at speed that is what stretches the belt. Belts are
plucked standing, with the engine off and its key out: a running belt is never touched.
"""

from __future__ import annotations

import math


class FrequencyError(ValueError):
    """A tension, mass, span or frequency that cannot be."""


def span_frequency_hz(tension_n: float, mass_kg_per_m: float, span_mm: float, belt_speed_m_s: float = 0.0) -> float:
    """Fundamental frequency of a span, Hz.

    ``tension_n``: N, the whole of it. ``mass_kg_per_m``: of the whole belt, all its ribs. ``span_mm``: between the
    tangent points. Raises :class:`FrequencyError` for what is not positive, and for a belt that runs faster than
    its waves.

    >>> round(span_frequency_hz(400.0, 0.105, 300.0), 4)
    102.8689
    """
    _positive(tension_n, "the tension (N)")
    _positive(mass_kg_per_m, "the belt's mass (kg/m)")
    _positive(span_mm, "the span (mm)")
    _not_negative(belt_speed_m_s)
    wave_m_s = math.sqrt(tension_n / mass_kg_per_m)
    if belt_speed_m_s >= wave_m_s:
        raise FrequencyError(
            f"at {belt_speed_m_s:g} m/s a tension of {tension_n:g} N is all taken by the belt's own centrifugal pull"
        )
    return (wave_m_s - belt_speed_m_s**2 / wave_m_s) / (2 * span_mm / 1000)


def tension_from_frequency_n(
    frequency_hz: float, mass_kg_per_m: float, span_mm: float, belt_speed_m_s: float = 0.0
) -> float:
    """Tension of a span that sounds at ``frequency_hz``, N: the inverse of :func:`span_frequency_hz`.

    From c^2 - 2 L f c - v^2 = 0, whose positive root is the speed of the waves; T = m c^2, so standing
    T = 4 m L^2 f^2.

    >>> round(tension_from_frequency_n(92.0, 0.105, 340.0), 4)
    410.9441
    """
    _positive(frequency_hz, "the frequency (Hz)")
    _positive(mass_kg_per_m, "the belt's mass (kg/m)")
    _positive(span_mm, "the span (mm)")
    _not_negative(belt_speed_m_s)
    half_m_s = frequency_hz * span_mm / 1000
    wave_m_s = half_m_s + math.hypot(half_m_s, belt_speed_m_s)
    return mass_kg_per_m * wave_m_s**2


def tension_doubt_n(
    frequency_hz: float,
    frequency_doubt_hz: float,
    mass_kg_per_m: float,
    mass_doubt_kg_per_m: float,
    span_mm: float,
    span_doubt_mm: float,
) -> float:
    """Standard deviation of a standing span's tension, N.

    First order from T = 4 m L^2 f^2: the relative doubts, frequency and span counted twice, added in squares.

    >>> round(tension_doubt_n(92.0, 0.92, 0.105, 0.0, 340.0, 0.0), 4)  # 1 % of the frequency is 2 % of the tension
    8.2189
    """
    tension_n = tension_from_frequency_n(frequency_hz, mass_kg_per_m, span_mm)
    for doubt in (frequency_doubt_hz, mass_doubt_kg_per_m, span_doubt_mm):
        if not doubt >= 0:
            raise FrequencyError(f"a doubt cannot be less than nothing, not {doubt:g}")
    return tension_n * math.hypot(
        2 * frequency_doubt_hz / frequency_hz, 2 * span_doubt_mm / span_mm, mass_doubt_kg_per_m / mass_kg_per_m
    )


def _positive(value: float, what: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise FrequencyError(f"{what} must be more than nothing, not {value:g}")


def _not_negative(belt_speed_m_s: float) -> None:
    if not (math.isfinite(belt_speed_m_s) and belt_speed_m_s >= 0):
        raise FrequencyError(f"the belt's speed (m/s) cannot be {belt_speed_m_s:g}")
