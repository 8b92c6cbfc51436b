"""Cutting and integrating uneven records, held against quadrature and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.integrate import quad

from coldiron.readings import levels, sampling
from readings.waves import Floats, records, uneven


@pytest.mark.parametrize("seed", range(5))
def test_integrals_agree_with_quadrature(seed: int) -> None:
    # scipy.integrate.quad (QUADPACK) of the lines themselves, kinks given to it.
    rng = np.random.default_rng(seed)
    time_s = np.concatenate(([0.0], np.sort(rng.uniform(0.0, 1.0, 12)), [1.0]))
    one, two = rng.normal(size=(2, time_s.size))

    def first(t: float) -> float:
        return float(np.interp(t, time_s, one))

    def second(t: float) -> float:
        return float(np.interp(t, time_s, two))

    kinks = time_s[1:-1]
    area, _ = quad(first, 0.0, 1.0, points=kinks, limit=200)
    assert sampling.integral(time_s, one) == pytest.approx(area, abs=1e-10)
    assert sampling.mean(time_s, one) == pytest.approx(area, abs=1e-10)
    area, _ = quad(lambda t: first(t) * second(t), 0.0, 1.0, points=kinks, limit=200)
    assert sampling.integral_of_product(time_s, one, two) == pytest.approx(area, abs=1e-10)
    area, _ = quad(lambda t: first(t) ** 2, 0.0, 1.0, points=kinks, limit=200)
    assert sampling.rms(time_s, one) == pytest.approx(np.sqrt(area), abs=1e-10)
    for number, value in enumerate(sampling.even_means(time_s, one, 7)):
        a, b = number / 7, (number + 1) / 7
        area, _ = quad(first, a, b, points=kinks[(kinks > a) & (kinks < b)], limit=200)
        assert value == pytest.approx(7 * area, abs=1e-9)


def test_sine_has_its_closed_form_rms_and_mean_power() -> None:
    # Closed form: rms = peak/√2; mean of v·i = V·I·cos φ/2.
    time_s = uneven(0.02)
    angle = 2 * np.pi * 50.0 * time_s
    voltage_v, current_a = 325.27 * np.sin(angle), 0.1 * np.sin(angle - 0.6)
    assert sampling.rms(time_s, voltage_v) == pytest.approx(325.27 / np.sqrt(2), rel=1e-5)
    assert sampling.mean_of_product(time_s, voltage_v, current_a) == pytest.approx(
        325.27 * 0.1 * np.cos(0.6) / 2, rel=1e-5
    )


def test_interpolated_ends_take_away_the_jitter_that_masking_has() -> None:
    # Closed form: sin² has mean 1/2 over every cycle, wherever it starts. Steps of 50 µs on 20 ms.
    time_s = np.arange(0.0, 0.1, 51.3e-6)
    power = np.sin(2 * np.pi * 50.0 * time_s) ** 2
    starts = np.linspace(0.0, 0.0751, 50)
    cut = [sampling.mean(*sampling.cut(time_s, power, start, start + 0.02)) for start in starts]
    masks = [(time_s >= start) & (time_s <= start + 0.02) for start in starts]
    masked = [sampling.integral(time_s[mask], power[mask]) / 0.02 for mask in masks]
    assert max(abs(np.array(cut) - 0.5)) < 1e-5
    assert max(abs(np.array(masked) - 0.5)) > 1e-3


@given(records(signals=2), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
@example((np.array([0.0, 1.0, 1.0, 2.0]), np.array([0.0, 0.0, 1.0, 1.0]), np.ones(4)), 0.0, 0.5, 1.0)
def test_two_parts_of_a_window_add_up_to_it(
    record: tuple[Floats, Floats, Floats], a: float, b: float, c: float
) -> None:
    # Closed form: an integral is additive, at any cut, a jump included.
    time_s, one, two = record
    start, middle, stop = (share * time_s[-1] for share in sorted((a, b, c)))
    if not start < middle < stop:
        return

    def area(first: float, last: float) -> float:
        times_s, (left, right) = sampling.cut(time_s, np.stack((one, two)), first, last)
        return sampling.integral_of_product(times_s, left, right)

    assert area(start, middle) + area(middle, stop) == pytest.approx(area(start, stop), rel=1e-9, abs=1e-4)


@given(records(signals=2))
def test_mean_of_a_product_stays_within_the_product_of_rms(record: tuple[Floats, Floats, Floats]) -> None:
    # Closed form: Cauchy and Schwarz.
    time_s, one, two = record
    bound = sampling.rms(time_s, one) * sampling.rms(time_s, two)
    assert abs(sampling.mean_of_product(time_s, one, two)) <= bound * (1 + 1e-9) + 1e-12


@given(records(), st.integers(1, 60))
def test_even_steps_keep_the_mean_and_stay_between_the_extremes(
    record: tuple[Floats, Floats], count: int
) -> None:
    time_s, values = record
    even = sampling.even_means(time_s, values, count)
    assert even.shape == (count,)
    assert even.mean() == pytest.approx(sampling.mean(time_s, values), rel=1e-9, abs=1e-9)
    slack = 1e-9 * (1.0 + sampling.largest(values))
    assert even.min() >= values.min() - slack
    assert even.max() <= values.max() + slack


def test_even_steps_see_a_spike_between_them() -> None:
    # Closed form: a triangle of 1 A and 2 ns holds 1 nC; 10 steps of 100 ns spread it over one.
    time_s = np.array([0.0, 549e-9, 550e-9, 551e-9, 1e-6])
    spike_a = np.array([0.0, 0.0, 1.0, 0.0, 0.0])
    assert sampling.even_means(time_s, spike_a, 10) == pytest.approx(np.eye(10)[5] * 0.01, abs=1e-12)


@given(records(), st.floats(-1e3, 1e3))
def test_time_below_and_time_above_fill_the_record(record: tuple[Floats, Floats], level: float) -> None:
    time_s, values = record
    values = np.where(values == level, level + 1.0, values)
    total = 0.0
    for sign in (1.0, -1.0):
        starts_s, stops_s = levels.spans_below(time_s, sign * values, sign * level)
        assert starts_s.shape == stops_s.shape
        assert np.all(starts_s <= stops_s)
        assert np.all(stops_s[:-1] <= starts_s[1:])
        total += float((stops_s - starts_s).sum())
    assert total == pytest.approx(time_s[-1], rel=1e-9)


def test_sine_is_below_half_its_peak_for_its_closed_form_share() -> None:
    # Closed form: sin x < 1/2 outside 30° to 150°.
    angle_deg = uneven(360.0)
    starts, stops = levels.spans_below(angle_deg, np.sin(np.radians(angle_deg)), 0.5)
    assert starts == pytest.approx([0.0, 150.0], abs=1e-3)
    assert stops == pytest.approx([30.0, 360.0], abs=1e-3)


def test_cycle_means_of_a_settling_current() -> None:
    # Closed form: the mean of e^(−t/τ) over [a, b] is τ·(e^(−a/τ) − e^(−b/τ))/(b − a).
    time_s = np.linspace(0.0, 5 / 60, 20001)  # five cycles of 60 Hz: not a decimal number
    edges = np.exp(-np.arange(6) / 60 / 0.03)
    assert sampling.cycle_means(time_s, np.exp(-time_s / 0.03), 1 / 60) == pytest.approx(
        0.03 * 60 * -np.diff(edges), rel=1e-6
    )
    assert sampling.cycle_means(time_s, time_s, 0.1).size == 0
    # 0.3/0.1 is 2.9999999999999996 in binary: still three cycles.
    assert sampling.cycle_means(np.array([0.0, 0.3]), np.ones(2), 0.1) == pytest.approx(np.ones(3))


@pytest.mark.parametrize("length_s", [0.5e-3, 1e-3, 4e-3])
def test_what_a_sine_holds_for_a_time(length_s: float) -> None:
    # Closed form: the mean of a sine about its crest is sin(x)/x of it, x half the window as an angle.
    time_s = np.linspace(0.0, 0.02, 4001)
    angle = np.pi * 50.0 * length_s
    found = sampling.held_for(time_s, np.sin(2 * np.pi * 50.0 * time_s), length_s)
    assert found == pytest.approx(np.sin(angle) / angle, rel=1e-4)


@given(width=st.floats(0.02, 3.0), height=st.floats(0.1, 10.0), at=st.floats(4.0, 6.0))
def test_a_spike_counts_by_its_share_of_the_window(width: float, height: float, at: float) -> None:
    # Closed form: a rectangle on a level of 1, as wide as the window or less than it.
    edges = np.array([at, at + 1e-9, at + width, at + width + 1e-9])
    time_s: Floats = np.unique(np.concatenate((np.linspace(0.0, 10.0, 101), edges))).astype(np.float64)
    values: Floats = np.where((time_s > at) & (time_s <= at + width), 1.0 + height, 1.0).astype(np.float64)
    assert sampling.held_for(time_s, values, 1.0) == pytest.approx(1.0 + height * min(1.0, width), rel=1e-3)


def test_window_may_overhang_by_rounding_only() -> None:
    time_s = np.linspace(0.0, 0.0833333333333, 100)  # 5/60 s as a deck writes it
    assert sampling.cut(time_s, time_s, 0.0, 5 / 60)[0][-1] == time_s[-1]
    with pytest.raises(
        ValueError, match=r"expected a window inside 0 s to 0\.0833333 s, got 0 s to 0\.0834 s"
    ):
        sampling.cut(time_s, time_s, 0.0, 0.0834)


@pytest.mark.parametrize(("start", "stop"), [(0.5, 0.5), (0.6, 0.5), (-1.0, 0.5), (float("nan"), 0.5)])
def test_windows_that_are_none_are_refused(start: float, stop: float) -> None:
    with pytest.raises(ValueError, match="expected a window inside 0 s to 1 s"):
        sampling.cut(np.array([0.0, 1.0]), np.zeros(2), start, stop)


@pytest.mark.parametrize("times", [[0.0], [0.0, 0.0], [0.0, 2.0, 1.0]])
def test_records_that_are_none_are_refused(times: list[float]) -> None:
    time_s = np.array(times)
    with pytest.raises(ValueError, match="two or more time points that increase"):
        sampling.mean(time_s, np.ones_like(time_s))


def test_other_bad_arguments_are_refused() -> None:
    time_s = np.array([0.0, 1.0])
    with pytest.raises(ValueError, match="as many values as time points"):
        sampling.mean(time_s, np.ones(3))
    with pytest.raises(ValueError, match="one even step or more, got 0"):
        sampling.even_means(time_s, time_s, 0)
    with pytest.raises(ValueError, match="a cycle longer than 0 s"):
        sampling.cycle_means(time_s, time_s, 0.0)
