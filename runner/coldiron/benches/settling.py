"""Running a lamp on the mains until one half cycle is like the one before.

Behind a bridge both halves of the mains are alike, so two half cycles in a row tell whether a lamp has
settled. The first deck starts from an estimate, runs half a cycle to forget it and then a whole one; as
long as the halves of that cycle differ, another deck goes on for a cycle from the state in which the last
one ended. A large reservoir that creeps is moved to where its creeping leads. Whether a lamp has settled is
read from the run, never assumed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from scipy.optimize import brentq

from coldiron.benches.base import GAVE_UP, RESERVOIR_NODES, Lab, lamp_nodes, snapshot
from coldiron.deck.circuit import State
from coldiron.deck.deck import Deck, Fineness, Start
from coldiron.engine.waves import Waves
from coldiron.errors import NoConvergence
from coldiron.lamp.lamp import Lamp
from coldiron.parts.led_string import junctions
from coldiron.readings import sampling

SETTLED_RATIO = 2.5e-4
"""Largest change of bus, string power and sink power from one half cycle to the next."""
STORED_RATIO = 1e-3
"""Largest share of the lamp's power that may still go into, or come out of, the bus capacitors."""
DARK_RATIO = 0.01
"""Share of its rated power below which a lamp counts as dark."""
LEAD_DEG = 18.0
"""A run from the state of a nearly equal lamp begins this much of the sine before the cycle that is read: in
that time sinks and drain find their places, and no trace of the change is left in the cycle."""
DARK_A = 1e-6
"""What a string carries whose sinks are held off, for a first guess of its voltage."""
MOST_CYCLES = 60
_SLOW_SHARE = 0.1
"""A bus whose moves shrink faster than this from one cycle to the next needs no leap."""
_SLOWEST_RATIO = 0.99

DeckFrom = Callable[[Start, float, float, Fineness], Deck]
"""Prints the deck that begins in a state at a phase [deg] and runs a time [s], that finely."""


class NotSettled(NoConvergence):
    """The engine did all it was asked, and the lamp still moves."""


@dataclass(frozen=True)
class Settled:
    """A run that ends with a settled mains cycle; `cycles` counts all that were needed, `road` says how."""

    deck: Deck
    waves: Waves
    cycle_s: float
    cycles: float
    road: str

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

    def next_cycle(self, lamp: Lamp, lead_deg: float = 0.0) -> Start:
        """State of every node and inductor in which the next cycle begins, or a lead before it."""
        return last_state(lamp, self.waves, self.deck.stop_s - lead_deg / 360.0 * self.cycle_s)


def estimated_start(lamp: Lamp, state: State) -> Start:
    """State of the bus at a zero crossing, from an ideal capacitor-input rectifier.

    A sine behind two diodes and the resistance of the legs charges the bus capacitors; the sinks draw their
    set current while the bus is above the string. Good enough to begin with; the engine does the rest.
    """
    capacitance_f = (lamp.film.capacitance_f if lamp.film else 0.0) + lamp.bridge.stray_capacitance_f
    esr_ohm = 0.0
    if lamp.reservoir:
        capacitance_f += lamp.reservoir.capacitance_f
        esr_ohm = lamp.reservoir.electrolyte_ohm(state.reservoir_c)
    resistance_ohm = lamp.mains.resistance_ohm + esr_ohm + 0.5
    for leg in (lamp.line_fusing, lamp.neutral_fusing):
        resistance_ohm += leg.resistance_ohm if leg else 0.0
    set_a = 0.0 if state.shut else lamp.sinks.set_current_a * lamp.sinks.foldback_ratio(state.die_c)
    string_v = lamp.string.voltage_v(max(set_a, DARK_A), state.string_c) + 1.0
    bus_v = _settled_bus_v(state, capacitance_f, resistance_ohm, set_a, string_v)
    drain_v = max(0.0, bus_v - string_v)
    nodes = [(node, bus_v) for node in ("bus", "plus", "plus_l", "plus_n")]
    nodes += [("drain", drain_v)]
    # A steep junction that begins with the whole bus across it does not converge.
    below_v = drain_v + junctions(lamp.string, state.string_c).offset_v
    nodes += [("string_j", below_v), ("string_k", below_v)]
    if lamp.reservoir:
        nodes += [(node, bus_v) for node in RESERVOIR_NODES]
    return Start(nodes_v=tuple(nodes))


def _settled_bus_v(
    state: State, capacitance_f: float, resistance_ohm: float, set_a: float, string_v: float
) -> float:
    steps = 100
    step_s = state.cycle_s / 2 / steps
    share = -math.expm1(-step_s / (resistance_ohm * capacitance_f))
    sines = [state.peak_v * math.sin(math.pi * n / steps) - 1.8 for n in range(steps)]

    def change_v(bus_v: float) -> float:
        """Change of the bus over a half wave that it begins at a voltage."""
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
        return bus_v - before_v

    # An empty bus rises and one at the peak falls; to get there may take a reservoir seconds.
    if change_v(0.0) <= 0.0:
        return 0.0
    return float(brentq(change_v, 0.0, state.peak_v, xtol=1e-4 * state.peak_v))


