"""Touch current: what a hand between a point and earth carries, weighted by how it is felt.

The person is the network of IEC 60990, figure 4 (1.5 kΩ beside 0.22 µF, then 500 Ω; across these 10 kΩ and
0.022 µF). Its last capacitor's voltage over 500 Ω is the weighted touch current: higher frequencies are
felt, and held on to, less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coldiron.readings import sampling

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Network:
    """Values of the network, and of a voltmeter that stands in its place.

    References
    ----------
    IEC 60990:2016, figure 4 (perception and startle-reaction); the values read on three public pages.
    """

    skin_ohm: float = 1500.0
    skin_f: float = 0.22e-6
    body_ohm: float = 500.0
    weight_ohm: float = 10e3
    weight_f: float = 0.022e-6
    meter_ohm: float = 10e6

    def impedance_ohm(self, frequency_hz: float) -> complex:
        """Impedance between a hand and earth [Ω]."""
        omega = 2j * math.pi * frequency_hz
        skin = self.skin_ohm / (1.0 + omega * self.skin_ohm * self.skin_f)
        return skin + self._body(omega)

    def weight(self, frequency_hz: float) -> float:
        """Weighted touch current over the current that flows.

        Examples
        --------
        >>> [round(Network().weight(hz), 3) for hz in (50.0, 1e3, 1e5)]
        [0.997, 0.567, 0.007]
        """
        omega = 2j * math.pi * frequency_hz
        lag = 1.0 + omega * self.weight_ohm * self.weight_f
        return abs(self._body(omega) / lag) / self.body_ohm

    def _body(self, omega: complex) -> complex:
        lag = 1.0 + omega * self.weight_ohm * self.weight_f
        if omega == 0:
            return complex(self.body_ohm)
        behind = lag / (omega * self.weight_f)
        return self.body_ohm * behind / (self.body_ohm + behind)


NETWORK: Final = Network()
LIVE_PEAK_A: Final = 0.7e-3
LIVE_DC_A: Final = 2e-3


@dataclass(frozen=True)
class HandCurrent:
    """Current through a hand over a cycle [A]: weighted peak, r.m.s. and mean; the unweighted peak.

    `swing_a` is the weighted peak about the mean: what of it alternates.
    """

    peak_a: float
    rms_a: float
    dc_a: float
    unweighted_peak_a: float
    swing_a: float

    @property
    def is_live(self) -> bool:
        """Whether what was touched is a live part: over 0.7 mA peak, or 2 mA d.c.

        A current that alternates little about a mean is judged by both: its mean, and what it swings to
        either side of it.

        References
        ----------
        IEC 61347-1, Annex A; IEC 60598-1, Annex A (live part: 0.7 mA peak, 2 mA d.c.).
        """
        return self.swing_a > LIVE_PEAK_A or abs(self.dc_a) > LIVE_DC_A


def hand_current(time_s: Array, weighted_v: Array, body_v: Array) -> HandCurrent:
    """Current through a hand over one mains cycle, from the voltages of the network to earth.

    Parameters
    ----------
    time_s, weighted_v, body_v : (n,) array
        Instants [s]; voltage of the last capacitor and across the 500 Ω [V].

    Examples
    --------
    >>> steady = hand_current(np.array([0.0, 1.0]), np.array([0.5, 0.5]), np.array([0.5, 0.5]))
    >>> steady.peak_a, steady.dc_a, steady.is_live
    (0.001, 0.001, False)
    """
    mean_v = sampling.mean(time_s, weighted_v)
    return HandCurrent(
        peak_a=float(np.abs(weighted_v).max()) / NETWORK.body_ohm,
        rms_a=sampling.rms(time_s, weighted_v) / NETWORK.body_ohm,
        dc_a=mean_v / NETWORK.body_ohm,
        unweighted_peak_a=float(np.abs(body_v).max()) / NETWORK.body_ohm,
        swing_a=float(np.abs(weighted_v - mean_v).max()) / NETWORK.body_ohm,
    )
