"""Surge and burst readings, held against the standards' wave definitions and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm

from coldiron.readings import surges
from readings.waves import Floats, uneven

# Points close together at the start, where the front is.
GRID = np.concatenate(([0.0], np.geomspace(1e-5, 1.0, 20_000)))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_1_2_by_50_us_voltage(sign: float) -> None:
    # IEEE C62 family: 1.037·(1 − e^(−t/0.4074 µs))·e^(−t/68.22 µs); IEC 61000-4-5 ed. 3 asks
    # 1.2 µs ±30 % and 50 µs ±20 %. This form measures 0.9998, 1.2023 µs, 49.51 µs.
    time_s = 300e-6 * GRID
    voltage_v = sign * 1000.0 * 1.037 * (1 - np.exp(-time_s / 0.4074e-6)) * np.exp(-time_s / 68.22e-6)
    assert np.abs(voltage_v).max() == pytest.approx(999.8, abs=0.06)
    assert surges.voltage_front_s(time_s, voltage_v) == pytest.approx(1.2023e-6, abs=6e-11)
    assert surges.width_s(time_s, voltage_v) == pytest.approx(49.51e-6, abs=6e-9)
    assert surges.undershoot_ratio(voltage_v) == 0.0


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_8_by_20_us_current(sign: float) -> None:
    # IEEE C62 family (from memory): 0.01243 µs⁻³·t³·e^(−t/3.911 µs); IEC 61000-4-5 ed. 3 asks 8 µs and 20 µs
    # ±20 % (from memory). This form measures 0.9996, 8.02 µs, 19.07 µs, and
    # ∫i²dt = 12.17 µs·Ipk², ∫i dt = 17.46 µs·Ipk.
    time_s = 100e-6 * GRID
    micro = 1e6 * time_s
    current_a = sign * 500.0 * 0.01243 * micro**3 * np.exp(-micro / 3.911)
    assert np.abs(current_a).max() == pytest.approx(499.8, abs=0.06)
    assert surges.current_front_s(time_s, current_a) == pytest.approx(8.02e-6, abs=6e-9)
    assert surges.current_duration_s(time_s, current_a) == pytest.approx(19.07e-6, abs=6e-9)
    assert surges.i2t_a2s(time_s, current_a) == pytest.approx(3.04, abs=6e-3)
    assert surges.energy_j(time_s, np.ones_like(time_s), sign * current_a) == pytest.approx(
        17.46e-6 * 499.8, rel=5e-4
    )


# Equivalent generator, C across R1, then Rm and L into the output node with R2 across it: closed form of its
# two states. Set B is that published for the ideal generator (from memory).
GENERATORS = [
    # farads, R1, Rm, henries, R2; V front, V width, I front, I duration in µs, undershoot in %
    pytest.param(
        (6.038e-6, 25.105, 0.941, 10.37e-6, 19.80), (1.468, 50.00, 7.654, 19.63, 27.7), id="circulated"
    ),
    pytest.param((5.93e-6, 20.15, 0.8141, 10.87e-6, 26.15), (1.200, 49.51, 8.000, 19.78, 33.6), id="classic"),
    pytest.param(
        (6.095e-6, 19.64, 0.8422, 10.80e-6, 25.98), (1.200, 50.00, 8.000, 20.00, 31.8), id="edition 3"
    ),
    pytest.param((6.379e-6, 18.47, 0.8997, 10.55e-6, 25.29), (1.200, 50.00, 7.906, 20.24, 28.0), id="held"),
]


@pytest.mark.parametrize(("parts", "measured"), GENERATORS)
def test_combination_wave_generator(parts: tuple[float, ...], measured: tuple[float, ...]) -> None:
    farads, r1, rm, henries, r2 = parts

    def current_a(load_ohm: float, time_s: Floats) -> Floats:
        states = np.array([[-1 / (r1 * farads), -1 / farads], [1 / henries, -(rm + load_ohm) / henries]])
        step = expm(states * (time_s[1] - time_s[0]))
        state, currents = np.array([1000.0, 0.0]), []
        for _ in time_s:
            currents.append(state[1])
            state = step @ state
        return np.array(currents)

    front_us, width_us, current_front_us, current_us, undershoot_pct = measured
    time_s = np.arange(0.0, 120e-6, 20e-9)
    voltage_v = r2 * current_a(r2, time_s)
    assert 1e6 * surges.voltage_front_s(time_s, voltage_v) == pytest.approx(front_us, abs=1.5e-3)
    assert 1e6 * surges.width_s(time_s, voltage_v) == pytest.approx(width_us, abs=1.5e-2)
    short_a = current_a(0.0, time_s)
    assert 1e6 * surges.current_front_s(time_s, short_a) == pytest.approx(current_front_us, abs=6e-3)
    assert 1e6 * surges.current_duration_s(time_s, short_a) == pytest.approx(current_us, abs=1.5e-2)
    assert 100 * surges.undershoot_ratio(short_a) == pytest.approx(undershoot_pct, abs=0.06)
    assert voltage_v.max() / short_a.max() == pytest.approx(2.0, abs=2e-3)


def test_burst_pulse_as_a_double_exponential() -> None:
    # IEEE C62 family: 1.270·(1 − e^(−t/3.5 ns))·e^(−t/55.6 ns), 3.5 ns from memory; IEC 61000-4-4 asks 5 ns
    # and 50 ns ±30 %. This form measures 1.0000, 5.002 ns, 50.00 ns, and 0.749 mJ for 1 kV into 50 Ω.
    time_s = 1e-6 * GRID
    voltage_v = 1000.0 * 1.270 * (1 - np.exp(-time_s / 3.5e-9)) * np.exp(-time_s / 55.6e-9)
    assert voltage_v.max() == pytest.approx(1000.0, abs=0.06)
    assert surges.rise_s(time_s, voltage_v) == pytest.approx(5.002e-9, abs=6e-13)
    assert surges.width_s(time_s, voltage_v) == pytest.approx(50.00e-9, abs=6e-12)
    assert surges.energy_j(time_s, voltage_v, voltage_v / 50.0) == pytest.approx(0.749e-3, abs=6e-7)


def test_burst_pulse_in_the_standards_own_form() -> None:
    # IEC 61000-4-4 (from memory): (0.92/k)·x/(1 + x)·e^(−t/51 ns), x = (t/3.5 ns)^1.8; k 0.656.
    # This form measures 1.003, 5.12 ns, 49.4 ns.
    tau1, tau2, power = 3.5e-9, 51e-9, 1.8
    k = np.exp(-(tau1 / tau2) * (power * tau2 / tau1) ** (1 / power))
    assert k == pytest.approx(0.656, abs=6e-4)
    time_s = 1e-6 * GRID
    x = (time_s / tau1) ** power
    voltage_v = 0.92 / k * x / (1 + x) * np.exp(-time_s / tau2)
    assert voltage_v.max() == pytest.approx(1.003, abs=6e-4)
    assert surges.rise_s(time_s, voltage_v) == pytest.approx(5.12e-9, abs=6e-12)
    assert surges.width_s(time_s, voltage_v) == pytest.approx(49.4e-9, abs=6e-11)


@pytest.mark.parametrize(
    ("ohms", "farads", "joules", "a2s"), [(10.0, 10e-6, 0.529, 0.0529), (47.0, 22e-6, 1.164, 0.02476)]
)
def test_charging_a_reservoir_through_its_resistor(
    ohms: float, farads: float, joules: float, a2s: float
) -> None:
    # Closed form: C·V²/2 in the resistor whatever its ohms; I²t = V²·C/(2R). Step of 325.27 V.
    time_s = 15 * ohms * farads * GRID
    current_a = 325.27 / ohms * np.exp(-time_s / (ohms * farads))
    assert surges.energy_j(time_s, ohms * current_a, current_a) == pytest.approx(joules, abs=6e-4)
    assert surges.i2t_a2s(time_s, current_a) == pytest.approx(a2s, rel=1.2e-3)


def test_half_sine_melting_integral() -> None:
    # Closed form: I²t = Ipk²·t/2; 35 A over 8.3 ms is 5.08 A²s (bridge data sheets print 5.0).
    time_s = uneven(8.3e-3)
    assert surges.i2t_a2s(time_s, 35.0 * np.sin(np.pi * time_s / 8.3e-3)) == pytest.approx(5.084, abs=1e-3)


@given(st.floats(-1e4, 1e4).filter(lambda scale: abs(scale) > 1e-3), st.floats(1e-9, 1e3))
def test_times_are_free_of_height_and_sign_and_go_with_time(scale: float, stretch: float) -> None:
    time_s = np.linspace(0.0, 8.0, 200)
    pulse = time_s**2 * np.exp(-time_s) * np.cos(time_s / 2)
    for reading in (surges.voltage_front_s, surges.current_front_s, surges.width_s, surges.rise_s):
        assert reading(stretch * time_s, scale * pulse) == pytest.approx(
            stretch * reading(time_s, pulse), rel=1e-9
        )
    assert surges.undershoot_ratio(scale * pulse) == pytest.approx(surges.undershoot_ratio(pulse), rel=1e-9)


def test_width_of_a_pulse_with_a_ragged_front() -> None:
    # By hand: half the peak is first reached at 5/6, and left for good at 3.5.
    assert surges.width_s(np.arange(5.0), np.array([0.0, 0.6, 0.4, 1.0, 0.0])) == pytest.approx(3.5 - 5 / 6)


def test_records_without_a_whole_pulse_are_refused() -> None:
    time_s = np.array([0.0, 1.0, 2.0])
    with pytest.raises(ValueError, match="expected a pulse, got zero throughout"):
        surges.width_s(time_s, np.zeros(3))
    with pytest.raises(ValueError, match="falls to 50% of its peak within the record"):
        surges.width_s(time_s, np.array([0.0, 1.0, 0.9]))
    with pytest.raises(ValueError, match="starts below 10% of its peak"):
        surges.rise_s(time_s, np.array([0.5, 1.0, 0.0]))
