"""Running a lamp on the mains until one cycle is like the one before.

The first deck starts from an estimate of the bus at a zero crossing and runs two cycles; as long as the
last two cycles differ by more than `SETTLED_RATIO`, another deck goes on from the state in which the last one
ended. Whether a lamp has settled is read from the run, never assumed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from coldiron.benches.base import Lab, lamp_nodes, snapshot
from coldiron.deck.circuit import State
from coldiron.deck.deck import Deck, Start
from coldiron.engine.waves import Waves
from coldiron.errors import NoConvergence
from coldiron.lamp.lamp import Lamp
from coldiron.readings import sampling

SETTLED_RATIO = 5e-4
"""Largest change of bus, string power and sink power from one cycle to the next."""
STORED_RATIO = 1e-3
"""Largest share of the lamp's power that may still go into, or come out of, the bus capacitors."""
MOST_CYCLES = 60
_FIRST_CYCLES = 2

LEAD_RATIO = 0.025
"""Share of a cycle by which a deck that goes on begins early: the engine's first steps from given conditions
are not yet exact, and the readings must not see them."""

DeckFrom = Callable[[Start, float, float], Deck]
"""Prints the deck that begins in a state at a phase [deg] and runs a time [s]."""


@dataclass(frozen=True)
class Settled:
    """A run whose last mains cycle is like the one before; `cycles` counts all that were needed."""

    deck: Deck
    waves: Waves
    cycle_s: float
    cycles: int

    @property
    def start_s(self) -> float:
        """Beginning of the last whole cycle, at a rising zero crossing of the supply [s]."""
        return self.deck.stop_s - self.cycle_s

    @property
    def stop_s(self) -> float:
        """End of the last whole cycle [s]."""
        return self.deck.stop_s

    def at_phase(self, phase_deg: float, nodes: tuple[str, ...], inductors: tuple[str, ...]) -> Start:
        """State at a phase of the supply within the last cycle."""
        return self.at_time(self.start_s + phase_deg / 360.0 * self.cycle_s, nodes, inductors)

    def at_time(self, at_s: float, nodes: tuple[str, ...], inductors: tuple[str, ...]) -> Start:
        """State at a moment of the run."""
        return snapshot(self.waves, nodes, inductors, at_s)


def estimated_start(lamp: Lamp, state: State) -> Start:
    """State of the bus at a zero crossing, from an ideal capacitor-input rectifier.

    A sine behind two diodes and the resistance of the legs charges the bus capacitors; the sinks draw their
    set current while the bus is above the string. Good enough to begin with; the engine does the rest.
    """
    capacitance_f = (lamp.film.capacitance_f if lamp.film else 0.0) + 20e-12
    esr_ohm = 0.0
    if lamp.reservoir:
        capacitance_f += lamp.reservoir.capacitance_f
        esr_ohm = lamp.reservoir.series_ohm
    resistance_ohm = lamp.mains.resistance_ohm + esr_ohm + 0.5
    for leg in (lamp.line_fusing, lamp.neutral_fusing):
        resistance_ohm += leg.resistance_ohm if leg else 0.0
    set_a = lamp.sinks.set_current_a * lamp.sinks.foldback_ratio(state.die_c)
    string_v = lamp.string.voltage_v(set_a, state.string_c) + 1.0
    bus_v = _settled_bus_v(state, capacitance_f, resistance_ohm, set_a, string_v)
    nodes = [("bus", bus_v), ("plus", bus_v), ("drain", max(0.0, bus_v - string_v))]
    if lamp.reservoir:
        nodes.append(("reservoir", bus_v))
    return Start(nodes_v=tuple(nodes))


