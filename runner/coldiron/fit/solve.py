"""The fit: least squares over real runs, and what of its result the readings stand for."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import lmfit  # type: ignore[import-untyped]
import numpy as np
from numpy.typing import NDArray

from coldiron.fit import meter
from coldiron.fit.free import FreeValue, with_values
from coldiron.fit.simulate import Room, simulated
from coldiron.fit.told import Untold, told
from coldiron.heat.network import Temperatures
from coldiron.lamp.lamp import Lamp
from coldiron.sweep.worker import fresh_lab

Array = NDArray[np.float64]

STEP_RATIO = 0.01
"""Step of a value for the sensitivities: far above the engine's own noise, far below where curves bend."""
COVERED_SHARE = 0.95
"""Share of fits in which all values together are within their plus-minus."""
_ROUNDS = 3
_MOST_RUNS = 60
_AT_LIMIT_RATIO = 0.02


@dataclass(frozen=True)
class FitWork:
    """A lamp with its readings, and the values that may change."""

    lamp: Lamp
    free: tuple[FreeValue, ...]


@dataclass(frozen=True)
class FittedValue:
    """One fitted value.

    `plus_minus` has the value's unit and holds for all fitted values together; `shares` is the part of its
    uncertainty that each reading brings in, in per cent, which is how much the value leans on it;
    `at_limit` tells that the search ended at a bound.
    """

    free: FreeValue
    value: float
    plus_minus: float
    shares: tuple[float, ...]
    at_limit: bool


@dataclass(frozen=True)
class Fit:
    """What came of a fit.

    `before` and `after` are the readings of the model with the file's values and with the fitted ones;
    `residuals` the differences of the latter from what was read, in meter tolerances.
    """

    fitted: tuple[FittedValue, ...]
    untold: tuple[Untold, ...]
    before: tuple[float, ...]
    after: tuple[float, ...]
    residuals: tuple[float, ...]
    simulations: int
    seconds: float


def run_fit(work: FitWork) -> Fit:
    """Fit the free values of a lamp to its readings; runs in a worker process.

    Parameters
    ----------
    work : FitWork

    Returns
    -------
    Fit

    Raises
    ------
    SimulationFailed
        If a lamp on the way gave no answer.
    """
    began = time.perf_counter()
    model = _Model(work.lamp, work.free)
    x = np.zeros(len(work.free))
    before = model.values(x)
    kept, untold = model.told(x)
    for _ in range(_ROUNDS):
        x = model.solved(x, kept) if kept else x
        kept_now, untold = model.told(x)
        if kept_now == kept:
            break
        # What is not told goes back to where the file has it, and the rest is fitted again around that.
        x = np.where(np.isin(np.arange(len(x)), kept_now), x, 0.0)
        kept = kept_now
    after = model.values(x)
    fitted = _fitted(work.free, x, kept, model.sensitivity(x, kept))
    tolerances = np.array([meter.tolerance(reading) for reading in work.lamp.reading])
    stated = np.array([reading.value for reading in work.lamp.reading])
    return Fit(
        fitted=fitted,
        untold=tuple(untold),
        before=tuple(before.tolist()),
        after=tuple(after.tolist()),
        residuals=tuple(((after - stated) / np.maximum(tolerances, 1e-9)).tolist()),
        simulations=model.simulations,
        seconds=time.perf_counter() - began,
    )


