"""PstLM, held against unit-perception modulations, the filters' own responses, and itself by another way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from coldiron.readings import pst
from readings.waves import Floats, rectangle, uneven

# IEC TR 61547-1 chain: sine modulation of unit perception, computed from its filters.
UNIT_PERCEPTION = [(5.0, 0.632), (8.8, 0.3150), (10.0, 0.3047), (15.0, 0.3835), (20.0, 0.484), (25.0, 0.583)]


def sampled(wave: tuple[Floats, Floats], hertz: float, rate_hz: float, length_s: float = 60.0) -> Floats:
    turn = np.mod(np.arange(int(length_s * rate_hz)) * (hertz / rate_hz), 1.0)
    return np.asarray(np.interp(turn, *wave))


def sine(depth: float) -> tuple[Floats, Floats]:
    turn = uneven(1.0, 20_000)
    return turn, 1.0 + depth * np.sin(2 * np.pi * turn)


@pytest.mark.parametrize(("hertz", "percent"), UNIT_PERCEPTION)
def test_unit_perception(hertz: float, percent: float) -> None:
    # Sensation goes as the square: 0.3 % of it is 0.15 % of the modulation, the last digit of the table.
    wave = sine(percent / 100)
    assert pst.periodic_sensation(wave[0] / hertz, wave[1]).max() == pytest.approx(1.0, abs=3e-3)
    assert pst.sensation(sampled(wave, hertz, 4000.0), 4000.0).max() == pytest.approx(1.0, abs=3e-3)


def test_square_modulation_of_unit_severity() -> None:
    # Computed from the IEC TR 61547-1 chain: rectangular, 8.8 Hz, peak 0.342 % gives PstLM = 1.
    turn, light = rectangle(0.5)
    wave = turn, 1.0 + 0.00342 * (2.0 * light - 1.0)
    assert pst.pst_lm_periodic(wave[0] / 8.8, wave[1]) == pytest.approx(1.0, abs=2e-3)
    assert pst.pst_lm(sampled(wave, 8.8, 4000.0), 4000.0) == pytest.approx(1.0, abs=2e-3)


# Computed from the chain with its filters in 4000 steps a second: 0.0749 and 0.0221. Filters in steps
# bend; as written in s they give 0.0758 and 0.0225, which is what the periodic reading returns.
@pytest.mark.parametrize(("hertz", "in_steps", "in_s"), [(100.0, 0.0749, 0.0758), (120.0, 0.0221, 0.0225)])
def test_fully_modulated_sine_at_twice_mains(hertz: float, in_steps: float, in_s: float) -> None:
    wave = sine(1.0)
    assert pst.pst_lm(sampled(wave, hertz, 4000.0), 4000.0) == pytest.approx(in_steps, abs=1.2e-4)
    assert pst.pst_lm(sampled(wave, hertz, 20_000.0), 20_000.0) == pytest.approx(in_s, abs=1.2e-4)
    assert pst.pst_lm_periodic(wave[0] / hertz, wave[1]) == pytest.approx(in_s, abs=6e-5)


@pytest.mark.parametrize("hertz", [1.0, 8.8, 33.0, 100.0, 240.0])
def test_mean_sensation_of_a_sine_is_the_filters_response(hertz: float) -> None:
    # Closed form: mean of the square of a sine of amplitude |H| is |H|²/2. Filters by scipy.signal, in s.
    response = 1.0
    for b, a in (
        signal.butter(1, 2 * np.pi * 0.05, "highpass", analog=True),
        signal.butter(6, 2 * np.pi * 35.0, analog=True),
        ([0.041661, 44.758, 2715.6, 29839.0, 0.0], [1.0, 196.32, 11781.0, 534820.0, 3505380.0]),
    ):
        response *= abs(signal.freqs(b, a, [2 * np.pi * hertz])[1][0])
    turn, light = sine(0.5)
    mean = pst.periodic_sensation(turn / hertz, light).mean()
    assert mean == pytest.approx(1.101603155420234e6 * (0.5 * response) ** 2 / 2, rel=1e-4)


def test_lamp_without_reservoir_is_a_tenth_of_the_limit() -> None:
    # Computed from the chain: duty 0.460 of full current at 100 Hz, about 0.1.
    turn, light = rectangle(0.4601)
    assert pst.pst_lm_periodic(turn / 100, light) == pytest.approx(0.1, abs=0.02)


@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=8), st.floats(2.0, 60.0))
@settings(max_examples=5, deadline=None)
def test_periodic_reading_is_what_tiling_comes_to(corners: list[float], hertz: float) -> None:
    # The chain in steps of time against the chain line by line: two independent computations.
    light = 1.0 + 0.05 * np.array([*corners, corners[0]])
    wave = np.linspace(0.0, 1.0, light.size), light
    rate_hz = 10_000.0
    tiled = pst.pst_lm(sampled(wave, hertz, rate_hz), rate_hz)
    assert pst.pst_lm_periodic(wave[0] / hertz, wave[1]) == pytest.approx(tiled, rel=1e-2, abs=1e-4)


@given(st.floats(1e-6, 1e6), st.integers(0, 2000))
def test_severity_is_free_of_scale_and_of_where_the_period_starts(scale: float, shift: int) -> None:
    turn = np.arange(2001) / 2000
    light = 1.0 + 0.01 * np.sign(np.sin(2 * np.pi * turn[:-1])) + 0.01 * np.cos(2 * np.pi * turn[:-1])

    def severity(values: Floats) -> float:
        return pst.pst_lm_periodic(turn / 8.8, np.append(values, values[0]))

    assert severity(scale * np.roll(light, shift)) == pytest.approx(severity(light), rel=1e-3)


def test_severity_of_a_steady_sensation() -> None:
    # Closed form: every percentile is one: √(0.0314 + 0.0525 + 0.0657 + 0.28 + 0.08), IEC 61000-4-15.
    assert pst.pst_from_sensation(np.full(10, 1.0)) == pytest.approx(np.sqrt(0.5096))


def test_percentiles_are_those_exceeded() -> None:
    # Closed form: sensation spread evenly over 0 to 1 is exceeded in x % of the time at 1 − x/100.
    weights = np.array([0.0314, 0.0525, 0.0657, 0.28, 0.08])
    means = [0.1, (0.7 + 1 + 1.5) / 3, (2.2 + 3 + 4) / 3, (6 + 8 + 10 + 13 + 17) / 5, (30 + 50 + 80) / 3]
    closed = float(weights @ (1 - np.array(means) / 100))
    assert pst.pst_from_sensation(np.linspace(0.0, 1.0, 10_001)) == pytest.approx(np.sqrt(closed), rel=1e-6)


def test_bad_records_are_refused_and_the_dark_is_nan() -> None:
    with pytest.raises(ValueError, match="expected 2000 steps a second or more, got 100"):
        pst.pst_lm(np.ones(3000), 100.0)
    with pytest.raises(ValueError, match="expected a record longer than 20 s, got 10 s"):
        pst.pst_lm(np.ones(20_000), 2000.0)
    time_s = np.linspace(0.0, 0.02, 100)
    assert np.isnan(pst.pst_lm_periodic(time_s, np.zeros(100)))
    assert np.isnan(pst.pst_lm(np.zeros(50_000), 2000.0))
    with pytest.raises(ValueError, match="a light with a mean above zero"):
        pst.periodic_sensation(time_s, np.zeros(100))