def settle(
    lab: Lab,
    lamp: Lamp,
    state: State,
    first: Start,
    deck_from: DeckFrom,
    ladder: Sequence[Fineness],
    *,
    first_phase_deg: float = 180.0,
    settled_ratio: float = SETTLED_RATIO,
) -> Settled:
    """Run a lamp from a first state until two half cycles are alike.

    Parameters
    ----------
    lab : Lab
    lamp : Lamp
    state : State
        Supply and temperatures.
    first : Start
        State in which the first deck begins.
    deck_from : callable
        Prints the deck that begins in a state at a phase and runs a time; it must keep all node voltages.
    ladder : sequence of Fineness
        Tried one after the other until the engine gets through.
    first_phase_deg : float
        Phase of the first state: 180 for an estimate, which has half a cycle to be forgotten; `LEAD_DEG`
        before 0 for the state of a run of nearly the same lamp.
    settled_ratio : float
        Largest change from one half cycle to the next.

    Raises
    ------
    NoConvergence
        If the engine did not get through, or `MOST_CYCLES` cycles were not enough.
    """
    tried = ""
    for fineness in ladder:
        try:
            run = _settle(lab, lamp, state, first, deck_from, fineness, first_phase_deg, settled_ratio)
        except NotSettled:
            raise
        except NoConvergence as failure:
            why, tried = failure, f"{tried}, after {fineness} {GAVE_UP}"
        else:
            return replace(run, road=f"{run.road}, {fineness}{tried}")
    raise why


def _settle(
    lab: Lab,
    lamp: Lamp,
    state: State,
    start: Start,
    deck_from: DeckFrom,
    fineness: Fineness,
    phase_deg: float,
    settled_ratio: float,
) -> Settled:
    cycle_s, cycles = state.cycle_s, 0.0
    moved_v: float | None = None
    while cycles < MOST_CYCLES:
        length_cycles = 1.0 + (-phase_deg % 360.0) / 360.0
        deck = deck_from(start, phase_deg, length_cycles * cycle_s, fineness)
        waves = lab.run(deck)
        cycles += length_cycles
        before = _signature(waves, deck.stop_s - cycle_s, cycle_s / 2)
        last = _signature(waves, deck.stop_s - cycle_s / 2, cycle_s / 2)
        if _alike(before, last, lamp, cycle_s / 2, settled_ratio):
            return Settled(deck, waves, cycle_s, cycles, f"settled in {cycles:g} cycles")
        start, phase_deg = last_state(lamp, waves, deck.stop_s), 0.0
        then_v, moved_v = moved_v, last[0] - before[0]
        left_v = _left_v(then_v, moved_v) if then_v is not None and lamp.reservoir else 0.0
        if left_v:
            early = last_state(lamp, waves, deck.stop_s - LEAD_DEG / 360.0 * cycle_s)
            start, phase_deg, moved_v = raised(early, left_v), -LEAD_DEG % 360.0, None
    raise NotSettled(f"not settled after {cycles:g} mains cycles")


def _left_v(then_v: float, now_v: float) -> float:
    """How far a bus still goes that moves by a like share less from one cycle to the next; 0 if it does not.

    Half cycles move by d, d·r, d·r², ...; the two given are a whole cycle apart, so r² is their ratio, and
    d·r/(1-r) is left after the last.

    Examples
    --------
    >>> _left_v(1.0, 0.25), _left_v(1.0, -0.5)
    (0.25, 0.0)
    """
    share = now_v / then_v if then_v else 0.0
    if not _SLOW_SHARE < share < 1.0:
        return 0.0
    ratio = min(math.sqrt(share), _SLOWEST_RATIO)
    return now_v * ratio / (1.0 - ratio)


def raised(start: Start, volt: float) -> Start:
    """State with the bus, and what hangs on it, moved by a voltage; the string keeps its own."""
    hanging = ("bus", "plus", "plus_l", "plus_n", *RESERVOIR_NODES, "string_j", "string_k", "drain")
    return replace(
        start,
        nodes_v=tuple((node, max(0.0, v + volt) if node in hanging else v) for node, v in start.nodes_v),
    )


def last_state(lamp: Lamp, waves: Waves, at_s: float) -> Start:
    """State of every node and inductor of a run that kept them all."""
    return snapshot(waves, lamp_nodes(lamp) + _supply_nodes(waves), _inductors(waves), at_s)


def _supply_nodes(waves: Waves) -> tuple[str, ...]:
    known = ("mains", "wiring", "supply", "feed", "surge", "store", "shape", "shape_l")
    return tuple(node for node in known if f"v({node})" in waves.vectors)


def _inductors(waves: Waves) -> tuple[str, ...]:
    known = ("lmains", "ldecouple", "lshape")
    return tuple(name for name in known if f"i({name})" in waves.vectors)


def _signature(waves: Waves, start_s: float, length_s: float) -> tuple[float, float, float]:
    """Mean bus voltage, string power and sink power over a length of time."""
    stop_s = start_s + length_s
    time_s, bus_v = sampling.cut(waves.time_s, waves["v(bus)"], start_s, stop_s)
    _, drain_v = sampling.cut(waves.time_s, waves["v(drain)"], start_s, stop_s)
    _, string_a = sampling.cut(waves.time_s, waves["i(vstring)"], start_s, stop_s)
    return (
        sampling.mean(time_s, bus_v),
        sampling.mean_of_product(time_s, bus_v - drain_v, string_a),
        sampling.mean_of_product(time_s, drain_v, string_a),
    )


def _alike(
    before: tuple[float, float, float],
    last: tuple[float, float, float],
    lamp: Lamp,
    length_s: float,
    settled_ratio: float,
) -> bool:
    capacitance_f = sum(c.capacitance_f for c in (lamp.film, lamp.reservoir) if c)
    # A string that stays dark takes nothing that a change could be held against.
    watts = max(last[1] + last[2], DARK_RATIO * lamp.expected_power_w)
    stored_w = capacitance_f * last[0] * abs(last[0] - before[0]) / length_s
    changes_w = [abs(now - then) for now, then in zip(last[1:], before[1:], strict=True)]
    return (
        abs(last[0] - before[0]) <= settled_ratio * last[0]
        and max(changes_w) <= settled_ratio * watts
        and stored_w <= STORED_RATIO / SETTLED_RATIO * settled_ratio * watts
    )
