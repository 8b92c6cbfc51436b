"""The fit of a lamp: its readings from real runs, estimated, and told in the units of its values."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coldiron.errors import SimulationFailed
from coldiron.fit import meter
from coldiron.fit.doubt import LIKELY_NEED, HeldValue, held, held_values
from coldiron.fit.estimate import Estimate, Estimator, Unknown, coverage_factor
from coldiron.fit.free import FreeValue, with_values
from coldiron.fit.identifiable import NotIdentifiable
from coldiron.fit.simulate import Room, simulated
from coldiron.heat.network import Temperatures
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.sweep.worker import fresh_lab

Array = NDArray[np.float64]

MOVED_TOLERANCES = 0.1
"""A held value is moved in the new file if leaving it would move a reading by this part of its tolerance."""
_AT_LIMIT_RATIO = 0.02
_ALIKE_NEEDS = 2.0
"""Readings that are off by up to this times the least are suspected with it."""


@dataclass(frozen=True)
class FitWork:
    """A lamp with its readings, and the values that may change."""

    lamp: LinearSinksLamp
    free: tuple[FreeValue, ...]


@dataclass(frozen=True)
class FittedValue:
    """One value as the readings have it.

    `plus_minus` has the value's unit and holds for all fitted values together; the uncertainty of what is
    held is in it. `shares` is the part of its variance that each reading brings in, in per cent, which is
    how much the value leans on it, and `held_shares` the part of each held value that matters.
    `at_limit` tells that the search ended at a bound.
    """

    free: FreeValue
    value: float
    plus_minus: float
    shares: tuple[float, ...]
    at_limit: bool
    held_shares: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Suspect:
    """What may be wrong where the readings do not go together: one of them, or a value that is held.

    `place` is that of a reading, None for a held value; `would_be` what the rest have it at.
    """

    name: str
    place: int | None
    stated: str
    would_be: str

    def __str__(self) -> str:
        """One line for a person."""
        return f"{self.name}: {self.stated}, and the rest have it at {self.would_be}"


@dataclass(frozen=True)
class Fit:
    """What came of a fit.

    `fitted` are the free values, `moved` the held ones that the readings moved within their uncertainty;
    `before` and `after` are the readings of the model with the file's values and with both of these;
    `residuals` the differences of the latter from what was read, in meter tolerances. `suspects` is empty
    where every reading is within its tolerance.
    """

    fitted: tuple[FittedValue, ...]
    moved: tuple[FittedValue, ...]
    not_identifiable: tuple[NotIdentifiable, ...]
    before: tuple[float, ...]
    after: tuple[float, ...]
    residuals: tuple[float, ...]
    suspects: tuple[Suspect, ...]
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
        If the lamp of the file gave no answer.
    """
    began = time.perf_counter()
    model = _Model(work.lamp, work.free)
    before = model.readings(np.zeros(len(model.values)))
    found = Estimator(model.misses, model.unknowns).estimate()
    after = model.readings(found.x)
    residuals = (after - model.stated) / np.maximum(model.tolerance, 1e-9)
    return Fit(
        fitted=tuple(_fitted(model, found)),
        moved=tuple(_moved(model, found)),
        not_identifiable=found.not_identifiable,
        before=tuple(before.tolist()),
        after=tuple(after.tolist()),
        residuals=tuple(residuals.tolist()),
        suspects=tuple(_suspects(model, found)) if np.abs(residuals).max() > 1.0 else (),
        simulations=model.simulations,
        seconds=time.perf_counter() - began,
    )


