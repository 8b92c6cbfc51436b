"""Steady: the lamp on the mains, settled; what it takes, where the watts go, how its light moves."""

from __future__ import annotations

from dataclasses import replace

from coldiron.benches.base import Case, Findings, Lab
from coldiron.benches.settling import Settled, estimated_start, settle
from coldiron.benches.steady_readings import steady_readings
from coldiron.deck.circuit import State, circuit
from coldiron.deck.deck import Deck, Fineness, Start
from coldiron.deck.render import render

FINENESS = Fineness(step_s=20e-6)


def steady_deck(case: Case, state: State, start: Start, stop_s: float) -> Deck:
    """Deck of some mains cycles from a state, keeping every node."""
    return render(
        "steady",
        case.heading(),
        circuit(case.lamp, state, inductor_a=start.inductor_a("lmains")),
        keep=("all",),
        stop_s=stop_s,
        fineness=FINENESS,
        start=start,
    )


def settled(case: Case, lab: Lab, state: State) -> Settled:
    """Settled run of a case in a state (its phase is taken as 0)."""
    return settle(
        lab,
        case.lamp,
        state,
        estimated_start(case.lamp, state),
        lambda start, phase_deg, stop_s: steady_deck(
            case, replace(state, phase_deg=phase_deg), start, stop_s
        ),
    )


def take(case: Case, lab: Lab) -> Findings:
    """Steady readings of a cold lamp over one settled mains cycle."""
    state = case.exposure.state()
    run = settled(case, lab, state)
    readings = steady_readings(case.lamp, state, run)
    return Findings(readings, {"steady": run.deck}, {"steady": run.waves})
