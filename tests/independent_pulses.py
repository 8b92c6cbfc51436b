"""A lamp under a surge, under a burst and behind an open switch: a second opinion without SPICE.

Generator, coupling, supply and lamp are written down here a second time, as charge balances that
`charge_network` integrates; `independent_parts` has the laws of the parts. What this shares with the decks,
because neither a lamp file nor a standard decides it, and what it therefore cannot find wrong:

* The topology: supply, wiring and its damping as one loop, no inductance of leads and tracks; the ideal
  network of IEC 61000-4-5 (five elements, written down here a second time, held to the standard in
  `test_surge_generator`), 18 uF to the line, a back filter of 3 mH in one leg; the double exponential of a
  burst behind 50 ohm and 10 nF, 33 nF to each line, half the capacitance to earth at either end of the bus.
* The varistor is a power law through two points of its disc, behind a resistance, beside one capacitance.
* A rectifier is exponential behind a resistance; its junction has a built-in potential of 1 V and a grading
  of one half; what it stores is current times storage time; it breaks down sharply.
* The string is one exponential junction behind a resistance, and has no capacitance.
* A reservoir is its capacitance behind its electrolyte and the loss of its dielectric, of one corner.
* A sink is a square-law transistor behind its on-resistance with constant capacitances; the current of its
  amplifier is drive times tanh; diodes hold its gate between zero and the rail; all drains of a lamp break
  down at one voltage, sharply.
* The values that a lamp file leaves open: typical defaults (of a varistor by its size), 10 % from rating to
  breakdown, 1.4 V of overdrive at the peak current of a sink, 10 uA as the onset of breakdown.

Not shared: templates, element values, the engine and its method, how a run is started, and the readings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from charge_network import Equations, Floats, Network, Run
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.lamp.varistor import Disc
from independent_parts import add_lamp, add_mains, varistor_ends

Blow = tuple[float, int]
"""Angle of the mains [deg] and polarity of one pulse."""
MOST_CYCLES = 40
RELATIVE = 1e-3
"""Error allowed in a step; a tenth of it moves no peak by 0.1 % and no integral by 0.3 %."""

SURGE_WINDOW_S = 600e-6
STORAGE_F, STORAGE_OHM, SHAPE_OHM, SHAPE_H, OUTPUT_OHM = 6.379e-6, 18.47, 0.8997, 10.55e-6, 25.29
COUPLING_F, BACK_FILTER_H, BACK_FILTER_OHM = 18e-6, 3e-3, 2200.0
OPEN_CIRCUIT_RATIO = 0.9391
"""Peak of the open generator over the voltage of its storage capacitor."""
OPEN_SWITCH_OHM, CLOSED_SWITCH_OHM = 1e9, 1e-3

BURST_BEGINS_S, AFTER_PULSE_S = 1e-7, 3e-6


def settled(
    equations: Equations,
    lamp: Lamp,
    frequency_hz: float,
    bus_v: float,
    within_v: float,
    blows: Sequence[Blow] = (),
) -> Run:
    """A whole cycle, from a rising zero crossing on, that ends within a voltage of how it began.

    It has a point at the angle of each blow.
    """
    names = ["bus", "line up", "neutral up", *(["electrolyte", "reservoir"] if lamp.reservoir else [])]
    x = equations.state(1, **dict.fromkeys(names, bus_v))
    cycle_s = 1.0 / frequency_hz
    marks_s = sorted({angle / 360.0 * cycle_s for angle, _ in blows})
    for _ in range(MOST_CYCLES):
        run = equations.integrate(
            x, 0.0, cycle_s, first_s=1e-9, largest_s=0.02 * cycle_s, relative=RELATIVE, marks_s=marks_s
        )
        x, before = run.last, x
        if np.abs(x - before)[0, [run.places["bus"], run.places["drain"]]].max() < within_v:
            return run
    raise RuntimeError(f"not settled after {MOST_CYCLES} cycles")


def before(run: Run, frequency_hz: float, blows: Sequence[Blow]) -> Floats:
    """States of a settled cycle at the angles of some blows, one row a blow."""
    at_s = [angle / 360.0 / frequency_hz for angle, _ in blows]
    return np.concatenate([run.states[np.argmin(np.abs(run.time_s - one))] for one in at_s])


def rectified_v(lamp: Lamp, voltage_v: float) -> float:
    """Where the bus of a lamp may stand to begin with [V]."""
    return 0.9 * math.sqrt(2.0) * voltage_v if lamp.reservoir else 0.0


# Surge


def surged(
    lamp: Lamp,
    voltage_v: float,
    frequency_hz: float,
    blows: Sequence[Blow],
    ohm: float,
    discs: Sequence[Disc] = ("high",),
) -> Equations:
    """Lamp on live mains with the surge generator coupled to it, its discharge switch having a resistance."""
    network = Network()
    add_mains(network, lamp, voltage_v, frequency_hz, [angle for angle, _ in blows], feed="supply")
    network.coil("back coil", "supply", "line", BACK_FILTER_H)
    network.resistor("supply", "line", BACK_FILTER_OHM)
    network.capacitor("surge", "line", COUPLING_F)
    network.resistor("surge", "neutral", OUTPUT_OHM)
    network.coil("shape coil", "shape", "surge", SHAPE_H)
    network.resistor("store", "shape", SHAPE_OHM + ohm)
    network.resistor("store", "neutral", STORAGE_OHM)
    network.capacitor("store", "neutral", STORAGE_F)
    add_lamp(network, lamp, discs)
    return network.equations()


def surge(
    lamp: Lamp,
    voltage_v: float,
    frequency_hz: float,
    level_v: float,
    blows: Sequence[Blow],
    discs: Sequence[Disc] = ("high",),
) -> list[dict[str, float]]:
    """Readings of surges of one open-circuit level, the worst of some discs, by the ids of the bench."""
    quiet = surged(lamp, voltage_v, frequency_hz, [(0.0, 1)], OPEN_SWITCH_OHM)
    cycle = settled(quiet, lamp, frequency_hz, rectified_v(lamp, voltage_v), 0.05, blows)
    runs, of_each = list(blows) * len(discs), [disc for disc in discs for _ in blows]
    equations = surged(lamp, voltage_v, frequency_hz, runs, CLOSED_SWITCH_OHM, of_each)
    x = before(cycle, frequency_hz, runs)
    charge_v = level_v / OPEN_CIRCUIT_RATIO * np.array([polarity for _, polarity in runs])
    x[:, equations.places["store"]] = x[:, equations.places["neutral"]] + charge_v
    largest_s = SURGE_WINDOW_S / 40
    run = equations.integrate(x, 0.0, SURGE_WINDOW_S, first_s=1e-9, largest_s=largest_s, relative=RELATIVE)
    each = readings(lamp, run, "surge")
    alike = [each[number :: len(blows)] for number in range(len(blows))]
    return [{name: max(one[name] for one in same) for name in same[0]} for same in alike]


# Burst


def bursting(
    lamp: Lamp,
    voltage_v: float,
    frequency_hz: float,
    level_v: float,
    coupling: str,
    blows: Sequence[Blow],
    rate_hz: float = 5e3,
) -> Equations:
    """Lamp on live mains, its neutral earthed, with the burst generator coupled to it."""
    polarity = np.array([sign for _, sign in blows])

    def pulse_v(time_s: float) -> Floats:
        since_s = max(0.0, time_s - BURST_BEGINS_S) % (1.0 / rate_hz)
        shape = (1.0 - math.exp(-since_s / 3.5e-9)) * math.exp(-since_s / 55.6e-9)
        return np.asarray(1.27 * level_v * polarity * shape)

    network = Network()
    angles_deg = [angle for angle, _ in blows]
    add_mains(network, lamp, voltage_v, frequency_hz, angles_deg, feed="supply", back="earth")
    for name, near, far in (("line filter", "supply", "line"), ("neutral filter", "neutral", "earth")):
        network.coil(name, near, far, 100e-6)
        network.resistor(near, far, 2200.0)
    network.source("pulse", "earth", 50.0, pulse_v)
    network.capacitor("pulse", "burst", 10e-9)
    network.resistor("burst", "earth", 1e6)
    for end in ("line", "neutral"):
        if coupling in ("all", end):
            network.capacitor("burst", end, 33e-9)
    for end in ("bus", "0"):
        network.capacitor(end, "earth", lamp.housing.to_earth_f / 2.0)
    add_lamp(network, lamp, ("high",))
    return network.equations()


def burst(
    lamp: Lamp,
    voltage_v: float,
    frequency_hz: float,
    level_v: float,
    coupling: str,
    blows: Sequence[Blow],
    rate_hz: float = 5e3,
    pulses: int = 1,
) -> list[dict[str, float]]:
    """Readings of bursts of one open-circuit level, by the ids of the bench."""
    quiet = bursting(lamp, voltage_v, frequency_hz, 0.0, coupling, [(0.0, 1)])
    cycle = settled(quiet, lamp, frequency_hz, rectified_v(lamp, voltage_v), 0.05, blows)
    equations = bursting(lamp, voltage_v, frequency_hz, level_v, coupling, blows, rate_hz)
    begins_s = [BURST_BEGINS_S + n / rate_hz for n in range(pulses)]
    run = equations.integrate(
        before(cycle, frequency_hz, blows),
        0.0,
        begins_s[-1] + AFTER_PULSE_S,
        first_s=1e-9,
        largest_s=1e-5,
        relative=RELATIVE,
        marks_s=begins_s,
    )
    return readings(lamp, run, "burst")


def readings(lamp: Lamp, run: Run, prefix: str) -> list[dict[str, float]]:
    """Peaks, energies and I2t of every run."""
    sinks = lamp.sinks
    sinks_a = np.stack([run.v(f"sense {n}") for n in range(sinks.count)]) / sinks.sense_resistor_ohm
    above_a = np.maximum(sinks_a - (1.0 + sinks.spread_ratio) * sinks.each_a, 0.0)
    rectified_a = (run.v("line up", "bus") + run.v("neutral up", "bus")) / lamp.bridge.series_resistance_ohm

    def integral(values: Floats) -> Floats:
        return np.asarray(np.trapezoid(values, run.time_s, axis=0))

    found: dict[str, Floats] = {
        "sink_peak_A": sinks_a.max(axis=(0, 1)),
        "sink_energy_mJ": 1e3 * np.max([integral(run.v("drain") * one) for one in sinks_a], axis=0),
        "sink_excess_mJ": 1e3 * np.max([integral(run.v("drain") * one) for one in above_a], axis=0),
        "drain_peak_V": run.v("drain").max(axis=0),
        "bus_peak_V": run.v("bus").max(axis=0),
        "lamp_peak_V": np.abs(run.v("line", "neutral")).max(axis=0),
        "bridge_peak_A": np.abs(rectified_a).max(axis=0),
        "bridge_i2t_A2s": integral(rectified_a**2),
    }
    for leg, part in (("line", lamp.line_fusing), ("neutral", lamp.neutral_fusing)):
        if part:
            found[f"{leg}_fusing_J"] = integral(run.v(leg, f"{leg}_f") ** 2) / part.resistance_ohm
    if lamp.varistor:
        a, b = varistor_ends(lamp)
        varistor_a = run.v(a, "disc") / lamp.varistor.series_resistance_ohm
        found["varistor_peak_A"] = np.abs(varistor_a).max(axis=0)
        found["varistor_energy_J"] = integral(run.v(a, b) * varistor_a)
    if lamp.reservoir:
        found["reservoir_peak_V"] = run.v("reservoir").max(axis=0)
    runs = range(run.states.shape[1])
    return [{f"{prefix}_{name}": float(value[n]) for name, value in found.items()} for n in runs]


# Off-glow


def off_glow(lamp: Lamp, voltage_v: float, frequency_hz: float, leak_f: float) -> dict[str, float]:
    """Readings of the lamp behind an open switch with a capacitance across it, by the ids of the bench."""
    network = Network()
    add_mains(network, lamp, voltage_v, frequency_hz, (0.0,), feed="switch")
    network.capacitor("switch", "line", leak_f)
    add_lamp(network, lamp, ("nominal",))
    equations = network.equations()
    # What the capacitance lets through, less what its own swing and the varistor's take, is in the string.
    beside_f = lamp.varistor.terminal_f if lamp.varistor else 0.0
    peak_v, string_v = math.sqrt(2.0) * voltage_v, lamp.string.voltage_v(1e-5)
    leaked_a = 4.0 * frequency_hz * (leak_f * peak_v - (leak_f + beside_f) * string_v)
    run = settled(equations, lamp, frequency_hz, lamp.string.voltage_v(max(leaked_a, 1e-9)), 2e-3)

    def mean(values: Floats) -> float:
        return float(np.trapezoid(values[:, 0], run.time_s) / (run.time_s[-1] - run.time_s[0]))

    led = lamp.string
    string_ohm = led.led_series_ohm * led.series / led.parallel
    return {
        "off_string_uA": 1e6 * mean(run.v("string", "drain")) / string_ohm,
        "off_bus_V": mean(run.v("bus")),
    }