class _Model:
    """Readings of a lamp as a function of the logarithms of its values, free and held, over their starts."""

    def __init__(self, lamp: LinearSinksLamp, free: Sequence[FreeValue]) -> None:
        self.lamp = lamp
        frees = [held(lamp, value) for value in free]
        helds = held_values(lamp, free)
        self.values = (*free, *(one.value for one in helds))
        self.unknowns = [*(_unknown(one, True) for one in frees), *(_unknown(one, False) for one in helds)]
        self.stated = np.array([reading.value for reading in lamp.reading])
        self.tolerance = np.array([meter.tolerance(reading) for reading in lamp.reading])
        self.uncertainty = np.array([meter.standard_uncertainty(reading) for reading in lamp.reading])
        self.simulations = 0
        self._known: dict[bytes, Array] = {}
        self._guesses: dict[Room, Temperatures] = {}

    def readings(self, x: Array) -> Array:
        """Readings of the model."""
        key = np.round(x, 12).tobytes()
        if key not in self._known:
            self.simulations += 1
            moved = [(value, value_at(value, float(at))) for value, at in zip(self.values, x, strict=True)]
            lamp = with_values(self.lamp, [(value, at) for value, at in moved if at != value.start])
            self._known[key] = simulated(lamp, self.lamp.reading, fresh_lab(), self._guesses)
        return self._known[key]

    def misses(self, x: Array) -> Array:
        """Readings of the model less those of the meter, in standard uncertainties; nan without an answer."""
        try:
            return np.asarray((self.readings(x) - self.stated) / self.uncertainty)
        except SimulationFailed:
            if not x.any():
                raise
            return np.full(len(self.stated), np.nan)


def _unknown(one: HeldValue, free: bool) -> Unknown:
    least, most = log_bounds(one.value)
    value = one.value
    return Unknown(
        value.key,
        value.provenance,
        least,
        most,
        one.uncertainty,
        free,
        min(one.least, 0.0),
        max(one.most, 0.0),
    )


def value_at(free: FreeValue, x: float) -> float:
    """Value of a free value at a logarithm over its start."""
    return free.start * float(np.exp(x))


def log_bounds(free: FreeValue) -> tuple[float, float]:
    """Logarithms over the start between which a value is looked for."""
    ends = sorted(float(np.log(end / free.start)) for end in (free.least, free.most))
    return ends[0] - 1e-9, ends[1] + 1e-9


def _fitted(model: _Model, found: Estimate) -> list[FittedValue]:
    factor = coverage_factor(max(1, len(found.kept)))
    count, rows = len(model.stated), []
    for m, n in enumerate(found.kept):
        free, at = model.values[n], float(found.x[n])
        least, most = log_bounds(free)
        value = value_at(free, at)
        held_shares = zip(found.acting, found.shares[m, count:].tolist(), strict=True)
        rows.append(
            FittedValue(
                free=free,
                value=value,
                plus_minus=factor * abs(value) * float(found.doubt_x[m]),
                shares=tuple(found.shares[m, :count].tolist()),
                at_limit=bool(min(at - least, most - at) < _AT_LIMIT_RATIO),
                held_shares=tuple((model.values[k].key, share) for k, share in held_shares),
            )
        )
    return rows


def _moved(model: _Model, found: Estimate) -> list[FittedValue]:
    """Held values that have to be moved, or the new file would not read as the fit says."""
    factor, rows = coverage_factor(max(1, len(found.kept))), []
    in_tolerances = model.uncertainty / np.maximum(model.tolerance, 1e-9)
    for k, n in enumerate(found.acting):
        if (np.abs(found.effects[:, k]) * in_tolerances).max() >= MOVED_TOLERANCES:
            value = value_at(model.values[n], float(found.x[n]))
            wide = factor * abs(value) * float(found.doubt_x[len(found.kept) + k])
            rows.append(FittedValue(model.values[n], value, wide, (), at_limit=False))
    return rows


def _suspects(model: _Model, found: Estimate) -> list[Suspect]:
    """Who may be wrong: held values first, if they need no more than can be; then the readings least off."""
    count = len(model.stated)
    suspects = []
    for k, n in enumerate(found.acting, start=count):
        value, need = model.values[n], float(found.needs[k])
        if 1.0 < abs(need) <= LIKELY_NEED:
            would = value_at(value, need * model.unknowns[n].uncertainty)
            name = f"{value.key} ({value.provenance})"
            suspects.append(Suspect(name, None, value.text(value.start), value.text(would, 3)))
    needs = np.abs(found.needs[:count])
    off = [n for n in range(count) if needs[n] > 3.0**0.5]
    least = min((needs[n] for n in off), default=0.0)
    for n in sorted(off, key=lambda n: float(needs[n])):
        if needs[n] <= _ALIKE_NEEDS * least:
            reading = model.lamp.reading[n]
            would = reading.value + float(found.needs[n]) * float(model.uncertainty[n])
            texts = meter.value_text(reading), meter.value_text(reading, float(f"{would:.3g}"))
            suspects.append(Suspect(meter.name_of(reading), n, *texts))
    return suspects
