"""Harmonics, distortion and conduction angles, held against closed forms and an independent package."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pqopen import powerquality

from coldiron.readings import harmonics, sampling
from coldiron.readings.harmonics import Phasors
from readings.waves import Floats, no_reservoir, uneven


def test_rectified_sine() -> None:
    # Closed form: |sin| = 2/π − Σ 4/(π(4k² − 1))·cos 2kωt.
    turn = uneven(1.0, 20_000)
    lines = harmonics.phasors(turn, np.abs(np.sin(np.pi * turn)), highest=4)
    assert lines[0].real == pytest.approx(0.63661977, abs=1e-7)
    assert -lines[1:].real == pytest.approx([0.42441318, 0.08488264, 0.03637827, 0.02021015], abs=1e-6)
    assert np.abs(lines[1:] / lines[0]) == pytest.approx([2 / 3, 2 / 15, 2 / 35, 2 / 63], abs=1e-6)


# Closed form, constant current while |v| > r·Vpk: hₙ = |cos nθ|/(n·cos θ), θ = asin r.
@pytest.mark.parametrize(
    ("ratio", "thd_pct", "third", "fifth", "seventh"),
    [
        (0.50, 31.08, 0.00, 20.00, 14.29),
        (0.75, 54.54, 41.67, 13.75, 20.31),
        (0.80, 63.55, 52.00, 2.53, 23.30),
        (0.90, 92.97, 74.67, 35.55, 0.51),
        (0.95, 124.8, 87.00, 64.04, 36.36),
    ],
)
def test_lamp_without_reservoir(
    ratio: float, thd_pct: float, third: float, fifth: float, seventh: float
) -> None:
    turn, _, current = no_reservoir(ratio)
    lines = harmonics.phasors(turn, current)
    percent = 100 * harmonics.harmonic_ratios(lines)
    assert percent[[3, 5, 7]] == pytest.approx([third, fifth, seventh], abs=6e-3)
    assert 100 * harmonics.thd_ratio_from_rms(turn, current, lines) == pytest.approx(thd_pct, abs=0.06)
    theta = np.arcsin(ratio)
    odd = np.arange(3, 41, 2)
    closed = np.abs(np.cos(odd * theta)) / (odd * np.cos(theta))
    assert percent[odd] == pytest.approx(100 * closed, abs=3e-3)
    assert percent[2::2] == pytest.approx(np.zeros(20), abs=1e-3)
    assert harmonics.thd_ratio(lines) == pytest.approx(np.linalg.norm(closed), abs=1e-4)


def test_square_current() -> None:
    # Closed form: THD of a square wave √(π²/8 − 1) = 48.34 %.
    turn, _, current = no_reservoir(1e-9)
    lines = harmonics.phasors(turn, current)
    assert 100 * harmonics.thd_ratio_from_rms(turn, current, lines) == pytest.approx(48.34, abs=6e-3)


def test_independent_package_finds_the_same() -> None:
    # pqopen-lib (IEC 61000-4-7 grouping), ten cycles: 41.69 % third and 53.20 % THD to order 40 at r = 0.75;
    # closed form 41.67 % and 53.18 %.
    turn, _, current = no_reservoir(0.75)
    rate = 32_768  # its even points must be many, for the edges fall between them
    points = np.mod(np.arange(10 * rate) / rate, 1.0)
    spectrum = powerquality.resample_and_fft(np.interp(points, turn, current), 10 * rate)
    theirs, _ = powerquality.calc_harmonics(spectrum, 10, 40)
    lines = harmonics.phasors(turn, current)
    ours = 100 * harmonics.harmonic_ratios(lines)
    assert ours[3] == pytest.approx(100 * theirs[3] / theirs[1], abs=0.03)
    assert ours[2:] == pytest.approx(100 * theirs[2:] / theirs[1], abs=0.06)
    assert 100 * harmonics.thd_ratio(lines) == pytest.approx(powerquality.calc_thd(theirs), abs=0.04)
    assert 100 * harmonics.thd_ratio(lines) == pytest.approx(53.18, abs=6e-3)


def _closed_rectangle(start: float, duty: float, order: Floats) -> Phasors:
    """Fourier series of 1 from `start` for `duty` of a turn (closed form)."""
    return np.asarray(2.0 * np.exp(-2j * np.pi * order * (start + duty / 2)) * duty * np.sinc(order * duty))


def test_rate_and_even_means_keep_folded_lines_out() -> None:
    # Closed form: Fourier series of a rectangle whose jumps fall between even points.
    start, duty = 0.1234567, 0.3141592
    edge = 1e-12
    turn = np.array([0.0, start - edge, start + edge, start + duty - edge, start + duty + edge, 1.0])
    pulse = np.array([0.0, 0.0, 1.0, 1.0, 0.0, 0.0])
    order = np.arange(1.0, 41.0)
    exact = _closed_rectangle(start, duty, order)

    def worst(lines: Phasors) -> float:
        return float(np.abs(lines - exact).max() / abs(exact[0]))

    def values_taken_at_even_points(count: int) -> Phasors:
        even = np.interp((np.arange(count) + 0.5) / count, turn, pulse)
        return np.asarray(2 / count * np.fft.rfft(even)[1:41] * np.exp(-1j * np.pi * order / count))

    ours = harmonics.phasors(turn, pulse)[1:]
    assert worst(ours) < 2e-5  # 0.002 % of the fundamental at the chosen 64 × 40 steps
    # Values at even points, at the same rate, leave folded lines an order of magnitude and more above that,
    assert worst(values_taken_at_even_points(64 * 40)) > 10 * worst(ours)
    # and at 4 steps for the highest order, as the sampling theorem would almost have it, half a percent.
    assert worst(values_taken_at_even_points(4 * 40)) > 5e-3


def test_window_of_whole_cycles_needs_no_taper() -> None:
    # Closed form: a pure sine has no harmonics. Whole cycles show none; a window 1 % too long leaks.
    time_s = uneven(0.05, 20_000)
    sine = np.sin(2 * np.pi * 50 * time_s)
    whole = harmonics.phasors(*sampling.cut(time_s, sine, 0.0031, 0.0231))
    assert harmonics.thd_ratio(whole) < 1e-5
    assert abs(whole[1]) == pytest.approx(1.0, abs=1e-5)
    longer = harmonics.phasors(*sampling.cut(time_s, sine, 0.0031, 0.0233))
    assert harmonics.thd_ratio(longer) > 1e-2
    # A Hann taper moves a quarter of the fundamental's power, on one cycle, onto its neighbours.
    tapered = np.fft.rfft(
        sampling.even_means(*sampling.cut(time_s, sine, 0.0, 0.02), 2560) * np.hanning(2560)
    )
    assert abs(tapered[2]) / abs(tapered[1]) == pytest.approx(0.5, abs=0.01)


amplitudes = st.lists(st.floats(-1.0, 1.0), min_size=2, max_size=12)


@given(amplitudes, st.floats(0.1, 1.0), st.floats(-1.0, 1.0), st.integers(1, 3))
def test_band_limited_wave_gives_back_its_series(
    rest: list[float], first: float, mean: float, cycles: int
) -> None:
    # Closed form (Fourier, Parseval): the series itself; mean square = Σ of orders; both THDs are one.
    order = np.arange(1, len(rest) + 2)
    peaks = np.array([first, *rest])
    turn = np.linspace(0.0, cycles, 6000 * cycles + 1)
    wave = mean + peaks @ np.cos(2 * np.pi * order[:, np.newaxis] * turn + 0.3 * order[:, np.newaxis])
    lines = harmonics.phasors(turn, wave, cycles, highest=15)
    assert lines[0].real == pytest.approx(mean, abs=1e-9)
    assert lines[1 : order.size + 1] == pytest.approx(peaks * np.exp(0.3j * order), abs=5e-5)
    square = lines[0].real ** 2 + float(np.sum(np.abs(lines[1:]) ** 2)) / 2
    assert sampling.rms(turn, wave) ** 2 == pytest.approx(square, abs=5e-4)
    assert harmonics.thd_ratio_from_rms(turn, wave, lines) == pytest.approx(
        harmonics.thd_ratio(lines), abs=2e-3
    )


@given(st.integers(0, 2559), st.integers(0, 10))
def test_shift_by_whole_steps_turns_phases_only(shift: int, seed: int) -> None:
    # Closed form: a delay of s of the cycle turns order n by −2πns.
    steps = np.random.default_rng(seed).normal(size=2560)
    turn = np.arange(2561) / 2560

    def lines(values: Floats) -> Phasors:
        return harmonics.phasors(turn, np.append(values, values[0]))

    turned = lines(steps) * np.exp(-2j * np.pi * np.arange(41) * shift / 2560)
    assert lines(np.roll(steps, shift)) == pytest.approx(turned, abs=1e-9)


# Closed form: current flows while |v| > r·Vpk, that is from asin r to 180° − asin r.
@pytest.mark.parametrize("ratio", [0.1, 0.5, np.sin(np.radians(60.0)), 0.95])
@pytest.mark.parametrize("offset", [0.0, 0.13, 0.77])
def test_conduction_without_reservoir(ratio: float, offset: float) -> None:
    turn, voltage, current = no_reservoir(ratio)
    double = np.concatenate((turn, turn[1:] + 1.0))
    _, (voltage, current) = sampling.cut(
        double, np.stack([np.append(wave, wave[1:]) for wave in (voltage, current)]), offset, offset + 1.0
    )
    turn, _ = sampling.cut(double, double, offset, offset + 1.0)
    angles = harmonics.conduction_angles(turn - offset, voltage, current)
    on_deg = np.degrees(np.arcsin(ratio))
    # A flat top is counted from its first point.
    assert angles == pytest.approx((on_deg, on_deg, 180.0 - on_deg), abs=0.11)


def test_last_of_several_peaks_counts_and_ripples_do_not() -> None:
    # IEC 61000-3-2, class C: the last peak if there are several; 5 % as standing height is our choice.
    angle = np.radians(np.linspace(0.0, 360.0, 7201))

    def bump(at_deg: float, height: float) -> Floats:
        half = np.degrees(angle) % 180.0
        return np.asarray(height * np.exp(-(((half - at_deg) / 8.0) ** 2)) * np.sign(np.sin(angle)))

    def last_peak_deg(current: Floats) -> float:
        return harmonics.conduction_angles(angle, np.sin(angle), current).last_peak_deg

    assert last_peak_deg(bump(55.0, 1.0)) == pytest.approx(55.0, abs=0.06)
    assert last_peak_deg(bump(55.0, 1.0) + bump(100.0, 0.3)) == pytest.approx(100.0, abs=0.1)
    assert last_peak_deg(bump(55.0, 1.0) + bump(100.0, 0.04)) == pytest.approx(55.0, abs=0.06)
    assert last_peak_deg(bump(55.0, 0.3) + bump(100.0, 1.0)) == pytest.approx(100.0, abs=0.1)


@pytest.mark.parametrize(("threshold", "start_deg"), [(0.05, 2.866), (0.5, 30.0)])
def test_current_flows_from_its_threshold(threshold: float, start_deg: float) -> None:
    # IEC 61000-3-2, class C: 5 % of the highest peak (from memory). Closed form: asin of it, on a sine.
    turn = uneven(1.0, 8000)
    sine = np.sin(2 * np.pi * turn)
    angles = harmonics.conduction_angles(turn, sine, 0.1 * sine, threshold_ratio=threshold)
    assert angles == pytest.approx((start_deg, 90.0, 180.0 - start_deg), abs=0.11)
    assert harmonics.conduction_angles(turn, sine, 0.1 * sine).start_deg == pytest.approx(2.866, abs=0.06)


def test_worst_half_cycle_counts() -> None:
    angle = np.linspace(0.0, 360.0, 7201)
    voltage = np.sin(np.radians(angle))
    flows = ((angle > 40) & (angle < 130)) | ((angle > 230) & (angle < 300))
    angles = harmonics.conduction_angles(angle, voltage, np.where(flows, np.sign(voltage), 0.0))
    assert angles == pytest.approx((50.0, 50.0, 120.0), abs=0.11)
    one_way = np.where(angle < 180, voltage, 0.0)
    assert harmonics.conduction_angles(angle, voltage, one_way) == (180.0, 180.0, 0.0)


def test_nothing_gives_nan_and_no_voltage_is_refused() -> None:
    turn = uneven(1.0, 200)
    nothing = np.zeros_like(turn)
    lines = harmonics.phasors(turn, nothing)
    assert np.isnan(harmonics.harmonic_ratios(lines)).all()
    assert np.isnan(harmonics.thd_ratio(lines))
    assert np.isnan(harmonics.thd_ratio_from_rms(turn, nothing, lines))
    assert np.isnan(harmonics.conduction_angles(turn, np.sin(2 * np.pi * turn), nothing)).all()
    with pytest.raises(ValueError, match="a supply voltage with a fundamental"):
        harmonics.conduction_angles(turn, nothing, turn)
    with pytest.raises(ValueError, match="one cycle or more and order 1 or more, got 0 and 40"):
        harmonics.phasors(turn, turn, cycles=0)
