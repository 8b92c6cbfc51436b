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


def change_text(value: float, found: float) -> str:
    """Change against as found in per cent, or as a factor when it is large.

    Examples
    --------
    >>> change_text(45.0, 30.0), change_text(90.0, 10.0), change_text(1.0, 1.0), change_text(1.0, 0.0)
    ('+50 %', '×9.0', '=', '')

    A factor of what was next to nothing has no digits that mean anything.

    >>> change_text(12.345, 0.026), change_text(25.3, 4.4e-5)
    ('×475', '>×1000')
    """
    if not (math.isfinite(value) and math.isfinite(found)) or found == 0:
        return ""
    ratio = value / found
    if abs(ratio - 1) < 0.005:
        return "="
    if ratio > 1000:
        return ">×1000"
    if ratio >= 3:
        return f"×{ratio:.0f}" if ratio >= 100 else f"×{ratio:.1f}"
    return f"{100 * (ratio - 1):+.0f} %"
