"""Harmonics of a settled record of whole cycles, distortion, and the angles at which current flows.

The window is whole cycles, cut with interpolated ends, and no taper is laid over it: every harmonic then
falls on a line of its own. The record is taken in even means (`sampling.even_means`), whose known droop
is undone line by line.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from coldiron.readings.sampling import Floats, even_means, largest, mean, rms

Phasors: TypeAlias = NDArray[np.complex128]

HIGHEST_ORDER = 40
"""Highest harmonic of IEC 61000-3-2 (from memory)."""

# Even steps in a cycle for each order wanted. At a jump, the steepest thing a current can do, a line at
# 1/64 of the rate then has 1 part in 2000 folded into it, and every lower line less.
_STEPS_PER_ORDER = 64


def phasors(time_s: Floats, values: Floats, cycles: int = 1, highest: int = HIGHEST_ORDER) -> Phasors:
    """Harmonics as peak-value phasors: x(t) = X₀ + Σ Re(Xₙ e^(jnω(t − t₀))), t₀ the first instant.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit] over exactly `cycles` settled cycles.
    cycles : int
        Whole fundamental cycles in the record.
    highest : int
        Highest order wanted.

    Returns
    -------
    (highest + 1,) complex array
        Peak amplitude and phase of each order [unit]; element 0 is the mean.

    Raises
    ------
    ValueError
        If the record is none, or `cycles` or `highest` is below one.

    References
    ----------
    Closed form (Fourier series). A mean over a step h weighs the frequency f by sin(πfh)/(πfh).

    Examples
    --------
    >>> turn = np.linspace(0.0, 1.0, 2001)
    >>> lines = phasors(turn, 3.0 + 2.0 * np.cos(2 * np.pi * turn), highest=2)
    >>> np.round(np.abs(lines), 4)
    array([3., 2., 0.])
    """
    if cycles < 1 or highest < 1:
        raise ValueError(f"expected one cycle or more and order 1 or more, got {cycles} and {highest}")
    count = _STEPS_PER_ORDER * highest * cycles
    lines = np.fft.rfft(even_means(time_s, values, count))[: highest * cycles + 1 : cycles] / count
    turn_per_step = np.arange(highest + 1) * (cycles / count)
    lines *= np.exp(-1j * np.pi * turn_per_step) / np.sinc(turn_per_step)
    lines[1:] *= 2.0
    return np.asarray(lines)


def harmonic_ratios(lines: Phasors) -> Floats:
    """Amplitude of every order relative to the fundamental.

    Parameters
    ----------
    lines : (n,) complex array
        From `phasors`.

    Returns
    -------
    (n,) array
        Ratios; element 1 is 1, element 0 the mean over the fundamental's peak. All nan without a
        fundamental.

    Examples
    --------
    >>> harmonic_ratios(np.array([0.0, 2.0, 0.5j]))
    array([0.  , 1.  , 0.25])
    """
    amplitudes = np.abs(lines)
    return np.asarray(amplitudes / amplitudes[1] if amplitudes[1] > 0.0 else np.full(lines.shape, np.nan))


def thd_ratio(lines: Phasors) -> float:
    """Total harmonic distortion up to the highest order of `lines`: √(Σₙ₌₂ |Xₙ|²)/|X₁|.

    Parameters
    ----------
    lines : (n,) complex array
        From `phasors`.

    Returns
    -------
    float
        Ratio; nan without a fundamental.

    References
    ----------
    IEC 61000-3-2, clause 3, to order 40 (from memory).

    Examples
    --------
    >>> round(thd_ratio(np.array([9.0, 10.0, 3.0, 4.0])), 6)
    0.5
    """
    return float(np.linalg.norm(harmonic_ratios(lines)[2:]))


def thd_ratio_from_rms(time_s: Floats, values: Floats, lines: Phasors) -> float:
    """Total harmonic distortion with every order there is: √(X² − X₀² − X₁²)/X₁, all as rms values.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit] over whole cycles.
    lines : (m,) complex array
        From `phasors` of the same record.

    Returns
    -------
    float
        Ratio; nan without a fundamental.

    Raises
    ------
    ValueError
        If the record is none.

    References
    ----------
    Closed form (Parseval): the mean square is the sum of the mean squares of the orders.

    Examples
    --------
    >>> edges = np.array([0.0, 0.5, 0.5, 1.0])  # a square wave: √(π²/8 − 1)
    >>> square = np.array([1.0, 1.0, -1.0, -1.0])
    >>> round(thd_ratio_from_rms(edges, square, phasors(edges, square)), 4)
    0.4834
    """
    fundamental = np.abs(lines[1]) / np.sqrt(2.0)
    if fundamental == 0.0:
        return float("nan")
    rest = rms(time_s, values) ** 2 - mean(time_s, values) ** 2 - fundamental**2
    return float(np.sqrt(max(rest, 0.0)) / fundamental)


class ConductionAngles(NamedTuple):
    """Where in its worst half cycle a current flows, 0° being the voltage's zero crossing."""

    start_deg: float
    last_peak_deg: float
    stop_deg: float


