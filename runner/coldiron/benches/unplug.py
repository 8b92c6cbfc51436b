"""Unplug: the lamp is pulled off the mains when its bus stands highest; how long is it dangerous inside.

Within milliseconds the sinks fall out of regulation and the varistor empties; what is left takes up to an
hour. So the time after unplugging is cut into stretches, each a deck of its own whose steps fit its length,
and which begins in the state in which the one before it ended.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import reduce

from coldiron.benches import steady
from coldiron.benches.attempts import first_solved
from coldiron.benches.base import BenchResult, Case, Simulator, lamp_nodes
from coldiron.benches.settling import last_state
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import unplugged
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Waveforms
from coldiron.lamp.lamp import Lamp
from coldiron.readings import discharge
from coldiron.sources.unplugged import Unplugged

SOURCES = (Unplugged,)
"""Kinds that this bench wires beside the mains."""
LONGEST_S = 3600.0
SHORTEST_S = 0.01
PARTS_S = (0.01, 0.2)
"""Where the time after unplugging is parted: the sinks are out of regulation, the pins have emptied."""
ATTEMPTS = (
    SolverSettings(step_s=1e-3),
    SolverSettings(step_s=1e-3, reltol=1e-3, abstol=1e-8, vntol=1e-5),
    SolverSettings(step_s=2e-4, reltol=1e-3, abstol=1e-7, vntol=1e-4),
    SolverSettings(step_s=5e-4, reltol=2e-3, abstol=1e-6, vntol=1e-3),
    SolverSettings(step_s=1e-4, reltol=5e-3, abstol=1e-5, vntol=1e-2),
)
"""How finely a stretch of 1 s is computed, and what is tried when the engine does not get through where the
sinks fall out of regulation; the steps of the other stretches are the same share of their length."""
SAFE_V = (34.0, 50.0, 60.0)
PINS_SAFE_V = (34.0, 60.0)
"""Levels that rules set for the pins of a plug. The bridge keeps the bus off the pins: what stands on them is
only what the varistor and the junctions of the bridge hold."""


@dataclass(frozen=True)
class UnplugStretch:
    """A stretch of the time after unplugging [s], its deck, what it gave and how finely it was computed."""

    start_s: float
    stop_s: float
    deck: Deck
    waves: Waveforms
    how: str

    @property
    def label(self) -> str:
        """Words for the stretch, such as "unplug to 0.2 s"."""
        return f"unplug to {self.stop_s:.3g} s"


def run_time_s(lamp: Lamp, bus_v: float) -> float:
    """Time after which the bleed resistors alone have the bus below the lowest level, with reserve [s]."""
    siemens = sum(1.0 / bleed.cold_ohm for bleed in lamp.circuit.bleeds)
    if siemens == 0.0:
        return LONGEST_S
    tau_s = max(lamp.circuit.stored_f, sum(part.stored_f for part in lamp.circuit.bus_capacitors)) / siemens
    return min(LONGEST_S, max(SHORTEST_S, 1.2 * tau_s * math.log(bus_v / min(SAFE_V))))


def unplug_deck(
    case: Case, start: InitialConditions, start_s: float, length_s: float, fineness: SolverSettings
) -> Deck:
    """Deck of a lamp without mains in a state, some time after it was unplugged."""
    return render(
        "unplug",
        case.heading(f"pins open, from {start_s:g} s on"),
        unplugged(case.lamp, case.conditions.operating_point()),
        keep=("all",),
        stop_s=length_s,
        fineness=fineness,
        start=start,
    )


def discharged(case: Case, lab: Simulator, start: InitialConditions, stop_s: float) -> list[UnplugStretch]:
    """Run a lamp without mains from a state, stretch by stretch.

    Raises
    ------
    NoConvergence
        If the engine gets through one of them at no fineness.
    """
    stretches: list[UnplugStretch] = []
    ends_s = [end_s for end_s in PARTS_S if end_s < stop_s] + [stop_s]
    for start_s, end_s in zip([0.0, *ends_s], ends_s, strict=False):
        stretches.append(_stretch(case, lab, start, start_s, end_s))
        start = last_state(case.lamp, stretches[-1].waves, stretches[-1].deck.stop_s)
    return stretches


def _stretch(
    case: Case, lab: Simulator, start: InitialConditions, start_s: float, stop_s: float
) -> UnplugStretch:
    length_s = stop_s - start_s

    def attempt(fineness: SolverSettings) -> tuple[Deck, Waveforms]:
        scaled = replace(fineness, step_s=fineness.step_s * length_s)
        deck = unplug_deck(case, start, start_s, length_s, scaled)
        return deck, lab.run(deck)

    (deck, waves), how = first_solved(ATTEMPTS, attempt)
    return UnplugStretch(start_s, stop_s, deck, waves, how)


def take(case: Case, lab: Simulator) -> BenchResult:
    """Energy left inside and the time until the bus is below each level."""
    run = steady.settled(case, lab, case.conditions.operating_point())
    bus_v = run.waves["v(bus)"]
    inside = run.waves.time_s >= run.start_s
    highest = int(bus_v[inside].argmax())
    at_s = float(run.waves.time_s[inside][highest])
    start = run.at_time(at_s, lamp_nodes(case.lamp), ())
    start_v = float(bus_v[inside][highest])
    stretches = discharged(case, lab, start, run_time_s(case.lamp, start_v))
    waves = reduce(Waveforms.then, (one.waves for one in stretches))
    readings: dict[str, float | str] = {
        "unplug_bus_V": start_v,
        "stored_energy_J": discharge.stored_energy_j(case.lamp.circuit.bus_f, start_v),
    }
    for level_v in SAFE_V:
        readings[f"discharge_{level_v:.0f}V_s"] = discharge.discharge_s(
            waves.time_s, waves["v(bus)"], level_v
        )
    for level_v in PINS_SAFE_V:
        readings[f"discharge_pins_{level_v:.0f}V_s"] = discharge.discharge_s(
            waves.time_s, waves.v("line", "neutral"), level_v
        )
    readings |= weakest_readings(case.lamp, readings, case.conditions.frequency_hz, "unplug_")
    return BenchResult(
        readings,
        {one.label: one.deck for one in stretches},
        {"unplug": waves},
        {one.label: one.how for one in stretches},
    )
