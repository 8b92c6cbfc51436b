"""Running a lamp on the mains until one half cycle is like the one before.

Behind a bridge both halves of the mains are alike, so two half cycles in a row tell whether a lamp has
settled; where the halves differ, two whole cycles do. The first deck starts from an estimate, runs half a
cycle to forget it and then a whole one; as long as the halves of that cycle differ, another deck goes on for
a cycle from the state in which the last one ended. A large reservoir that creeps is moved to where its
creeping leads; where the state of all nodes creeps along one direction, all of it is. What still goes
into capacitors anywhere counts, not only the last step. Whether a lamp has settled is read from the
run, never assumed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from coldiron.benches.base import GAVE_UP, Simulator, lamp_nodes, snapshot
from coldiron.benches.cycle import Window
from coldiron.deck.circuit import OperatingPoint
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NoConvergence
from coldiron.lamp.lamp import Lamp
from coldiron.parts.roles import Stores

SETTLED_RATIO = 2.5e-4
"""Largest change of bus, string power and sink power from one half cycle to the next."""
STORED_RATIO = 1e-3
"""Largest share of the lamp's power that may still go into, or come out of, what stores charge."""
DARK_RATIO = 0.01
"""Share of its rated power, and of the mains peak, below which a lamp counts as dark."""
LEAD_DEG = 18.0
"""A run from the state of a nearly equal lamp begins this much of the sine before the cycle that is read: in
that time sinks and drain find their places, and no trace of the change is left in the cycle."""
MOST_CYCLES = 60
_SLOW_SHARE = 0.1
"""A bus whose moves shrink faster than this from one cycle to the next needs no leap."""
_SLOWEST_RATIO = 0.99
_SLOWEST_SHARE = 0.998
_PARALLEL = 0.9
"""Cosine from which two steps in a row point the same way; between the shares is a mode to leap along."""
SHORTEST_LEAP = 0.1
"""Share of the way below which leaps are given up."""
MOST_LEAPT = 40.0
"""Longest leap [cycles]."""

Signature = tuple[float, float, float]
"""Mean bus voltage, power of the LEDs, power of what regulates them."""
LEFT_RATIO = 1e-3
"""Share of itself that a bus which creeps may still have to go."""

DeckFrom = Callable[[InitialConditions, float, float, SolverSettings], Deck]
"""Prints the deck that begins in a state at a phase [deg] and runs a time [s], that finely."""


class NotSettled(NoConvergence):
    """The engine did all it was asked, and the lamp still moves."""


@dataclass(frozen=True)
class Settled:
    """A run that ends with a settled mains cycle, `how` it was run, and all `cycles` that were needed."""

    deck: Deck
    waves: Waveforms
    cycle_s: float
    cycles: float
    how: str

    @property
    def start_s(self) -> float:
        """Beginning of the last whole cycle, at a rising zero crossing of the supply [s]."""
        return self.deck.stop_s - self.cycle_s

    @property
    def stop_s(self) -> float:
        """End of the last whole cycle [s]."""
        return self.deck.stop_s

    def at_phase(
        self, phase_deg: float, nodes: tuple[str, ...], inductors: tuple[str, ...]
    ) -> InitialConditions:
        """State at a phase of the supply within the last cycle."""
        return self.at_time(self.start_s + phase_deg / 360.0 * self.cycle_s, nodes, inductors)

    def at_time(self, at_s: float, nodes: tuple[str, ...], inductors: tuple[str, ...]) -> InitialConditions:
        """State at a moment of the run."""
        return snapshot(self.waves, nodes, inductors, at_s)

    def next_cycle(self, lamp: Lamp, lead_deg: float = 0.0) -> InitialConditions:
        """State of every node and inductor in which the next cycle begins, or a lead before it."""
        return last_state(lamp, self.waves, self.deck.stop_s - lead_deg / 360.0 * self.cycle_s)


def estimated_start(lamp: Lamp, state: OperatingPoint) -> InitialConditions:
    """State of the lamp at a zero crossing as its topology guesses it; at rest where it does not."""
    return InitialConditions(
        nodes_v=tuple(lamp.first_state(state.peak_v, state.cycle_s, state.part_conditions()).items())
    )


