"""Surge: a combination wave, line to neutral, on a lamp that runs on live mains.

The generator and its coupling are a network in the deck. The lamp first settles with the network in place,
the switch open; then each surge starts from that run's state at its angle. The reference plane is the bare
output of the generator: behind the coupling capacitor the wave is shorter and the effective impedance higher.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from coldiron.benches.base import Case, Findings, Lab, lamp_nodes, lamp_vectors
from coldiron.benches.settling import Settled, estimated_start, settle
from coldiron.benches.surge_readings import SurgeRun, surge_readings
from coldiron.deck.circuit import State, circuit
from coldiron.deck.deck import Deck, Fineness, Start
from coldiron.deck.render import render

SETTLING = Fineness(step_s=20e-6)
FIRED = Fineness(step_s=2e-6)
WINDOW_S = 600e-6
"""A surge and what it leaves on the coupling capacitor are over by then."""
NETWORK_NODES = ("mains", "wiring", "supply", "feed", "surge", "store", "shape", "shape_l")
INDUCTORS = ("lmains", "ldecouple", "lshape")


@dataclass(frozen=True)
class Generator:
    """Combination wave generator as a network: storage capacitor, wave shaping, coupling.

    The values are those of the ideal network solved for 1.2/50 µs, 8/20 µs and 2 Ω of IEC 61000-4-5 at the
    bare output, with the undershoot of the current held below 30 %.
    """

    storage_f: float = 6.379e-6
    storage_ohm: float = 18.47
    shape_ohm: float = 0.8997
    shape_h: float = 10.55e-6
    output_ohm: float = 25.29
    coupling_f: float = 18e-6
    decoupling_h: float = 3e-3
    damping_ohm: float = 2200.0
    open_circuit_ratio: float = 0.9391


@dataclass(frozen=True)
class GeneratorValues:
    """What the generator's stage prints."""

    storage_f: float
    storage_ohm: float
    switch_ohm: float
    shape_ohm: float
    shape_h: float
    shape_a: float
    output_ohm: float
    coupling_f: float
    supply: str
    decoupling_h: float
    decoupling_a: float
    damping_ohm: float


SWITCH_OPEN_OHM = 1e9
SWITCH_CLOSED_OHM = 1e-3


def generator_values(generator: Generator, start: Start, *, fired: bool) -> GeneratorValues:
    """Values of the generator before it fires, or from the moment it does."""
    return GeneratorValues(
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


def surge_deck(case: Case, state: State, start: Start, stop_s: float, *, fired: bool, said: str = "") -> Deck:
    """Deck of a lamp with the generator coupled to it, before or after it fires."""
    return render(
        "surge",
        case.heading(said),
        circuit(case.lamp, state, feed="supply", inductor_a=start.inductor_a("lmains")),
        keep=(*lamp_vectors(case.lamp), "v(surge)") if fired else ("all",),
        stop_s=stop_s,
        fineness=FIRED if fired else SETTLING,
        start=start,
        g=generator_values(Generator(), start, fired=fired),
    )


def settled(case: Case, lab: Lab, state: State) -> Settled:
    """Lamp settled on the mains with the generator coupled and not yet fired."""
    return settle(
        lab,
        case.lamp,
        state,
        estimated_start(case.lamp, state),
        lambda start, phase_deg, stop_s: surge_deck(
            case, replace(state, phase_deg=phase_deg), start, stop_s, fired=False, said="before the surge"
        ),
    )


def charged(start: Start, level_v: float, polarity: int) -> Start:
    """State of a settled run with the storage capacitor charged for an open-circuit level."""
    storage_v = polarity * level_v / Generator().open_circuit_ratio
    nodes = dict(start.nodes_v)
    nodes["store"] = nodes["neutral"] + storage_v
    return Start(tuple(nodes.items()), start.inductors_a)


def take(case: Case, lab: Lab) -> Findings:
    """Readings of the worst surge over all angles and polarities."""
    state = case.exposure.state()
    before = settled(case, lab, state)
    nodes = lamp_nodes(case.lamp) + NETWORK_NODES
    runs = []
    for angle_deg in case.exposure.surge_angles_deg:
        quiet = before.at_phase(angle_deg, nodes, INDUCTORS)
        for polarity in case.exposure.surge_polarities:
            said = f"{polarity * case.exposure.surge_level_v:+g} V at {angle_deg:g} deg"
            deck = surge_deck(
                case,
                replace(state, phase_deg=angle_deg),
                charged(quiet, case.exposure.surge_level_v, polarity),
                WINDOW_S,
                fired=True,
                said=said,
            )
            runs.append(SurgeRun(angle_deg, polarity, deck, lab.run(deck)))
    readings, worst = surge_readings(case.lamp, runs, WINDOW_S)
    return Findings(
        readings,
        {"before": before.deck, "surge": worst.deck},
        {"before": before.waves, "surge": worst.waves},
    )
