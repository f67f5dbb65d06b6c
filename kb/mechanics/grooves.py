"""Pulley grooves and what a ball, a caliper or a ruler tells about them; lengths in millimetres, angles in radians.

A ball touches both flanks of a groove of pitch e and angle a. Its far side stands d_B / 2 (1 + 1 / sin(a/2)) over the
crossing of the flanks below; the neighbouring flanks meet above, e / 2 / tan(a/2) over that crossing, and the tip between
two grooves is that corner rounded by r_t, which takes r_t (1 / sin(a/2) - 1) off it.

           . ball .
    ___   (   o   )   ___      <- rounded tips: the outside diameter
       \\   ' . '   /
        \\         /
         \\       /            <- effective line: at the tips where they are as sharp as the standard allows
          `-_ _-'
"""

from __future__ import annotations

import math

OUTSIDE_TO_EFFECTIVE_MM = 0.35
"""Effective minus outside diameter of a PK pulley: tips may be rounder by up to about 0.7 mm of diameter, half of which is
likeliest where nothing is known (from the groove geometry of ISO 9981; the split is common practice, no source)."""

OUTSIDE_TO_EFFECTIVE_DOUBT_MM = 0.2
"""One standard deviation of :data:`OUTSIDE_TO_EFFECTIVE_MM`: a band 0.7 mm wide has 0.7 / sqrt(12)."""


class GrooveError(ValueError):
    """A groove, ball or belt that cannot be."""


def over_balls_minus_corner_mm(pitch_mm: float, angle_rad: float, ball_mm: float) -> float:
    """Return the diameter over two balls less the one over the flanks' sharp corners, d_B (1 + 1/sin) - e/tan.

    >>> round(over_balls_minus_corner_mm(3.56, math.radians(40), 2.5), 3)
    0.028
    """
    _check(pitch_mm, angle_rad, ball_mm)
    half = angle_rad / 2
    return ball_mm * (1 + 1 / math.sin(half)) - pitch_mm / math.tan(half)


def over_balls_minus_effective_mm(pitch_mm: float, angle_rad: float, ball_mm: float, tip_radius_mm: float) -> float:
    """Return 2X of ISO 9981: the diameter over two balls less the one over tips of the smallest radius allowed.

    2X = d_B (1 + 1/sin(a/2)) - e / tan(a/2) + 2 r_t (1/sin(a/2) - 1).

    >>> round(over_balls_minus_effective_mm(3.56, math.radians(40), 2.5, 0.25), 2)
    0.99
    """
    if tip_radius_mm < 0:
        raise GrooveError(f"a tip's radius cannot be {tip_radius_mm:g} mm")
    corner = over_balls_minus_corner_mm(pitch_mm, angle_rad, ball_mm)
    return corner + 2 * tip_radius_mm * (1 / math.sin(angle_rad / 2) - 1)


def effective_line_over_crossing_mm(angle_rad: float, ball_mm: float, over_balls_minus_effective_mm: float) -> float:
    """Return how far the effective line lies over the point where a groove's own flanks meet.

    >>> round(effective_line_over_crossing_mm(math.radians(40), 2.5, 0.99), 4)
    4.4098
    """
    _check(ball_mm, angle_rad, ball_mm)
    return ball_mm / 2 * (1 + 1 / math.sin(angle_rad / 2)) - over_balls_minus_effective_mm / 2


def tip_over_crossing_mm(pitch_mm: float, angle_rad: float, tip_radius_mm: float) -> float:
    """Return how far a rounded tip stands over the point where a groove's own flanks meet.

    >>> round(tip_over_crossing_mm(3.56, math.radians(40), 0.25), 3)
    4.41
    """
    _check(pitch_mm, angle_rad, pitch_mm)
    half = angle_rad / 2
    return pitch_mm / 2 / math.tan(half) - tip_radius_mm * (1 / math.sin(half) - 1)


def over_balls_minus_effective_v_mm(effective_width_mm: float, angle_rad: float, ball_mm: float) -> float:
    """Return 2K of SAE J636: the diameter over two balls in a V groove less its effective diameter.

    The flanks are ``effective_width_mm`` apart at the effective diameter: 2K = d (1 + 1/sin(a/2)) - W / tan(a/2).

    >>> round(over_balls_minus_effective_v_mm(0.380, math.radians(36), 0.3125), 4)  # in inches, as SAE J636 lists it
    0.1543
    """
    return over_balls_minus_corner_mm(effective_width_mm, angle_rad, ball_mm)


def effective_diameter_over_balls_mm(over_balls_mm: float, over_balls_minus_effective_mm: float = 0.99) -> float:
    """Return a pulley's effective diameter for a diameter measured over two balls, d_e = K - 2X; 2X is that of PK.

    >>> round(effective_diameter_over_balls_mm(96.48), 2)
    95.49
    """
    return over_balls_mm - over_balls_minus_effective_mm


def effective_diameter_from_outside_mm(outside_mm: float) -> tuple[float, float]:
    """Return a PK pulley's effective diameter and its doubt for a diameter calipered across its tips.

    >>> effective_diameter_from_outside_mm(150.0)
    (150.35, 0.2)
    """
    return outside_mm + OUTSIDE_TO_EFFECTIVE_MM, OUTSIDE_TO_EFFECTIVE_DOUBT_MM


def belt_width_mm(ribs: int, pitch_mm: float) -> float:
    """Return a ribbed belt's width, ribs times pitch (ISO 9982).

    >>> round(belt_width_mm(8, 3.56), 2)
    28.48
    """
    if ribs < 1:
        raise GrooveError(f"a belt has one rib or more, not {ribs}")
    return ribs * pitch_mm


def ribs_from_width(width_mm: float, pitch_mm: float) -> int:
    """Return the rib count of a belt of that width; raises :class:`GrooveError` where it is nearer half a rib.

    >>> ribs_from_width(28.0, 3.56)
    8
    """
    count = width_mm / pitch_mm
    ribs = round(count)
    if ribs < 1 or abs(count - ribs) > 0.4:
        raise GrooveError(f"a belt {width_mm:g} mm wide has {count:.1f} ribs of {pitch_mm:g} mm: count them instead")
    return ribs


def _check(pitch_mm: float, angle_rad: float, ball_mm: float) -> None:
    if not 0 < angle_rad < math.pi:
        raise GrooveError(f"a groove's angle lies between 0 and 180 degrees, not {math.degrees(angle_rad):g}")
    if pitch_mm <= 0 or ball_mm <= 0:
        raise GrooveError(
            f"a groove's width and the ball in it are more than nothing, not {pitch_mm:g} and {ball_mm:g} mm"
        )
