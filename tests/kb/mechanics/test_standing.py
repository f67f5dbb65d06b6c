"""Fixed centres: the belt's stretch stays what it was standing; Hooke's law integrated along the belt as the peer."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from kb.mechanics.grip import Assumption, GripError, Load, span_rises_n
from kb.mechanics.standing import standing_tensions

MASS = Assumption("belt mass", 0.12, "kg/m", "invented for this test", "from memory")
DRIVE = [
    Load("crank", 3.0, True, driver=True),
    Load("idler", 1.0, False),
    Load("generator", 2.0, True, 5.0),
    Load("fan", 3.0, True, 18.0),
]
SPANS = (220.0, 90.0, 310.0, 270.0)
ARCS = (290.0, 40.0, 64.0, 300.0)


def standing(pulleys=DRIVE, spans=SPANS, arcs=ARCS, tension_n=(600.0, 700.0), speed=20.0):
    return standing_tensions(
        pulleys, spans_mm=spans, arcs_mm=arcs, tension_n=tension_n, belt_speed_m_s=speed, mass_kg_per_m=MASS
    )


def test_the_stretch_is_that_of_the_standing_belt() -> None:
    # peer: brentq on the tension of the span that leaves the crank, so that the integral of T / (E A) along the belt, T
    # rising evenly along each arc, is that of 600 N all round (Hooke's law; E A drops out)
    rises = (0.0, 0.0, 250.0, 1150.0)  # 5 kW and 18 kW at 20 m/s, by hand

    def stretch(base: float) -> float:
        total = 0.0
        for k in range(4):
            before, behind = base + rises[k - 1], base + rises[k]
            total += SPANS[k] * behind
            total += quad(lambda s, a=before, b=behind, arc=ARCS[k]: a + (b - a) * s / arc, 0, ARCS[k])[0]
        return total - 600.0 * (sum(SPANS) + sum(ARCS))

    base = brentq(stretch, -2000, 2000)
    found = standing()
    assert [low for low, _ in found.whole_n] == pytest.approx([base + rise for rise in rises])
    assert [high - low for low, high in found.whole_n] == pytest.approx([100.0] * 4)
    assert [low for low, _ in found.gripping_n] == pytest.approx([base + rise - 0.12 * 400 for rise in rises])
    assert [high - low for low, high in found.gripping_n] == pytest.approx([100.0] * 4)
    assert (found.centrifugal_n, found.total_kw, found.before_tensioner_kw) == pytest.approx((48.0, 23.0, 0.0))


@given(st.lists(st.floats(0.0, 30.0), min_size=1, max_size=5), st.floats(5.0, 50.0), st.integers(0, 5))
def test_power_balances_and_where_the_list_begins_changes_nothing(powers, speed, turned) -> None:
    pulleys = [Load("crank", math.pi, True, driver=True)] + [
        Load(f"p{k}", 2.0, True, kw) for k, kw in enumerate(powers)
    ]
    count = len(pulleys)
    spans, arcs = [200.0 + 10 * k for k in range(count)], [100.0 + 7 * k for k in range(count)]
    found = standing(pulleys, spans, arcs, speed=speed)
    lows = [low for low, _ in found.whole_n]
    for k, one in enumerate(pulleys):
        given_kw = (lows[k] - lows[k - 1]) * speed / 1000
        assert given_kw == pytest.approx(-sum(powers) if one.driver else one.takes_kw, abs=1e-9)
    at = turned % count
    other = standing(*([*each[at:], *each[:at]] for each in (pulleys, spans, arcs)), speed=speed)
    assert [low for low, _ in other.whole_n] == pytest.approx([*lows[at:], *lows[:at]])


def test_without_loads_every_span_keeps_what_was_measured() -> None:
    idle = [Load(one.name, one.wrap_rad, one.grooved, 0.0, one.driver) for one in DRIVE]
    assert standing(idle).whole_n == ((600.0, 700.0),) * 4


def test_a_slack_belt_on_tiny_wheels_can_be() -> None:
    idle = [Load("crank", 3.0, True, driver=True), Load("pump", 3.0, True, 0.0)]
    assert standing(idle, (0.25, 0.0), (0.25, 0.0), (0.0, 0.5)).whole_n == ((0.0, 0.5), (0.0, 0.5))


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: standing(spans=SPANS[:3]), "its arc and the span"),
        (lambda: standing(spans=(-1.0, *SPANS[1:])), "shorter than nothing"),
        (lambda: standing(arcs=(*ARCS[:3], -0.5)), "shorter than nothing"),
        (lambda: standing(spans=(0.0,) * 4, arcs=(0.0,) * 4), "shorter than nothing"),
        (lambda: standing(tension_n=(700.0, 600.0)), "from low to high"),
        (lambda: standing(tension_n=(-1.0, 600.0)), "from low to high"),
        (lambda: standing(tension_n=(600.0, math.inf)), "from low to high"),
        (lambda: standing(speed=0.0), "belt's speed"),
        (lambda: standing(DRIVE[1:], SPANS[1:], ARCS[1:]), "one pulley drives the belt"),
        (lambda: span_rises_n(DRIVE, -1.0), "belt's speed"),
        (
            lambda: standing_tensions(
                DRIVE, spans_mm=SPANS, arcs_mm=ARCS, tension_n=(1, 2), belt_speed_m_s=20.0,
                mass_kg_per_m=Assumption("belt mass", 0.0, "kg/m", "", ""),
            ),
            "belt's mass",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(call, said) -> None:
    with pytest.raises(GripError, match=said):
        call()