def _settled_bus_v(
    state: State, capacitance_f: float, resistance_ohm: float, set_a: float, string_v: float
) -> float:
    steps, bus_v = 100, state.peak_v - 2.0
    step_s = state.cycle_s / 2 / steps
    share = -math.expm1(-step_s / (resistance_ohm * capacitance_f))
    sines = [state.peak_v * math.sin(math.pi * n / steps) - 1.8 for n in range(steps)]
    for _ in range(30):
        before_v = bus_v
        for sine_v in sines:
            # Just below the string voltage the current fades out instead of switching off.
            drawn_a = set_a * min(1.0, max(0.0, (bus_v - 0.93 * string_v) / (0.07 * string_v)))
            target_v = sine_v - resistance_ohm * drawn_a
            if target_v > bus_v:
                bus_v += (target_v - bus_v) * share
            else:
                bus_v = max(0.0, bus_v - drawn_a * step_s / capacitance_f)
            bus_v = max(bus_v, 0.0)
        if abs(bus_v - before_v) < 1e-4 * before_v:
            break
    return bus_v


def settle(lab: Lab, lamp: Lamp, state: State, first: Start, deck_from: DeckFrom) -> Settled:
    """Run a lamp from a first state until two cycles are alike.

    Parameters
    ----------
    lab : Lab
    lamp : Lamp
    state : State
        Supply and temperatures; every deck begins at a rising zero crossing.
    first : Start
        State in which the first deck begins.
    deck_from : callable
        Prints the deck that begins in a state at a phase and runs a time; it must keep all node voltages.

    Raises
    ------
    NoConvergence
        If `MOST_CYCLES` cycles were not enough.
    """
    deck = deck_from(first, 0.0, _FIRST_CYCLES * state.cycle_s)
    waves = lab.run(deck)
    cycles = _FIRST_CYCLES
    before = _signature(waves, deck.stop_s - 2 * state.cycle_s, state.cycle_s)
    last = _signature(waves, deck.stop_s - state.cycle_s, state.cycle_s)
    lead_s = LEAD_RATIO * state.cycle_s
    while not _alike(before, last, lamp, state):
        if cycles >= MOST_CYCLES:
            raise NoConvergence(f"not settled after {cycles} mains cycles")
        nodes = lamp_nodes(lamp) + _supply_nodes(waves)
        start = snapshot(waves, nodes, _inductors(waves), deck.stop_s - lead_s)
        deck = deck_from(start, -360.0 * LEAD_RATIO, lead_s + state.cycle_s)
        waves = lab.run(deck)
        cycles += 1
        before, last = last, _signature(waves, lead_s, state.cycle_s)
    return Settled(deck, waves, state.cycle_s, cycles)


def _supply_nodes(waves: Waves) -> tuple[str, ...]:
    known = ("mains", "wiring", "supply", "feed", "surge", "store", "shape", "shape_l")
    return tuple(node for node in known if f"v({node})" in waves.vectors)


def _inductors(waves: Waves) -> tuple[str, ...]:
    known = ("lmains", "ldecouple", "lshape")
    return tuple(name for name in known if f"i({name})" in waves.vectors)


def _signature(waves: Waves, start_s: float, cycle_s: float) -> tuple[float, float, float]:
    """Mean bus voltage, string power and sink power of one cycle."""
    stop_s = start_s + cycle_s
    time_s, bus_v = sampling.cut(waves.time_s, waves["v(bus)"], start_s, stop_s)
    _, drain_v = sampling.cut(waves.time_s, waves["v(drain)"], start_s, stop_s)
    _, string_a = sampling.cut(waves.time_s, waves["i(vstring)"], start_s, stop_s)
    return (
        sampling.mean(time_s, bus_v),
        sampling.mean_of_product(time_s, bus_v - drain_v, string_a),
        sampling.mean_of_product(time_s, drain_v, string_a),
    )


def _alike(
    before: tuple[float, float, float], last: tuple[float, float, float], lamp: Lamp, state: State
) -> bool:
    capacitance_f = sum(c.capacitance_f for c in (lamp.film, lamp.reservoir) if c)
    watts = last[1] + last[2]
    stored_w = capacitance_f * last[0] * abs(last[0] - before[0]) / state.cycle_s
    changes_w = [abs(now - then) for now, then in zip(last[1:], before[1:], strict=True)]
    return (
        abs(last[0] - before[0]) <= SETTLED_RATIO * last[0]
        and max(changes_w) <= SETTLED_RATIO * watts
        and stored_w <= STORED_RATIO * watts
    )
