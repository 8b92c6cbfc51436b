"""Flicker that is over before the eye can follow it: percent flicker, flicker index, SVM.

The record is one or more whole cycles of a settled light; slow flicker is in `pst`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from coldiron.readings.harmonics import phasors
from coldiron.readings.sampling import Floats, integral, mean

SVM_LOWEST_HZ = 80.0
SVM_HIGHEST_HZ = 2000.0
_SVM_EXPONENT = 3.7


def flicker_pct(light: Floats) -> float:
    """Percent flicker, 100·(max − min)/(max + min), also called modulation depth.

    Parameters
    ----------
    light : (n,) array
        Light, in any unit, over whole cycles; not negative.

    Returns
    -------
    float
        0 to 100; nan in the dark.

    References
    ----------
    IES Lighting Handbook; IEEE 1789-2015 uses the same as Mod%.

    Examples
    --------
    >>> flicker_pct(np.array([1.0, 3.0, 1.0]))
    50.0
    """
    highest, lowest = float(light.max()), float(light.min())
    return 100.0 * (highest - lowest) / (highest + lowest) if highest > 0.0 else float("nan")


def mains_flicker_pct(time_s: Floats, light: Floats) -> float:
    """Flicker at the mains frequency itself, amplitude of that component over the mean light [%].

    Behind a whole bridge light repeats with every half wave, at 100 or 120 Hz, which hardly an eye follows.
    At 50 or 60 Hz it is seen: it tells of a half wave that is weaker than the other, or missing.

    Parameters
    ----------
    time_s, light : (n,) array
        Instants [s] and light, in any unit, over one mains cycle; not negative.

    Returns
    -------
    float
        0 to 200; nan in the dark.

    Examples
    --------
    >>> time_s = np.linspace(0.0, 0.02, 2001)
    >>> half_wave = np.maximum(0.0, np.sin(2 * np.pi * 50.0 * time_s))
    >>> round(mains_flicker_pct(time_s, half_wave), 1)  # amplitude 1/2 over mean 1/pi
    157.1
    """
    middle = mean(time_s, light)
    return 100.0 * abs(complex(phasors(time_s, light)[1])) / middle if middle > 0.0 else float("nan")


def flicker_index(time_s: Floats, light: Floats) -> float:
    """Flicker index, the area above the mean over the whole area, exact for straight lines.

    Parameters
    ----------
    time_s, light : (n,) array
        Instants [s] and light, in any unit, over whole cycles; not negative.

    Returns
    -------
    float
        0 to 1; nan in the dark.

    Raises
    ------
    ValueError
        If the record is none.

    References
    ----------
    IES Lighting Handbook.

    Examples
    --------
    >>> flicker_index(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 0.0]))  # triangle: 1/4
    0.25
    """
    whole = integral(time_s, light)
    if not whole > 0.0:
        return float("nan")
    excess = light - mean(time_s, light)
    above = np.maximum(excess, 0.0)
    a, b = above[:-1] + above[1:], np.abs(excess[:-1]) + np.abs(excess[1:])
    # A line that crosses the mean is above it for the share a/b of its step; one that does not, for all.
    crossing = excess[:-1] * excess[1:] < 0.0
    share = np.divide(a, b, out=np.ones_like(a), where=crossing)
    return 0.5 * float(np.dot(np.diff(time_s), a * share)) / whole


def svm_threshold(frequency_hz: Floats) -> Floats:
    """Modulation of a sine at which its stroboscopic effect is just visible to half of the watchers.

    T(f) = 1/(1 + e^(−0.00518·(f − 306.6))) + 20·e^(−f/10).

    Parameters
    ----------
    frequency_hz : array
        Frequency [Hz].

    Returns
    -------
    array
        Relative amplitude, 1 being full modulation.

    References
    ----------
    IEC TR 63158 and CIE TN 006; the coefficients are from memory.

    Examples
    --------
    >>> np.round(svm_threshold(np.array([100.0, 120.0])), 5)
    array([0.25628, 0.27568])
    """
    return np.asarray(
        1.0 / (1.0 + np.exp(-0.00518 * (frequency_hz - 306.6))) + 20.0 * np.exp(-frequency_hz / 10.0)
    )


def svm(time_s: Floats, light: Floats, threshold: Callable[[Floats], Floats] = svm_threshold) -> float:
    """Stroboscopic visibility measure of a settled light, [Σ (Cₘ/T(fₘ))^3.7]^(1/3.7).

    Cₘ is the amplitude of each line relative to the mean, from 80 Hz to 2 kHz. The record is taken as
    one period of the light, so lines lie at multiples of one over its length.

    Parameters
    ----------
    time_s, light : (n,) array
        Instants [s] and light, in any unit, over whole mains cycles.
    threshold : callable
        Visibility threshold as a function of frequency [Hz].

    Returns
    -------
    float
        1 is just visible; nan in the dark.

    Raises
    ------
    ValueError
        If the record is none, or shorter than a period of 2 kHz.

    References
    ----------
    IEC TR 63158 and CIE TN 006.

    Examples
    --------
    >>> instants_s = np.linspace(0.0, 0.02, 2001)
    >>> round(svm(instants_s, 1.0 + np.sin(2 * np.pi * 100.0 * instants_s)), 3)
    3.902
    """
    length_s = float(time_s[-1] - time_s[0])
    lines = np.abs(phasors(time_s, light, highest=int(SVM_HIGHEST_HZ * length_s * (1.0 + 1e-9))))
    if not lines[0] > 0.0:
        return float("nan")
    frequencies_hz = np.arange(lines.size) / length_s
    band = frequencies_hz >= SVM_LOWEST_HZ * (1.0 - 1e-9)
    visibility = lines[band] / lines[0] / threshold(frequencies_hz[band])
    return float(np.sum(visibility**_SVM_EXPONENT) ** (1.0 / _SVM_EXPONENT))
