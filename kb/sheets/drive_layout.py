"""Where a drive sheet's fixed points sit: as given, from tape distances, from a photo, or from a mixture of them.

The numbers come from :mod:`kb.mechanics.layout`; here they are read off the sheet, and what they say is put in words.
A sheet whose points are all given, and nothing taped, needs no fitting, and none of its libraries is loaded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.errors import DriveError
from kb.mechanics.path import PathError, find_route
from kb.sheets.drive_fields import DriveSheet
from kb.sheets.drive_numbers import Floats, path_pulleys

if TYPE_CHECKING:
    from kb.mechanics.layout import Layout, Survey, Suspect

Lengths = Callable[[float], str]
SHARES = (0.5, 0.0, 0.25, 0.75, 1.0)
"""Where in an arm's travel a belt is looked for: it only has to lie somewhere."""


@dataclass(frozen=True)
class LaidOut:
    """A sheet's fixed points in mm, in the order of ``sheet.points``; ``fitted`` is ``None`` where they stand as given.

    ``left_out`` is the measurement that stands out as the wrong one: the centres are those without it.
    """

    centres_mm: tuple[tuple[float, float], ...]
    covariance_mm2: Floats | None = None
    fitted: Layout | None = None
    left_out: Suspect | None = None
    next_tape: tuple[tuple[str, str], float, float] | None = None
    """The pair to tape next, and the doubt of the route's length now and then, in mm."""


def lay_out(sheet: DriveSheet) -> LaidOut:
    """Find where the fixed points of a sheet sit. Raises :class:`~kb.errors.DriveError` in words."""
    if not sheet.distances and sheet.unit != "px" and all(x is not None for _, x, _ in sheet.points):
        return LaidOut(tuple((x, y) for _, x, y in sheet.points if x is not None and y is not None))
    from kb.mechanics.layout import LayoutError, TooFewDistancesError, fit_layout, next_tape

    _check_level(sheet)
    survey = _survey(sheet)
    try:
        layout = fit_layout(survey, _turning(sheet))
    except TooFewDistancesError as error:
        said = f"{str(error)[0].upper()}{str(error)[1:]}."
        raise DriveError(
            said, where=sheet.source, do="Add them as [[distance]] tables, or give at = [x, y]."
        ) from error
    except LayoutError as error:
        raise DriveError(f"{error}.", where=sheet.source) from error
    named = layout.disagreement.named if layout.disagreement else None
    used = named.layout if named else layout
    centres = tuple((float(x), float(y)) for x, y in used.centres_mm)
    gradient = _route_gradient(sheet, centres)
    tape = None if gradient is None else next_tape(survey, used, gradient, sheet.doubt.distance_mm)
    return LaidOut(centres, used.covariance_mm2, layout, named, tape)


def _check_level(sheet: DriveSheet) -> None:
    """Angles are read from level: a layout that tapes alone hold together does not know where that is."""
    if sum(x is not None for _, x, _ in sheet.points) >= 2:
        return
    angled = [one.name for one in sheet.pulleys if one.arm or one.slot_deg is not None]
    if angled:
        raise DriveError(
            f"the arm or slot of {' and '.join(angled)} is given by angles, but tapes alone do not say which way is level.",
            where=sheet.source,
            do="Give at = [x, y] for the driver and for one other pulley, measured with a level.",
        )


def _survey(sheet: DriveSheet) -> Survey:
    from kb.mechanics.layout import ScaleReading, Survey, Tape
    from kb.mechanics.layout_fit import LayoutError
    from kb.mechanics.photo import photo_survey

    names = tuple(name for name, _, _ in sheet.points)
    places = tuple(None if x is None or y is None else (x, y) for _, x, y in sheet.points)
    tapes = tuple(
        Tape(names.index(one.first), names.index(one.second), one.distance_mm, max(sheet.doubt.distance_mm, 1e-3))
        for one in sheet.distances
    )
    if sheet.unit != "px":
        return Survey(names, places, tapes, max(sheet.doubt.centre_mm, 1e-3), driver=sheet.driver_index)
    sizes = tuple(
        ScaleReading(known, one.seen_diameter_px, max(sheet.doubt.diameter_mm, 1e-3))
        for one in sheet.pulleys
        if one.seen_diameter_px and (known := one.outside_diameter_mm or one.effective_diameter_mm)
    )
    try:
        rough = _rough_scale(places, tapes, sizes)
        doubt_px = max(sheet.doubt.centre_mm / rough, 1e-3)
        return photo_survey(names, places, tapes=tapes, sizes=sizes, place_doubt_px=doubt_px, driver=sheet.driver_index)
    except LayoutError as error:
        raise DriveError(
            f"{error}.", where=sheet.source, do="Add a [[distance]], or a pulley's seen_diameter."
        ) from error


