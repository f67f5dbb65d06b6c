"""Vectors in space, against numpy and scipy's rotations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from kb.mechanics import space

NUMBERS = st.floats(-1000, 1000)
VECTORS = st.tuples(NUMBERS, NUMBERS, NUMBERS).filter(lambda v: math.hypot(*v) > 1)


@given(VECTORS, VECTORS, st.floats(-7, 7))
def test_turned_is_scipys_rotation(a, axis, angle) -> None:
    axis = space.unit(axis)
    expected = Rotation.from_rotvec(np.array(axis) * angle).apply(a)
    assert np.allclose(space.turned(a, axis, angle), expected, atol=1e-8)


@given(VECTORS, VECTORS, VECTORS)
def test_carried_is_the_shortest_turn(a, before, after) -> None:
    before, after = space.unit(before), space.unit(after)
    assume(space.dot(before, after) > -0.999)
    axis = np.cross(before, after)
    size = np.linalg.norm(axis)
    assume(size > 1e-6)
    angle = math.atan2(size, np.dot(before, after))
    expected = Rotation.from_rotvec(axis / size * angle).apply(a)
    assert np.allclose(space.carried(a, before, after), expected, atol=1e-6)


@given(VECTORS, VECTORS)
def test_products_and_angles_are_numpys(a, b) -> None:
    assert space.dot(a, b) == pytest.approx(np.dot(a, b), abs=1e-6)
    assert np.allclose(space.cross(a, b), np.cross(a, b), atol=1e-6)
    cosine = np.dot(a, b) / np.linalg.norm(a) / np.linalg.norm(b)
    assert math.cos(space.angle_between_rad(a, b)) == pytest.approx(cosine, abs=1e-9)
    axis = space.unit(b)
    assert space.dot(space.across(a, axis), axis) == pytest.approx(0, abs=1e-9 * 1000)


def test_what_has_no_direction_is_refused() -> None:
    with pytest.raises(ValueError, match="without length"):
        space.unit((0, 0, 0))
    with pytest.raises(ValueError, match="doubles back"):
        space.carried((0, 1, 0), (1, 0, 0), (-1, 0, 0))


def test_a_short_vector_has_a_direction_and_a_nearly_opposite_one_no_plane() -> None:
    assert space.unit((0.0, 0.25, 0.0)) == (0.0, 1.0, 0.0)
    almost = (-1.0 + 1e-12, 0.0, 0.0)  # the last of what is refused: beyond it the turn about an axis is all rounding
    with pytest.raises(ValueError, match="doubles back"):
        space.carried((0, 1, 0), (1, 0, 0), almost)
