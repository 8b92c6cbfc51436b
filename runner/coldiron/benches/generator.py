"""The surge generator on a lamp: its values at each moment, and its state before a surge."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

from coldiron.deck.circuit import OperatingPoint
from coldiron.deck.deck import InitialConditions
from coldiron.lamp.parts import Mains
from coldiron.sources.surge_generator import (
    SWITCH_CLOSED_OHM,
    SWITCH_OPEN_OHM,
    SWITCHING_S,
    SurgeGenerator,
    SurgeGeneratorValues,
    storage_v,
)


def generator_values(
    generator: SurgeGenerator, start: InitialConditions, *, fired: bool
) -> SurgeGeneratorValues:
    """Values of the generator before it fires, or from the moment it does."""
    return SurgeGeneratorValues(
        storage_f=generator.storage_f,
        storage_ohm=generator.storage_ohm,
        switch_ohm=SWITCH_CLOSED_OHM if fired else SWITCH_OPEN_OHM,
        shape_ohm=generator.shape_ohm,
        shape_h=generator.shape_h,
        shape_a=start.inductor_a("lshape"),
        output_ohm=generator.output_ohm,
        coupling_f=generator.coupling_f,
        supply="supply",
        decoupling_h=generator.decoupling_h,
        decoupling_a=start.inductor_a("ldecouple"),
        damping_ohm=generator.damping_ohm,
    )


def fired_later(
    generator: SurgeGenerator, start: InitialConditions, level_v: float, polarity: int, fires_s: float
) -> SurgeGeneratorValues:
    """Values of a generator that fires within a run which begins in a state."""
    values = generator_values(generator, start, fired=False)
    return replace(
        values,
        charge_v=storage_v(generator, level_v, polarity),
        charges_s=fires_s - SWITCHING_S,
        fires_s=fires_s,
    )


def coupled(
    quiet: InitialConditions, state: OperatingPoint, mains: Mains, generator: SurgeGenerator
) -> InitialConditions:
    """State of a lamp with the generator coupled, from its state without, at a rising zero crossing.

    The network alone, which is linear, is in its sinusoidal steady state; the lamp takes next to nothing at a
    zero crossing. What is left to settle is what the pulses of the lamp do to the network.
    """
    omega = 2 * math.pi * state.frequency_hz

    def coil(inductance_h: float, damping_ohm: float) -> complex:
        return 1.0 / (1.0 / (1j * omega * inductance_h) + 1.0 / damping_ohm)

    wiring = coil(mains.inductance_h, mains.damping_ohm)
    decoupling = coil(generator.decoupling_h, generator.damping_ohm)
    coupling = 1.0 / (1j * omega * generator.coupling_f)
    # The sine is the real part of this phasor, which turns from -90 degrees.
    volt = cmath.rect(state.peak_v, -math.pi / 2)
    ampere = volt / (mains.resistance_ohm + wiring + decoupling + coupling + generator.output_ohm)
    behind_wiring = volt - ampere * (mains.resistance_ohm + wiring)
    feed = behind_wiring - ampere * decoupling
    across = {
        "mains": volt,
        "wiring": volt - ampere * mains.resistance_ohm,
        "supply": behind_wiring,
        "feed": feed,
        "line": feed,
        "surge": ampere * generator.output_ohm,
        "shape": ampere * generator.output_ohm,
        "shape_l": ampere * generator.output_ohm,
        "store": 0.0,
    }
    nodes = dict(quiet.nodes_v)
    nodes |= {name: nodes["neutral"] + complex(value).real for name, value in across.items()}
    currents = {
        "lmains": (ampere * wiring / (1j * omega * mains.inductance_h)).real,
        "ldecouple": (ampere * decoupling / (1j * omega * generator.decoupling_h)).real,
        "lshape": 0.0,
    }
    return InitialConditions(tuple(nodes.items()), tuple(currents.items()))
