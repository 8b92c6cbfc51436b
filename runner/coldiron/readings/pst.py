"""PstLM, flicker slow enough for the eye to follow, of a long record and of a periodic light."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from coldiron.readings.harmonics import phasors
from coldiron.readings.sampling import Floats

# Eye and brain, as polynomials of s with the highest power first.
_EYE = (
    np.array([0.041661, 44.758, 2715.6, 29839.0, 0.0]),
    np.array([1.0, 196.32, 11781.0, 534820.0, 3505380.0]),
)
_HIGH_PASS_HZ = 0.05
_LOW_PASS_HZ = 35.0
_LOW_PASS_ORDER = 6
_SMOOTHING_S = 0.3
_SCALE = 1.101603155420234e6
_SETTLING_S = 20.0
_LOWEST_RATE_HZ = 2000.0
# Each group of percentiles is averaged, then weighted.
_CLASSES = (
    (0.0314, (0.1,)),
    (0.0525, (0.7, 1.0, 1.5)),
    (0.0657, (2.2, 3.0, 4.0)),
    (0.28, (6.0, 8.0, 10.0, 13.0, 17.0)),
    (0.08, (30.0, 50.0, 80.0)),
)
# The 35 Hz filter leaves 2e-9 of what lies here.
_NOTHING_PASSES_HZ = 1000.0


def pst_from_sensation(sensation: Floats) -> float:
    """Short-term severity of a record of instantaneous flicker sensation, by percentiles.

    √(0.0314·P0.1 + 0.0525·P1s + 0.0657·P3s + 0.28·P10s + 0.08·P50s), Pₓ being exceeded in x % of the
    time and s a mean over neighbouring percentiles.

    Parameters
    ----------
    sensation : (n,) array
        Instantaneous flicker sensation in even steps, 1 being just perceptible.

    Returns
    -------
    float
        Severity; 1 is the threshold of irritation.

    References
    ----------
    IEC 61000-4-15, clause 5.7; IEC TR 61547-1.

    Examples
    --------
    >>> round(pst_from_sensation(np.ones(100)), 4)  # √0.5096
    0.7139
    """
    wanted = [exceeded for _, group in _CLASSES for exceeded in group]
    levels = iter(np.percentile(sensation, 100.0 - np.array(wanted)))
    total = sum(weight * float(np.mean([next(levels) for _ in group])) for weight, group in _CLASSES)
    return float(np.sqrt(total))


def _low_pass_polynomial() -> Floats:
    """Denominator of the Butterworth low-pass in s, highest power first, gain 1 at rest."""
    angles = np.pi * (2.0 * np.arange(_LOW_PASS_ORDER) + _LOW_PASS_ORDER + 1.0) / (2.0 * _LOW_PASS_ORDER)
    unit = np.real(np.poly(np.exp(1j * angles)))
    return np.asarray(unit / (2.0 * np.pi * _LOW_PASS_HZ) ** np.arange(_LOW_PASS_ORDER, -1, -1))


def _eye_response(frequency_hz: Floats) -> NDArray[np.complex128]:
    """Response of high-pass, low-pass and eye, all before the squarer, to each frequency."""
    s = 2j * np.pi * frequency_hz
    high_pass = s / (s + 2.0 * np.pi * _HIGH_PASS_HZ)
    low_pass = 1.0 / np.polyval(_low_pass_polynomial(), s)
    return np.asarray(high_pass * low_pass * np.polyval(_EYE[0], s) / np.polyval(_EYE[1], s))


def periodic_sensation(time_s: Floats, light: Floats) -> Floats:
    """Instantaneous flicker sensation over one period of a light that repeats for ever.

    Every filter is applied as its response to each line of the period, so there is no settling to wait
    for and to leave out: it is what tiling the period without end comes to.

    Parameters
    ----------
    time_s, light : (n,) array
        Instants [s] and light, in any unit, over one period; mean above zero.

    Returns
    -------
    (m,) array
        Sensation in even steps over the period, 1 being just perceptible.

    Raises
    ------
    ValueError
        If the record is none, or there is no light.

    References
    ----------
    IEC TR 61547-1 (chain of filters as in an open reference implementation).

    Examples
    --------
    >>> period_s = 1 / 8.8
    >>> instants_s = np.linspace(0.0, period_s, 2001)
    >>> light = 1.0 + 0.00315 * np.sin(2 * np.pi * 8.8 * instants_s)  # 0.315 % at 8.8 Hz: unit perception
    >>> round(float(periodic_sensation(instants_s, light).max()), 2)
    1.0
    """
    period_s = float(time_s[-1] - time_s[0])
    lines = phasors(time_s, light, highest=max(1, int(_NOTHING_PASSES_HZ * period_s)))
    if not lines[0].real > 0.0:
        raise ValueError("expected a light with a mean above zero")
    frequencies_hz = np.arange(lines.size) / period_s
    # Four steps a line hold twice the band, which squaring fills; more only refine the percentiles.
    count = max(2048, 4 * lines.size)
    seen = np.fft.irfft(lines / lines[0].real * _eye_response(frequencies_hz) * (0.5 * count), count)
    squared = np.fft.rfft(seen**2)
    smoothing = 1.0 / (1.0 + 2j * np.pi * _SMOOTHING_S * np.arange(squared.size) / period_s)
    return np.asarray(_SCALE * np.fft.irfft(squared * smoothing, count))


def pst_lm_periodic(time_s: Floats, light: Floats) -> float:
    """PstLM of a settled light that repeats for ever.

    Parameters
    ----------
    time_s, light : (n,) array
        Instants [s] and light, in any unit, over one period (one or more whole mains cycles).

    Returns
    -------
    float
        Severity; 1 is the threshold of irritation. Nan in the dark.

    Raises
    ------
    ValueError
        If the record is none.

    References
    ----------
    IEC TR 61547-1.

    Examples
    --------
    >>> instants_s = np.linspace(0.0, 0.01, 2001)
    >>> round(pst_lm_periodic(instants_s, 1.0 + np.sin(2 * np.pi * 100.0 * instants_s)), 4)
    0.0758
    """
    if not light.max() > 0.0:
        return float("nan")
    return pst_from_sensation(periodic_sensation(time_s, light))


def sensation(light: Floats, rate_hz: float) -> Floats:
    """Instantaneous flicker sensation of a long record in even steps, its first 20 s left out.

    Parameters
    ----------
    light : (n,) array
        Light, in any unit, in even steps; mean above zero.
    rate_hz : float
        Steps a second [Hz], 2000 or more. Filters in steps bend towards half the rate: a light at 100 Hz
        reads 5 % low at 2000 steps a second and 0.2 % low at 10 000, one below 35 Hz true at either.

    Returns
    -------
    (m,) array
        Sensation, 1 being just perceptible.

    Raises
    ------
    ValueError
        If the rate is too low, the record is not longer than 20 s, or there is no light.

    References
    ----------
    IEC TR 61547-1 (chain of filters as in an open reference implementation).

    Examples
    --------
    >>> instants_s = np.arange(60_000) / 2000.0
    >>> seen = sensation(1.0 + 0.00315 * np.sin(2 * np.pi * 8.8 * instants_s), 2000.0)
    >>> round(float(seen.max()), 1)
    1.0
    """
    from scipy import signal  # here, because it takes most of a second and no other reading needs it

    settling = round(_SETTLING_S * rate_hz)
    if not rate_hz >= _LOWEST_RATE_HZ:
        raise ValueError(f"expected {_LOWEST_RATE_HZ:g} steps a second or more, got {rate_hz:g}")
    if light.size <= settling:
        raise ValueError(f"expected a record longer than {_SETTLING_S:g} s, got {light.size / rate_hz:g} s")
    if not light.mean() > 0.0:
        raise ValueError("expected a light with a mean above zero")
    zeros, poles, gain = signal.tf2zpk(*_EYE)
    eye = signal.bilinear_zpk(zeros, poles, gain, fs=rate_hz)
    smoothing_hz = 1.0 / (2.0 * np.pi * _SMOOTHING_S)
    before = np.concatenate(
        (
            signal.butter(1, _HIGH_PASS_HZ, "highpass", fs=rate_hz, output="sos"),
            signal.butter(_LOW_PASS_ORDER, _LOW_PASS_HZ, fs=rate_hz, output="sos"),
            signal.zpk2sos(*eye),
        )
    )
    after = signal.butter(1, smoothing_hz, fs=rate_hz, output="sos")
    # The high-pass would take the mean away too, but a minute is short for it.
    seen = signal.sosfilt(before, light / light.mean() - 1.0)
    return np.asarray(_SCALE * signal.sosfilt(after, seen**2)[settling:])


def pst_lm(light: Floats, rate_hz: float) -> float:
    """PstLM of a long record in even steps, its first 20 s left out.

    Parameters
    ----------
    light : (n,) array
        Light, in any unit, in even steps.
    rate_hz : float
        Steps a second [Hz], 2000 or more.

    Returns
    -------
    float
        Severity; 1 is the threshold of irritation. Nan in the dark.

    Raises
    ------
    ValueError
        If the rate is too low or the record is not longer than 20 s.

    References
    ----------
    IEC TR 61547-1.

    Examples
    --------
    >>> square = 1.0 + 0.00342 * np.sign(np.sin(2 * np.pi * 8.8 * np.arange(60_000) / 2000.0))
    >>> round(pst_lm(square, 2000.0), 1)
    1.0
    """
    if light.size and not light.max() > 0.0:
        return float("nan")
    return pst_from_sensation(sensation(light, rate_hz))
