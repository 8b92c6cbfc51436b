"""Bounded least squares for readings that are dear to take, with what is assumed as rows of its own.

The misses are a function of the logarithms x of the values over their starts. A value that is held counts as
read once: its row is x over its standard uncertainty. Steps are those of Gauss and Newton within bounds and
a region of trust; sensitivities follow the steps by Broyden's rank-one update, so that a step costs one run.

References
----------
JCGM 100:2008 (GUM), 5.1 and annex H.3: uncertainty of fitted parameters.
C. G. Broyden, Mathematics of Computation 19 (1965), 577-593.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import lsq_linear

Array = NDArray[np.float64]

GAIN = 1e-4
"""Least fall of the sum of squares that is worth another run; one is a whole standard uncertainty."""
_MOST_STEPS = 25
_REACH = 0.7
"""Logarithm by which a value that is not held may move in the first step: a factor of two."""
_HELD_REACH = 2.0
"""Standard uncertainties by which a held value may."""


class SearchSpace(NamedTuple):
    """What is asked of the values: which of all may move, their bounds, and how sure the held ones are.

    `uncertainty` is that of the logarithm, infinite for a value that is not held.
    """

    places: tuple[int, ...]
    uncertainty: Array
    least: Array
    most: Array

    @property
    def held(self) -> Array:
        """Rows of the held values: one over the standard uncertainty of each, 0 for the others."""
        at = list(self.places)
        diagonal = np.diag(1.0 / self.uncertainty[at])
        return diagonal[np.isfinite(self.uncertainty[at])]

    def matrix(self, sensitivity: Array) -> Array:
        """Rows of the readings above those of the held values; one column a place."""
        return np.vstack([sensitivity[:, list(self.places)], self.held])

    def misses(self, misses: Array, x: Array) -> Array:
        """Misses of the readings above those of the held values."""
        return np.concatenate([misses, self.held @ x[list(self.places)]])


def step_within(
    space: SearchSpace, x: Array, misses: Array, sensitivity: Array, radius: float = 1.0
) -> tuple[Array, float]:
    """Best step of the linear problem, and by how much it lets the sum of squares fall."""
    at = list(space.places)
    matrix, missed = space.matrix(sensitivity), space.misses(misses, x)
    reach = radius * np.minimum(_REACH, _HELD_REACH * space.uncertainty[at])
    least = np.minimum(np.maximum(space.least[at] - x[at], -reach), -1e-12)
    most = np.maximum(np.minimum(space.most[at] - x[at], reach), 1e-12)
    step = np.zeros(len(x))
    step[at] = lsq_linear(matrix, -missed, bounds=(least, most), method="bvls").x
    return step, float(missed @ missed - ((missed + matrix @ step[at]) ** 2).sum())


def solve(misses_at: Callable[[Array], Array], x: Array, sensitivity: Array, space: SearchSpace) -> Array:
    """Logarithms at which the sum of squares is least.

    Parameters
    ----------
    misses_at : callable
        Readings of the model less those of the meter, in standard uncertainties, at logarithms (n,); not
        finite where the model has no answer.
    x : (n,) array
        Where to begin.
    sensitivity : (readings, n) array
        Change of the misses for each logarithm, roughly.
    space : SearchSpace

    Returns
    -------
    (n,) array
    """
    missed, sensitivity, radius = misses_at(x), sensitivity.copy(), 1.0
    at = list(space.places)
    for _ in range(_MOST_STEPS):
        step, expected = step_within(space, x, missed, sensitivity, radius)
        if expected < GAIN:
            break
        there = misses_at(x + step)
        fall = (space.misses(missed, x) ** 2).sum() - (space.misses(there, x + step) ** 2).sum()
        if np.isfinite(there).all():
            told = there - missed - sensitivity[:, at] @ step[at]
            # In units of each value's reach, or a step of a held one would hide behind a large free one.
            scaled = step[at] / np.minimum(space.uncertainty[at], 0.1) ** 2
            sensitivity[:, at] += np.outer(told, scaled) / (step[at] @ scaled)
        if fall > 0.0:
            x, missed = x + step, there
            radius = min(2.0 * radius, 4.0) if fall > 0.5 * expected else radius
        else:
            radius *= 0.3
            if radius < 1e-3:
                break
    return x
