"""Power readings, held against closed forms of ideal lamps."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from coldiron.readings import harmonics, power, sampling
from readings.waves import Floats, no_reservoir, uneven

# Closed forms of a constant current I while |v| > r·Vpk: θ = asin r, D = 1 − 2θ/π,
# PF = (2√2/π)·cos θ/√D, Pin = 2·Vpk·I·cos θ/π, efficiency r·D·Vpk·I/Pin, I1/P = 1/V.
NO_RESERVOIR = [
    # r, duty, power factor, efficiency
    (0.50, 0.6667, 0.9549, 0.6046),
    (0.75, 0.4601, 0.8779, 0.8195),
    (0.80, 0.4097, 0.8440, 0.8580),
    (0.90, 0.2871, 0.7324, 0.9313),
    (0.95, 0.2022, 0.6252, 0.9662),
]


@pytest.mark.parametrize(("ratio", "duty", "factor", "efficiency"), NO_RESERVOIR)
def test_lamp_without_reservoir(ratio: float, duty: float, factor: float, efficiency: float) -> None:
    turn, voltage, current = no_reservoir(ratio)
    assert power.power_factor(turn, voltage, current) == pytest.approx(factor, abs=6e-5)
    assert sampling.mean(turn, np.abs(current)) == pytest.approx(duty, abs=6e-5)
    assert sampling.rms(turn, current) == pytest.approx(np.sqrt(duty), abs=6e-5)
    input_w = power.active_power_w(turn, voltage, current)
    assert input_w == pytest.approx(2 / np.pi * np.sqrt(1 - ratio**2), rel=1e-5)
    string_w = power.active_power_w(turn, np.full_like(turn, ratio), np.abs(current))
    assert string_w / input_w == pytest.approx(efficiency, abs=6e-5)
    fundamental = abs(harmonics.phasors(turn, current)[1]) / np.sqrt(2)
    assert fundamental / input_w == pytest.approx(np.sqrt(2), rel=1e-5)


def test_extremes_without_reservoir() -> None:
    # Closed form: a square current has PF 2√2/π; the best there is, 0.9605, is at r = 0.394.
    assert power.power_factor(*no_reservoir(1e-9)) == pytest.approx(2 * np.sqrt(2) / np.pi, abs=1e-5)
    ratios = np.linspace(0.3, 0.5, 101)
    factors = [power.power_factor(*no_reservoir(ratio)) for ratio in ratios]
    assert max(factors) == pytest.approx(0.9605, abs=6e-5)
    assert ratios[np.argmax(factors)] == pytest.approx(0.394, abs=0.01)


def capacitor_input(volts: float, hz: float, load_a: float, farads: float) -> tuple[Floats, Floats, Floats]:
    """Time, voltage and current of an ideal bridge, reservoir and constant-current load."""
    peak_v, omega = np.sqrt(2) * volts, 2 * np.pi * hz
    k = load_a / (omega * farads * peak_v)
    off = np.arccos(-k)
    on = brentq(lambda a: np.sin(off) - k * (np.pi + a - off) - np.sin(a), 0.0, np.pi / 2)
    edges = np.array([on, np.pi + on]) / omega
    time_s = np.unique(np.concatenate((uneven(1 / hz, 8000), edges - 1e-14, edges + 1e-14)))
    angle = omega * time_s
    half = np.mod(angle, np.pi)
    flow = omega * farads * peak_v * np.cos(half) + load_a
    current_a = np.where((half > on) & (half < off), flow, 0.0)
    return time_s, peak_v * np.sin(angle), np.where(angle < np.pi, current_a, -current_a)


# Closed form: k = I/(ωC·Vpk), turn-off arccos(−k), turn-on from sin b − k(π + a − b) = sin a.
RESERVOIR = [
    # volts, hertz, farads, turn-on °, peak A, rms A, power factor, input W
    (230.0, 50.0, 4.7e-6, 45.44, 0.397, 0.1281, 0.577, 16.99),
    (230.0, 50.0, 10e-6, 58.20, 0.598, 0.1560, 0.506, 18.15),
    (230.0, 50.0, 47e-6, 74.62, 1.334, 0.2314, 0.360, 19.18),
    (120.0, 60.0, 10e-6, 50.72, 0.465, 0.1381, 0.551, 9.13),
]


@pytest.mark.parametrize(
    ("volts", "hz", "farads", "on_deg", "peak_a", "rms_a", "factor", "input_w"), RESERVOIR
)
def test_lamp_with_reservoir(
    volts: float,
    hz: float,
    farads: float,
    on_deg: float,
    peak_a: float,
    rms_a: float,
    factor: float,
    input_w: float,
) -> None:
    time_s, voltage_v, current_a = capacitor_input(volts, hz, 0.06, farads)
    assert sampling.largest(current_a) == pytest.approx(peak_a, abs=6e-4)
    assert sampling.rms(time_s, current_a) == pytest.approx(rms_a, abs=6e-5)
    assert power.power_factor(time_s, voltage_v, current_a) == pytest.approx(factor, abs=6e-4)
    assert power.active_power_w(time_s, voltage_v, current_a) == pytest.approx(input_w, abs=6e-3)
    # The current jumps to its peak where it starts.
    angles = harmonics.conduction_angles(time_s, voltage_v, current_a)
    assert angles.start_deg == pytest.approx(on_deg, abs=0.06)
    assert angles.last_peak_deg == pytest.approx(on_deg, abs=0.06)
    fundamentals = harmonics.phasors(time_s, voltage_v)[1], harmonics.phasors(time_s, current_a)[1]
    assert -90.0 < power.displacement_deg(*fundamentals) < 0.0  # a capacitor's current leads


# Closed form, 230 V 50 Hz, constant-current load: reservoir per input watt at which a harmonic is reached.
@pytest.mark.parametrize(
    ("microfarads_per_watt", "order", "percent", "on_deg"), [(0.315, 5, 61.0, 48.2), (0.332, 3, 86.0, 49.2)]
)
def test_reservoir_that_just_breaks_class_c(
    microfarads_per_watt: float, order: int, percent: float, on_deg: float
) -> None:
    load_a = 0.06

    def farads_per_watt(farads: float) -> float:
        return farads / power.active_power_w(*capacitor_input(230.0, 50.0, load_a, farads))

    farads = brentq(lambda c: farads_per_watt(c) - microfarads_per_watt * 1e-6, 1e-6, 50e-6, rtol=1e-6)
    time_s, voltage_v, current_a = capacitor_input(230.0, 50.0, load_a, farads)
    ratios = harmonics.harmonic_ratios(harmonics.phasors(time_s, current_a))
    assert 100 * ratios[order] == pytest.approx(percent, abs=0.15)
    assert harmonics.conduction_angles(time_s, voltage_v, current_a).start_deg == pytest.approx(
        on_deg, abs=0.15
    )


@pytest.mark.parametrize("lag_deg", [-80.0, -30.0, 0.0, 45.0, 89.0])
def test_displacement_of_a_shifted_sine(lag_deg: float) -> None:
    # Closed form: sines alone have PF = cos φ; by our sign a lagging current is above 0.
    time_s = uneven(0.02)
    voltage = np.sin(2 * np.pi * 50 * time_s + 1.0)
    current = np.sin(2 * np.pi * 50 * time_s + 1.0 - np.radians(lag_deg))
    fundamentals = harmonics.phasors(time_s, voltage)[1], harmonics.phasors(time_s, current)[1]
    assert power.displacement_deg(*fundamentals) == pytest.approx(lag_deg, abs=1e-2)
    assert power.displacement_factor(*fundamentals) == pytest.approx(np.cos(np.radians(lag_deg)), abs=1e-4)
    assert power.power_factor(time_s, voltage, current) == pytest.approx(
        np.cos(np.radians(lag_deg)), abs=1e-4
    )


@pytest.mark.parametrize("ratio", [0.3, 0.75, 0.9])
def test_power_factor_is_displacement_times_distortion(ratio: float) -> None:
    # IEEE 1459 (from memory), sine voltage: PF = cos φ₁/√(1 + THD²).
    turn, voltage, current = no_reservoir(ratio)
    lines = harmonics.phasors(turn, current)
    distortion = harmonics.thd_ratio_from_rms(turn, current, lines)
    cosine = power.displacement_factor(harmonics.phasors(turn, voltage)[1], lines[1])
    assert power.power_factor(turn, voltage, current) == pytest.approx(
        cosine / np.hypot(1, distortion), rel=1e-5
    )


def test_lamp_that_draws_nothing_has_no_factor() -> None:
    time_s = uneven(0.02, 100)
    voltage, nothing = np.sin(2 * np.pi * 50 * time_s), np.zeros_like(time_s)
    assert np.isnan(power.power_factor(time_s, voltage, nothing))
    assert np.isnan(power.displacement_factor(1.0 + 0j, 0j))
