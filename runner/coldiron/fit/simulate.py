"""What the meter would read on a lamp: the same readings, taken from real runs of the model."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from coldiron.benches import hot
from coldiron.benches.base import Case, Simulator, TestConditions
from coldiron.benches.cycle import Window
from coldiron.fit import meter
from coldiron.heat.balance import balance, follows
from coldiron.heat.network import Temperatures
from coldiron.heat.rooms import run_until_still
from coldiron.lamp.body import BenchReading
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.readings import power

Room = tuple[float, float]
"""Mains voltage [V] and ambient temperature [°C] of a reading."""


def simulated(
    lamp: LinearSinksLamp,
    readings: Sequence[BenchReading],
    lab: Simulator,
    guesses: dict[Room, Temperatures] | None = None,
) -> NDArray[np.float64]:
    """Values of bench readings on the model of a lamp.

    Cold, everything has the temperature of the room; hot, the lamp has settled. Input current and voltage are
    r.m.s., the bus voltage is the mean (a multimeter on its d.c. range), the string voltage its highest.

    Parameters
    ----------
    lamp : LinearSinksLamp
    readings : sequence of BenchReading
        What was read, in which state, on which mains, in which room; their values do not matter.
    lab : Simulator
        Where decks run.
    guesses : dict, optional
        Where a nearly equal lamp settled, by room; kept up to date. It halves the runs of a fit.

    Returns
    -------
    (n,) array
        One value a reading, in its unit.
    """
    values = np.zeros(len(readings))
    guesses = {} if guesses is None else guesses
    places: dict[Room, list[int]] = {}
    for n, reading in enumerate(readings):
        places.setdefault((meter.mains_v(reading, lamp), meter.ambient_c(reading)), []).append(n)
    for (mains_v, ambient_c), here in places.items():
        conditions = TestConditions(mains_v, lamp.mains.frequency_hz, ambient_c)
        taken = _SimulatedBench(
            Case("fit", "as found", lamp, "heat", conditions), lab, guesses.get((mains_v, ambient_c))
        )
        for n in here:
            values[n] = taken.value(readings[n])
        if "hot" in taken.temperatures:
            guesses[mains_v, ambient_c] = taken.temperatures["hot"]
    return values


class _SimulatedBench:
    """One lamp on one supply in one room, cold and hot; each state is run when first asked for."""

    def __init__(self, case: Case, lab: Simulator, guess: Temperatures | None) -> None:
        self._case = case
        self._lab = lab
        self._guess = guess
        self._windows: dict[str, Window] = {}
        self.temperatures: dict[str, Temperatures] = {}

    def _settle(self, state: str) -> None:
        room_c = self._case.conditions.ambient_c
        at = Temperatures(room_c, room_c, room_c, room_c)
        runs = hot.SettledRuns(self._case, self._lab)
        if state == "hot":
            at = self._settle_hot(runs, at)
        else:
            runs.at(room_c, room_c)
        assert runs.last is not None
        run = runs.last
        self._windows[state] = Window(self._case.lamp, run.waves, run.start_s, run.stop_s)
        self.temperatures[state] = at

    def _settle_hot(self, runs: hot.SettledRuns, cold: Temperatures) -> Temperatures:
        begin = cold if self._guess is None else self._guess
        network, records = hot.network(self._case), [runs.at(begin.die_c, begin.string_c)]
        at = run_until_still(network, runs.at, records, follows(network, records[0]))
        if at is None:
            # Without a balance a fit still needs numbers that point back to lamps that have one.
            at = balance(network, runs.at, tuple(records)).temperatures
        return at

    def value(self, reading: BenchReading) -> float:
        """Value of one reading."""
        if reading.state not in self._windows:
            self._settle(reading.state)
        if reading.what.endswith("temperature"):
            at = self.temperatures[reading.state]._asdict()
            return float(at[f"{reading.what.removesuffix(' temperature')}_c"])
        cycle = self._windows[reading.state]
        if reading.what == "input power":
            return cycle.watts(cycle.mains_v, cycle.input_a)
        if reading.what == "input current":
            return cycle.rms(cycle.input_a)
        if reading.what == "power factor":
            return power.power_factor(cycle.time_s, cycle.mains_v, cycle.input_a)
        if reading.what == "bus voltage":
            return cycle.mean(cycle.v("bus"))
        return float(cycle.v("bus", "drain").max())


def as_read(lamp: LinearSinksLamp, values: NDArray[np.float64]) -> LinearSinksLamp:
    """The same lamp with other values of its readings."""
    readings = [r.model_copy(update={"value": float(v)}) for r, v in zip(lamp.reading, values, strict=True)]
    return lamp.model_copy(update={"reading": tuple(readings)})
