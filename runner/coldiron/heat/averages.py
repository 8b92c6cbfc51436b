"""Electrical averages of a lamp as a smooth function of two temperatures, from a few settled runs.

The dies act on the circuit only through the foldback of the sinks, the string only through the drift of its
forward voltage. So one run, its bus voltage held fast, already foretells how power changes with both: the
sinks take what foldback leaves them, the string what its own curve takes of the bus. What that sketch
misses at the other runs is interpolated smoothly between them (Gaussian process regression with a linear
and a Gaussian kernel), so that the whole goes through every run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import add, mul
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from coldiron.heat.network import HeatFlows
from coldiron.lamp.lamp import Lamp
from coldiron.parts.roles import Lights

Array = NDArray[np.float64]

STRING_SPAN_K = 100.0
"""Change of string temperature that counts as much as the whole range of foldback, when nearness is
judged."""
_SMALLEST_A = 1e-9
_CURVE_POINTS = 120
_PLANE = 10.0
"""Weight of the plane against the departure from it, in what a sketch misses."""
_NOISE = 1e-6
"""Variance of a run's own noise against that of what a sketch misses (1e-5 of power against 1e-2,
measured)."""


class Averages(NamedTuple):
    """Means over one settled mains cycle: watts, and light as the current that would give it at 25 °C."""

    sinks_w: float
    sink_worst_w: float
    string_w: float
    others_w: float
    input_w: float
    input_a: float
    light_a: float


NOTHING = Averages(*[0.0] * len(Averages._fields))
"""Of a lamp that is cut off its mains."""


class Electrical(Protocol):
    """Electrical averages at a die and a string temperature."""

    def __call__(self, die_c: float, string_c: float) -> Averages:
        """Averages at two temperatures [°C]."""
        ...


def heat_flows(string: Lights, averages: Averages) -> HeatFlows:
    """Where the watts end as heat: all but what leaves the string as light."""
    return HeatFlows(
        die_w=averages.sinks_w,
        string_w=averages.string_w * (1.0 - string.radiant_ratio),
        board_w=averages.others_w,
    )


def light_ratio(string: Lights, string_c: float) -> float:
    """Light of the string at a temperature, of that at 25 °C and the same current."""
    return max(0.0, 1.0 + string.light_tempco_per_k * (string_c - 25.0))


@dataclass(frozen=True)
class HeatRecord:
    """One settled run: temperatures, averages, and the bus voltage over a mains cycle.

    `bus_v` [V] is sampled evenly over the cycle, in all records alike.
    """

    die_c: float
    string_c: float
    averages: Averages
    bus_v: Array


class RunsBlended:
    """Averages from settled runs of one lamp on one supply.

    Parameters
    ----------
    lamp : Lamp
    records : sequence of HeatRecord
        At least one; the sketch is made on the bus voltage of the first.
    before : RunsBlended, optional
        That of the same lamp with fewer runs, whose curve of the string is taken over.
    """

    def __init__(self, lamp: Lamp, records: Sequence[HeatRecord], before: RunsBlended | None = None) -> None:
        self._circuit = lamp.circuit
        self._lit_a = lamp.lit_a
        self._first = records[0]
        if before is not None:
            self._curve = before._curve
        self._cold_v = self._circuit.light_v(0.0)
        self._droop = light_ratio(self._circuit.lights[0], self._first.string_c)
        self._first_held = self._circuit.foldback_ratio(self._first.die_c)
        self._own_v = self._circuit.light_v(self._lit_a * self._first_held, self._first.string_c)
        self._own = self._sketch(self._first_held, self._first.string_c)
        at = [(self._circuit.foldback_ratio(record.die_c), record.string_c) for record in records]
        self._steps = [self._step(held, string_c) for held, string_c in at]
        foretold = [self._foretold(held, string_c) for held, string_c in at]
        missed = [np.subtract(r.averages, known) for r, known in zip(records, foretold, strict=True)]
        likeness = np.array([self._likeness(step) for step in self._steps]) + _NOISE * np.eye(len(records))
        self._shares = [tuple(row) for row in np.linalg.solve(likeness, np.array(missed)).T.tolist()]

    @cached_property
    def _curve(self) -> tuple[Array, Array, Array]:
        """Currents [A], the string's voltage at them, and the least that the bus needs for them [V]."""
        curve_a = np.concatenate(([0.0], np.geomspace(_SMALLEST_A, self._lit_a, _CURVE_POINTS)))
        string_v = np.array([self._circuit.light_v(float(a)) for a in curve_a])
        on_ohm = sum(sink.on_ohm for sink in self._circuit.regulators)
        return curve_a, string_v, string_v + on_ohm * curve_a

    def _step(self, held: float, string_c: float) -> tuple[float, float]:
        """Distance from the first run, in foldback and in string temperature."""
        return (
            held - self._first_held,
            (string_c - self._first.string_c) / STRING_SPAN_K,
        )

    def _sketch(self, held: float, string_c: float) -> tuple[float, float, float]:
        """Power of sinks and string, and mean current, on the bus voltage of the first run."""
        first = self._first
        drift_v = self._circuit.light_v(0.0, string_c) - self._cold_v
        if len(self._circuit.regulators) != 1:
            # Nothing regulates, or one string after the other does: the runs themselves tell the rest.
            return held, held, held
        if self._circuit.is_smoothed:
            return self._mean_sketch(held, drift_v)
        bus_v = first.bus_v
        curve_a, curve_v, least_v = self._curve
        can_a = np.interp(bus_v - drift_v, least_v, curve_a)
        current_a = np.minimum(can_a, held * self._lit_a)
        string_v = np.interp(current_a, curve_a, curve_v) + drift_v
        string_w = float(string_v @ current_a) / bus_v.size
        return float(bus_v @ current_a) / bus_v.size - string_w, string_w, float(current_a.sum()) / bus_v.size

    def _mean_sketch(self, held: float, drift_v: float) -> tuple[float, float, float]:
        """Behind a reservoir: the sinks set the current, and take what the string gives up."""
        base = self._first.averages
        share = held / self._first_held
        set_a = self._lit_a * held
        string_w = base.string_w * share * (self._circuit.light_v(set_a) + drift_v) / self._own_v
        return (base.sinks_w + base.string_w) * share - string_w, string_w, share

    def _foretold(self, held: float, string_c: float) -> tuple[float, ...]:
        """Averages that the first run alone foretells."""
        there, own, base = self._sketch(held, string_c), self._own, self._first.averages
        sinks, string, current = (
            now / then if then > 0 else 1.0 for now, then in zip(there, own, strict=True)
        )
        before_w = base.sinks_w + base.string_w
        scale = (base.sinks_w * sinks + base.string_w * string) / before_w if before_w > 0 else 1.0
        warm = light_ratio(self._circuit.lights[0], string_c)
        brighter = warm / self._droop if self._droop > 0 else 0.0
        return (
            base.sinks_w * sinks,
            base.sink_worst_w * sinks,
            base.string_w * string,
            base.others_w * scale,
            base.input_w * scale,
            base.input_a * scale,
            base.light_a * current * brighter,
        )

    def _likeness(self, step: tuple[float, float]) -> list[float]:
        """How alike a step is to those of the runs: a plane through the first, and a smooth departure."""
        held, warm = step
        return [
            _PLANE * (held * other_held + warm * other_warm)
            + math.exp(-((held - other_held) ** 2) - (warm - other_warm) ** 2)
            for other_held, other_warm in self._steps
        ]

    def __call__(self, die_c: float, string_c: float) -> Averages:
        """Averages at two temperatures [°C]."""
        # A warm-up asks some hundred times: three numbers are quicker without arrays.
        held = self._circuit.foldback_ratio(die_c)
        near = self._likeness(self._step(held, string_c))
        missed = [sum(map(mul, near, shares)) for shares in self._shares]
        return Averages(*map(add, self._foretold(held, string_c), missed))
