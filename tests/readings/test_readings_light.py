"""Light from current, first light and gaps, held against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.readings import light
from readings.waves import no_reservoir, uneven


@given(st.floats(0.0, 1.0), st.floats(0.0, 10.0), st.floats(-40.0, 150.0))
def test_light_goes_with_current_and_never_below_zero(amperes: float, scale: float, celsius: float) -> None:
    current_a = np.array([amperes, -amperes])
    glow = light.relative_light(current_a, celsius, -0.0015)
    assert np.all(glow >= 0.0)
    assert light.relative_light(scale * current_a, celsius, -0.0015) == pytest.approx(scale * glow)


def test_light_falls_by_its_coefficient() -> None:
    # Linear change with temperature: common practice, no source. −0.15 %/K from 25 °C to 65 °C: 6 % less.
    current_a = np.array([1.0])
    assert light.relative_light(current_a, 25.0, -0.0015) == 1.0
    assert light.relative_light(current_a, 65.0, -0.0015) == pytest.approx(0.94)
    assert light.relative_light(current_a, 1000.0, -0.0015) == 0.0


@pytest.mark.parametrize("ratio", [0.5, 0.75, 0.9])
def test_gap_of_a_lamp_without_reservoir(ratio: float) -> None:
    # Closed form: dark for 2·asin(r)/ω around each zero crossing, half of it before the first light. 50 Hz.
    turn, _, current = no_reservoir(ratio)
    glow = np.abs(current)
    half_gap_s = 0.02 * np.arcsin(ratio) / (2 * np.pi)
    assert light.longest_gap_s(0.02 * turn, glow, 0.1) == pytest.approx(2 * half_gap_s, rel=1e-6)
    assert light.first_light_s(5.0 + 0.02 * turn, glow, 0.1) == pytest.approx(half_gap_s, rel=1e-6)


def test_gap_of_a_decaying_and_returning_light() -> None:
    # Closed form: e^(−t/τ) falls to 1/2 at τ·ln 2; back at 0.5 s.
    time_s = np.unique(np.append(uneven(1.0), [0.5, 0.5 + 1e-12]))
    glow = np.where(time_s > 0.5, 1.0, np.exp(-time_s / 0.1))
    assert light.longest_gap_s(time_s, glow, 0.5) == pytest.approx(0.5 - 0.1 * np.log(2), rel=1e-5)


def test_edges() -> None:
    time_s = np.array([2.0, 3.0, 4.0])
    assert light.first_light_s(time_s, np.array([1.0, 0.0, 1.0]), 0.5) == 0.0
    assert light.first_light_s(time_s, np.array([0.0, 0.1, 0.2]), 0.5) == np.inf
    assert light.longest_gap_s(time_s, np.array([1.0, 1.0, 1.0]), 0.5) == 0.0
    assert light.longest_gap_s(time_s, np.array([0.0, 0.0, 0.0]), 0.5) == 2.0
