"""The integrator behind the independent surge, on networks with closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from charge_network import Law, Network
from independent_parts import exponential, junction_charge, power_law, square_law


def rung_v(relative: float) -> float:
    """Largest error of a step onto 10 ohm, 1 mH and 1 uF in series, as a share of the step."""
    network = Network()
    network.source("top", "0", 10.0, lambda _: 1.0)
    network.coil("coil", "top", "out", 1e-3)
    network.capacitor("out", "0", 1e-6)
    run = network.equations().integrate(
        np.zeros((1, 3)), 0.0, 1e-3, first_s=1e-9, largest_s=1e-4, relative=relative, absolute=relative
    )
    alpha = 10.0 / (2 * 1e-3)
    w = math.sqrt(1 / (1e-3 * 1e-6) - alpha**2)
    t = run.time_s
    closed_v = 1.0 - np.exp(-alpha * t) * (np.cos(w * t) + alpha / w * np.sin(w * t))
    return float(np.abs(run.v("out")[:, 0] - closed_v).max())


def test_a_ringing_circuit_follows_its_closed_form() -> None:
    # Closed form of the step response of a series RLC circuit. Steps of a method of second order shrink with
    # the third root of the error allowed in each, so what adds up falls with its power of two thirds.
    coarse, fine = rung_v(1e-4), rung_v(1e-7)
    assert fine < 1e-4
    assert coarse / fine > 0.5 * (1e-4 / 1e-7) ** (2 / 3)


def test_runs_side_by_side_are_each_their_own() -> None:
    # Closed form: RC, V e^(-t/RC).
    network = Network()
    network.resistor("out", "0", 1e3)
    network.capacitor("out", "0", 1e-6)
    start = np.array([[1.0], [-5.0], [300.0]])
    run = network.equations().integrate(
        start, 0.0, 2e-3, first_s=1e-9, largest_s=1e-3, relative=1e-6, absolute=1e-6
    )
    assert run.last[:, 0] == pytest.approx(start[:, 0] * math.exp(-2.0), rel=1e-4)


def test_no_charge_is_lost_through_a_nonlinear_capacitance() -> None:
    # A junction that is charged from a capacitor takes what the capacitor gives.
    law = junction_charge(1e-9, 0.8)
    network = Network()
    network.capacitor("store", "0", 1e-9)
    network.resistor("store", "out", 100.0)
    network.charge(law, ("0", "out"))
    equations = network.equations()
    run = equations.integrate(
        equations.state(1, store=100.0), 0.0, 1e-5, first_s=1e-12, largest_s=1e-6, relative=1e-3
    )
    given = 1e-9 * (100.0 - run.v("store")[-1, 0])
    taken = -law(-run.v("out")[-1:])[0][0, 0]
    assert given == pytest.approx(taken, rel=1e-3)
    assert run.v("store")[-1, 0] == pytest.approx(run.v("out")[-1, 0], rel=1e-3)


@pytest.mark.parametrize(
    ("law", "volts"),
    [
        (exponential(1e-9, 0.045, 1000.0, 1e-5), [-1000.3, -10.0, 0.3, 0.9]),
        (junction_charge(1e-11, 0.8), [-300.0, -1.0, 0.3, 0.7]),
        (junction_charge(1e-11, 1.0, exponential(1e-9, 0.045), 2e-6), [-300.0, 0.4, 0.8]),
        (power_law(430.0, 25.0), [-800.0, -500.0, 100.0, 700.0]),
    ],
)
def test_the_slopes_of_the_laws_are_their_derivatives(law: Law, volts: list[float]) -> None:
    v = np.array(volts)
    step = 1e-6 * np.maximum(1.0, np.abs(v))
    numeric = (law(v + step)[0] - law(v - step)[0]) / (2 * step)
    assert law(v)[1] == pytest.approx(numeric, rel=1e-3, abs=2e-12)


def test_the_channel_behind_its_resistance_is_the_square_law() -> None:
    # The quadratic solved for the inner drain voltage, put back into the square law it came from.
    law = square_law(0.9, 3.0, 15.0)
    gate_v, drain_v = (values.ravel() for values in np.meshgrid([2.0, 3.5, 5.0], [0.5, 3.0, 30.0, 300.0]))
    ampere, by_gate, by_drain = law(gate_v, drain_v)
    u = np.maximum(gate_v - 3.0, 0.0)
    w = np.minimum(drain_v - 15.0 * ampere, u)
    assert ampere == pytest.approx(0.9 * (u * w - w**2 / 2))
    step = 1e-6
    assert by_gate == pytest.approx((law(gate_v + step, drain_v)[0] - ampere) / step, rel=1e-3, abs=1e-5)
    assert by_drain == pytest.approx((law(gate_v, drain_v + step)[0] - ampere) / step, rel=1e-3, abs=1e-5)