def settle(
    lab: Simulator,
    lamp: Lamp,
    state: OperatingPoint,
    first: InitialConditions,
    deck_from: DeckFrom,
    attempts: Sequence[SolverSettings],
    *,
    first_phase_deg: float = 180.0,
    settled_ratio: float = SETTLED_RATIO,
    most_cycles: int = MOST_CYCLES,
) -> Settled:
    """Run a lamp from a first state until two half cycles are alike.

    Parameters
    ----------
    lab : Simulator
    lamp : Lamp
    state : OperatingPoint
        Supply and temperatures.
    first : InitialConditions
        OperatingPoint in which the first deck begins.
    deck_from : callable
        Prints the deck that begins in a state at a phase and runs a time; it must keep all node voltages.
    attempts : sequence of SolverSettings
        Tried one after the other until the engine gets through.
    first_phase_deg : float
        Phase of the first state: 180 for an estimate, which has half a cycle to be forgotten; `LEAD_DEG`
        before 0 for the state of a run of nearly the same lamp.
    settled_ratio : float
        Largest change from one half cycle to the next.
    most_cycles : int
        After so many it gives up.

    Raises
    ------
    NoConvergence
        If the engine did not get through, or `MOST_CYCLES` cycles were not enough.
    """
    tried = ""
    # A guess may contradict itself where a part sits that it does not know: rest never does.
    for begun, fineness in [
        *((first, settings) for settings in attempts),
        *((InitialConditions(), settings) for settings in attempts),
    ]:
        try:
            run = _settle(
                lab, lamp, state, begun, deck_from, fineness, first_phase_deg, settled_ratio, most_cycles
            )
        except NotSettled:
            raise
        except NoConvergence as failure:
            why, tried = failure, f"{tried}, after {fineness} {GAVE_UP}"
        else:
            return replace(run, how=f"{run.how}, {fineness}{tried}")
    raise why


def _settle(
    lab: Simulator,
    lamp: Lamp,
    state: OperatingPoint,
    start: InitialConditions,
    deck_from: DeckFrom,
    fineness: SolverSettings,
    phase_deg: float,
    settled_ratio: float,
    most_cycles: int,
) -> Settled:
    cycle_s, cycles = state.cycle_s, 0.0
    # Behind a bridge both halves of the mains are alike; else whole cycles are compared.
    length_s = cycle_s / 2 if lamp.circuit.halves_alike else cycle_s
    last: Signature | None = None
    moved_v: float | None = None
    ends: list[Array] = []
    leapt = False
    safe: InitialConditions | None = None
    reach = 1.0 if _elsewhere(lamp) else 0.0
    while cycles < most_cycles:
        length_cycles = 1.0 + (-phase_deg % 360.0) / 360.0
        deck = deck_from(start, phase_deg, length_cycles * cycle_s, fineness)
        try:
            waves = lab.run(deck)
        except NoConvergence:
            if safe is None:
                raise
            # Not every node that creeps may be moved so far: go on from before, and leap half the way.
            start, safe, reach = safe, None, reach / 2
            continue
        safe = None
        cycles += length_cycles
        before = last if length_s == cycle_s else _signature(lamp, waves, deck.stop_s - cycle_s, length_s)
        last = _signature(lamp, waves, deck.stop_s - length_s, length_s)
        if before is None:
            start, phase_deg = last_state(lamp, waves, deck.stop_s), 0.0
            continue
        then_v, moved_v = moved_v, last[0] - before[0]
        halves = round(cycle_s / length_s)
        left_v = _left_v(then_v, moved_v, halves) if then_v is not None and lamp.circuit.is_smoothed else 0.0
        if reach > SHORTEST_LEAP:
            ends.append(_vector(last_state(lamp, waves, deck.stop_s)))
        known = then_v is not None or not lamp.settles_slowly
        still = abs(left_v) <= LEFT_RATIO * max(last[0], DARK_RATIO * lamp.mains.peak_v)
        known &= not (leapt and reach > SHORTEST_LEAP) or len(ends) >= 3
        if (
            known
            and still
            and _alike(before, last, lamp, length_s, settled_ratio)
            and _stored_elsewhere_w(lamp, waves, deck.stop_s, cycle_s)
            <= STORED_RATIO / SETTLED_RATIO * settled_ratio * _watts(last, lamp)
        ):
            return Settled(deck, waves, cycle_s, cycles, f"settled in {cycles:g} cycles")
        start, phase_deg = last_state(lamp, waves, deck.stop_s), 0.0
        if left_v:
            early = last_state(lamp, waves, deck.stop_s - LEAD_DEG / 360.0 * cycle_s)
            start, phase_deg = raised(lamp, early, left_v), -LEAD_DEG % 360.0
            last, moved_v, ends = None, None, []
        elif (leap := _leap(ends, 0.25 * lamp.mains.peak_v)) is not None:
            start, safe, leapt = _displaced(start, reach * leap), start, True
            last, moved_v, ends = None, None, []
    raise NotSettled(f"not settled after {cycles:g} mains cycles")


def _left_v(then_v: float, now_v: float, steps: int) -> float:
    """How far a bus still goes that moves by a like share less from one cycle to the next; 0 if it does not.

    Steps move by d, d·r, d·r², ...; the two given are a whole cycle, `steps` of them, apart, so r to that
    power is their ratio, and d·r/(1-r) is left after the last.

    Examples
    --------
    >>> _left_v(1.0, 0.25, 2), _left_v(1.0, -0.5, 2), _left_v(1.0, 0.5, 1)
    (0.25, 0.0, 0.5)
    """
    share = now_v / then_v if then_v else 0.0
    if not _SLOW_SHARE < share < 1.0:
        return 0.0
    ratio = min(math.pow(share, 1.0 / steps), _SLOWEST_RATIO)
    return now_v * ratio / (1.0 - ratio)


