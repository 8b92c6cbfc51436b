"""Warm-up: a lamp from the temperature of its room until it stands still, over electrical averages.

A mains cycle is some thousandth of the quickest thermal time constant, so the averages stand for the circuit.
The end of the warm-up is where the lamp settles; if it does not, the course says how.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import odeint

from coldiron.heat.averages import Averages, Electrical, heat_flows
from coldiron.heat.network import HOTTEST_C, Network, Temperatures

Array = NDArray[np.float64]
Course = Literal["settled", "thermal runaway", "thermal oscillation"]

HORIZON_RATIO = 16.0
"""Length of a warm-up, in the longest time constant of the network without its lamp; e^-16 is left of a
rise."""
STILL_K = 0.02
"""A lamp has settled when nothing moves by more over the last quarter of the warm-up."""
LONGER_TRIES = 3
"""A feedback that slows the warm-up gets this many doublings of the time."""
SETTLED_WITHIN_K = 1.0
"""Distance to the final temperatures that defines `settle_s`."""
POINTS = 181
_FIRST_STEP_S = 1e-3
_RELATIVE = 1e-5
_ABSOLUTE_K = 1e-3
_MOST_STEPS = 10_000


@dataclass(frozen=True)
class WarmUp:
    """Course of a warm-up.

    `time_s` (n,) begins at switching on, denser at the beginning; `nodes_c` (4, n) holds die, string, board
    and housing in the order of `Temperatures`; `electrical` is what it was integrated over.
    """

    course: Course
    time_s: Array
    nodes_c: Array
    electrical: Electrical

    @cached_property
    def averages(self) -> Array:
        """Electrical averages (7, n) along the way, in the order of `Averages`.

        They bend less than the temperatures do: every third is computed, those between lie on straight lines.
        """
        asked = np.unique(np.append(np.arange(0, self.time_s.size, 3), self.time_s.size - 1))
        found = [self.electrical(float(die), float(string)) for die, string in self.nodes_c[:2, asked].T]
        return np.array([np.interp(self.time_s, self.time_s[asked], row) for row in zip(*found, strict=True)])

    @property
    def end(self) -> Temperatures:
        """Temperatures at the end [°C]."""
        return Temperatures(*(float(c) for c in self.nodes_c[:, -1]))

    def of(self, name: str) -> Array:
        """Course of one average, or of one node's temperature, by its field's name."""
        if name in Temperatures._fields:
            return np.asarray(self.nodes_c[Temperatures._fields.index(name)])
        return np.asarray(self.averages[Averages._fields.index(name)])

    @property
    def settle_s(self) -> float:
        """Time after which all four temperatures stay within `SETTLED_WITHIN_K` of their end [s]."""
        return settle_s(self.time_s, self.nodes_c)


def settle_s(time_s: Array, nodes_c: Array, within_k: float = SETTLED_WITHIN_K) -> float:
    """Time after which every course stays within a distance of its own end.

    Parameters
    ----------
    time_s : (n,) array
        Instants [s].
    nodes_c : (m, n) array
        Courses [°C].
    within_k : float
        Distance [K].

    Returns
    -------
    float
        Time [s], between points by straight lines; 0 when they never are farther away.

    Examples
    --------
    >>> settle_s(np.array([0.0, 10.0, 20.0]), np.array([[20.0, 28.0, 30.0]]))
    15.0
    """
    away_k = np.abs(nodes_c - nodes_c[:, -1:]).max(axis=0)
    outside = np.flatnonzero(away_k > within_k)
    if outside.size == 0:
        return 0.0
    last = int(outside[-1])
    share = (away_k[last] - within_k) / (away_k[last] - away_k[last + 1])
    return float(time_s[last] + share * (time_s[last + 1] - time_s[last]))


def warm_up(network: Network, electrical: Electrical) -> WarmUp:
    """Integrate a warm-up from the temperature of the room.

    Parameters
    ----------
    network : Network
    electrical : Electrical
        Averages at a die and a string temperature.

    Returns
    -------
    WarmUp
        Up to the time where it has settled; where it runs away, up to `HOTTEST_C`; where it keeps swinging,
        all of it.
    """
    string = network.lamp.circuit.lights[0]

    def slopes(nodes_c: Array, time_s: float) -> Array:
        # Beyond the end of the scale the powers stand still: a runaway is to be seen, not to overflow.
        die_c, string_c = min(float(nodes_c[0]), HOTTEST_C), min(float(nodes_c[1]), HOTTEST_C)
        return network.slopes_k_per_s(nodes_c, heat_flows(string, electrical(die_c, string_c)))

    horizon_s = HORIZON_RATIO * network.slowest_s()
    time_s, nodes_c = np.zeros(1), np.full((4, 1), network.ambient_c)
    for _ in range(LONGER_TRIES + 1):
        # Even in the cube root of time: the dies warm within seconds, the housing within the hour.
        ahead_s = horizon_s * np.linspace(0.0, 1.0, POINTS) ** 3
        found_c = odeint(
            slopes,
            nodes_c[:, -1],
            ahead_s,
            rtol=_RELATIVE,
            atol=_ABSOLUTE_K,
            h0=_FIRST_STEP_S,
            mxstep=_MOST_STEPS,
        )
        time_s = np.concatenate([time_s, time_s[-1] + ahead_s[1:]])
        nodes_c = np.hstack([nodes_c, found_c.T[:, 1:]])
        if nodes_c.max() > HOTTEST_C:
            return WarmUp("thermal runaway", *_until_too_hot(time_s, nodes_c), electrical)
        late_c = nodes_c[:, time_s >= time_s[-1] - 0.25 * horizon_s]
        if np.ptp(late_c, axis=1).max() <= STILL_K:
            return WarmUp("settled", time_s, nodes_c, electrical)
        turns = np.abs(np.diff(np.sign(np.diff(late_c, axis=1)), axis=1)).sum()
        if turns >= 4:
            return WarmUp("thermal oscillation", time_s, nodes_c, electrical)
        horizon_s *= 2.0
    return WarmUp("thermal runaway", time_s, nodes_c, electrical)


def _until_too_hot(time_s: Array, nodes_c: Array) -> tuple[Array, Array]:
    """Cut a course where its hottest node passes `HOTTEST_C`, between its points by straight lines."""
    hottest_c = nodes_c.max(axis=0)
    over = int(np.argmax(hottest_c > HOTTEST_C))
    share = (HOTTEST_C - hottest_c[over - 1]) / (hottest_c[over] - hottest_c[over - 1])
    at_s = time_s[over - 1] + share * (time_s[over] - time_s[over - 1])
    at_c = nodes_c[:, over - 1] + share * (nodes_c[:, over] - nodes_c[:, over - 1])
    return np.append(time_s[:over], at_s), np.column_stack([nodes_c[:, :over], at_c])
