"""Where a lamp settles: electrical runs and temperatures brought together until both stand still.

The first round integrates the warm-up over what the cold run tells, and runs the circuit at the temperatures
where it ends; the rounds after it look for the same balance among all runs so far, and integrate again only
where there is none. Over 90 lamps and rooms (three lamps, five reservoirs, two set currents, -10 to 45 °C)
that took 3.4 runs on average, the cold one included, and never more than 6 (see `Balance.runs`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import root

from coldiron.errors import NoConvergence
from coldiron.heat.averages import Averages, Electrical, HeatRecord, RunsBlended, heat_flows
from coldiron.heat.network import HOTTEST_C, Network, Temperatures
from coldiron.heat.warm_up import WarmUp, warm_up

Outcome = Literal[
    "settled",
    "the sinks hold at the floor of their foldback",
    "thermal runaway",
    "thermal oscillation",
]

STILL_DIE_K = 0.05
STILL_POWER_RATIO = 5e-4
MOST_RUNS = 12
REACHED_K = 1.0
_TOLERANCE_K = 1e-3
DARK_W = 1.0
"""Power below which a share of it says nothing: it warms no lamp."""
FORESEEN_RATIO = 0.01
"""A run whose power was foreseen this well confirms that a lamp has no balance."""

RunAt = Callable[[float, float], HeatRecord]
"""Settles the circuit at a die and a string temperature [°C]."""


@dataclass(frozen=True)
class Balance:
    """Where a lamp settles, or what it does instead.

    `temperatures` follow from the averages of the last run; `runs` counts electrical runs, the cold one
    included; `warm_up` is the way there over all of them.
    """

    outcome: Outcome
    temperatures: Temperatures
    averages: Averages
    records: tuple[HeatRecord, ...]
    warm_up: WarmUp
    runs: int

    @property
    def stands(self) -> bool:
        """Whether there is a balance at all."""
        return self.outcome in ("settled", "the sinks hold at the floor of their foldback")


def balance(network: Network, run_at: RunAt, known: tuple[HeatRecord, ...] = ()) -> Balance:
    """Find where a lamp settles.

    Parameters
    ----------
    network : Network
    run_at : callable
        Settles the circuit at a die and a string temperature.
    known : tuple of HeatRecord
        Runs of the same lamp and supply that are there already, at whatever temperature.

    Returns
    -------
    Balance
        Die and string of the last run within `STILL_DIE_K`, and power within `STILL_POWER_RATIO`, of what
        follows from it.

    Raises
    ------
    NoConvergence
        If `MOST_RUNS` runs did not get there.
    """
    records = list(known) or [run_at(network.ambient_c, network.ambient_c)]
    runs = 0 if known else 1
    before: WarmUp | None = None
    electrical: RunsBlended | None = None
    target = Temperatures(*[network.ambient_c] * 4)
    settles, foreseen = True, False
    while runs < MOST_RUNS:
        electrical = RunsBlended(network.lamp, records, electrical)
        found = standing(network, electrical, target) if settles else None
        if found is not None:
            target = found
        else:
            way = warm_up(network, electrical)
            target, settles = way.end, way.course == "settled"
            if before is not None and not settles and way.course == before.course and foreseen:
                return _without_balance(way, records, runs)
            before = way
        record = run_at(min(target.die_c, HOTTEST_C), min(target.string_c, HOTTEST_C))
        runs += 1
        expected = electrical(target.die_c, target.string_c)
        records.append(record)
        foreseen = missed_ratio(record, expected) < FORESEEN_RATIO
        if settles and stands_still(network, record, expected):
            way = warm_up(network, RunsBlended(network.lamp, records, electrical))
            # A balance that the lamp does not come to by itself, from cold, is none.
            settles = way.course == "settled" and abs(way.end.die_c - record.die_c) < REACHED_K
            if settles:
                return Balance(
                    outcome=_outcome(network, record.die_c),
                    temperatures=follows(network, record),
                    averages=record.averages,
                    records=tuple(records),
                    warm_up=way,
                    runs=runs,
                )
    then = follows(network, records[-1])
    raise NoConvergence(
        f"no thermal balance after {runs} electrical runs: run with dies at {records[-1].die_c:.2f} °C, "
        f"which its own heat would bring to {then.die_c:.2f} °C"
    )


def standing(network: Network, electrical: Electrical, guess: Temperatures) -> Temperatures | None:
    """Temperatures at which electrical averages and network agree; None where they do not below `HOTTEST_C`.

    Parameters
    ----------
    network : Network
    electrical : Electrical
        Averages at a die and a string temperature.
    guess : Temperatures
        Where to begin.
    """

    def then(die_c: float, string_c: float) -> Temperatures:
        return network.balanced(heat_flows(network.lamp.circuit.lights[0], electrical(die_c, string_c)))

    def away_k(at: np.ndarray) -> np.ndarray:
        there = then(float(at[0]), float(at[1]))
        return np.array([there.die_c - at[0], there.string_c - at[1]])

    found = root(away_k, [guess.die_c, guess.string_c], options={"xtol": 1e-9})
    if np.abs(away_k(found.x)).max() > _TOLERANCE_K or found.x.max() > HOTTEST_C:
        return None
    return then(float(found.x[0]), float(found.x[1]))


def follows(network: Network, record: HeatRecord) -> Temperatures:
    """Temperatures that the heat of a run would bring about."""
    return network.balanced(heat_flows(network.lamp.circuit.lights[0], record.averages))


def stands_still(network: Network, record: HeatRecord, expected: Averages) -> bool:
    """Whether a run has the temperatures that follow from it, and the power that was expected."""
    then = follows(network, record)
    away_k = max(abs(then.die_c - record.die_c), abs(then.string_c - record.string_c))
    return away_k < STILL_DIE_K and missed_ratio(record, expected) < STILL_POWER_RATIO


def missed_ratio(record: HeatRecord, expected: Averages) -> float:
    """By how much the power of a run was foreseen wrongly, as a share of it."""
    return abs(expected.input_w - record.averages.input_w) / max(record.averages.input_w, DARK_W)


def _outcome(network: Network, die_c: float) -> Outcome:
    held = any(
        sink.foldback_floor_ratio < 1.0 and sink.foldback_ratio(die_c) <= sink.foldback_floor_ratio
        for sink in network.lamp.circuit.regulators
    )
    return "the sinks hold at the floor of their foldback" if held else "settled"


def _without_balance(way: WarmUp, records: list[HeatRecord], runs: int) -> Balance:
    last = Averages(*(float(v) for v in way.averages[:, -1]))
    outcome: Outcome = "thermal runaway" if way.course == "thermal runaway" else "thermal oscillation"
    return Balance(outcome, way.end, last, tuple(records), way, runs)
