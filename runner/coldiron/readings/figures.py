"""Numbers as a person reads them: few digits, no exponents."""

from __future__ import annotations

import math

from coldiron.readings.catalogue import kind_of


def figure(value: float) -> str:
    """A number with three significant digits and no exponent.

    Examples
    --------
    >>> figure(0.012345), figure(45.23), figure(99.98), figure(1234.6), figure(float("inf"))
    ('0.0123', '45.2', '100', '1235', 'never')
    """
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "never"
    if value == 0 or abs(value) < 5e-5:
        return "0"
    rounded = float(f"{value:.3g}")
    decimals = max(0, min(4, 2 - math.floor(math.log10(abs(rounded)))))
    return f"{value:.{decimals}f}"


def amount(value: float, reading: str) -> str:
    """A reading's value with its unit, without zeros that say nothing.

    Examples
    --------
    >>> amount(3.2, "inrush_peak_A"), amount(5.26, "svm"), amount(float("inf"), "discharge_60V_s")
    ('3.2 A', '5.26', 'never')
    """
    text, unit = figure(value), kind_of(reading).unit
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {unit}" if unit and math.isfinite(value) else text
