"""Which value moves a reading: from the runs there are, none for itself.

Two measures of the same runs:

- Standardised rank regression: both reading and values are replaced by their ranks and a plane is laid
  through them. Its coefficients say how much and which way, as far as its R² is near 1: the reading then
  rises or falls with each value all the way.
- The binned first-order index: the share of the variance that is left when the reading is averaged over bins
  of one value. It needs no monotony, and says no direction.

References
----------
Saltelli, Chan, Scott, Sensitivity Analysis (2000), chapters 2 and 6; from memory. The index of a value
without effect is (bins - 1)/n by chance, which is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

Array = NDArray[np.float64]

EXPLAINS = 0.8
"""R² from which on an order by ranks is named."""
SIGNIFICANT = 2.6
"""Standard errors above which a coefficient is no chance: one in a hundred."""
BINS = 10
_LEAST_INDEX = 0.05
_STILL = 1e-9


@dataclass(frozen=True)
class Influence:
    """How much each value moves a reading.

    `coefficients` and `errors` are those of the rank regression, `indices` the binned first-order ones, each
    in the order of the values. All are zero, and `r2` too, where the reading does not move.
    """

    coefficients: Array
    errors: Array
    indices: Array
    r2: float
    n: int

    @property
    def ranks_explain(self) -> bool:
        """Whether the reading rises or falls with each value all the way, as far as ranks can tell."""
        return self.r2 >= EXPLAINS

    @property
    def signs(self) -> Array:
        """Direction in which each value raises the reading: -1 or 1."""
        return np.where(self.coefficients < 0.0, -1.0, 1.0)

    @property
    def order(self) -> list[tuple[int, float]]:
        """Values that matter, the most first: their places, and coefficient or index."""
        if self.ranks_explain:
            held = [
                (place, float(coefficient))
                for place, coefficient in enumerate(self.coefficients)
                if abs(coefficient) > SIGNIFICANT * self.errors[place] and coefficient**2 >= _LEAST_INDEX**2
            ]
        else:
            held = [(p, float(index)) for p, index in enumerate(self.indices) if index >= _LEAST_INDEX]
        return sorted(held, key=lambda pair: (-abs(pair[1]), pair[0]))


def influence(values: Array, reading: Array) -> Influence:
    """Influence of each value on a reading.

    Parameters
    ----------
    values : ndarray of shape (n, d)
    reading : ndarray of shape (n,)
        NaN where a run failed: such a run counts for nothing here.

    Examples
    --------
    >>> from coldiron.study.spread import Spread
    >>> from coldiron.spread.sample import drawn
    >>> x = drawn(3, Spread(runs=256))
    >>> found = influence(x, 3.0 * x[:, 0] - x[:, 1])
    >>> [place for place, _ in found.order], found.signs[:2].tolist(), found.ranks_explain
    ([0, 1], [1.0, -1.0], True)
    """
    there = np.isfinite(reading)
    x, y = values[there], reading[there]
    n, d = x.shape
    nothing = np.zeros(d)
    if n <= d + 2 or np.ptp(y) <= _STILL * np.abs(y).max(initial=0.0):
        return Influence(nothing, nothing, nothing, 0.0, n)
    moving = np.ptp(x, axis=0) > 0.0
    ranks = _standard(np.column_stack([rankdata(x[:, k]) for k in np.flatnonzero(moving)]))
    ranked = _standard(rankdata(y))
    solved, *_ = np.linalg.lstsq(ranks, ranked, rcond=None)
    left = ranked - ranks @ solved
    r2 = float(1.0 - left @ left / (ranked @ ranked))
    variance = left @ left / (n - d - 1)
    errors, coefficients, indices = nothing.copy(), nothing.copy(), nothing.copy()
    coefficients[moving] = solved
    errors[moving] = np.sqrt(variance * np.diag(np.linalg.pinv(ranks.T @ ranks)))
    indices[moving] = [binned_index(x[:, k], y) for k in np.flatnonzero(moving)]
    return Influence(coefficients, errors, indices, r2, n)


def binned_index(value: Array, reading: Array, bins: int = BINS) -> float:
    """Share of the variance of a reading that one value explains by itself, whatever the shape.

    Examples
    --------
    >>> x = np.linspace(-1.0, 1.0, 400)
    >>> round(binned_index(x, x**2), 2)
    0.93
    """
    n = len(reading)
    order = np.argsort(value, kind="stable")
    groups = np.array_split(reading[order], bins)
    mean = reading.mean()
    between = sum(len(group) * (group.mean() - mean) ** 2 for group in groups if len(group))
    whole = float(((reading - mean) ** 2).sum())
    return max(0.0, float(between) / whole - (bins - 1) / n) if whole > 0.0 else 0.0


def _standard(columns: Array) -> Array:
    return np.asarray((columns - columns.mean(axis=0)) / columns.std(axis=0))
