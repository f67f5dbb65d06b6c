"""A layout read off one photo, taken straight on: places in pixels, and something of known size for the scale.

A photo shows shape, not size. One taped distance or one known diameter gives the scale, whose doubt every centre
then shares; more of them check each other. What lies nearer to the camera than the rest looks larger
(:func:`parallax`): stand far back and zoom in.
"""

from __future__ import annotations

from collections.abc import Sequence

from kb.mechanics.layout_fit import LayoutError, ScaleReading, Survey, Tape


def photo_survey(
    names: Sequence[str],
    places_px: Sequence[tuple[float, float] | None],
    *,
    tapes: Sequence[Tape] = (),
    sizes: Sequence[ScaleReading] = (),
    place_doubt_px: float,
    y_down: bool = False,
    driver: int = 0,
) -> Survey:
    """What :func:`kb.mechanics.layout.fit_layout` needs for a photo.

    ``places_px`` are the centres in pixels, x right and y up, or y down (as most viewers count) with ``y_down``;
    None for a pulley that the photo does not show and that tapes hold. ``sizes`` are known diameters, mm, with the
    pixels they measure. The layout comes out in mm, its origin where the photo's pixels begin.

    Raises :class:`LayoutError` without two places, or without any tape or size.

    >>> survey = photo_survey(["crank", "fan"], [(100, 50), (500, 350)], tapes=[Tape(0, 1, 250.0)], place_doubt_px=1)
    >>> from kb.mechanics.layout import fit_layout
    >>> round(fit_layout(survey).scale[0], 6)  # 500 px are 250 mm
    0.5
    """
    up = -1.0 if y_down else 1.0
    places = tuple(place and (float(place[0]), up * place[1]) for place in places_px)
    if sum(place is not None for place in places) < 2:
        raise LayoutError("a photo needs at least two pulleys placed in it")
    return Survey(
        names=tuple(names),
        places=places,
        tapes=tuple(tapes),
        place_doubt=place_doubt_px,
        scaled=True,
        scale_readings=tuple(sizes),
        driver=driver,
    )


def parallax(nearer_mm: float, camera_mm: float) -> float:
    """By what share something looks too large that sits ``nearer_mm`` before the plane ``camera_mm`` away.

    Pinhole camera: size in the photo goes with 1 / distance, so the share is d / (Z - d). A pulley 30 mm in front of
    the others shows its centre 1 % too far out from the photo's middle at 3 m.

    >>> round(parallax(30.0, 3030.0), 4)
    0.01
    """
    if not camera_mm > max(nearer_mm, 0.0):
        raise LayoutError("the camera must stand further away than what it sees")
    return nearer_mm / (camera_mm - nearer_mm)
