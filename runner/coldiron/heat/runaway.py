"""Whether a varistor that takes watts on settled mains finds a balance, or heats until it fails short.

    θ = R_th · P · exp(γ · θ),    γ = exponent · 5e-4 / K

Its voltage falls by 0.05 %/K (makers' sheets: less than 0.05 %/K), so its watts rise with its own heat. Rated
mean watts are for 85 °C and fall to nothing at 125 °C, which makes R_th 40 K over them. A balance is there as
long as R_th · P · γ · e is below 1: with an exponent of 20 that is 0.92 of the rated watts.

References
----------
Temperature coefficient and derating: makers' sheets of metal-oxide discs (from memory).
"""

from __future__ import annotations

import math
from typing import Final

TEMPCO_PER_K: Final = 5e-4
DERATED_K: Final = 40.0
"""From 85 °C, to which the rated mean watts hold, to 125 °C, where none are left."""
FAILS_K: Final = 130.0
"""Kelvin by which the energy that a disc is rated for heats it (zinc oxide, 2.5 to 3 J/cm³K, from memory)."""


def balance_k(watts: float, rated_w: float, exponent: float) -> float:
    """Kelvin above its surroundings at which a disc stands; infinite where it runs away.

    Parameters
    ----------
    watts : float
        What it takes while cold [W].
    rated_w : float
        Its rated mean watts [W].
    exponent : float
        Of its power law.

    Examples
    --------
    >>> round(balance_k(0.1, 1.0, 20.0), 2), balance_k(1.0, 1.0, 20.0)
    (4.17, inf)
    """
    gamma = exponent * TEMPCO_PER_K
    first_k = DERATED_K / rated_w * watts
    if first_k * gamma * math.e >= 1.0:
        return math.inf
    theta_k = 0.0
    for _ in range(200):  # the lower balance draws it on from below
        theta_k = first_k * math.exp(gamma * theta_k)
    return theta_k


def fails_after_s(watts: float, energy_j: float) -> float:
    """Least time in which watts bring the energy that a disc is rated for [s]: adiabatic, and cold watts."""
    return energy_j / watts if watts > 0.0 else math.inf
