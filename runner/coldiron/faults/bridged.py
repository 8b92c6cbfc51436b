"""LEDs that are shorted or bridged, some of every row: what closed forms say of sinks, light and surge.

A lamp without a reservoir conducts while the rectified sine is above its string, for the share
1 − 2·asin(V/Vpk)/π of the time; with a reservoir all the time. The sinks hold their current I while it does:

    each LED bridged leaves Vf · I_mean to the sinks;    the drain stands Vf higher in a surge;
    light goes with (N − k) · I_mean

Closed forms: from Kirchhoff's voltage law; I_mean grows as the string begins to conduct earlier.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

MOST_BRIDGED = 12
"""More than these nobody would bridge."""


@dataclass(frozen=True)
class Bridged:
    """Closed forms of a string of `leds` in series, whole, of which some are bridged.

    Parameters
    ----------
    leds : int
        In series.
    each_v : float
        Voltage of one LED at the set current [V].
    peak_v : float
        Peak of the mains [V].
    mean_a : float
        Mean current of the string while it is whole [A].
    smoothed : bool
        Whether a reservoir keeps the current flowing all the time.
    """

    leds: int
    each_v: float
    peak_v: float
    mean_a: float
    smoothed: bool

    def conducting(self, bridged: int) -> float:
        """Share of the time in which a current flows.

        Examples
        --------
        >>> round(Bridged(80, 3.0, 325.0, 0.05, False).conducting(0), 2)
        0.47
        """
        if self.smoothed:
            return 1.0
        share = (self.leds - bridged) * self.each_v / self.peak_v
        return 1.0 - 2.0 / math.pi * math.asin(min(1.0, share))

    def mean_after_a(self, bridged: int) -> float:
        """Mean current with some bridged: the set current for longer [A]."""
        whole = self.conducting(0)
        return self.mean_a * self.conducting(bridged) / whole if whole > 0.0 else self.mean_a

    def sinks_more_w(self, bridged: int) -> float:
        """What all sinks together take more [W], by the voltage that the string leaves them.

        While the string conducts the bus stands at v(t), the sinks take (v − V)·I; its mean over the time
        in which it does, less that of the whole string.
        """
        return self._sinks_w(bridged) - self._sinks_w(0)

    def _sinks_w(self, bridged: int) -> float:
        string_v = (self.leds - bridged) * self.each_v
        if self.smoothed:
            return self.mean_a * (self.peak_v - string_v)
        held_a = self.mean_a / self.conducting(0) if self.conducting(0) > 0.0 else 0.0
        angle = math.asin(min(1.0, string_v / self.peak_v))
        mean_v = 2.0 / math.pi * (self.peak_v * math.cos(angle) - string_v * (math.pi / 2 - angle))
        return held_a * mean_v

    def light_ratio(self, bridged: int) -> float:
        """Light over that of the whole string."""
        left = (self.leds - bridged) / self.leds
        return left * self.mean_after_a(bridged) / self.mean_a if self.mean_a else 0.0

    def most_for_sinks(self, room_w: float) -> int:
        """How many may be bridged before all sinks take more than what is left of their watts."""
        most = 0
        while most < self.leds - 1 and self.sinks_more_w(most + 1) <= room_w:
            most += 1
        return most
