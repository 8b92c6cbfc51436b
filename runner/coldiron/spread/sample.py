"""Which lamps are drawn: a low-discrepancy sample of what may be off, the same on every machine.

References
----------
Owen's scrambling of Sobol sequences, as `scipy.stats.qmc` has it. A sample is taken whole or not at all: part
of one, chosen by what came of it, is no sample any more, and its columns lean on each other.
"""

from __future__ import annotations

import warnings

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc, truncnorm

from coldiron.study.spread import Spread

Array = NDArray[np.float64]

CUT = 3.0
"""Standard deviations at which "normal" is cut: the tolerance."""


def drawn(dimensions: int, spread: Spread) -> Array:
    """How far each value of each lamp is off, in shares of its tolerance.

    Parameters
    ----------
    dimensions : int
        How many values may be off.
    spread : Spread
        How many lamps, of what shape, and the seed.

    Returns
    -------
    ndarray of shape (runs, dimensions)
        Between -1 and 1.

    Examples
    --------
    >>> whole = drawn(3, Spread(runs=64))
    >>> whole.shape, bool(abs(whole.mean()) < 0.01), bool(np.abs(whole).max() < 1.0)
    ((64, 3), True, True)
    """
    generator = np.random.default_rng(spread.seed)
    with warnings.catch_warnings():
        # It warns of a number that is no power of two: such a sample is a little less even, no more.
        warnings.simplefilter("ignore", UserWarning)
        unit = qmc.Sobol(max(1, dimensions), scramble=True, seed=generator).random(spread.runs)[
            :, :dimensions
        ]
    if spread.shape == "normal":
        return np.asarray(truncnorm.ppf(unit, -CUT, CUT) / CUT, dtype=np.float64)
    return np.asarray(2.0 * unit - 1.0, dtype=np.float64)
