"""Surge: a combination wave, line to neutral, on a lamp that runs on live mains.

The generator and its coupling are a network in the deck. The lamp first settles with the network in place,
the switch open; then each surge starts from that run's state at its angle. The reference plane is the bare
output of the generator, which has 2.00 Ω; behind the coupling capacitor the wave is shorter and the effective
impedance 2.22 Ω.
"""

from __future__ import annotations

import math
from dataclasses import replace

from coldiron.benches import steady
from coldiron.benches.base import GAVE_UP, Case, Findings, Lab, lamp_nodes, lamp_vectors
from coldiron.benches.generator import (
    INDUCTORS,
    NETWORK_NODES,
    SWITCH_CLOSED_OHM,
    Generator,
    GeneratorValues,
    coupled,
    fired_later,
    generator_values,
    storage_v,
)
from coldiron.benches.settling import Settled, settle
from coldiron.benches.surge_readings import SurgeRun, surge_readings
from coldiron.deck.circuit import State, circuit
from coldiron.deck.deck import Deck, Fineness, Start
from coldiron.deck.render import render
from coldiron.errors import NoConvergence, NotApplicable

SETTLING = (
    Fineness(step_s=50e-6, reltol=1e-3, abstol=1e-7, vntol=1e-4),
    Fineness(step_s=20e-6, reltol=1e-3, abstol=1e-6, vntol=1e-3),
)
SETTLED_RATIO = 1e-3
"""The state before a surge decides less of its readings than that of a steady lamp."""
FIRED = (
    Fineness(step_s=2e-6, reltol=1e-4, abstol=1e-7, vntol=1e-4),
    Fineness(step_s=1e-6, reltol=3e-4, abstol=1e-6, vntol=1e-3),
)
"""How finely a surge is computed, and what is tried when the engine does not get through."""
CONTINUOUS = Fineness(step_s=5e-6, reltol=1e-4, abstol=1e-6, vntol=1e-3)
"""The last resort: from rest to the end of the surge in one run."""
WINDOW_S = 600e-6
"""A surge and what it leaves on the coupling capacitor are over by then."""


def surge_deck(
    case: Case,
    state: State,
    start: Start,
    stop_s: float,
    generator: GeneratorValues,
    fineness: Fineness,
    *,
    said: str,
    keep_from_s: float = 0.0,
) -> Deck:
    """Deck of a lamp with the generator coupled to it."""
    fired = generator.fires_s is not None or generator.switch_ohm == SWITCH_CLOSED_OHM
    return render(
        "surge",
        case.heading(said),
        circuit(case.lamp, state, feed="supply", inductor_a=start.inductor_a("lmains")),
        keep=(*lamp_vectors(case.lamp), "v(surge)") if fired else ("all",),
        stop_s=stop_s,
        keep_from_s=keep_from_s,
        fineness=fineness,
        start=start,
        g=generator,
    )


def settled(case: Case, lab: Lab, state: State) -> Settled:
    """Lamp settled on the mains with the generator coupled and not yet fired.

    It begins where the lamp has settled without the generator.
    """
    quiet = steady.settled(case, lab, state).next_cycle(case.lamp)

    def deck_from(start: Start, phase_deg: float, stop_s: float, fineness: Fineness) -> Deck:
        at_phase = replace(state, phase_deg=phase_deg)
        open_switch = generator_values(Generator(), start, fired=False)
        return surge_deck(case, at_phase, start, stop_s, open_switch, fineness, said="before the surge")

    return settle(
        lab,
        case.lamp,
        state,
        coupled(quiet, state, case.lamp.mains, Generator()),
        deck_from,
        SETTLING,
        first_phase_deg=0.0,
        settled_ratio=SETTLED_RATIO,
    )


def charged(start: Start, level_v: float, polarity: int) -> Start:
    """State of a settled run with the storage capacitor charged for an open-circuit level."""
    nodes = dict(start.nodes_v)
    nodes["store"] = nodes["neutral"] + storage_v(Generator(), level_v, polarity)
    return Start(tuple(nodes.items()), start.inductors_a)


def surge_level_v(case: Case) -> float:
    """Open-circuit level of a case's surges [V].

    Raises
    ------
    NotApplicable
        If neither the study nor the lamp's label tells it.
    """
    if case.exposure.surge_level_v is None:
        raise NotApplicable(
            "no surge level: it follows from the lamp's [ratings] power, which is not given; "
            "or the study's [conditions] say surge_level"
        )
    return case.exposure.surge_level_v


def fired(case: Case, lab: Lab, before: Settled, angle_deg: float, polarity: int) -> SurgeRun:
    """One surge on a settled lamp; if no start from its state gets through, one run from rest.

    Raises
    ------
    NoConvergence
        If that does not either.
    """
    level_v = surge_level_v(case)
    said = f"{polarity * level_v:+g} V at {angle_deg:g} deg"
    state = case.exposure.state(angle_deg)
    quiet = before.at_phase(angle_deg, lamp_nodes(case.lamp) + NETWORK_NODES, INDUCTORS)
    start = charged(quiet, level_v, polarity)
    values = generator_values(Generator(), start, fired=True)
    tried = ""
    for fineness in FIRED:
        deck = surge_deck(case, state, start, WINDOW_S, values, fineness, said=said)
        try:
            return SurgeRun(angle_deg, polarity, deck, lab.run(deck), f"warm, {fineness}{tried}")
        except NoConvergence:
            tried += f", after {fineness} {GAVE_UP}"
    deck, fires_s = continuous_deck(case, angle_deg, polarity, math.ceil(before.cycles) + 2, CONTINUOUS)
    waves = lab.run(deck).since(fires_s)
    return SurgeRun(angle_deg, polarity, deck, waves, f"from rest, {CONTINUOUS}{tried}")


def continuous_deck(
    case: Case, angle_deg: float, polarity: int, cycles: int, fineness: Fineness
) -> tuple[Deck, float]:
    """Deck of a surge that begins with the lamp at rest, and the time at which the generator fires [s]."""
    state = case.exposure.state()
    level_v = surge_level_v(case)
    fires_s = (cycles + angle_deg / 360.0) * state.cycle_s
    values = fired_later(Generator(), level_v, polarity, fires_s)
    said = f"{polarity * level_v:+g} V at {angle_deg:g} deg, from rest"
    stop_s, before_s = fires_s + WINDOW_S, 5 * fineness.step_s
    deck = surge_deck(
        case, state, Start(), stop_s, values, fineness, said=said, keep_from_s=fires_s - before_s
    )
    return deck, fires_s


def take(case: Case, lab: Lab) -> Findings:
    """Readings of the worst surge over all angles and polarities.

    Raises
    ------
    NotApplicable
        If there is no level to surge with.
    """
    surge_level_v(case)
    before = settled(case, lab, case.exposure.state())
    runs = [
        fired(case, lab, before, angle_deg, polarity)
        for angle_deg in case.exposure.surge_angles_deg
        for polarity in case.exposure.surge_polarities
    ]
    readings, worst = surge_readings(case.lamp, runs, WINDOW_S)
    return Findings(
        readings,
        {"before": before.deck, "surge": worst.deck},
        {"before": before.waves, "surge": worst.waves},
        {"before": before.road, **{f"{run.polarity:+d} at {run.angle_deg:g} deg": run.road for run in runs}},
    )
