"""Power factor that a lamp with linear sinks can have, and how far heat can move it: closed forms."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp

HIGHEST = 0.96053
"""Most that a constant current while |v| > Vs can have, at Vs = 0.394 of the peak (closed form)."""
ALLOWANCE_RATIO = 0.02
"""Real bridges, resistors and bus capacitors move the power factor by this from the closed forms."""
HOTTEST_STRING_C = 150.0


def without_reservoir(string_ratio: float) -> float:
    r"""Power factor of a constant current that flows while the mains stand above the string.

    With θ = asin r and D = 1 - 2θ/π: PF = (2√2/π) · cos θ / √D (closed form).

    Parameters
    ----------
    string_ratio : float
        String voltage over the peak of the mains, 0 to below 1.

    Examples
    --------
    >>> round(without_reservoir(0.75), 4), round(without_reservoir(0.394), 4)
    (0.8779, 0.9605)
    """
    theta = math.asin(string_ratio)
    share = 1.0 - 2.0 * theta / math.pi
    return 2.0 * math.sqrt(2.0) / math.pi * math.cos(theta) / math.sqrt(share)


def with_reservoir(load_ratio: float) -> float:
    """Power factor of a bridge with a reservoir and a constant current that never stops.

    With k = I / (ω C Vpk): b = arccos(-k), sin b - k (π + a - b) = sin a, and the bridge carries
    I (1 + cos θ / k) from a to b (closed form without series resistance).

    Parameters
    ----------
    load_ratio : float
        k, above 0; to about 0.5 the reservoir carries the load through.

    Examples
    --------
    60 mA on 10 µF at 230 V and 50 Hz:

    >>> round(with_reservoir(0.06 / (2 * math.pi * 50 * 10e-6 * 325.27)), 3)
    0.506
    """
    k = load_ratio
    b = math.acos(-k)
    a = float(brentq(lambda x: math.sin(b) - k * (math.pi + x - b) - math.sin(x), -1.5, math.pi / 2 - 1e-9))
    theta = np.linspace(a, b, 801)
    current = 1.0 + np.cos(theta) / k
    power = np.trapezoid(np.sin(theta) * current, theta) / math.pi
    return float(power / math.sqrt(np.trapezoid(current**2, theta) / math.pi) * math.sqrt(2.0))


Pairs = tuple[NDArray[np.float64], NDArray[np.float64]]
"""Power factors cold (n,), and hot (n, m) for m ways of being hot."""


class HotRange:
    """Power factors a lamp can have hot, from the one it has cold.

    Foldback scales the current of a lamp without reservoir and leaves its power factor alone; heat lowers the
    string, which conducts longer. Behind a reservoir less current means narrower pulses.

    Parameters
    ----------
    lamp : LinearSinksLamp
        Its reservoir (or none), its string's drift, the floor of its foldback.
    """

    def __init__(self, lamp: LinearSinksLamp) -> None:
        self._bare = _string_pairs(lamp)
        self._fed = _load_pairs(lamp) if lamp.reservoir else None

    def __call__(self, cold: float) -> tuple[float, float]:
        """Least and most for a power factor cold, `ALLOWANCE_RATIO` included."""
        least, most = _range(self._bare, cold)
        if self._fed is not None and cold <= self._fed[0].max():
            fed_least, fed_most = _range(self._fed, cold)
            least, most = min(least, fed_least), max(most, fed_most)
        return least * (1.0 - ALLOWANCE_RATIO), most * (1.0 + ALLOWANCE_RATIO)


def _range(pairs: Pairs, cold: float) -> tuple[float, float]:
    cold_grid, hot_grid = pairs
    near = np.abs(cold_grid - cold)
    chosen = hot_grid[near <= max(near.min() * 1.0001, 0.004)]
    # A power factor beyond the closed form is carried over as a factor.
    beyond = cold / min(max(cold, cold_grid.min()), cold_grid.max())
    return float(chosen.min() * beyond), float(chosen.max() * beyond)


def _string_pairs(lamp: LinearSinksLamp) -> Pairs:
    set_a = lamp.sinks.set_current_a
    falls_to = lamp.string.voltage_v(lamp.sinks.foldback_floor_ratio * set_a, HOTTEST_STRING_C)
    lowest = max(0.3, falls_to / lamp.string.voltage_v(set_a))
    ratios = np.linspace(0.05, 0.99, 471)
    cold = np.array([without_reservoir(float(r)) for r in ratios])
    ways = np.linspace(lowest, 1.0, 13)
    return cold, np.interp(ratios[:, None] * ways[None, :], ratios, cold)


def _load_pairs(lamp: LinearSinksLamp) -> Pairs:
    loads = np.geomspace(2e-3, 0.5, 60)
    cold = np.array([with_reservoir(float(k)) for k in loads])
    ways = np.linspace(lamp.sinks.foldback_floor_ratio, 1.0, 13)
    return cold, np.interp(loads[:, None] * ways[None, :], loads, cold)
