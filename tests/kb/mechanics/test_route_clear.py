"""How close straight pieces pass, against scipy's minimiser over both pieces."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from kb.mechanics import route as routes
from kb.mechanics.route_clear import chain_to_piece_mm, piece_to_piece_mm, point_to_piece_mm

PLACES = st.tuples(*[st.integers(-20, 20)] * 3)


@given(PLACES, PLACES, PLACES, PLACES)
def test_two_pieces_against_a_minimiser(a, b, c, d) -> None:
    first, second = np.subtract(b, a), np.subtract(d, c)

    def square(shares) -> float:
        between = np.add(a, shares[0] * first) - np.add(c, shares[1] * second)
        return float(between @ between)

    starts = [(0.5, 0.5), (0, 0), (0, 1), (1, 0), (1, 1)]
    best = min(minimize(square, start, bounds=[(0, 1), (0, 1)], method="L-BFGS-B").fun for start in starts)
    assert piece_to_piece_mm(a, b, c, d) == pytest.approx(math.sqrt(max(best, 0)), abs=2e-3)
    assert piece_to_piece_mm(c, d, b, a) == pytest.approx(piece_to_piece_mm(a, b, c, d), abs=1e-9)


def test_beside_crossing_and_beyond() -> None:
    assert piece_to_piece_mm((0, 0, 0), (10, 0, 0), (0, 4, 0), (10, 4, 0)) == 4  # side by side
    assert piece_to_piece_mm((0, 0, 0), (10, 0, 0), (5, -1, 0), (5, 1, 0)) == 0  # crossing
    assert piece_to_piece_mm((0, 0, 0), (10, 0, 0), (13, 4, 0), (20, 4, 0)) == 5  # 3-4-5 beyond the end
    assert point_to_piece_mm((3, 4, 0), (0, 0, 0), (0, 0, 0)) == 5  # a piece without length


def test_a_round_bend_clears_what_its_corner_would_hit() -> None:
    # A quarter turn of 100 about (0, 100): the corner (100, 0) is 100 (sqrt 2 - 1) = 41.42 outside the arc.
    route = routes.rounded(((-200, 0, 0), (100, 0, 0), (100, 300, 0)), 100)
    gap = chain_to_piece_mm(routes.followed(route), (100, 0, 0), (100, 0, 0))
    assert gap == pytest.approx(100 * (math.sqrt(2) - 1), abs=0.02)
