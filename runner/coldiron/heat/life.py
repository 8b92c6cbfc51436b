"""What heat costs: hours of an electrolytic by the rule of ten kelvin, margins to the limits of parts.

An estimate for comparing variants. It promises nothing: a capacitor may fail earlier, and usually lasts
longer.
"""

from __future__ import annotations

CORE_RISE_K = 5.0
"""Core above case at rated ripple current (common practice of makers' guides for 105 °C types; from
memory)."""
COOLEST_CORE_C = 60.0
"""Makers state the rule down to about 60 °C; below, the life at 60 °C stands and cold earns nothing more."""


def typical_ripple_a(capacitance_f: float) -> float:
    """Rated ripple current of a 400 V, 105 °C type of a capacitance [A], 120 Hz; from memory of catalogues.

    >>> round(typical_ripple_a(47e-6), 2)
    0.3
    """
    return float(0.11 * (capacitance_f / 10e-6) ** 0.65)


def core_c(case_c: float, ripple_a: float, rated_ripple_a: float) -> float:
    """Core of an electrolytic above its case, ΔT = 5 K · (I / I_rated)² [°C].

    >>> core_c(70.0, 0.2, 0.1)
    90.0
    """
    return case_c + CORE_RISE_K * (ripple_a / rated_ripple_a) ** 2


def electrolytic_life_h(hot_core_c: float, rated_life_h: float, rated_c: float) -> float:
    """Hours until an electrolytic has worn to its end-of-life limits, by the rule of ten kelvin.

    L = L0 · 2^((T0 + 5 K − Tcore) / 10 K): rated life holds at rated temperature and rated ripple together,
    when the core stands `CORE_RISE_K` above the case.

    Parameters
    ----------
    hot_core_c : float
        Temperature of the core [°C]; below `COOLEST_CORE_C` it counts as that.
    rated_life_h, rated_c : float
        Rated life [h] at rated case temperature [°C].

    Returns
    -------
    float
        Hours.

    References
    ----------
    Makers' application guides to aluminium electrolytics (Arrhenius, halved for each 10 K); good from 60 to
    105 °C, less so outside.

    Examples
    --------
    2000 h at 105 °C are 32 000 h at 65 °C, both with rated ripple:

    >>> electrolytic_life_h(65.0 + CORE_RISE_K, 2000.0, 105.0)
    32000.0
    """
    core = max(hot_core_c, COOLEST_CORE_C)
    return float(rated_life_h * 2.0 ** ((rated_c + CORE_RISE_K - core) / 10.0))
