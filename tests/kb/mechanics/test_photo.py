"""Layouts read off a photo: the scale, its doubt, and what disagrees with it."""

from __future__ import annotations

import numpy as np
import pytest

from kb.mechanics.layout import LayoutError, ScaleReading, Tape, fit_layout
from kb.mechanics.photo import parallax, photo_survey

CENTRES = np.array([[0, 0], [300, 40], [330, 300], [150, 420], [-150, 200.0]])
NAMES = ("crank", "pump", "fan", "generator", "compressor")
MM_PER_PX = 0.4
PIXELS = [(x / MM_PER_PX + 700, y / MM_PER_PX + 200) for x, y in CENTRES]


def tape(i: int, j: int, off: float = 0.0) -> Tape:
    return Tape(i, j, float(np.hypot(*(CENTRES[i] - CENTRES[j]))) + off)


def distances(centres: np.ndarray) -> np.ndarray:
    return np.array([np.hypot(*(centres[i] - centres[j])) for i in range(5) for j in range(i)])


def test_one_tape_gives_the_scale_and_its_doubt_to_all():
    layout = fit_layout(photo_survey(NAMES, PIXELS, tapes=[tape(0, 2)], place_doubt_px=0.01))
    assert distances(layout.centres_mm) == pytest.approx(distances(CENTRES), abs=1e-6)
    scale, doubt = layout.scale
    assert scale == pytest.approx(MM_PER_PX)
    # with pixels nearly exact, the scale is as doubtful as the tape: relative doubts are equal
    assert doubt / scale == pytest.approx(1.5 / tape(0, 2).distance_mm, rel=1e-3)
    ahead = (CENTRES[4] - CENTRES[1]) / np.hypot(*(CENTRES[4] - CENTRES[1]))
    row = np.concatenate([[0, 0], -ahead, [0, 0, 0, 0], ahead])
    length = np.hypot(*(CENTRES[4] - CENTRES[1]))
    assert (row @ layout.covariance_mm2 @ row) ** 0.5 == pytest.approx(length * doubt / scale, rel=1e-3)


def test_a_known_diameter_gives_the_scale():
    sizes = [ScaleReading(180.0, 180.0 / MM_PER_PX, 0.3, 0.5)]
    layout = fit_layout(photo_survey(NAMES, PIXELS, sizes=sizes, place_doubt_px=1.0))
    scale, doubt = layout.scale
    assert scale == pytest.approx(MM_PER_PX)
    assert doubt / scale == pytest.approx(((0.3 / 180) ** 2 + (0.5 / 450) ** 2) ** 0.5, rel=1e-6)


def test_rows_counted_downwards_are_turned_over():
    down = [(x, 2000 - y) for x, y in PIXELS]
    layout = fit_layout(photo_survey(NAMES, down, tapes=[tape(0, 2)], place_doubt_px=1.0, y_down=True))
    assert layout.centres_mm - layout.centres_mm[0] == pytest.approx(CENTRES - CENTRES[0], abs=1e-6)


def test_a_pulley_hidden_in_the_photo_is_held_by_tapes():
    hidden = [*PIXELS[:4], None]
    tapes = [tape(0, 2), tape(0, 4), tape(3, 4), tape(1, 4)]
    layout = fit_layout(photo_survey(NAMES, hidden, tapes=tapes, place_doubt_px=1.0))
    assert distances(layout.centres_mm) == pytest.approx(distances(CENTRES), abs=1e-5)


def test_a_wrong_tape_is_named_against_photo_and_other_tapes():
    tapes = [tape(0, 2), tape(1, 3, off=18.0), tape(0, 4), tape(2, 4), tape(1, 4)]
    named = fit_layout(photo_survey(NAMES, PIXELS, tapes=tapes, place_doubt_px=2.0)).disagreement.named
    assert named.names == ("pump", "generator")
    assert named.off_mm == pytest.approx((18.0,), abs=1e-5)


def test_a_wrong_diameter_is_blamed_as_the_scale():
    sizes = [ScaleReading(180.0, 500.0)]
    tapes = [tape(0, 2), tape(1, 3), tape(0, 4)]
    first = fit_layout(photo_survey(NAMES, PIXELS, tapes=tapes, sizes=sizes, place_doubt_px=2.0)).disagreement.suspects
    assert first[0].kind == "scale"
    assert first[0].off_mm == pytest.approx((180.0 - 500.0 * MM_PER_PX,), abs=1e-5)


def test_what_gives_no_scale_is_refused():
    with pytest.raises(LayoutError, match="tape one distance, or give one diameter"):
        fit_layout(photo_survey(NAMES, PIXELS, place_doubt_px=1.0))
    with pytest.raises(LayoutError, match="two pulleys"):
        photo_survey(NAMES, [PIXELS[0], None, None, None, None], tapes=[tape(0, 1)], place_doubt_px=1.0)
    with pytest.raises(LayoutError, match="a known size"):
        fit_layout(photo_survey(NAMES, PIXELS, sizes=[ScaleReading(0.0, 5.0)], place_doubt_px=1.0))


def test_parallax_is_similar_triangles():
    # a 100 mm bar at 970 mm looks as long as one of 100 * 1000 / 970 mm at 1 m
    assert parallax(30.0, 1000.0) == pytest.approx(1000 / 970 - 1)
    assert parallax(-30.0, 0.5) == pytest.approx(0.5 / 30.5 - 1)  # behind the plane: smaller, from however near
    for nearer, camera in ((30.0, 20.0), (30.0, 30.0), (-30.0, 0.0)):
        with pytest.raises(LayoutError, match="further away"):
            parallax(nearer, camera)


def test_the_first_pulley_drives_and_rows_count_upwards_unless_said():
    survey = photo_survey(NAMES, PIXELS, tapes=[tape(0, 2)], place_doubt_px=1.0)
    assert (survey.driver, survey.places) == (0, tuple(PIXELS))
    down = photo_survey(NAMES, PIXELS, tapes=[tape(0, 2)], place_doubt_px=1.0, y_down=True, driver=2)
    assert (down.driver, down.places[1]) == (2, (PIXELS[1][0], -PIXELS[1][1]))
    assert photo_survey(NAMES, [*PIXELS[:2], None, None, None], place_doubt_px=1.0).places[2] is None