def _rough_scale(
    places: Sequence[tuple[float, float] | None], tapes: Sequence[object], sizes: Sequence[object]
) -> float:
    """Return about how many mm a pixel is, to turn the doubt of a centre into pixels."""
    from kb.mechanics.layout import LayoutError, ScaleReading, Tape

    for size in sizes:
        assert isinstance(size, ScaleReading)
        return size.known_mm / size.read
    for tape in tapes:
        assert isinstance(tape, Tape)
        one, other = places[tape.first], places[tape.second]
        if one is not None and other is not None and (apart := math.dist(one, other)) > 0.0:
            return tape.distance_mm / apart
    raise LayoutError(
        "a photo alone has no scale: tape one distance between two pulleys in it, or give one diameter seen"
    )


def _turning(sheet: DriveSheet) -> Callable[[Floats], float]:
    """Tell the right way round of a layout from its mirror image, and layouts that no belt can follow.

    The belt's order may stand either way round; where only it can settle a mirror image, the list is taken to run the way
    the driver turns, anticlockwise where the sheet does not say.
    """
    from kb.mechanics.layout import order_turning

    wanted = -1.0 if sheet.rotation == "clockwise" else 1.0

    def turning(centres: Floats) -> float:
        drive = path_pulleys(sheet, centres).drive
        arm = drive.arm
        for share in SHARES if arm else (0.0,):
            try:
                route = find_route(drive.pulleys_at(arm.slack_rad + share * arm.travel_rad if arm else None))
            except PathError:
                continue
            return wanted * route.turns * max(abs(order_turning(centres)), 1.0)
        return math.nan

    return turning


def _route_gradient(sheet: DriveSheet, centres: Sequence[tuple[float, float]]) -> Floats | None:
    """Return what moving each centre adds to the route's length (2n,); ``None`` where no belt can lie."""
    import numpy as np

    drive = path_pulleys(sheet, centres).drive
    try:
        route = drive.route_at(drive.arm.slack_rad if drive.arm else None)
    except PathError:
        return None
    return np.array(route.centre_gradients).ravel()


def layout_cautions(laid: LaidOut, length: Lengths) -> list[str]:
    """Say what a fitted layout leaves open or finds wrong; ``length`` turns mm into what people are to see."""
    layout = laid.fitted
    if layout is None:
        return []
    said = []
    if laid.left_out is not None:
        said.append(
            f"{_measurement(laid.left_out)} does not agree with the rest: most likely {_off(laid.left_out, length)}. "
            "It is left out of what follows: measure it again."
        )
    elif layout.disagreement is not None:
        said.append(_disagreement(layout, length))
    if layout.alternatives:
        tell = " and ".join(layout.tells_apart) if layout.tells_apart else ""
        ask = f" Tape {tell.replace(' and ', ' to ')} to tell." if tell else ""
        said.append(f"The measurements allow {len(layout.alternatives) + 1} layouts; the likeliest is shown.{ask}")
    if layout.mirror_assumed and not layout.oriented:
        said.append(
            "Distances alone cannot tell a layout from its mirror image: the list is taken to run the way the driver turns."
        )
    if layout.hardly_held:
        said.append(f"Hardly held in place by what was measured: {', '.join(layout.hardly_held)}.")
    if layout.p_value is None:
        said.append("No check is possible: every measurement is needed, so a wrong one would not show.")
    return said


def _measurement(suspect: Suspect) -> str:
    if suspect.kind == "tape":
        return f"The distance {suspect.names[0]} to {suspect.names[1]}"
    return f"The place of {suspect.names[0]}" if suspect.kind == "place" else "The scale"


def _off(suspect: Suspect, length: Lengths) -> str:
    if suspect.kind == "place":
        return "off by {} across and {} up".format(*map(length, suspect.off_mm))
    off = suspect.off_mm[0]
    return f"{length(abs(off))} too {'long' if off > 0 else 'short'}"


def _disagreement(layout: Layout, length: Lengths) -> str:
    found = layout.disagreement
    assert found is not None
    if found.impossible:
        return f"The distances cannot all be right: {'; '.join(found.impossible)}."
    if not found.suspects:
        return "The distances disagree, and too few were taped to tell which is wrong: tape them all again."
    told = "; or ".join(f"{_measurement(one)}, {_off(one, length)}" for one in found.suspects[:2])
    return f"The measurements disagree, and cannot tell which is wrong. Likeliest: {told}."
