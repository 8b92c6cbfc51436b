"""Discharge times and stored energy, held against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.readings import discharge
from readings.waves import uneven

START_V = 325.27


# Closed form: t = R·C·ln(V0/V).
@pytest.mark.parametrize(
    ("ohms", "farads", "times_s"),
    [(1e6, 0.47e-6, (0.7944, 0.8801, 1.0614)), (100e3, 10e-6, (1.6903, 1.8726, 2.2583))],
)
def test_bleed_resistor(ohms: float, farads: float, times_s: tuple[float, ...]) -> None:
    time_s = 100.0 + uneven(8.0)
    voltage_v = START_V * np.exp(-(time_s - 100.0) / (ohms * farads))
    for level_v, expected_s in zip((60.0, 50.0, 34.0), times_s, strict=True):
        assert discharge.discharge_s(time_s, voltage_v, level_v) == pytest.approx(expected_s, abs=6e-5)
        assert discharge.discharge_s(time_s, -voltage_v, level_v) == pytest.approx(expected_s, abs=6e-5)


# Closed form: R·C = t/ln(V0/V), the largest that meets the level in time; at mains peak and 10 % above it.
@pytest.mark.parametrize(
    ("start_v", "level_v", "within_s", "ceiling_s"),
    [
        (START_V, 34.0, 1.0, 0.4428),
        (START_V, 60.0, 2.0, 1.1832),
        (START_V, 60.0, 5.0, 2.958),
        (START_V, 50.0, 60.0, 32.04),
        (START_V, 120.0, 2.0, 2.0057),
        (357.8, 34.0, 1.0, 0.4249),
        (357.8, 60.0, 2.0, 1.1201),
    ],
)
def test_longest_time_constant_that_meets_a_level(
    start_v: float, level_v: float, within_s: float, ceiling_s: float
) -> None:
    time_s = uneven(2 * within_s, 20_000)
    voltage_v = start_v * np.exp(-time_s / ceiling_s)
    assert discharge.discharge_s(time_s, voltage_v, level_v) == pytest.approx(within_s, rel=2e-4)


def test_coming_back_counts() -> None:
    time_s = np.array([0.0, 1.0, 2.0, 3.0, 4.0])
    assert discharge.discharge_s(time_s, np.array([100.0, 0.0, 100.0, 0.0, 0.0]), 50.0) == 2.5
    assert discharge.discharge_s(time_s, np.array([100.0, 0.0, 0.0, 0.0, 100.0]), 50.0) == np.inf


def test_edges() -> None:
    time_s = np.array([0.0, 1.0])
    assert discharge.discharge_s(time_s, np.array([10.0, 5.0]), 34.0) == 0.0
    assert discharge.discharge_s(time_s, np.array([100.0, 34.0]), 34.0) == np.inf
    with pytest.raises(ValueError, match="expected a level above 0 V, got 0 V"):
        discharge.discharge_s(time_s, time_s, 0.0)


@given(st.floats(1.0, 300.0), st.floats(1.0, 300.0))
def test_a_lower_level_never_comes_sooner(one_v: float, other_v: float) -> None:
    time_s = uneven(1.0, 200)
    voltage_v = START_V * np.exp(-3 * time_s) * np.cos(20 * time_s)
    low_v, high_v = sorted((one_v, other_v))
    assert discharge.discharge_s(time_s, voltage_v, low_v) >= discharge.discharge_s(time_s, voltage_v, high_v)


@pytest.mark.parametrize(
    ("volts", "farads", "joules"),
    [
        (START_V, 10e-6, 0.529),
        (START_V, 22e-6, 1.164),
        (START_V, 47e-6, 2.486),
        (357.8, 10e-6, 0.640),
        (357.8, 22e-6, 1.408),
        (357.8, 47e-6, 3.008),
    ],
)
def test_stored_energy(volts: float, farads: float, joules: float) -> None:
    # Closed form: C·V²/2.
    assert discharge.stored_energy_j(farads, volts) == pytest.approx(joules, abs=6e-4)
