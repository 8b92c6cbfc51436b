"""Off-glow: the switch is open, yet something leaks past it; does the string glow, what does the bleed do.

What leaks in is so little that a reservoir would take minutes to charge. So the bus voltage is searched,
not waited for: each run starts from a bus voltage and shows whether the bus would rise or fall; a few runs
find where it stays. The supply current of the sink chips themselves is not in their model: a real chip
takes some of what leaks in, and the reading is on the safe side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from coldiron.benches.attempts import first_solved
from coldiron.benches.base import BenchResult, Case, Simulator, lamp_vectors
from coldiron.benches.cycle import Window
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import OperatingPoint, circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NoConvergence, NotApplicable
from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import EARTHED, MINUS
from coldiron.parts.roles import Rectifies, Stores
from coldiron.sources.open_switch import INDICATOR_OHM, OpenSwitch, leakage_values
from coldiron.study.disturbances import Leakage

SOURCES = (OpenSwitch,)
"""Kinds that this bench wires beside the mains."""
ATTEMPTS = (
    SolverSettings(step_s=50e-6, abstol=1e-12),
    SolverSettings(step_s=20e-6, reltol=1e-3, abstol=1e-11, vntol=1e-5),
    SolverSettings(step_s=50e-6, reltol=1e-3, abstol=1e-10, vntol=1e-4),
)
"""A microampere has to be told from nothing; and what is tried when the engine does not get through."""
CYCLES = 3.0
BALANCED_RATIO = 5e-3
"""Share of what leaks in that may still charge or empty the bus."""
BALANCED_A = 1e-10
FORGOTTEN_RATIO = 0.05
"""Runs that began empty and full and end this near to each other have forgotten where they began."""
MOST_RUNS = 25


def off_glow_deck(
    case: Case, lamp: Lamp, leakage: Leakage, start: InitialConditions, fineness: SolverSettings
) -> Deck:
    """Deck of a lamp behind an open switch whose bus begins charged."""
    state = case.conditions.operating_point()
    values = leakage_values(leakage.path_f, leakage.resistance_ohm, leakage.indicator)
    return render(
        "off-glow",
        case.heading("switch open" if lamp is case.lamp else "switch open, bleed resistor removed"),
        circuit(lamp, state, feed="switch", between=(OpenSwitch("switch", ("switch", "feed"), values),)),
        keep=lamp_vectors(lamp),
        stop_s=CYCLES * state.cycle_s,
        fineness=fineness,
        start=start,
    )


def take(case: Case, lab: Simulator) -> BenchResult:
    """Current in the string behind an open switch, with the bleed resistor and without it.

    Raises
    ------
    NotApplicable
        If the study names no leakage path.
    """
    leakage = case.conditions.leakage
    if leakage is None:
        raise NotApplicable(
            "no leakage path: the study's [conditions.leakage] wants a cable_length, a capacitance, "
            "a resistance or an indicator"
        )
    lamp = case.lamp
    state = case.conditions.operating_point()
    run = balanced(case, lab, lamp, leakage)
    last = _last_cycle(lamp, run.deck, run.waves, state)
    string_a = last.mean(last.string_a)
    led_a = string_a / min((string.parallel for string in lamp.circuit.lights), default=1)
    readings: dict[str, float | str] = {
        "off_string_uA": 1e6 * string_a,
        "off_led_uA": 1e6 * led_a,
        "glows": "yes" if led_a >= leakage.glow_threshold_a else "no",
        "off_bus_V": last.mean(last.v("bus")),
        "off_leakage_uA": 1e6 * last.rms(last.input_a),
    }
    runs = {"off-glow": run}
    bleeds = lamp.circuit.bleeds
    if bleeds:
        unbled = lamp
        for bleed in bleeds:
            unbled = unbled.with_state(bleed.name, "removed")
        runs = {"without bleed": balanced(case, lab, unbled, leakage), **runs}
        other = runs["without bleed"]
        without = _last_cycle(unbled, other.deck, other.waves, state)
        readings["off_bleed_uA"] = 1e6 * sum(last.mean(bleed.current_a(last)) for bleed in bleeds)
        readings["off_string_unbled_uA"] = 1e6 * without.mean(without.string_a)
    return BenchResult(
        {**readings, **weakest_readings(lamp, readings, case.conditions.frequency_hz, "off_")},
        {label: one.deck for label, one in runs.items()},
        {label: one.waves for label, one in runs.items()},
        {label: one.how for label, one in runs.items()},
    )


@dataclass(frozen=True)
class Balanced:
    """A run whose bus stays where it is; `how` says how finely it was computed."""

    deck: Deck
    waves: Waveforms
    how: str


def balanced(case: Case, lab: Simulator, lamp: Lamp, leakage: Leakage) -> Balanced:
    """Run whose bus neither rises nor falls from one cycle to the next.

    Raises
    ------
    NoConvergence
        If `MOST_RUNS` runs did not find it.
    """
    (deck, waves), how = first_solved(
        ATTEMPTS, lambda fineness: _balanced(case, lab, lamp, leakage, fineness)
    )
    return Balanced(deck, waves, how)


def _balanced(
    case: Case, lab: Simulator, lamp: Lamp, leakage: Leakage, fineness: SolverSettings
) -> tuple[Deck, Waveforms]:
    state = case.conditions.operating_point()
    runs: dict[float, tuple[Deck, Waveforms]] = {}

    def surplus_a(bus_v: float) -> float:
        """Mean current that still charges the bus at the end of a run [A], 0 where it is next to nothing."""
        deck = off_glow_deck(case, lamp, leakage, charged(lamp, bus_v), fineness)
        runs[bus_v] = deck, lab.run(deck)
        cycle = _last_cycle(lamp, *runs[bus_v], state)
        charging_a = _charging_a(lamp, cycle)
        least_a = max(BALANCED_RATIO * cycle.mean(rectified_a(cycle)), BALANCED_A)
        return 0.0 if abs(charging_a) <= least_a else charging_a

    # No string holds more than the peak of the mains, and none more than at the most that can leak in.
    highest_v = min(1.05 * state.peak_v, lamp.circuit.light_v(_most_a(leakage, state)) + 5.0)
    empty_a, full_a = surplus_a(0.0), surplus_a(highest_v)
    if empty_a <= 0.0:
        # It empties even from the bottom: what a first cycle pumped in is not replaced.
        return runs[0.0]
    if full_a > 0.0:
        # Nothing may draw it down to the string: behind a broken sink it stands at the peak.
        highest_v = 1.05 * state.peak_v
        full_a = surplus_a(highest_v)
    if full_a > 0.0:
        if _forgotten(lamp, state, runs[0.0], runs[highest_v]):
            return runs[0.0]
        raise NoConvergence("the bus behind the open switch finds no balance below the peak")
    found_v, found = brentq(
        surplus_a, 0.0, highest_v, xtol=1e-4, maxiter=MOST_RUNS, full_output=True, disp=False
    )
    if not found.converged:
        raise NoConvergence(f"no balance of the bus behind the open switch in {MOST_RUNS} runs")
    return runs[min(runs, key=lambda bus_v: abs(bus_v - found_v))]


def _forgotten(lamp: Lamp, state: OperatingPoint, *ends: tuple[Deck, Waveforms]) -> bool:
    """Whether runs from either end come to the same bus: one of mere stray capacitance does by itself."""
    cycles = [_last_cycle(lamp, *end, state) for end in ends]
    low_v, high_v = sorted(cycle.mean(cycle.v("bus")) for cycle in cycles)
    return high_v - low_v <= FORGOTTEN_RATIO * high_v


def _most_a(leakage: Leakage, state: OperatingPoint) -> float:
    """Most that can leak into anything, as if the lamp were a short [A]."""
    most_a = 2 * math.pi * state.frequency_hz * leakage.path_f * state.peak_v
    for ohm in (leakage.resistance_ohm, INDICATOR_OHM if leakage.indicator else None):
        most_a += state.peak_v / ohm if ohm else 0.0
    return most_a


def charged(lamp: Lamp, bus_v: float) -> InitialConditions:
    """State of a lamp whose bus is at a voltage; what its LEDs do not hold is below them."""
    return InitialConditions(nodes_v=tuple(lamp.circuit.charged_v(bus_v).items()))


def rectified_a(cycle: Window) -> Array:
    """Current that the rectifiers of the mains give [A]."""
    rectifiers = [part for part in cycle.lamp.circuit.having(Rectifies) if part.is_on_the_mains]
    return np.asarray(sum((part.out_a(cycle) for part in rectifiers), cycle.nothing))


def _last_cycle(lamp: Lamp, deck: Deck, waves: Waveforms, state: OperatingPoint) -> Window:
    return Window(lamp, waves, deck.stop_s - state.cycle_s, deck.stop_s)


def _charging_a(lamp: Lamp, cycle: Window) -> float:
    """Mean current into the capacitors behind the rectifier over a cycle [A]."""
    circuit, bus_v = lamp.circuit, cycle.v("bus")
    on_the_bus = circuit.bus_capacitors
    charge_c = sum(part.stored_f for part in on_the_bus) * float(bus_v[-1] - bus_v[0])
    for part in circuit.having(Stores):
        if part not in on_the_bus and not {*circuit.mains_rails, *EARTHED} & {*part.at} - {MINUS}:
            held_v = part.dielectric_v(cycle)
            charge_c += part.stored_f * float(held_v[-1] - held_v[0])
    return charge_c / float(np.ptp(cycle.time_s))
