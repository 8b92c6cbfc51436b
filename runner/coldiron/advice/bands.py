"""How far the half wave may be off: bands of its readings, calibrated on real runs of some candidates.

A band is the range of real over reduced (of real less reduced for shares of light), widened by two standard
deviations to both sides. Lamps with a reservoir and lamps without have bands of their own, and so has each
supply. What a band rules out is thrown out unrun, and some of that is run for real to prove it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from coldiron.answer.told import sign_of

PROBES: Final = 48
"""Real runs of a class that its bands are taken from: with 24 and one standard deviation no good candidate
was lost in a hundred draws on the demo lamp, with twelve and none 19 were."""
FEWEST: Final = 12
"""A class of fewer probes has no bands: all of it is run."""
DEVIATIONS: Final = 2.0
_DIFFERENCES: Final = ("flicker_pct", "svm")
_GROSS: Final = 3.0
"""A band wider than this factor rules nothing out, and hides that the half wave does not fit such a lamp."""


class Class(NamedTuple):
    """Whose band it is: a supply, lamps with or without a reservoir, a bench and a reading of it."""

    supply: str
    smoothed: bool
    bench: str
    reading: str


@dataclass(frozen=True)
class Band:
    """From where to where a reading lies about what the half wave says."""

    low: float
    high: float
    is_ratio: bool

    def about(self, value: float) -> tuple[float, float]:
        """Lowest and highest reading there can be."""
        low, high = (
            (value * self.low, value * self.high) if self.is_ratio else (value + self.low, value + self.high)
        )
        return max(0.0, low), max(0.0, high)


def bands_of(pairs: Mapping[Class, Iterable[tuple[float, float]]]) -> dict[Class, Band]:
    """Bands from pairs of what the half wave says and what a real run reads.

    Examples
    --------
    >>> key = Class("230 V 50 Hz", True, "steady", "line_fusing_W")
    >>> band = bands_of({key: [(1.0, 1.0 + 0.001 * n) for n in range(12)]})[key]
    >>> [round(end, 3) for end in band.about(2.0)]
    [1.986, 2.036]
    """
    found = {}
    for key, each in pairs.items():
        is_ratio = key.reading not in _DIFFERENCES
        errors = [
            real / said if is_ratio else real - said
            for said, real in each
            if math.isfinite(said) and math.isfinite(real) and (not is_ratio or said > 0.0)
        ]
        if len(errors) < FEWEST:
            continue
        mean = sum(errors) / len(errors)
        deviation = math.sqrt(sum((error - mean) ** 2 for error in errors) / (len(errors) - 1))
        low, high = min(errors) - DEVIATIONS * deviation, max(errors) + DEVIATIONS * deviation
        if is_ratio and (low <= 0.0 or high / low > _GROSS):
            continue
        found[key] = Band(low, high, is_ratio)
    return found


def at_best(reading: str, ends: tuple[float, float]) -> float:
    """End of a band that is kindest to a candidate; the middle of a reading that is worse neither way.

    Examples
    --------
    >>> at_best("flicker_pct", (3.0, 5.0)), at_best("light_pct", (90.0, 95.0))
    (3.0, 95.0)
    """
    sign = sign_of(reading)
    low, high = ends
    return low if sign > 0 else high if sign < 0 else 0.5 * (low + high)
