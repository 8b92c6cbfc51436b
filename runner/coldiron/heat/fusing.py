"""How a resistor that takes far too many watts heats, glows and opens: a loss, a heat capacity, two curves.

    C dθ/dt = P(θ) − loss(θ),    loss = a·θ + b·((298 + θ)⁴ − 298⁴),    R(θ) = R · (1 + 5.5e-4 · θ)

θ is the kelvin above 25 °C. It has its rated watts at 200 K and 7.5 times those at 1000 K, where it opens;
below that it glows for as long as the fault lasts. C is such that the adiabatic energy to 1000 K is 0.2 J
(fast) or 150 J (slow) for each rated watt: makers' measurements of flameproof and fusing resistors of 1 and
2 W scatter that far at one overload, and are not monotone, so that only a band can be told. The kind of
element narrows it.

References
----------
Nine measured points of a maker's published tests of fusing resistors (an LED lighting protection guide of
2015): 22 Ω 2 W at 30, 113 and 176 times its watts: 5, 0.8 and 0.4 s; 10 Ω 1 W at 16, 32 and 64: 11, 2 and
0.008 s; 100 Ω 1 W at 16, 32 and 64: 0.35, 0.007 and 0.4 s. The tests hold the two curves to all of them.
Temperature coefficient: the upper end of makers' tables, 200 to 550 ppm/K.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from coldiron.engine.waves import Array

OPENS_K: Final = 1000.0
"""Kelvin above 25 °C at which an element melts or breaks."""
TEMPCO_PER_K: Final = 5.5e-4
_ROOM_K: Final = 298.0
_RATED_K: Final = 200.0
GLOWS_RATIO: Final = 7.5
"""Watts over rated ones at which it stands at 1000 K for ever: below it nothing opens."""
DOUBT_RATIOS: Final = (5.0, 9.0)
"""Watts over rated ones between which makers' parts glow for minutes, and open or do not."""

Speed = Literal["fast", "slow"]
SPEEDS: Final[tuple[Speed, ...]] = ("fast", "slow")
JOULE_PER_RATED_WATT: Final[dict[str, tuple[float, float]]] = {
    "": (0.2, 150.0),
    "wirewound": (70.0, 150.0),
    "film": (0.2, 26.0),
}
"""Adiabatic energy to 1000 K for each rated watt, fast and slow [s], by the kind of element."""

# The two numbers of the loss, for each rated watt.
_FOURTH = (_ROOM_K + _RATED_K) ** 4 - _ROOM_K**4, (_ROOM_K + OPENS_K) ** 4 - _ROOM_K**4
_B = (GLOWS_RATIO * _RATED_K - OPENS_K) / (_RATED_K * _FOURTH[1] - OPENS_K * _FOURTH[0])
_A = (1.0 - _B * _FOURTH[0]) / _RATED_K


@dataclass(frozen=True)
class Curve:
    """Numbers of one element on one curve: what the deck's heat node is made of.

    `heat_j_per_k` [J/K]; the loss is `loss_w_per_k`·θ + `loss_w_per_k4`·((298 + θ)⁴ − 298⁴) [W].
    """

    heat_j_per_k: float
    loss_w_per_k: float
    loss_w_per_k4: float


def curve(rated_w: float, speed: Speed, element: str = "") -> Curve:
    """Curve of an element of some rated watts.

    Examples
    --------
    >>> slow = curve(2.0, "slow")
    >>> round(slow.heat_j_per_k * OPENS_K, 6), round(loss_w(slow, 200.0), 6), round(loss_w(slow, 1000.0), 6)
    (300.0, 2.0, 15.0)
    """
    joule_per_watt = JOULE_PER_RATED_WATT[element][SPEEDS.index(speed)]
    return Curve(rated_w * joule_per_watt / OPENS_K, _A * rated_w, _B * rated_w)


def loss_w(of: Curve, over_k: float) -> float:
    """What it loses at some kelvin above 25 °C [W]."""
    return of.loss_w_per_k * over_k + of.loss_w_per_k4 * ((_ROOM_K + over_k) ** 4 - _ROOM_K**4)


def opens_after_s(of: Curve, at_k: Sequence[float], watts: Sequence[float]) -> float:
    """Time in which it heats from 25 °C to where it opens [s]; infinite where its losses hold it below.

    Parameters
    ----------
    of : Curve
    at_k, watts : sequence of float
        What it takes [W] at some kelvin above 25 °C, rising; between them by straight lines, which near the
        least overload that opens is worth 50 % of the time against the cold watts alone.

    Notes
    -----
    dt = C dθ / (P(θ) − loss(θ)), a quadrature: no step in time.

    Examples
    --------
    >>> adiabatic_s = opens_after_s(curve(1.0, "fast"), (0.0, 1000.0), (1e4, 1e4))
    >>> round(adiabatic_s * 1e4, 3)
    0.2
    >>> opens_after_s(curve(1.0, "slow"), (0.0, 1000.0), (7.0, 7.0))
    inf
    """
    theta_k, surplus_w = _surplus(of, at_k, watts)
    if surplus_w.min() <= 0.0:
        return math.inf
    return float(of.heat_j_per_k * np.trapezoid(1.0 / surplus_w, theta_k))


def stands_at_k(of: Curve, at_k: Sequence[float], watts: Sequence[float]) -> float:
    """Kelvin above 25 °C at which it stands for as long as the fault lasts; 1000 K where it opens.

    Examples
    --------
    >>> round(stands_at_k(curve(1.0, "slow"), (0.0, 1000.0), (1.0, 1.0)))
    200
    """
    theta_k, surplus_w = _surplus(of, at_k, watts)
    below = np.flatnonzero(surplus_w <= 0.0)
    return float(theta_k[below[0]]) if below.size else OPENS_K


def _surplus(of: Curve, at_k: Sequence[float], watts: Sequence[float]) -> tuple[Array, Array]:
    theta_k = np.linspace(0.0, OPENS_K, 2001)
    lost_w = of.loss_w_per_k * theta_k + of.loss_w_per_k4 * ((_ROOM_K + theta_k) ** 4 - _ROOM_K**4)
    return theta_k, np.interp(theta_k, at_k, watts) - lost_w