class _Model:
    """Readings of a lamp as a function of the logarithms of its free values over their starts."""

    def __init__(self, lamp: Lamp, free: Sequence[FreeValue]) -> None:
        self._lamp, self._free = lamp, free
        self._stated = np.array([reading.value for reading in lamp.reading])
        self._uncertainty = np.array([meter.standard_uncertainty(reading) for reading in lamp.reading])
        self._known: dict[bytes, Array] = {}
        self._sensitivities: dict[bytes, Array] = {}
        self._guesses: dict[Room, Temperatures] = {}
        self.simulations = 0

    def values(self, x: Array) -> Array:
        """Readings of the model."""
        key = np.round(x, 12).tobytes()
        if key not in self._known:
            self.simulations += 1
            moved = [(free, value_at(free, float(at))) for free, at in zip(self._free, x, strict=True)]
            lamp = with_values(self._lamp, moved)
            self._known[key] = simulated(lamp, self._lamp.reading, fresh_lab(), self._guesses)
        return self._known[key]

    def misses(self, x: Array) -> Array:
        """Readings of the model less those of the meter, in standard uncertainties."""
        return np.asarray((self.values(x) - self._stated) / self._uncertainty)

    def sensitivity(self, x: Array, places: Sequence[int]) -> Array:
        """Change of each reading, in standard uncertainties, for the logarithm of each value; central."""
        columns = []
        for n in places:
            key = np.append(np.round(x, 12), n).tobytes()
            if key not in self._sensitivities:
                step = np.zeros(len(x))
                step[n] = STEP_RATIO
                self._sensitivities[key] = (self.misses(x + step) - self.misses(x - step)) / (
                    2.0 * STEP_RATIO
                )
            columns.append(self._sensitivities[key])
        return np.array(columns).reshape(len(places), -1).T

    def told(self, x: Array) -> tuple[list[int], list[Untold]]:
        """Which values the readings tell around a point."""
        keys, provenances = [f.key for f in self._free], [f.provenance for f in self._free]
        return told(self.sensitivity(x, range(len(x))), keys, provenances)

    def solved(self, x: Array, places: Sequence[int]) -> Array:
        """Least squares over some of the values, by lmfit, from a point."""
        parameters = lmfit.Parameters()
        for n in places:
            least, most = log_bounds(self._free[n])
            # Around one, because the step of the derivative is a share of the parameter.
            parameters.add(f"x{n}", value=1.0 + x[n], min=1.0 + least, max=1.0 + most)

        def misses(at: lmfit.Parameters) -> Array:
            moved = x.copy()
            for n in places:
                moved[n] = float(at[f"x{n}"].value) - 1.0
            return self.misses(moved)

        found = lmfit.minimize(
            misses, parameters, method="leastsq", max_nfev=_MOST_RUNS,
            epsfcn=STEP_RATIO**2, xtol=1e-4, ftol=1e-5, calc_covar=False,
        )  # fmt: skip
        solved = x.copy()
        for n in places:
            solved[n] = float(found.params[f"x{n}"].value) - 1.0
        return solved


def coverage_factor(count: int) -> float:
    """Standard uncertainties within which a number of values are together, in 95 % of fits.

    Bonferroni's inequality on the normal distribution: each value may miss in 5 % over their number.

    >>> round(coverage_factor(1), 2), round(coverage_factor(4), 2)
    (1.96, 2.5)
    """
    return NormalDist().inv_cdf(1.0 - (1.0 - COVERED_SHARE) / (2.0 * count))


def value_at(free: FreeValue, x: float) -> float:
    """Value of a free value at a logarithm over its start."""
    return free.start * float(np.exp(x))


def log_bounds(free: FreeValue) -> tuple[float, float]:
    """Logarithms over the start between which a value is looked for."""
    ends = sorted(float(np.log(end / free.start)) for end in (free.least, free.most))
    return ends[0] - 1e-9, ends[1] + 1e-9


def _fitted(
    free: Sequence[FreeValue], x: Array, places: Sequence[int], sensitivity: Array
) -> tuple[FittedValue, ...]:
    if not places:
        return ()
    # Gain of the least squares: how each value follows each reading. Its squares add up to the variance.
    gain = np.linalg.pinv(sensitivity)
    variance = (gain**2).sum(axis=1)
    factor = coverage_factor(len(places))
    rows = []
    for n, row, squared in zip(places, gain, variance, strict=True):
        value = value_at(free[n], float(x[n]))
        least, most = log_bounds(free[n])
        rows.append(
            FittedValue(
                free=free[n],
                value=value,
                plus_minus=factor * abs(value) * float(np.sqrt(squared)),
                shares=tuple((100.0 * row**2 / squared).tolist()),
                at_limit=bool(min(x[n] - least, most - x[n]) < _AT_LIMIT_RATIO),
            )
        )
    return tuple(rows)
