"""Steady: the lamp on the mains, settled; what it takes, where the watts go, how its light moves."""

from __future__ import annotations

from dataclasses import replace

from coldiron.benches.attempts import RELAXED
from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.benches.settling import LEAD_DEG, MOST_CYCLES, SETTLED_RATIO, Settled, estimated_start, settle
from coldiron.benches.steady_readings import steady_readings
from coldiron.deck.circuit import OperatingPoint, circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render

ATTEMPTS = (
    SolverSettings(step_s=25e-6, reltol=1e-4),
    SolverSettings(step_s=20e-6, reltol=1e-3, abstol=1e-7, vntol=1e-4),
    *RELAXED,
)
"""How finely a settled lamp is computed, and what is tried when the engine does not get through."""


def steady_deck(
    case: Case,
    state: OperatingPoint,
    start: InitialConditions,
    stop_s: float,
    fineness: SolverSettings = ATTEMPTS[0],
) -> Deck:
    """Deck of some mains cycles from a state, keeping every node."""
    return render(
        "steady",
        case.heading(),
        circuit(case.lamp, state, inductor_a=start.inductor_a("lmains")),
        keep=("all",),
        stop_s=stop_s,
        fineness=fineness,
        start=start,
    )


def settled(
    case: Case,
    lab: Simulator,
    state: OperatingPoint,
    first: InitialConditions | None = None,
    settled_ratio: float = SETTLED_RATIO,
    most_cycles: int = MOST_CYCLES,
) -> Settled:
    """Settled run of a case in a state (its phase is taken as 0), begun from an estimate or from `first`.

    `first` is the state of a nearly equal lamp, `LEAD_DEG` before a rising zero crossing of the supply.
    """
    return settle(
        lab,
        case.lamp,
        state,
        estimated_start(case.lamp, state) if first is None else first,
        lambda start, phase_deg, stop_s, fineness: steady_deck(
            case, replace(state, phase_deg=phase_deg), start, stop_s, fineness
        ),
        ATTEMPTS,
        first_phase_deg=180.0 if first is None else -LEAD_DEG % 360.0,
        settled_ratio=settled_ratio,
        most_cycles=most_cycles,
    )


def take(case: Case, lab: Simulator) -> BenchResult:
    """Steady readings of a cold lamp over one settled mains cycle."""
    state = case.conditions.operating_point()
    run = settled(case, lab, state)
    readings = steady_readings(case.lamp, state, run)
    return BenchResult(readings, {"steady": run.deck}, {"steady": run.waves}, {"steady": run.how})
