"""Mains with its crests cut off, as a street of rectifiers makes it.

    v(t) = clip(a · sin(ω t + φ), ±c · a),   c = 0.9
    rms(v) / a = √( 2/π · [ x/2 - sin(2x)/4 + c² (π/2 - x) ] ) = 0.6813,   x = arcsin c

`a` is such that the r.m.s. value is the one stated. The crest is then 0.934 of that of a sine of the same
r.m.s. value; third, fifth and seventh harmonic are 3.3, 2.3 and 1.2 %.

References
----------
"Flat curve" of IEC 61000-4-13, class 2: cut at 0.9 of the crest (from memory). That the r.m.s. value stays is
our choice: a meter says the same of both.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import ClassVar

import numpy as np

from coldiron.parts.part import Array, PartConditions
from coldiron.sources.source import Supply

CLIP_RATIO = 0.9


def unit_rms(clip: float) -> float:
    """Root mean square of a sine of height 1 that is cut off at `clip`.

    Examples
    --------
    >>> round(unit_rms(1.0), 6), round(unit_rms(0.9), 4)
    (0.707107, 0.6813)
    """
    x = math.asin(clip)
    return math.sqrt(2 / math.pi * (x / 2 - math.sin(2 * x) / 4 + clip**2 * (math.pi / 2 - x)))


class FlatToppedSupply(Supply):
    """A sine cut off at 0.9 of its crest, of the stated r.m.s. value."""

    kind: ClassVar[str] = "flat-topped sine"
    waveform: ClassVar[str] = "flat-topped"

    @property
    def whole_v(self) -> float:
        """Height of the sine before it is cut [V]."""
        return self.values.peak_v / math.sqrt(2.0) / unit_rms(CLIP_RATIO)

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Heights of the whole and of the cut sine, and what every supply prints."""
        return {**super().deck(conditions), "whole_v": self.whole_v, "crest_v": CLIP_RATIO * self.whole_v}

    def open_v(self, time_s: Array) -> Array:
        """Its voltage with nothing on it [V]."""
        whole = self.whole_v * np.sin(self.omega_per_s * time_s + math.radians(self.values.phase_deg))
        return np.clip(whole, -CLIP_RATIO * self.whole_v, CLIP_RATIO * self.whole_v)
