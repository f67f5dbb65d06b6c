"""Belt friction, span frequency, alignment and speeds against worked examples and numerical peers.

Every expected value was computed by an independent method, named beside it, or is a textbook's; the identifiers are
those of the project's table of geometry examples.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.linalg import eigh_tridiagonal

from kb.mechanics.frequency import span_frequency_hz, tension_from_frequency_n
from kb.mechanics.grip import belt_speed_m_s, capstan_ratio, centrifugal_tension_n, hub_load_n
from kb.mechanics.planes import misalignment_deg, offset_at_limit_mm
from kb.mechanics.speeds import speed_ratio, tip_speed_m_s


def test_g25_capstan_flat_belt():
    # textbook belt friction (Euler-Eytelwein); independent: scipy solve_ivp of dT/dtheta = mu T
    assert capstan_ratio(0.30, math.pi) == pytest.approx(2.566332, abs=5e-7)


def test_g26_capstan_in_a_groove():
    # textbook belt friction; independent: scipy solve_ivp of dT/dtheta = mu T / sin(beta)
    assert capstan_ratio(0.30, math.radians(160), 40.0) == pytest.approx(11.58187, abs=5e-6)


@pytest.mark.parametrize("friction", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("wrap_deg", [15.0, 90.0, 210.0])
@pytest.mark.parametrize("groove_deg", [None, 34.0, 40.0])
def test_capstan_against_its_differential_equation(friction, wrap_deg, groove_deg):
    # each element of belt is pressed on both flanks by T dtheta / (2 sin(angle / 2)), and rubs on both
    wedge = 1.0 if groove_deg is None else 1 / math.sin(math.radians(groove_deg / 2))
    wrap = math.radians(wrap_deg)
    answer = solve_ivp(lambda _, tension: friction * wedge * tension, (0, wrap), [1.0], rtol=1e-11, atol=1e-12)
    assert capstan_ratio(friction, wrap, groove_deg) == pytest.approx(answer.y[0, -1], rel=1e-8)


def test_g27_power_of_a_crossed_flat_belt():
    # Khurmi and Gupta, Theory of Machines: 2.74 kW printed (recalled); closed form 2.736393
    wrap = math.radians(199.1881)  # G11, tangent points by scipy fsolve
    slack_n = 1000 / capstan_ratio(0.25, wrap)
    power_kw = (1000 - slack_n) * belt_speed_m_s(200, 450) / 1000
    assert power_kw == pytest.approx(2.74, abs=0.005)
    assert power_kw == pytest.approx(2.736393, abs=2e-6)


def test_g28_power_of_a_flat_belt():
    # Khurmi and Gupta, Theory of Machines: 7.89 kW printed (recalled); closed form 7.893033
    slack_n = 2500 / capstan_ratio(0.25, math.radians(160))
    power_kw = (2500 - slack_n) * belt_speed_m_s(200, 600) / 1000
    assert power_kw == pytest.approx(7.89, abs=0.005)


def test_g29_speeds_through_two_drives_with_slip():
    # Khurmi and Gupta, Theory of Machines: 1500 and 1440 rpm printed (recalled; the second is rounded from 1440.6)
    def shaft_rpm(slip: float) -> float:
        return 150 * speed_ratio(750, 450, slip) * speed_ratio(900, 150, slip)

    assert shaft_rpm(0.0) == pytest.approx(1500)
    assert shaft_rpm(0.02) == pytest.approx(1440, abs=1)


def test_g31_centrifugal_tension():
    # textbook belt friction; hand arithmetic: 0.105 * 35 * 35
    assert centrifugal_tension_n(0.105, 35.0) == pytest.approx(128.625)


def test_g32_hub_load_from_two_spans():
    # balance of forces; independent: numeric integral of normal pressure and friction over the arc, here again
    wrap, tight, slack = math.radians(150), 900.0, 250.0
    rise = math.log(tight / slack) / wrap  # any law of T along the arc gives the same force

    def along(direction: float):
        # pressure T dtheta outwards from the belt on the rim, friction dT/dtheta along it
        return quad(
            lambda a: slack * math.exp(rise * a) * (math.cos(a - direction) - rise * math.sin(a - direction)),
            0,
            wrap,
        )[0]

    force = math.hypot(along(0.0), along(math.pi / 2))
    assert force == pytest.approx(1123.482, abs=5e-4)
    assert hub_load_n(tight, slack, wrap) == pytest.approx(force, rel=1e-9)


def test_g33_span_frequency():
    # textbook string vibration; independent: finite elements, 400 of them, 102.8692 (coarse by 0.00026)
    assert span_frequency_hz(400.0, 0.105, 300.0) == pytest.approx(102.8689, abs=5e-5)


@pytest.mark.parametrize(("tension_n", "mass", "span_mm"), [(400.0, 0.105, 300.0), (180.0, 0.06, 512.0)])
def test_frequency_against_a_lumped_string(tension_n, mass, span_mm):
    # n equal masses on a massless string (finite differences): the error falls with 1 / n^2
    count = 2000
    step = span_mm / 1000 / (count + 1)
    stiffness = tension_n / (mass * step**2)
    (lowest,) = eigh_tridiagonal(
        np.full(count, 2 * stiffness),
        np.full(count - 1, -stiffness),
        eigvals_only=True,
        select="i",
        select_range=(0, 0),
    )
    assert span_frequency_hz(tension_n, mass, span_mm) == pytest.approx(math.sqrt(lowest) / (2 * math.pi), rel=1e-6)


def test_g34_tension_from_frequency():
    # textbook string vibration; independent: brentq on the frequency formula
    assert tension_from_frequency_n(92.0, 0.105, 340.0) == pytest.approx(410.9441, abs=5e-5)


def test_g35_frequency_of_a_moving_belt():
    # axially moving string; independent: time of a wave with the motion and back against it
    waves = math.sqrt(400.0 / 0.105)
    there_and_back_s = 0.3 / (waves + 30) + 0.3 / (waves - 30)
    assert 1 / there_and_back_s == pytest.approx(78.56612, abs=5e-6)
    assert span_frequency_hz(400.0, 0.105, 300.0, 30.0) == pytest.approx(78.56612, abs=5e-6)


def test_g38_g39_misalignment_and_its_limit():
    # trigonometry; numpy arctan2 and tan
    assert misalignment_deg(2.6, 300.0) == pytest.approx(0.496551, abs=5e-7)
    assert misalignment_deg(1 / 16, 12.0) == pytest.approx(0.2984, abs=5e-5)  # 1/16 in per foot
    assert offset_at_limit_mm(0.5, 300.0) == pytest.approx(2.61806, abs=5e-6)
    assert offset_at_limit_mm(0.5, 1000.0) == pytest.approx(8.73, abs=5e-3)


def test_g53_fan_tip_speed():
    # kinematics; pint: 32 in at 2200 rpm is 18430.68 ft/min = 93.63 m/s
    assert tip_speed_m_s(32 * 25.4, 2200) == pytest.approx(18430.68 * 0.3048 / 60, rel=5e-7)


def test_g15_g54_speed_ratios_go_with_pitch_diameters():
    # ISO 9981 clause 5.4, b_e = 2 mm; exact fractions
    assert speed_ratio(180 + 4, 60 + 4) == pytest.approx(23 / 8)
    assert 2100 * speed_ratio(200 + 4, 62 + 4) == pytest.approx(6490.909, abs=5e-4)
