"""Two makers' curves of varistors, typical discs, as the maker publishes them for simulation.

log10 V = B1 + B2 log10 I + B3 exp(-log10 I) + B4 exp(log10 I): the form of Holzer and Zapsky (1999), the
constants of the maker's library for SIOV discs (TDK), read there.
"""

from __future__ import annotations

import math

import numpy as np

from coldiron.engine.waves import Array

CURVES: dict[str, tuple[float, float, float, float]] = {
    "S14K275": (2.7340192, 0.0301397, -0.0005143, 0.0046033),
    "S07K300": (2.7906262, 0.0363393, -0.0004893, 0.0073487),
}
POINTS_7_MM_275_V: dict[float, float] = {
    1e-3: 430.3, 10.0: 645.7, 50.0: 717.9, 100.0: 760.8, 200.0: 815.5, 500.0: 916.0, 1000.0: 1026.0,
}  # fmt: skip
"""Volts of the same maker's S07K275 by amperes, computed once from its constants."""


def maker_v(maker: str, current_a: float) -> float:
    """Voltage of a maker's typical disc at a current.

    >>> round(maker_v("S14K275", 1e-3), 1)
    430.0
    """
    b1, b2, b3, b4 = CURVES[maker]
    decades = math.log10(current_a)
    return float(10.0 ** (b1 + b2 * decades + b3 * math.exp(-decades) + b4 * math.exp(decades)))


def maker_table(maker: str, share: float) -> Array:
    """Rows of volt and ampere of a maker's disc whose voltage is a share of the typical one, both signs."""
    ampere = np.geomspace(1e-6, 5e3, 72)
    half = np.array([(share * maker_v(maker, float(one)), one) for one in ampere])
    return np.vstack([-half[::-1], [[0.0, 0.0]], half])
