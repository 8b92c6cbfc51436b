"""From readings to values: which are identifiable, how surely, and who is suspected where they contradict.

Nothing here knows what a lamp is: the readings are a function of the logarithms of the values.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from coldiron.fit.identifiable import NotIdentifiable, identifiable
from coldiron.fit.least_squares import SearchSpace, solve, step_within
from coldiron.lamp.model import Provenance

Array = NDArray[np.float64]

STEP_RATIO = 0.01
"""Step of a fitted value for the sensitivities: far above the engine's noise, far below where curves bend."""
COVERED_SHARE = 0.95
"""Share of fits in which all values together are within their plus-minus."""
_SEEN_RATIO = 0.05
"""A held value whose uncertainty moves no reading by this share of the reading's own is left out."""
_FREE_ROUNDS = 4
"""Rounds in which a value may come back among the identifiable; later ones may only leave."""
_MOST_ROUNDS = 10
_SETTLED = 0.02
"""Fall of the sum of squares that fresh sensitivities may leave in a solution."""
_NEAR = 1.0
"""Fall for which a solution moves by less than its uncertainty: sensitivities then stand."""


@dataclass(frozen=True)
class Unknown:
    """A value as the estimate sees it: a name, and how far its logarithm may go from 0.

    `uncertainty` is the standard uncertainty of the logarithm while the value is held: 0 for a certain one.
    `held_least` and `held_most` bound it then. A value that is not `free` is always held.
    """

    key: str
    provenance: Provenance
    least: float
    most: float
    uncertainty: float
    free: bool
    held_least: float = 0.0
    held_most: float = 0.0


@dataclass(frozen=True)
class Estimate:
    """What readings say of values.

    `x` are the logarithms of all values; `kept` the places of the fitted ones, `acting` those of the held
    ones that matter; `doubt_x` the standard uncertainty of each of them, in that order; `shares` the part of
    the variance of each kept value, in per cent, that each reading and each acting value brings in.
    """

    x: Array
    misses: Array
    kept: tuple[int, ...]
    acting: tuple[int, ...]
    not_identifiable: tuple[NotIdentifiable, ...]
    doubt_x: Array
    shares: Array
    needs: Array
    """Standard uncertainties by which each reading, and then each acting value, is off by the rest."""
    effects: Array
    """By how much, in standard uncertainties of each reading, each acting value's move moves it."""


