"""Percent flicker, flicker index and SVM, held against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from coldiron.readings import flicker
from readings.waves import Floats, no_reservoir, records, rectangle, uneven


def sine(depth: float) -> tuple[Floats, Floats]:
    turn = uneven(1.0, 8000)
    return turn, 1.0 + depth * np.sin(2 * np.pi * turn)


def rectified() -> tuple[Floats, Floats]:
    turn = uneven(1.0, 8000)
    return turn, np.abs(np.sin(np.pi * turn))


TRIANGLE = (np.array([0.0, 0.5, 1.0]), np.array([0.0, 1.0, 0.0]))
SAWTOOTH = (np.array([0.0, 1.0, 1.0]), np.array([0.0, 1.0, 0.0]))
_A = np.arcsin(2 / np.pi)

# IES definitions; closed forms m/π, 1 − D, 1/4, 1/π, cos a − (1 − 2a/π) with a = asin(2/π).
INDEX = [
    pytest.param(sine(1.0), 100.0, 1 / np.pi, id="sine"),
    pytest.param(sine(0.3), 30.0, 0.3 / np.pi, id="sine 30 %"),
    pytest.param(rectangle(0.5), 100.0, 0.5, id="square"),
    pytest.param(rectangle(0.7), 100.0, 0.3, id="duty 0.7"),
    pytest.param(TRIANGLE, 100.0, 0.25, id="triangle"),
    pytest.param(SAWTOOTH, 100.0, 0.25, id="sawtooth"),
    pytest.param(
        (uneven(1.0, 8000), np.sin(np.pi * uneven(1.0, 8000)) ** 2), 100.0, 0.318310, id="raised sine"
    ),
    pytest.param(rectified(), 100.0, np.cos(_A) - (1 - 2 * _A / np.pi), id="rectified sine"),
    pytest.param(rectified(), 100.0, 0.210514, id="rectified sine, by its number"),
]


@pytest.mark.parametrize(("wave", "percent", "index"), INDEX)
def test_percent_and_index(wave: tuple[Floats, Floats], percent: float, index: float) -> None:
    assert flicker.flicker_pct(wave[1]) == pytest.approx(percent, abs=0.01)
    assert flicker.flicker_index(*wave) == pytest.approx(index, abs=2e-6)


@pytest.mark.parametrize(
    ("ratio", "index"), [(0.5, 0.333), (0.75, 0.540), (0.8, 0.590), (0.9, 0.713), (0.95, 0.798)]
)
def test_index_of_a_lamp_without_reservoir(ratio: float, index: float) -> None:
    # Closed form: 1 − D, D = 1 − 2·asin(r)/π.
    turn, _, current = no_reservoir(ratio)
    assert flicker.flicker_index(turn, np.abs(current)) == pytest.approx(index, abs=6e-4)


@pytest.mark.parametrize("seed", range(3))
def test_index_agrees_with_quadrature(seed: int) -> None:
    # scipy.integrate.quad of what is above the mean of a random polygon, kinks given to it.
    rng = np.random.default_rng(seed)
    turn = np.concatenate(([0.0], np.sort(rng.uniform(0, 1, 8)), [1.0]))
    light = rng.uniform(0, 1, turn.size)
    whole, _ = quad(lambda t: np.interp(t, turn, light), 0, 1, points=turn[1:-1], limit=200)
    above, _ = quad(lambda t: max(0.0, np.interp(t, turn, light) - whole), 0, 1, points=turn[1:-1], limit=500)
    assert flicker.flicker_index(turn, light) == pytest.approx(above / whole, abs=1e-7)


# IEC TR 63158 and CIE TN 006: T(f) of our coefficients, which are from memory.
def test_svm_threshold() -> None:
    hertz = np.array([100.0, 120, 200, 240, 300, 400, 600, 1000, 2000])
    table = [0.25628, 0.27568, 0.36536, 0.41460, 0.49145, 0.61865, 0.82051, 0.97319, 0.99984]
    assert flicker.svm_threshold(hertz) == pytest.approx(table, abs=6e-6)


def at(wave: tuple[Floats, Floats], hertz: float) -> float:
    return flicker.svm(wave[0] / hertz, wave[1])


# Closed form: Fourier series of the waves weighed by that T(f) (coefficients from memory), 80 Hz to 2 kHz.
SVM = [
    pytest.param(sine(1.0), 3.902, 3.627, id="sine"),
    pytest.param(rectified(), 2.602, 2.419, id="rectified sine"),
    pytest.param(rectangle(0.5), 4.970, 4.620, id="square"),
    pytest.param(rectangle(0.60), 3.942, 3.664, id="duty 0.60"),
    pytest.param(rectangle(0.70), 2.900, 2.691, id="duty 0.70"),
    pytest.param(rectangle(0.80), 1.888, 1.744, id="duty 0.80"),
    pytest.param(rectangle(0.90), 0.915, 0.841, id="duty 0.90"),
    pytest.param(rectangle(0.95), 0.448, 0.411, id="duty 0.95"),
    pytest.param(sine(0.1025), 0.4, None, id="SVM 0.4 at 100 Hz"),
    pytest.param(sine(0.1103), None, 0.4, id="SVM 0.4 at 120 Hz"),
    pytest.param(rectangle(0.9553), 0.4, None, id="duty for SVM 0.4"),
    pytest.param(rectangle(0.9016), 0.9, None, id="duty for SVM 0.9"),
]


@pytest.mark.parametrize(("wave", "at_100_hz", "at_120_hz"), SVM)
def test_svm(wave: tuple[Floats, Floats], at_100_hz: float | None, at_120_hz: float | None) -> None:
    if at_100_hz is not None:
        assert at(wave, 100.0) == pytest.approx(at_100_hz, abs=6e-4)
    if at_120_hz is not None:
        assert at(wave, 120.0) == pytest.approx(at_120_hz, abs=6e-4)


def test_svm_of_a_lamp_without_reservoir_over_a_mains_cycle() -> None:
    # Closed form as above; r = 0.75, two flashes in a cycle of 50 and of 60 Hz.
    turn, _, current = no_reservoir(0.75)
    assert at((turn, np.abs(current)), 50.0) == pytest.approx(5.36, abs=6e-3)
    assert at((turn, np.abs(current)), 60.0) == pytest.approx(4.98, abs=6e-3)


def test_svm_is_the_same_over_one_period_and_over_several() -> None:
    turn, light = rectangle(0.7)
    several = (
        np.concatenate([turn[:-1] + n for n in range(3)] + [[3.0]]),
        np.append(np.tile(light[:-1], 3), light[-1]),
    )
    assert at(several, 100.0) == pytest.approx(at((turn, light), 100.0), rel=1e-4)


def test_svm_leaves_out_what_is_below_80_hz() -> None:
    # IEC TR 63158: band 80 Hz to 2 kHz; the line at 80 Hz itself is in.
    assert at(sine(1.0), 79.0) < 1e-3
    assert at(sine(1.0), 80.0) == pytest.approx(1 / flicker.svm_threshold(np.array([80.0]))[0], rel=1e-4)
    assert at(sine(1.0), 2000.0) == pytest.approx(1 / flicker.svm_threshold(np.array([2000.0]))[0], rel=1e-4)
    with pytest.raises(ValueError, match="order 1 or more"):
        at(sine(1.0), 2001.0)


def test_svm_threshold_can_be_replaced() -> None:
    # Closed form: one line of amplitude 1 against a threshold of 1/2.
    turn, light = sine(1.0)
    assert flicker.svm(turn / 100, light, lambda hertz: np.full_like(hertz, 0.5)) == pytest.approx(
        2.0, rel=1e-3
    )


@given(records(), st.floats(1e-6, 1e6))
def test_flicker_is_free_of_scale(record: tuple[Floats, Floats], scale: float) -> None:
    time_s, values = record[0] / record[0][-1] / 50, np.abs(record[1]) + 0.1
    assert flicker.flicker_pct(scale * values) == pytest.approx(flicker.flicker_pct(values), rel=1e-9)
    assert flicker.flicker_index(time_s, scale * values) == pytest.approx(
        flicker.flicker_index(time_s, values), rel=1e-7, abs=1e-12
    )
    assert flicker.svm(time_s, scale * values) == pytest.approx(
        flicker.svm(time_s, values), rel=1e-7, abs=1e-9
    )


@given(records())
def test_index_lies_between_0_and_1_and_grows_with_depth(record: tuple[Floats, Floats]) -> None:
    time_s, values = record[0], np.abs(record[1]) + 0.1
    index = flicker.flicker_index(time_s, values)
    assert 0.0 <= index < 1.0
    assert flicker.flicker_index(time_s, values + 1.0) <= index + 1e-12  # steady light added


def test_the_dark_has_no_flicker_to_read() -> None:
    time_s = np.linspace(0.0, 0.02, 100)
    dark = np.zeros_like(time_s)
    assert np.isnan(flicker.flicker_pct(dark))
    assert np.isnan(flicker.flicker_index(time_s, dark))
    assert np.isnan(flicker.svm(time_s, dark))
