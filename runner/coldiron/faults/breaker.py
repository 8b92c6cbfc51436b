"""The circuit breaker of the house as a stated curve: what ends a fault that nothing in the lamp ends.

| of its rated current | opens |
| --- | --- |
| up to 1.13 | not within an hour |
| 1.45 | within an hour |
| 2.55 | 1 s to 60 s |
| 3 to 5 (type B) | at once, or by its heat |
| above 5 | at once: within 0.1 s |

Between these the time falls along straight lines of its logarithm. A study of a lamp knows no house: 16 A
type B stands for one on 220 to 240 V, 15 A for one on 100 to 130 V, whose instant release is taken at 5 to
10 times (UL 489 leaves it to the maker).

References
----------
IEC 60898-1, tables of time-current operating characteristics, for rated currents up to 32 A; from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

AT_ONCE_S = (0.005, 0.1)
"""Half a mains cycle at the least, 0.1 s at the most."""


class Opening(NamedTuple):
    """A band of time in which something opens [s]; infinite ends where it may not, or does not, open."""

    fast_s: float
    slow_s: float


@dataclass(frozen=True)
class Breaker:
    """A breaker by its rated current [A] and the multiples of it between which it releases at once."""

    rated_a: float
    at_once: tuple[float, float]

    @property
    def words(self) -> str:
        """What it is, in a few words."""
        return f"{self.rated_a:g} A breaker, at once from {self.at_once[0]:g} to {self.at_once[1]:g} times"

    def opening(self, rms_a: float, peak_a: float) -> Opening:
        """When it opens on a current, of which the peak decides what it does at once.

        Examples
        --------
        >>> house = breaker_of(230.0)
        >>> house.opening(14.0, 20.0)
        Opening(fast_s=inf, slow_s=inf)
        >>> house.opening(300.0, 430.0)
        Opening(fast_s=0.005, slow_s=0.1)
        >>> [round(s, 1) for s in house.opening(2.55 * 16.0, 58.0)]
        [1.0, 60.0]
        """
        ratio, peak_ratio = rms_a / self.rated_a, peak_a / (math.sqrt(2.0) * self.rated_a)
        fast_s = AT_ONCE_S[0] if peak_ratio > self.at_once[0] else _falls(ratio, _FAST)
        slow_s = AT_ONCE_S[1] if peak_ratio > self.at_once[1] else _falls(ratio, _SLOW)
        return Opening(fast_s, slow_s)


_FAST = ((1.13, 3600.0), (2.55, 1.0), (10.0, 0.05))
_SLOW = ((1.45, 3600.0), (2.55, 60.0), (10.0, 4.0))


def _falls(ratio: float, points: tuple[tuple[float, float], ...]) -> float:
    """Time on a falling curve through points of ratio and time [s]; infinite below the first."""
    if ratio < points[0][0]:
        return math.inf
    for (left, left_s), (right, right_s) in pairwise(points):
        if ratio <= right:
            share = math.log(ratio / left) / math.log(right / left)
            return float(left_s * (right_s / left_s) ** share)
    return points[-1][1]


def breaker_of(mains_v: float) -> Breaker:
    """Breaker that stands for that of the house on a mains voltage [V]."""
    return Breaker(15.0, (5.0, 10.0)) if mains_v < 150.0 else Breaker(16.0, (3.0, 5.0))
