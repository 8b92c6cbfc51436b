"""Mains as it should be: a sine.

    v(t) = √2 · V · sin(ω t + φ)

The inductance of the wiring has a resistor across it, for its losses at radio frequencies.
"""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np

from coldiron.parts.part import Array
from coldiron.sources.source import Supply


class SineSupply(Supply):
    """A sine behind the impedance of the wiring."""

    kind: ClassVar[str] = "sine"
    waveform: ClassVar[str] = "sine"

    def open_v(self, time_s: Array) -> Array:
        """Its voltage with nothing on it [V]."""
        angle = self.omega_per_s * time_s + math.radians(self.values.phase_deg)
        return np.asarray(self.values.peak_v * np.sin(angle))