def _leap(ends: Sequence[Array], most_v: float) -> Array | None:
    """How far all nodes and inductors still go together along the slowest mode; None where there is none.

    Over three cycle ends in a row with steps d₀ and d₁, the share that is left from one to the next is
    λ = d₁·d₀ / d₀·d₀, and λ/(1-λ)·d₁ is still to come, if both steps point the same way. Nodes move together,
    so junctions stay as they were.
    """
    if len(ends) < 3:
        return None
    then, now = ends[-2] - ends[-3], ends[-1] - ends[-2]
    long, short = float(np.linalg.norm(then)), float(np.linalg.norm(now))
    if long * short == 0.0 or float(now @ then) < _PARALLEL * long * short:
        return None
    share = float(now @ then) / long**2
    if not _SLOW_SHARE < share < _SLOWEST_SHARE:
        return None
    cycles = min(share / (1.0 - share), MOST_LEAPT)
    highest_v = float(np.abs(now).max())
    return np.asarray(now * min(cycles, most_v / highest_v))


def _vector(state: InitialConditions) -> Array:
    return np.array([value for _, value in (*state.nodes_v, *state.inductors_a)])


def _displaced(state: InitialConditions, by: Array) -> InitialConditions:
    """State with every node and inductor moved."""
    nodes = len(state.nodes_v)
    return InitialConditions(
        tuple((name, v + float(d)) for (name, v), d in zip(state.nodes_v, by[:nodes], strict=True)),
        tuple((name, a + float(d)) for (name, a), d in zip(state.inductors_a, by[nodes:], strict=True)),
    )


def raised(lamp: Lamp, start: InitialConditions, volt: float) -> InitialConditions:
    """State with the bus, and what hangs on it, moved by a voltage; the string keeps its own."""
    hanging = lamp.circuit.charged_v(1.0)
    return replace(
        start,
        nodes_v=tuple((node, max(0.0, v + volt) if node in hanging else v) for node, v in start.nodes_v),
    )


def last_state(lamp: Lamp, waves: Waveforms, at_s: float) -> InitialConditions:
    """State of every node and inductor of a run that kept them all."""
    inductors = _inductors(waves) + lamp.circuit.inductors()
    return snapshot(waves, lamp_nodes(lamp) + _supply_nodes(waves), inductors, at_s)


def _supply_nodes(waves: Waveforms) -> tuple[str, ...]:
    known = ("mains", "wiring", "supply", "feed", "surge", "store", "shape", "shape_l")
    return tuple(node for node in known if f"v({node})" in waves.vectors)


def _inductors(waves: Waveforms) -> tuple[str, ...]:
    known = ("lmains", "ldecouple", "lshape")
    return tuple(name for name in known if f"i({name})" in waves.vectors)


def _signature(lamp: Lamp, waves: Waveforms, start_s: float, length_s: float) -> Signature:
    """Mean bus voltage, power of the LEDs and power of what regulates them over a length of time."""
    window = Window(lamp, waves, start_s, start_s + length_s)
    return (
        window.mean(window.v("bus")),
        sum(string.dissipated_w(window) for string in lamp.circuit.lights),
        sum(sink.dissipated_w(window) for sink in lamp.circuit.regulators),
    )


def _alike(
    before: Signature,
    last: Signature,
    lamp: Lamp,
    length_s: float,
    settled_ratio: float,
) -> bool:
    watts = _watts(last, lamp)
    stored_w = lamp.circuit.bus_f * last[0] * abs(last[0] - before[0]) / length_s
    changes_w = [abs(now - then) for now, then in zip(last[1:], before[1:], strict=True)]
    return (
        abs(last[0] - before[0]) <= settled_ratio * max(last[0], DARK_RATIO * lamp.mains.peak_v)
        and max(changes_w) <= settled_ratio * watts
        and stored_w <= STORED_RATIO / SETTLED_RATIO * settled_ratio * watts
    )


def _watts(signature: Signature, lamp: Lamp) -> float:
    """Power that a change is held against: a string that stays dark takes nothing."""
    return max(signature[1] + signature[2], DARK_RATIO * lamp.expected_power_w)


def _stored_elsewhere_w(lamp: Lamp, waves: Waveforms, stop_s: float, cycle_s: float) -> float:
    """Mean power that went into, or came out of, the capacitors that do not lie across the bus [W].

    One that charges through a resistor moves neither bus nor light by much from one cycle to the next, and
    is still far from where it will stand.
    """
    others = _elsewhere(lamp)
    if not others:
        return 0.0
    window = Window(lamp, waves, stop_s - cycle_s, stop_s)
    energies = (part.energy_j(window) for part in others)
    return sum(abs(float(energy[-1] - energy[0])) for energy in energies) / cycle_s


def _elsewhere(lamp: Lamp) -> list[Stores]:
    """Working capacitors with losses that do not lie across the bus: what else may settle slowly.

    Where there is none, nothing but the bus creeps; nodes that hang on nothing but leakage then only look so.
    """
    bus = lamp.circuit.bus_capacitors
    return [
        part
        for part in lamp.circuit.having(Stores)
        if part.works and not part.hidden and not part.lossless and part not in bus
    ]
