"""A tapped string in closed form: a current that steps as the rectified sine passes each tap."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Staircase:
    """Steps of current I_k from the angle θ_k = asin(V_k / Vpk) on, in a quarter of the sine.

    `taps` are V_k / Vpk, `currents` I_k, `light` the share of V_k that lies across LEDs (1 where ideal).
    """

    taps: Sequence[float]
    currents: Sequence[float]
    light: Sequence[float]

    @property
    def angles(self) -> list[float]:
        """Where each step begins, and the crest."""
        return [*(math.asin(tap) for tap in self.taps), math.pi / 2]

    @property
    def input_power(self) -> float:
        """(2 / pi) Σ I_k (cos θ_k - cos θ_k+1), over Vpk."""
        a = self.angles
        return 2 / math.pi * sum(
            i * (math.cos(a[k]) - math.cos(a[k + 1])) for k, i in enumerate(self.currents)
        )  # fmt: skip

    @property
    def rms(self) -> float:
        """√((2 / pi) Σ I_k² (θ_k+1 - θ_k))."""
        a = self.angles
        return math.sqrt(2 / math.pi * sum(i**2 * (a[k + 1] - a[k]) for k, i in enumerate(self.currents)))

    @property
    def power_factor(self) -> float:
        """Input power over r.m.s. volts and amperes."""
        return self.input_power * math.sqrt(2.0) / self.rms

    @property
    def efficiency(self) -> float:
        """(2 / pi) Σ V_k I_k (θ_k+1 - θ_k) over the input power."""
        a = self.angles
        lit = sum(
            self.taps[k] * self.light[k] * i * (a[k + 1] - a[k]) for k, i in enumerate(self.currents)
        )  # fmt: skip
        return 2 / math.pi * lit / self.input_power

    def harmonic(self, order: int) -> float:
        """Amplitude of an odd harmonic: (4 / n pi) Σ (I_k - I_k-1) cos(n θ_k)."""
        before = (0.0, *self.currents)
        steps = [now - then for then, now in zip(before, self.currents, strict=False)]
        return 4 / (order * math.pi) * sum(
            step * math.cos(order * angle) for step, angle in zip(steps, self.angles, strict=False)
        )  # fmt: skip

    def harmonic_pct(self, order: int) -> float:
        """Share of the fundamental [%]."""
        return 100 * abs(self.harmonic(order) / self.harmonic(1))

    def thd_pct(self, highest: int | None = None) -> float:
        """Distortion up to an order, or of all orders by the r.m.s. value [%]."""
        if highest is None:
            return 100 * math.sqrt(2 * self.rms**2 / self.harmonic(1) ** 2 - 1)
        return math.hypot(*(self.harmonic_pct(order) for order in range(3, highest + 1, 2)))
