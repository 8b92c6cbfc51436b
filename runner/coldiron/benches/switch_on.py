"""Switch-on: a cold, empty lamp is connected at the worst angle of the mains.

The angle is searched, not assumed: a coarse sweep over a half wave (the lamp cannot tell the halves
apart), then parabolas through the worst. The charging pulse at the worst angle is run finely; a longer,
coarser run from the same moment gives the slower readings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from coldiron.benches.base import GAVE_UP, Case, Findings, Lab, lamp_vectors
from coldiron.benches.cycle import Window
from coldiron.benches.pulses import pulse_readings
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import State, circuit
from coldiron.deck.deck import Deck, Fineness
from coldiron.deck.render import render
from coldiron.engine.waves import Waves
from coldiron.errors import NoConvergence
from coldiron.readings import light, surges

PULSE = (
    Fineness(step_s=5e-6, reltol=1e-5, abstol=1e-9, vntol=1e-5),
    Fineness(step_s=10e-6, reltol=1e-5, abstol=1e-8, vntol=1e-5),
    Fineness(step_s=2e-6, reltol=1e-4, abstol=1e-6, vntol=1e-4),
)
"""How finely the charging pulse is computed, and what is tried when the engine does not get through. It
needs more than a steady lamp: with 20 us and 1e-4 its peak reads up to 1 % high."""
SEARCH = (
    Fineness(step_s=50e-6, reltol=3e-4, abstol=1e-7, vntol=1e-4),
    Fineness(step_s=20e-6, reltol=1e-3, abstol=1e-6, vntol=1e-3),
)
"""Fineness of the search for the worst angle, and of the longer run."""
COARSE_DEG = (45.0, 70.0, 90.0, 110.0, 135.0)
PARABOLAS = 2
INRUSH_WINDOW_CYCLES = 0.5
"""The charging pulse is over, and the sine has passed its peak, within half a cycle."""
LONG_RUN_CYCLES = 3.0
FIRST_LIGHT_RATIO = 0.1
"""Light counts as there when the string carries this share of its set current."""


def switch_on_deck(case: Case, angle_deg: float, stop_s: float, fineness: Fineness = PULSE[0]) -> Deck:
    """Deck that closes the switch on an empty lamp at an angle of the mains."""
    state = case.exposure.state(angle_deg)
    return render(
        "switch-on",
        case.heading(f"closed at {angle_deg:.1f} deg"),
        circuit(case.lamp, state),
        keep=lamp_vectors(case.lamp),
        stop_s=stop_s,
        fineness=fineness,
    )


def take(case: Case, lab: Lab) -> Findings:
    """Inrush at the worst closing angle, and what follows it."""
    state = case.exposure.state()
    angle_deg = worst_angle_deg(case, lab, state)
    deck, waves, road = run_down(case, lab, angle_deg, INRUSH_WINDOW_CYCLES * state.cycle_s, PULSE)
    long_deck, long_waves, long_road = run_down(case, lab, angle_deg, LONG_RUN_CYCLES * state.cycle_s, SEARCH)
    pulse = Window(case.lamp, waves, 0.0, deck.stop_s)
    whole = Window(case.lamp, long_waves, 0.0, long_deck.stop_s)
    lamp, time_s = case.lamp, pulse.time_s
    line_i2t = surges.i2t_a2s(time_s, pulse.line_fusing_a)
    neutral_i2t = surges.i2t_a2s(time_s, pulse.neutral_fusing_a)
    light_level_a = FIRST_LIGHT_RATIO * lamp.sinks.set_current_a
    readings: dict[str, float | str] = {
        **pulse_readings(pulse, "inrush"),
        "inrush_peak_A": float(np.abs(pulse.input_a).max()),
        "inrush_i2t_A2s": surges.i2t_a2s(time_s, pulse.input_a),
        "inrush_phase_deg": angle_deg,
        "bus_peak_V": float(max(pulse.v("bus").max(), whole.v("bus").max())),
        "first_light_ms": 1e3 * light.first_light_s(whole.time_s, whole.string_a, light_level_a),
        "inrush_string_peak_A": float(max(pulse.string_a.max(), whole.string_a.max())),
        "inrush_sink_peak_A": float(max(pulse.sinks_a.max(), whole.sinks_a.max())),
        "inrush_drain_peak_V": float(max(pulse.v("drain").max(), whole.v("drain").max())),
    }
    if lamp.line_fusing:
        readings["inrush_line_fusing_i2t_A2s"] = line_i2t
    if lamp.neutral_fusing:
        readings["inrush_neutral_fusing_i2t_A2s"] = neutral_i2t
    readings |= weakest_readings(lamp, readings, "inrush_")
    return Findings(
        readings,
        {"first light": long_deck, "switch-on": deck},
        {"first light": long_waves, "switch-on": waves},
        {"first light": long_road, "switch-on": road},
    )


def run_down(
    case: Case, lab: Lab, angle_deg: float, stop_s: float, ladder: Sequence[Fineness]
) -> tuple[Deck, Waves, str]:
    """Run from rest as finely as the engine gets through; the last part says what was tried.

    Raises
    ------
    NoConvergence
        If it gets through with none.
    """
    tried = ""
    for fineness in ladder:
        deck = switch_on_deck(case, angle_deg, stop_s, fineness)
        try:
            return deck, lab.run(deck), f"from rest, {fineness}{tried}"
        except NoConvergence as failure:
            why, tried = failure, f"{tried}, after {fineness} {GAVE_UP}"
    raise why


def worst_angle_deg(case: Case, lab: Lab, state: State) -> float:
    """Closing angle of the largest inrush within a half wave [deg]."""

    def peak_a(angle_deg: float) -> float:
        to_sine_peak_s = max(0.0, 90.0 - angle_deg) / 360.0 * state.cycle_s
        _, waves, _ = run_down(case, lab, angle_deg, to_sine_peak_s + 0.1 * state.cycle_s, SEARCH)
        return float(np.abs(waves.i("vinput")).max())

    peaks_a = {angle: peak_a(angle) for angle in COARSE_DEG}
    for _ in range(PARABOLAS):
        top_deg = parabola_top(peaks_a)
        if top_deg is None:
            break
        peaks_a[top_deg] = peak_a(top_deg)
    return max(peaks_a, key=lambda angle: peaks_a[angle])


def parabola_top(values: Mapping[float, float]) -> float | None:
    """Place of the top of the parabola through the largest of some values and its neighbours.

    None where the largest has no neighbour on one side, or the top is no new place.

    Examples
    --------
    >>> parabola_top({0.0: 0.0, 1.0: 3.0, 3.0: 3.0})
    2.0
    """
    places = sorted(values)
    n = max(range(len(places)), key=lambda k: values[places[k]])
    if not 0 < n < len(places) - 1:
        return None
    left, middle, right = places[n - 1 : n + 2]
    fall, rise = values[middle] - values[right], values[middle] - values[left]
    before, after = middle - left, right - middle
    curve = fall * before + rise * after
    if curve <= 0.0:
        return None
    top = middle + 0.5 * (rise * after**2 - fall * before**2) / curve
    return top if min(top - left, right - top, abs(top - middle)) > 0.1 else None
