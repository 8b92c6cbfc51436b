"""How many lamps of a drawing keep a limit, and how well that many runs can tell."""

from __future__ import annotations

from typing import NamedTuple

from scipy.stats import binomtest

CONFIDENCE = 0.95


class Yield(NamedTuple):
    """Lamps that keep a limit of those that were judged, with a 95 % interval of the share."""

    kept: int
    of: int
    low_ratio: float
    high_ratio: float

    @property
    def ratio(self) -> float:
        """Share that keeps it."""
        return self.kept / self.of


def yield_of(kept: int, of: int) -> Yield:
    """Yield with Wilson's interval.

    A scrambled Sobol sample is more even than chance, so that the interval of chance holds and is wide.

    References
    ----------
    Wilson (1927), as `scipy.stats.binomtest` has it.

    Examples
    --------
    >>> found = yield_of(187, 300)
    >>> round(found.ratio, 3), round(found.low_ratio, 3), round(found.high_ratio, 3)
    (0.623, 0.567, 0.676)
    """
    interval = binomtest(kept, of).proportion_ci(CONFIDENCE, method="wilson")
    return Yield(kept, of, float(interval.low), float(interval.high))