# An eighth of the degree that the limits are written in would do; this keeps well clear of it.
_ANGLES_DEG = np.linspace(0.0, 180.0, 3601)
# Our choice: a bump is a peak of its own when it stands as high over its dip as the start threshold.
_STANDING_RATIO = 0.05


def _last_peak_deg(half: Floats, standing: float) -> float:
    """Angle of the last maximum that the current falls away from by `standing` on both sides."""
    backwards = half[::-1]
    fallen = backwards < np.maximum.accumulate(backwards) - standing
    tail = half[half.size - int(np.argmax(fallen)) :] if fallen.any() else half
    return float(_ANGLES_DEG[half.size - tail.size + int(np.argmax(tail))])


def conduction_angles(
    time_s: Floats, voltage_v: Floats, current_a: Floats, cycles: int = 1, threshold_ratio: float = 0.05
) -> ConductionAngles:
    """Angles at which the input current starts, has its last peak and stops, in the worst half cycle.

    Current flows while it is at or above `threshold_ratio` of the highest peak of the record. The last
    peak is the last one that stands 5 % of the highest above the dip before it (our choice; the
    standard leaves it to the eye); of a flat top the first point counts. Worst: the latest start, the
    latest last peak, the earliest stop. A half cycle without current counts as 180°, 180° and 0°.

    Parameters
    ----------
    time_s, voltage_v, current_a : (n,) array
        Instants [s], supply voltage [V] and input current [A] over exactly `cycles` settled cycles.
    cycles : int
        Whole mains cycles in the record.
    threshold_ratio : float
        Share of the highest peak at which current counts as flowing.

    Returns
    -------
    ConductionAngles
        `start_deg`, `last_peak_deg`, `stop_deg`, in steps of 0.05° from the zero crossing of the
        fundamental of the voltage; all nan when no current flows at all.

    Raises
    ------
    ValueError
        If the record is none, or the voltage has no fundamental.

    References
    ----------
    IEC 61000-3-2, class C, the special waveform for 5 W to 25 W: 0° at the zero crossing of the
    fundamental voltage; the 5 % threshold is from memory.

    Examples
    --------
    >>> turn = np.linspace(0.0, 1.0, 3601)
    >>> sine = np.sin(2 * np.pi * turn)
    >>> angles = conduction_angles(turn, sine, np.where(abs(sine) > 0.5, sine, 0.0))
    >>> [round(angle) for angle in angles]
    [30, 90, 150]
    """
    fundamental = phasors(time_s, voltage_v, cycles, highest=1)[1]
    if fundamental == 0.0:
        raise ValueError("expected a supply voltage with a fundamental, got one without")
    highest_a = largest(current_a)
    if highest_a == 0.0:
        return ConductionAngles(np.nan, np.nan, np.nan)
    window_s = float(time_s[-1] - time_s[0])
    crossing_deg = -90.0 - float(np.angle(fundamental, deg=True))
    halves = np.arange(2 * cycles)[:, np.newaxis]
    instants_s = (crossing_deg + 180.0 * halves + _ANGLES_DEG) / 360.0 * (window_s / cycles)
    forward = (-1.0) ** halves * np.interp(instants_s, time_s - time_s[0], current_a, period=window_s)

    worst = ConductionAngles(0.0, 0.0, 180.0)
    for half in forward:
        flowing = np.flatnonzero(half >= threshold_ratio * highest_a)
        if flowing.size == 0:
            return ConductionAngles(180.0, 180.0, 0.0)
        worst = ConductionAngles(
            max(worst.start_deg, float(_ANGLES_DEG[flowing[0]])),
            max(worst.last_peak_deg, _last_peak_deg(half, _STANDING_RATIO * highest_a)),
            min(worst.stop_deg, float(_ANGLES_DEG[flowing[-1]])),
        )
    return worst
