"""A hand on the housing and a surge to earth, a second opinion without SPICE: charge balances again.

Written down here a second time: the bond of the neutral, an open switch with what lies across it, the
network of IEC 60990, the capacitance of the board from the middle of the string to the housing. Shared with
the decks, as no lamp file decides it: that the board's capacitance sits in the middle of the string, 0.2 Ω
of bond, 100 pF across an open switch, 50 pF from the housing to the room; and what `independent_pulses`
names of the lamp itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from charge_network import Equations, Network
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from independent_parts import add_lamp, add_mains
from independent_pulses import (
    CLOSED_SWITCH_OHM,
    OPEN_CIRCUIT_RATIO,
    OPEN_SWITCH_OHM,
    OUTPUT_OHM,
    SHAPE_H,
    SHAPE_OHM,
    STORAGE_F,
    STORAGE_OHM,
    Blow,
    before,
    rectified_v,
    settled,
)


def touched(lamp: Lamp, board_f: float, *, neutral_closed: bool) -> dict[str, float]:
    """Weighted touch current of a housing without earth, and mean current of the string [A]."""
    voltage_v, frequency_hz = lamp.mains.voltage_v, lamp.mains.frequency_hz
    network = Network()
    add_mains(network, lamp, voltage_v, frequency_hz, (0.0,), feed="line", back="origin")
    network.resistor("origin", "ground", 0.2)
    network.capacitor("ground", "0", 1e-13)
    if neutral_closed:
        network.resistor("origin", "neutral", 1e-3)
    else:
        network.capacitor("origin", "neutral", 100e-12)
    add_lamp(network, lamp, ("nominal",), sections=2)
    network.capacitor("joint 1", "housing", board_f)
    network.capacitor("housing", "ground", 50e-12)
    network.resistor("housing", "body", 1500.0)
    network.capacitor("housing", "body", 0.22e-6)
    network.resistor("body", "ground", 500.0)
    network.resistor("body", "weighted", 10e3)
    network.capacitor("weighted", "ground", 0.022e-6)
    start_v = rectified_v(lamp, voltage_v) if neutral_closed else 0.0
    run = settled(network.equations(), lamp, frequency_hz, start_v, 0.5)
    hand_a = run.v("weighted", "ground")[:, 0] / 500.0
    span_s = run.time_s[-1] - run.time_s[0]
    led = lamp.string
    half_ohm = led.led_series_ohm * led.series / led.parallel / 2
    string_a = run.v("string", "joint 1")[:, 0] / half_ohm
    return {
        "peak_a": float(np.abs(hand_a).max()),
        "rms_a": float(np.sqrt(np.trapezoid(hand_a**2, run.time_s) / span_s)),
        "string_a": float(np.trapezoid(string_a, run.time_s) / span_s),
    }


def surged(lamp: Lamp, board_f: float, level_v: float, blows: Sequence[Blow]) -> list[dict[str, float]]:
    """Surges from the line to earth: volts over the board at either end, amps in earth, volts at the drain.

    Eight sections, the capacitance of the board at their ends; 0.1 Ω from the housing to earth.
    """
    voltage_v, frequency_hz = lamp.mains.voltage_v, lamp.mains.frequency_hz

    def network(angles_deg: Sequence[float], switch_ohm: float) -> Equations:
        made = Network()
        add_mains(made, lamp, voltage_v, frequency_hz, angles_deg, feed="supply", back="origin")
        made.resistor("origin", "ground", 0.2)
        made.capacitor("ground", "0", 1e-13)
        for name, near, far in (("line filter", "supply", "line"), ("neutral filter", "neutral", "origin")):
            made.coil(name, near, far, 3e-3)
            made.resistor(near, far, 2200.0)
        made.capacitor("store", "ground", STORAGE_F)
        made.resistor("store", "ground", STORAGE_OHM)
        made.resistor("store", "shape", SHAPE_OHM + switch_ohm)
        made.coil("shape coil", "shape", "surge", SHAPE_H)
        made.resistor("surge", "ground", OUTPUT_OHM)
        made.resistor("surge", "coupled", 10.0)
        made.capacitor("coupled", "line", 9e-6)
        add_lamp(made, lamp, ("high",), sections=8)
        places = ["bus", *(f"joint {n}" for n in range(1, 8)), "drain"]
        for place in places:
            made.capacitor(place, "housing", board_f / 8 / (2 if place in ("bus", "drain") else 1))
        made.resistor("housing", "ground", 0.101)
        return made.equations()

    quiet = network([0.0], OPEN_SWITCH_OHM)
    cycle = settled(quiet, lamp, frequency_hz, rectified_v(lamp, voltage_v), 0.5, blows)
    equations = network([angle for angle, _ in blows], CLOSED_SWITCH_OHM)
    x = before(cycle, frequency_hz, blows)
    charge_v = level_v / OPEN_CIRCUIT_RATIO * np.array([polarity for _, polarity in blows])
    x[:, equations.places["store"]] = x[:, equations.places["ground"]] + charge_v
    run = equations.integrate(x, 0.0, 100e-6, first_s=1e-9, largest_s=2e-6, relative=1e-3)
    found = {
        "feed_v": np.abs(run.v("bus", "housing")).max(axis=0),
        "minus_v": np.abs(run.v("0", "housing")).max(axis=0),
        "earth_a": np.abs(run.v("housing", "ground")).max(axis=0) / 0.101,
        "drain_v": run.v("drain").max(axis=0),
    }
    return [{name: float(value[n]) for name, value in found.items()} for n in range(len(blows))]
