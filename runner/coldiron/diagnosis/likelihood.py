"""How likely readings are in each end state, and what of them a state does not explain.

Each state has one or more severities c, alike likely. Readings y of a severity follow, all together,

    y ~ t_nu(mean_c, J_c J_c' / 3 + meter²)

a multivariate Student t: J are the changes of the readings with each spread value at its half-width (evenly
spread, so a third of the square), `meter` the standard uncertainties of the meters, and nu = 6 for what
neither knows. Any one reading may besides be wrong altogether, with probability `WRONG`, and then says
nothing:

    p(y) = mean over c of [(1 - WRONG)^n p_c(y) + sum over i of WRONG (1 - WRONG)^(n-1) u_i p_c(y without i)]

with u_i even over the decimal logarithm of what the meter shows. So one odd reading does not kill the true
state, and the share of the i-th term says how likely it is that just this reading is the odd one.

References ---------- K. L. Lange, R. J. A. Little, J. M. G. Taylor, "Robust statistical modeling using the t
distribution", Journal of the American Statistical Association 84 (1989), 881-896 (from memory). A.
Bhattacharyya, "On a measure of divergence between two statistical populations", 1943 (from memory): error of
telling two apart <= overlap / 2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FREEDOM: Final = 6.0
WRONG: Final = 0.05
"""How often a reading is altogether wrong: misread, a wrong range, a clip that slipped (common practice, no
source)."""
DECADES: Final = 2.0
"""Within how many decades a wrong reading lies."""
GOOD_SHARE, GOOD_Z = 0.999, 3.090
"""Share of good lamps that must not be accused, and the same of a normal distribution in its standard
deviations."""
TWINS_DISTANCE: Final = 2.3
"""Bhattacharyya distance up to which two states count as twins: above it fewer than 1 in 20 are mixed up."""
UNTOLD: Final = 1e4
"""Standard uncertainty of what cannot be told of a state, in any unit or in decades."""
DRAWS: Final = 400
"""Draws behind an overlap; its standard error is below 0.02."""


@dataclass(frozen=True)
class Severity:
    """What readings come to in one severity of one state.

    Parameters
    ----------
    mean : (n,) array
        Of all that can be measured, each on the scale of its kind.
    slopes : (n, m) array
        Change with each spread value at its half-width.
    meter : (n,) array
        Standard uncertainty of the meter; `UNTOLD` where the reading cannot be told.
    """

    mean: Array
    slopes: Array
    meter: Array


@dataclass(frozen=True)
class Readings:
    """What was read: `places` among all that can be measured, `values` on their scales.

    `wrong` is the density of a wrong reading there.
    """

    places: tuple[int, ...]
    values: Array
    wrong: Array


class States:
    """Severities of all states, for the readings at some places.

    Parameters
    ----------
    states : sequence of sequence of Severity
        One entry a state.
    places : sequence of int
        Which of all that can be measured.
    """

    def __init__(self, states: Sequence[Sequence[Severity]], places: Sequence[int]) -> None:
        at = list(places)
        rows = [(n, one) for n, state in enumerate(states) for one in state]
        self.count = len(states)
        self.owner = np.array([n for n, _ in rows])
        self.mean = np.array([one.mean[at] for _, one in rows]).reshape(len(rows), len(at))
        self.cov = np.array([covariance(one, at) for _, one in rows]).reshape(len(rows), len(at), len(at))
        self.share = 1.0 / np.bincount(self.owner)[self.owner]

    def log_density(self, values: Array) -> Array:
        """Logarithm of the density of readings in each severity.

        Parameters
        ----------
        values : (k, n) array

        Returns
        -------
        (k, severities) array
        """
        n = values.shape[1]
        if n == 0:
            return np.zeros((len(values), len(self.owner)))
        inverse, log_det = self._inverse
        off = values[:, np.newaxis, :] - self.mean
        square = np.einsum("kci,cij,kcj->kc", off, inverse, off)
        constant = (
            math.lgamma((FREEDOM + n) / 2) - math.lgamma(FREEDOM / 2) - n / 2 * math.log(FREEDOM * math.pi)
        )
        return np.asarray(constant - log_det / 2 - (FREEDOM + n) / 2 * np.log1p(square / FREEDOM))

    @cached_property
    def _inverse(self) -> tuple[Array, Array]:
        # The scale of a t is smaller than its covariance.
        scale = self.cov * (FREEDOM - 2.0) / FREEDOM
        return np.asarray(np.linalg.inv(scale)), np.asarray(np.linalg.slogdet(scale)[1])

    def by_state(self, log_density: Array) -> Array:
        """Logarithm of the density in each state, the mean over its severities: (k, states)."""
        return _log_sums(log_density + np.log(self.share), self.owner, self.count)

    def drawn(self, state: int, draws: int, rng: np.random.Generator) -> Array:
        """Readings of random lamps in a state: (draws, n)."""
        mine = np.flatnonzero(self.owner == state)
        which = rng.choice(mine, draws)
        n = self.mean.shape[1]
        roots = np.linalg.cholesky(self.cov[mine])
        z = rng.standard_normal((draws, n))
        # Gamma over its mean makes a normal one a t of the same covariance.
        heavy = np.sqrt((FREEDOM - 2.0) / rng.chisquare(FREEDOM, draws))
        steps = np.einsum("kij,kj->ki", roots[which - mine[0]], z)
        return np.asarray(self.mean[which] + heavy[:, np.newaxis] * steps)


def covariance(one: Severity, at: Sequence[int], lot: float = 1.0) -> Array:
    """Covariance of some readings in a severity; what cannot be told is as wide as a meter's range.

    `lot` is how much wider good parts are spread than assumed.
    """
    slopes, meter = lot * one.slopes[list(at)], one.meter[list(at)]
    return np.asarray(slopes @ slopes.T / 3.0 + np.diag(meter**2))


def outside(state: Sequence[Severity], read: Readings, lot: float) -> bool:
    """Whether readings lie outside what 99 of 100 lamps in a state read, of a lot that is spread wider.

    Their square of deviations, in units of the covariance, is held against the 99 % quantile of chi squared
    with as many degrees of freedom as there are readings.

    References ---------- E. B. Wilson, M. M. Hilferty, "The distribution of chi-square", Proc. Nat. Acad.
    Sci. 17 (1931), 684-688 (from memory): that quantile within 1 %.
    """
    n = len(read.places)
    if n == 0:
        return False
    most = n * (1.0 - 2.0 / (9.0 * n) + GOOD_Z * math.sqrt(2.0 / (9.0 * n))) ** 3
    offs = [read.values - one.mean[list(read.places)] for one in state]
    squares = [
        float(off @ np.linalg.solve(covariance(one, read.places, lot), off))
        for off, one in zip(offs, state, strict=True)
    ]
    return min(squares) > most


def wrong_density(scaled: float, logarithmic: bool, least: float) -> float:
    """Density of a wrong reading at a value: even over `DECADES` of it.

    Parameters
    ----------
    scaled : float
        The reading on its scale.
    logarithmic : bool
        Whether that scale is a decimal logarithm.
    least : float
        Below so much a linear one counts as this much.

    Examples
    --------
    >>> wrong_density(2.0, True, 0.0), round(wrong_density(100.0, False, 1.0), 5)
    (0.5, 0.00217)
    """
    if logarithmic:
        return 1.0 / DECADES
    return 1.0 / (max(abs(scaled), least) * DECADES * math.log(10.0))


@dataclass(frozen=True)
class Explained:
    """How well each state explains some readings.

    Parameters
    ----------
    log_density : (states,) array
    wrong : (states, n) array
        Probability, in each state, that just this reading is altogether wrong.
    """

    log_density: Array
    wrong: Array


def explained(states: Sequence[Sequence[Severity]], read: Readings, words: Array | None = None) -> Explained:
    """Hold readings against every state.

    Parameters
    ----------
    states : sequence of sequence of Severity
    read : Readings
    words : (severities,) array, optional
        Logarithm of the probability of what was seen, in each severity of each state.
    """
    also = 0.0 if words is None else words
    n = len(read.places)
    whole = States(states, read.places)
    terms = [n * math.log1p(-WRONG) + also + whole.log_density(read.values[np.newaxis])[0]]
    for i in range(n):
        rest = [k for k in range(n) if k != i]
        part = States(states, [read.places[k] for k in rest])
        density = part.log_density(read.values[rest][np.newaxis])[0]
        once = math.log(WRONG) + (n - 1) * math.log1p(-WRONG) + math.log(read.wrong[i])
        terms.append(once + also + density)
    rows = np.array([whole.by_state(term[np.newaxis])[0] for term in terms])
    total = np.logaddexp.reduce(rows, axis=0)
    return Explained(total, np.exp(rows[1:] - total).T.reshape(len(total), n))


def overlaps(states: Sequence[Sequence[Severity]], places: Sequence[int], draws: int = DRAWS) -> Array:
    """Bhattacharyya coefficient of each two states in some readings, 1 for twins: (states, states).

    The integral of √(p q), as a mean over draws from both: √(p q) over (p + q) / 2, which is never above 1.
    """
    at = States(states, places)
    rng = np.random.default_rng(1)
    logs = [at.by_state(at.log_density(at.drawn(n, draws, rng))) for n in range(at.count)]
    found = np.eye(at.count)
    for a in range(at.count):
        for b in range(a):
            p = np.concatenate([logs[a][:, a], logs[b][:, a]])
            q = np.concatenate([logs[a][:, b], logs[b][:, b]])
            found[a, b] = found[b, a] = float(
                np.mean(np.exp((p + q) / 2 - (np.logaddexp(p, q) - math.log(2.0))))
            )
    return found


def distance(overlap: float) -> float:
    """Bhattacharyya distance of an overlap.

    >>> round(distance(0.1), 1)
    2.3
    """
    return -math.log(max(overlap, 1e-300))


def _log_sums(values: Array, owner: NDArray[np.int_], count: int) -> Array:
    """Logarithms of sums of exponentials over the columns of each owner."""
    starts = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]])
    assert len(starts) == count
    return np.asarray(np.logaddexp.reduceat(values, starts, axis=1))
