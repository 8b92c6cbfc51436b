"""Switch-on: a cold, empty lamp is connected at the worst angle of the mains.

The angle is searched, not assumed: a coarse sweep over a half wave (the lamp cannot tell the halves apart),
then golden-section steps around the worst. The run at the worst angle goes on for some cycles for the slower
readings.
"""

from __future__ import annotations

import math

import numpy as np

from coldiron.benches.base import Case, Findings, Lab, lamp_vectors
from coldiron.benches.cycle import Window
from coldiron.benches.pulses import pulse_readings
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import State, circuit
from coldiron.deck.deck import Deck, Fineness
from coldiron.deck.render import render
from coldiron.readings import light, surges

FINENESS = Fineness(step_s=5e-6, reltol=1e-5)
"""Finer than a steady lamp needs: with 20 us and 1e-4 the peak of a charging pulse reads up to 0.7 % high,
and that of a lamp without any bus capacitor 11 % low."""
COARSE_DEG = (0.0, 30.0, 55.0, 75.0, 90.0, 110.0, 140.0)
ANGLE_RESOLUTION_DEG = 3.0
INRUSH_WINDOW_CYCLES = 0.5
"""The charging pulse is over, and the sine has passed its peak, within half a cycle."""
LONG_RUN_CYCLES = 3.0
FIRST_LIGHT_RATIO = 0.1
"""Light counts as there when the string carries this share of its set current."""
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


def switch_on_deck(case: Case, angle_deg: float, stop_s: float) -> Deck:
    """Deck that closes the switch on an empty lamp at an angle of the mains."""
    state = case.exposure.state(angle_deg)
    return render(
        "switch-on",
        case.heading(f"closed at {angle_deg:.1f} deg"),
        circuit(case.lamp, state),
        keep=lamp_vectors(case.lamp),
        stop_s=stop_s,
        fineness=FINENESS,
    )


def take(case: Case, lab: Lab) -> Findings:
    """Inrush at the worst closing angle, and what follows it."""
    state = case.exposure.state()
    angle_deg = worst_angle_deg(case, lab, state)
    deck = switch_on_deck(case, angle_deg, LONG_RUN_CYCLES * state.cycle_s)
    waves = lab.run(deck)
    pulse = Window(case.lamp, waves, 0.0, INRUSH_WINDOW_CYCLES * state.cycle_s)
    whole = Window(case.lamp, waves, 0.0, deck.stop_s)
    lamp, time_s = case.lamp, pulse.time_s
    line_i2t = surges.i2t_a2s(time_s, pulse.line_fusing_a)
    neutral_i2t = surges.i2t_a2s(time_s, pulse.neutral_fusing_a)
    light_level_a = FIRST_LIGHT_RATIO * lamp.sinks.set_current_a
    readings: dict[str, float | str] = {
        **pulse_readings(pulse, "inrush"),
        "inrush_peak_A": float(np.abs(pulse.input_a).max()),
        "inrush_i2t_A2s": surges.i2t_a2s(time_s, pulse.input_a),
        "inrush_phase_deg": angle_deg,
        "bus_peak_V": float(whole.v("bus").max()),
        "first_light_ms": 1e3 * light.first_light_s(whole.time_s, whole.string_a, light_level_a),
        "inrush_string_peak_A": float(whole.string_a.max()),
        "inrush_sink_peak_A": float(whole.sinks_a.max()),
        "inrush_drain_peak_V": float(whole.v("drain").max()),
    }
    if lamp.line_fusing:
        readings["inrush_line_fusing_i2t_A2s"] = line_i2t
    if lamp.neutral_fusing:
        readings["inrush_neutral_fusing_i2t_A2s"] = neutral_i2t
    readings |= weakest_readings(lamp, readings, "inrush_")
    return Findings(readings, {"switch-on": deck}, {"switch-on": waves})


def worst_angle_deg(case: Case, lab: Lab, state: State) -> float:
    """Closing angle of the largest inrush within a half wave [deg]."""

    def peak_a(angle_deg: float) -> float:
        to_sine_peak_s = max(0.0, 90.0 - angle_deg) / 360.0 * state.cycle_s
        deck = switch_on_deck(case, angle_deg, to_sine_peak_s + 0.1 * state.cycle_s)
        return float(np.abs(lab.run(deck).i("vinput")).max())

    peaks_a = [peak_a(angle) for angle in COARSE_DEG]
    worst = int(np.argmax(peaks_a))
    low = COARSE_DEG[max(worst - 1, 0)]
    high = COARSE_DEG[min(worst + 1, len(COARSE_DEG) - 1)]
    inner = [high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)]
    inner_a = [peak_a(angle) for angle in inner]
    while high - low > 2 * ANGLE_RESOLUTION_DEG:
        if inner_a[0] >= inner_a[1]:
            high, inner = inner[1], [inner[1] - _GOLDEN * (inner[1] - low), inner[0]]
            inner_a = [peak_a(inner[0]), inner_a[0]]
        else:
            low, inner = inner[0], [inner[1], inner[0] + _GOLDEN * (high - inner[0])]
            inner_a = [inner_a[1], peak_a(inner[1])]
    candidates = [(peaks_a[worst], COARSE_DEG[worst]), *zip(inner_a, inner, strict=True)]
    return max(candidates)[1]
