"""Unplug: the lamp is pulled off the mains when its bus stands highest; how long is it dangerous inside."""

from __future__ import annotations

import math

from coldiron.benches import steady
from coldiron.benches.base import Case, Findings, Lab, lamp_nodes
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import circuit
from coldiron.deck.deck import Deck, Fineness, Start
from coldiron.deck.render import render
from coldiron.lamp.lamp import Lamp
from coldiron.readings import discharge

LONGEST_S = 3600.0
SHORTEST_S = 0.01
POINTS = 1000
SAFE_V = (34.0, 50.0, 60.0)
PINS_SAFE_V = (34.0, 60.0)
"""Levels that rules set for the pins of a plug. The bridge keeps the bus off the pins: what stands on them is
only what the varistor and the junctions of the bridge hold."""

PINS_S = 0.2
"""Length of the run that tells how long the pins hold their charge, unless they hold it longer."""


def run_time_s(lamp: Lamp, bus_v: float) -> float:
    """Time after which the bleed resistor alone has the bus below the lowest level, with reserve [s]."""
    capacitance_f = (lamp.film.capacitance_f if lamp.film else 0.0) + lamp.bridge.stray_capacitance_f
    capacitance_f += lamp.reservoir.capacitance_f if lamp.reservoir else 0.0
    if lamp.bleed is None:
        return LONGEST_S
    tau_s = lamp.bleed.resistance_ohm * capacitance_f
    return min(LONGEST_S, max(SHORTEST_S, 1.2 * tau_s * math.log(bus_v / min(SAFE_V))))


def unplug_deck(case: Case, start: Start, stop_s: float) -> Deck:
    """Deck of a lamp without mains that begins charged."""
    return render(
        "unplug",
        case.heading("pins open"),
        circuit(case.lamp, case.exposure.state()),
        keep=("v(bus)", "v(line)", "v(neutral)", "v(drain)", "i(vstring)"),
        stop_s=stop_s,
        fineness=Fineness(step_s=stop_s / POINTS),
        start=start,
    )


def take(case: Case, lab: Lab) -> Findings:
    """Energy left inside and the time until the bus is below each level."""
    run = steady.settled(case, lab, case.exposure.state())
    bus_v = run.waves["v(bus)"]
    inside = run.waves.time_s >= run.start_s
    highest = int(bus_v[inside].argmax())
    at_s = float(run.waves.time_s[inside][highest])
    start = run.at_time(at_s, lamp_nodes(case.lamp), ())
    start_v = float(bus_v[inside][highest])
    deck = unplug_deck(case, start, run_time_s(case.lamp, start_v))
    waves = lab.run(deck)
    film_f = case.lamp.film.capacitance_f if case.lamp.film else 0.0
    reservoir_f = case.lamp.reservoir.capacitance_f if case.lamp.reservoir else 0.0
    readings: dict[str, float | str] = {
        "unplug_bus_V": start_v,
        "stored_energy_J": discharge.stored_energy_j(film_f + reservoir_f, start_v),
    }
    for level_v in SAFE_V:
        readings[f"discharge_{level_v:.0f}V_s"] = discharge.discharge_s(
            waves.time_s, waves["v(bus)"], level_v
        )
    near = lab.run(unplug_deck(case, start, min(PINS_S, deck.stop_s)))
    for level_v in PINS_SAFE_V:
        # Picofarads are empty long before the first step of a run over minutes.
        times_s = (
            discharge.discharge_s(run.time_s, run.v("line", "neutral"), level_v) for run in (near, waves)
        )
        readings[f"discharge_pins_{level_v:.0f}V_s"] = next(filter(math.isfinite, times_s), math.inf)
    readings |= weakest_readings(case.lamp, readings, "unplug_")
    return Findings(readings, {"unplug": deck}, {"unplug": waves})
