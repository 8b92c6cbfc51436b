"""What opens, and when: the two curves against a maker's measurements, the deck against an integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from coldiron.faults.breaker import breaker_of
from coldiron.heat import fusing, runaway
from coldiron.lamp.load import load_lamp
from coldiron.parts.fuse import Fuse, FuseValues

MEASURED = (
    # ohms, rated W, amperes, seconds: a maker's tests in an LED lighting protection guide of 2015.
    (22.0, 2.0, 1.65, 5.0),
    (22.0, 2.0, 3.2, 0.8),
    (22.0, 2.0, 4.0, 0.4),
    (10.0, 1.0, 1.26, 11.0),
    (10.0, 1.0, 1.79, 2.0),
    (10.0, 1.0, 2.53, 0.008),
    (100.0, 1.0, 0.4, 0.35),
    (100.0, 1.0, 0.57, 0.007),
    (100.0, 1.0, 0.8, 0.4),
)


def after_s(rated_w: float, watts: float, speed: fusing.Speed, element: str = "") -> float:
    return fusing.opens_after_s(fusing.curve(rated_w, speed, element), (0.0, 1000.0), (watts, watts))


@pytest.mark.parametrize(("ohm", "rated_w", "ampere", "seconds"), MEASURED)
def test_the_band_holds_every_measured_opening(
    ohm: float, rated_w: float, ampere: float, seconds: float
) -> None:
    watts = ampere**2 * ohm
    assert after_s(rated_w, watts, "fast") <= seconds <= 1.1 * after_s(rated_w, watts, "slow")


@pytest.mark.parametrize(("ohm", "rated_w", "ampere", "seconds"), MEASURED[:3])
def test_the_narrower_band_of_wirewound_ones_holds_the_wirewound_one(
    ohm: float, rated_w: float, ampere: float, seconds: float
) -> None:
    watts = ampere**2 * ohm
    assert 0.85 * after_s(rated_w, watts, "fast", "wirewound") <= seconds
    assert seconds <= 1.1 * after_s(rated_w, watts, "slow", "wirewound")


def test_below_seven_times_its_watts_it_glows_and_never_opens() -> None:
    assert math.isinf(after_s(2.0, 14.9, "fast"))
    assert after_s(2.0, 16.0, "fast") < math.inf
    law = fusing.curve(2.0, "slow")
    glow_k = fusing.stands_at_k(law, (0.0, 1000.0), (12.0, 12.0))
    assert fusing.loss_w(law, glow_k) == pytest.approx(12.0, rel=5e-3)
    assert 700 < glow_k < 1000


@pytest.mark.parametrize(("watts", "speed"), [(60.0, "slow"), (17.0, "slow"), (9e3, "fast")])
def test_the_quadrature_is_the_differential_equation(watts: float, speed: fusing.Speed) -> None:
    """C dθ/dt = P(θ) - loss(θ), solved in time by Runge and Kutta."""
    law = fusing.curve(2.0, speed)
    at_k, taken = (0.0, 500.0, 1000.0), (watts, 1.1 * watts, 1.15 * watts)

    def rises(_: float, theta: np.ndarray) -> np.ndarray:
        return np.array(
            [(np.interp(theta[0], at_k, taken) - fusing.loss_w(law, theta[0])) / law.heat_j_per_k]
        )

    def reached(_: float, theta: np.ndarray) -> float:
        return float(theta[0] - 1000.0)

    reached.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(rises, (0.0, 1e4), [0.0], events=reached, rtol=1e-8, atol=1e-8)
    assert solved.t_events is not None
    assert fusing.opens_after_s(law, at_k, taken) == pytest.approx(float(solved.t_events[0][0]), rel=2e-3)


def test_a_varistor_runs_away_where_its_balance_ends() -> None:
    """θ = R_th P exp(γθ) has a root for R_th P γ e <= 1 and none above (calculus)."""
    gamma, rated_w = 20.0 * runaway.TEMPCO_PER_K, 0.25
    edge_w = rated_w / (runaway.DERATED_K * gamma * math.e)
    below_k = runaway.balance_k(0.99 * edge_w, rated_w, 20.0)
    assert below_k == pytest.approx(
        runaway.DERATED_K / rated_w * 0.99 * edge_w * math.exp(gamma * below_k), rel=1e-3
    )
    assert math.isinf(runaway.balance_k(1.01 * edge_w, rated_w, 20.0))


def test_the_breaker_of_the_house_keeps_the_points_of_its_standard() -> None:
    """IEC 60898-1: 1.13 In not within an hour, 1.45 In within one, 2.55 In 1 to 60 s, above 5 In at once."""
    house = breaker_of(230.0)

    def at(ratio: float) -> tuple[float, float]:
        rms_a = ratio * house.rated_a
        return house.opening(rms_a, math.sqrt(2.0) * rms_a)

    assert at(1.1) == (math.inf, math.inf)
    assert at(1.45)[1] == pytest.approx(3600.0)
    assert at(2.55) == pytest.approx((1.0, 60.0))
    assert at(4.0)[0] == 0.005
    assert at(4.0)[1] > 1.0
    assert at(5.1) == (0.005, 0.1)


def test_a_fuse_keeps_the_gates_of_its_standard() -> None:
    """IEC 60127-2, time-lag 5 x 20 mm (from memory): 2.1 In within 2 min, 10 In in 20 to 300 ms."""
    fuse = Fuse("F1", ("line", "line_F1"), FuseValues(rated_current_a=1.0))
    assert fuse.melts_after_s(1.4) == (math.inf, math.inf)
    assert fuse.melts_after_s(2.1)[1] == pytest.approx(120.0)
    assert fuse.melts_after_s(10.0) == pytest.approx((0.02, 0.3))
    assert fuse.melts_after_s(20.0)[0] == pytest.approx(0.005)  # adiabatic: I²t
    assert fuse.melting_a2s[0] == 2.0


def test_the_lamp_of_the_tests_is_the_one_of_the_table() -> None:
    assert [part.values.power_w for part in load_lamp("kerbside-flood").circuit.carrying_mains()] == [
        2.0,
        2.0,
    ]