class Estimator:
    """The estimate of some values from some readings.

    Parameters
    ----------
    misses_at : callable
        Readings of the model less those of the meter, in standard uncertainties, at logarithms of all values.
    unknowns : sequence of Unknown
        The values: free ones and held ones.
    """

    def __init__(self, misses_at: Callable[[Array], Array], unknowns: Sequence[Unknown]) -> None:
        self._misses_at, self._unknowns = misses_at, tuple(unknowns)
        self._uncertainty = np.array([of.uncertainty for of in unknowns])
        self._free = [n for n, of in enumerate(unknowns) if of.free]

    def estimate(self) -> Estimate:
        """Solve until the identifiable values, the held ones that matter, and the solution agree.

        What is identifiable is judged where the search begins and again where it ends, since a lamp that has
        become hot leans on other values than a cold one; every change of what is kept is solved again.
        """
        x = np.zeros(len(self._unknowns))
        sensitivity = self._around(x, (), self._free)
        kept, rest = self._identifiable(sensitivity)
        if kept:
            sensitivity = self._around(x, ())
            kept, rest = self._identifiable(sensitivity)
        acting = self._acting(kept, sensitivity)
        for round_number in itertools.count():
            space = self._space(kept, acting)
            if not space.places:
                break
            x = solve(self._misses_at, x, sensitivity, space)
            sensitivity = self._around(x, kept)
            now, rest = self._identifiable(sensitivity)
            if round_number >= _FREE_ROUNDS:
                now = [n for n in now if n in kept]
            acting_now = self._acting(now, sensitivity, acting)
            if now == kept:
                acting, space = acting_now, self._space(kept, acting_now)
                _, left = step_within(space, x, self._misses_at(x), sensitivity)
                if left >= _SETTLED:
                    before, x = x, solve(self._misses_at, x, sensitivity, space)
                    # A search that has left for another valley took its sensitivities from this one.
                    left = max(left, float(((sensitivity @ (x - before)) ** 2).sum()))
                if left < _NEAR or round_number >= _MOST_ROUNDS:
                    break
                continue
            # What is not identifiable goes back to where the file has it; the others are fitted again.
            x[[n for n in (*kept, *acting) if n not in (*now, *acting_now)]] = 0.0
            kept, acting = now, acting_now
        named = {one.held for one in rest}
        for n in self._free:
            if n not in kept and self._unknowns[n].key not in named:
                rest.append(NotIdentifiable((self._unknowns[n].key,), (100.0,), self._unknowns[n].key))
        return self._result(x, kept, acting, rest, sensitivity)

    def _around(self, x: Array, fitted: Sequence[int], places: Sequence[int] | None = None) -> Array:
        """Sensitivities by differences: of fitted values by small steps, of others by their uncertainty.

        A step as wide as the doubt (GUM 5.1.3, note 2) sees a knee that the lamp has not reached. What has a
        threshold acts when that falls, so that downwards twice the uncertainty is tried. Without places, of
        all values; of others it is left at zero.
        """
        here, columns = self._misses_at(x), list[Array]()
        for n, of in enumerate(self._unknowns):
            if places is not None and n not in places:
                columns.append(np.zeros(len(here)))
                continue
            small = n in fitted
            size = STEP_RATIO if small else max(STEP_RATIO, of.uncertainty or (0.05 if of.free else 0.0))
            sides = [self._side(x, n, here, -size if small else -2.0 * size)]
            if small or np.abs(sides[0]).max() * size > _SEEN_RATIO:
                sides.append(self._side(x, n, here, size))
            sides = [side for side in sides if np.isfinite(side).all()] or [np.zeros(len(here))]
            columns.append(np.mean(sides, axis=0))
        return np.array(columns).T

    def _side(self, x: Array, place: int, here: Array, size: float) -> Array:
        of, moved = self._unknowns[place], x.copy()
        least, most = (of.least, of.most) if of.free else (of.held_least, of.held_most)
        moved[place] = np.clip(x[place] + size, least, most)
        step = float(moved[place] - x[place])
        if abs(step) < 1e-6:
            return np.full(len(here), np.nan)
        return (self._misses_at(moved) - here) / step

    def _identifiable(self, sensitivity: Array) -> tuple[list[int], list[NotIdentifiable]]:
        """Which free values the readings tell, for all the doubt there is about what is held."""
        held = [n for n, of in enumerate(self._unknowns) if not of.free]
        spread = sensitivity[:, held] * self._uncertainty[held]
        # Readings in units in which their errors, those of the meter and of what is held, are independent.
        root = np.linalg.cholesky(np.eye(len(sensitivity)) + spread @ spread.T)
        own = np.asarray(np.linalg.solve(root, sensitivity[:, self._free]), dtype=np.float64)
        frees = [self._unknowns[n] for n in self._free]
        places, rest = identifiable(own, [of.key for of in frees], [of.provenance for of in frees])
        return [self._free[m] for m in places], rest

    def _acting(self, kept: Sequence[int], sensitivity: Array, already: Sequence[int] = ()) -> list[int]:
        """Held values whose uncertainty moves a reading; one that once did stays."""
        effect = np.abs(sensitivity).max(axis=0) * self._uncertainty
        every = range(len(self._unknowns))
        return [n for n in every if n not in kept and (effect[n] >= _SEEN_RATIO or n in already)]

    def _space(self, kept: Sequence[int], acting: Sequence[int]) -> SearchSpace:
        uncertainty = np.where(np.isin(np.arange(len(self._unknowns)), kept), np.inf, self._uncertainty)
        least = [of.least if n in kept else of.held_least for n, of in enumerate(self._unknowns)]
        most = [of.most if n in kept else of.held_most for n, of in enumerate(self._unknowns)]
        return SearchSpace((*kept, *acting), uncertainty, np.array(least), np.array(most))

    def _result(
        self,
        x: Array,
        kept: Sequence[int],
        acting: Sequence[int],
        rest: list[NotIdentifiable],
        sensitivity: Array,
    ) -> Estimate:
        space, misses = self._space(kept, acting), self._misses_at(x)
        if not space.places:
            empty = np.zeros((0, len(misses)))
            return Estimate(x, misses, (), (), tuple(rest), np.zeros(0), empty, misses, empty.T)
        matrix, missed = space.matrix(sensitivity), space.misses(misses, x)
        # Gain: how each value follows each row. Its squares add up to the variance, row by row.
        gain = np.linalg.pinv(matrix)
        variance = (gain**2).sum(axis=1)
        shares = 100.0 * gain[: len(kept)] ** 2 / variance[: len(kept), None]
        # What a row would read by the others alone: its miss over one less its leverage (linear problem).
        alone = 1.0 - np.einsum("ij,ji->i", matrix, gain)
        needs = np.where(alone > 1e-6, missed / np.maximum(alone, 1e-6), 0.0)
        effects = sensitivity[:, list(acting)] * x[list(acting)]
        return Estimate(
            x,
            misses,
            tuple(kept),
            tuple(acting),
            tuple(rest),
            np.sqrt(variance),
            shares,
            needs,
            effects,
        )


def coverage_factor(count: int) -> float:
    """Standard uncertainties within which a number of values are together, in 95 % of fits.

    Bonferroni's inequality on the normal distribution: each value may miss in 5 % over their number.

    >>> round(coverage_factor(1), 2), round(coverage_factor(4), 2)
    (1.96, 2.5)
    """
    return NormalDist().inv_cdf(1.0 - (1.0 - COVERED_SHARE) / (2.0 * count))
