"""Dip: the mains fails for a moment, then sags slowly; how dark it gets, what rushes in on return."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from coldiron.benches import steady
from coldiron.benches.attempts import RELAXED, first_solved
from coldiron.benches.base import BenchResult, Case, Simulator, lamp_vectors
from coldiron.benches.cycle import Window
from coldiron.benches.pulses import pulse_readings, worst_of
from coldiron.benches.settling import Settled, last_state
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import circuit
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.deck.render import render
from coldiron.engine.waves import Array, Waveforms
from coldiron.readings import light, sampling

ATTEMPTS = (
    SolverSettings(step_s=25e-6, reltol=3e-4),
    SolverSettings(step_s=20e-6, reltol=1e-3, abstol=1e-7, vntol=1e-4),
    *RELAXED,
)
"""How finely a dip is computed, and what is tried when the engine does not get through its edges."""
LIGHT_RATIO = 0.1
"""There is a gap in the light while the string carries less than this share of its set current."""
LEAD_CYCLES = 0.25
"""The mains is whole for this long before it dips."""
AFTER_CYCLES = 3.0
"""How long a run goes on after the mains is whole again."""
EDGE_S = 5e-6
"""Time in which a dip begins or ends: 1 to 5 µs in IEC 61000-4-11 (from memory)."""


@dataclass(frozen=True)
class Envelope:
    """Height of the mains over time as corner points (time [s], ratio)."""

    points: tuple[tuple[float, float], ...]

    @property
    def returns_s(self) -> float:
        """When the mains begins to return [s]."""
        return self.points[-2][0]

    @property
    def whole_s(self) -> float:
        """When the mains is whole again [s]."""
        return self.points[-1][0]


def envelope(
    residual: float, at_s: float, slopes_s: tuple[float, float, float]
) -> tuple[tuple[float, float], ...]:
    """Corner points of a fall to a residual share, a hold and a rise.

    Examples
    --------
    >>> envelope(0.7, 1.0, (2.0, 3.0, 4.0))
    ((0.0, 1.0), (1.0, 1.0), (3.0, 0.7), (6.0, 0.7), (10.0, 1.0))
    """
    fall_s, hold_s, rise_s = slopes_s
    low_s = at_s + fall_s
    rise_at_s = low_s + hold_s
    return (0.0, 1.0), (at_s, 1.0), (low_s, residual), (rise_at_s, residual), (rise_at_s + rise_s, 1.0)


def dip_deck(
    case: Case, start: InitialConditions, phase_deg: float, e: Envelope, fineness: SolverSettings, said: str
) -> Deck:
    """Deck of a lamp in a state whose mains follows an envelope."""
    state = case.conditions.operating_point(phase_deg)
    return render(
        "dip",
        case.heading(said),
        circuit(case.lamp, state, inductor_a=start.inductor_a("lmains"), envelope=e.points),
        keep=lamp_vectors(case.lamp),
        stop_s=e.whole_s + AFTER_CYCLES * state.cycle_s,
        fineness=fineness,
        start=start,
    )


def take(case: Case, lab: Simulator) -> BenchResult:
    """Gap in the light and inrush on return, of a short dip at its worst angle and of a slow sag."""
    before = steady.settled(case, lab, case.conditions.operating_point())
    dip, sag = case.conditions.dip, case.conditions.sag
    duration_s = before.cycle_s / 2 if dip.duration_s is None else dip.duration_s
    dips = [
        _run(
            case,
            lab,
            before,
            angle_deg,
            (EDGE_S, max(0.0, duration_s - EDGE_S), EDGE_S),
            dip.residual_ratio,
            "dip",
        )
        for angle_deg in dip.angle_deg
    ]
    sags = [_run(case, lab, before, 0.0, (sag.fall_s, sag.hold_s, sag.rise_s), sag.residual_ratio, "sag")]
    quiet = Window(case.lamp, before.waves, before.start_s, before.stop_s)
    readings: dict[str, float | str] = {"light_gap_ms": 1e3 * _quiet_gap_s(case, quiet)}
    decks, waves, how_run = {}, {}, {}
    for name, runs in (("sag", sags), ("dip", dips)):
        each = [_readings(case, run, quiet, name) for run in runs]
        worst_readings, worst = worst_of(each, name)
        lowest_pct = f"{name}_light_lowest_pct"
        readings |= worst_readings | {lowest_pct: min(float(one[lowest_pct]) for one in each)}
        decks[name], waves[name], how_run[name] = runs[worst].deck, runs[worst].waves, runs[worst].how
    return BenchResult(
        {**readings, **weakest_readings(case.lamp, readings, case.conditions.frequency_hz, "dip_")},
        decks,
        waves,
        how_run,
    )


@dataclass(frozen=True)
class DipRun:
    """One dip or sag: its deck, what it gave and how finely, and the course of its mains."""

    deck: Deck
    waves: Waveforms
    how: str
    envelope: Envelope


def _run(
    case: Case,
    lab: Simulator,
    before: Settled,
    angle_deg: float,
    slopes_s: tuple[float, float, float],
    residual: float,
    name: str,
) -> DipRun:
    lead_s = LEAD_CYCLES * before.cycle_s
    phase_deg = (angle_deg - 360.0 * LEAD_CYCLES) % 360.0
    at_s = before.start_s + phase_deg / 360.0 * before.cycle_s
    whole = last_state(case.lamp, before.waves, at_s)
    start = replace(whole, nodes_v=(*whole.nodes_v, ("envelope", 1.0)))
    e = Envelope(envelope(residual, lead_s, slopes_s))
    said = f"{name} to {100 * residual:.0f} % at {angle_deg:g} deg"

    def attempt(fineness: SolverSettings) -> tuple[Deck, Waveforms]:
        deck = dip_deck(case, start, phase_deg, e, fineness, said)
        return deck, lab.run(deck)

    (deck, waves), how = first_solved(ATTEMPTS, attempt)
    return DipRun(deck, waves, how, e)


def _readings(case: Case, run: DipRun, quiet: Window, name: str) -> dict[str, float | str]:
    """Readings of one dip or sag; what rushes in is read over the half cycle around its peak."""
    whole = Window(case.lamp, run.waves, 0.0, run.deck.stop_s)
    cycle_s = 1.0 / case.conditions.frequency_hz
    returning = whole.time_s >= run.envelope.returns_s
    peak_s = float(whole.time_s[returning][np.argmax(np.abs(whole.input_a[returning]))])
    pulse_start_s = max(run.envelope.returns_s, peak_s - cycle_s / 4)
    pulse = Window(case.lamp, run.waves, pulse_start_s, min(pulse_start_s + cycle_s / 2, run.deck.stop_s))
    means = sampling.cycle_means(whole.time_s, whole.string_a, cycle_s / 2)
    lit_a = quiet.mean(quiet.string_a)
    return {
        f"{name}_light_gap_ms": 1e3 * _gap_s(case, whole.time_s, whole.string_a),
        f"{name}_light_lowest_pct": 100.0 * float(means.min()) / lit_a if lit_a else float("nan"),
        f"{name}_return_peak_A": float(np.abs(pulse.input_a).max()),
        **pulse_readings(pulse, name),
    }


def _quiet_gap_s(case: Case, cycle: Window) -> float:
    """Longest time without light on settled mains [s]; it may reach across the end of the cycle."""
    later_s = cycle.time_s[1:] + cycle.time_s[-1] - cycle.time_s[0]
    return _gap_s(
        case, np.concatenate((cycle.time_s, later_s)), np.concatenate((cycle.string_a, cycle.string_a[1:]))
    )


def _gap_s(case: Case, time_s: Array, string_a: Array) -> float:
    return light.longest_gap_s(time_s, string_a, LIGHT_RATIO * case.lamp.lit_a)
