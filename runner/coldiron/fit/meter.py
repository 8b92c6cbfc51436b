"""Bench readings as measurements: how a person calls them, their tolerance, their standard uncertainty."""

from __future__ import annotations

import math

from coldiron.lamp.body import READING_SCALES, BenchReading
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp

DEFAULT_AMBIENT_C = 25.0
"""Room of a reading that does not say."""


def name_of(reading: BenchReading) -> str:
    """What was read and when: "input power cold"."""
    return f"{reading.what} {reading.state}"


def value_text(reading: BenchReading, value: float | None = None) -> str:
    """Value of a reading in its unit, or another value in the same unit, with four digits.

    >>> value_text(BenchReading(what="input current", state="cold", value="220 mA"))
    '220 mA'
    """
    scale = READING_SCALES[reading.what]
    shown = reading.value if value is None else value
    if reading.what == "power factor":
        return f"{shown:.3g}"
    return scale.unit.format(float(f"{shown:.4g}"))


def digit(value: float) -> float:
    """One step of the third significant figure, which any meter of 2000 counts shows.

    >>> digit(0.22), digit(44.2), digit(0.0)
    (0.001, 0.1, 0.0)
    """
    return 10.0 ** (math.floor(math.log10(abs(value))) - 2) if value else 0.0


def tolerance(reading: BenchReading) -> float:
    """Meter tolerance of a reading, in its unit: share of the value, and digits."""
    return reading.tolerance_ratio * abs(reading.value) + reading.tolerance_digits * digit(reading.value)


def standard_uncertainty(reading: BenchReading) -> float:
    """Standard uncertainty of a reading: its tolerance over the square root of three.

    A tolerance says how far off a meter can be and no more, so every error within is as likely as any other.

    References
    ----------
    JCGM 100:2008 (GUM), clause 4.3.7: rectangular distribution.

    Examples
    --------
    >>> reading = BenchReading(what="input power", state="cold", value=100.0, tolerance_ratio=0.03)
    >>> round(standard_uncertainty(reading), 4)
    1.7321
    """
    return max(tolerance(reading), 1e-9) / math.sqrt(3.0)


def mains_v(reading: BenchReading, lamp: LinearSinksLamp) -> float:
    """Mains voltage of a reading; the lamp's own where it does not say [V]."""
    return lamp.mains.voltage_v if reading.mains_voltage_v is None else reading.mains_voltage_v


def ambient_c(reading: BenchReading) -> float:
    """Room of a reading [°C]."""
    return DEFAULT_AMBIENT_C if reading.ambient_c is None else reading.ambient_c
