"""The unit of a reading, which its id carries as the last word."""

from __future__ import annotations

UNITS = {
    "A": "A",
    "uA": "µA",
    "us": "µs",
    "A2s": "A²s",
    "V": "V",
    "W": "W",
    "J": "J",
    "mJ": "mJ",
    "s": "s",
    "ms": "ms",
    "min": "min",
    "h": "h",
    "deg": "°",
    "C": "°C",
    "pct": "%",
    "K": "K",
}


def unit_of(reading: str) -> str:
    """Return the unit of a reading as people write it; empty for a ratio or a word.

    Examples
    --------
    >>> unit_of("inrush_i2t_A2s"), unit_of("flicker_pct"), unit_of("svm")
    ('A²s', '%', '')
    """
    return UNITS.get(reading.rsplit("_", 1)[-1], "")


def title_of(reading: str) -> str:
    """Return the name of a reading in words, without its unit.

    Examples
    --------
    >>> title_of("surge_sink_peak_A")
    'surge sink peak'
    """
    words = reading.split("_")
    if words[-1] in UNITS:
        words = words[:-1]
    return " ".join(words)
