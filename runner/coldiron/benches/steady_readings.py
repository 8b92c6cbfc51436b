"""Readings of one settled mains cycle."""

from __future__ import annotations

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.benches.settling import Settled
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import State
from coldiron.lamp.lamp import Lamp
from coldiron.readings import flicker, harmonics, light, power, pst, sampling

HIGHEST_HARMONIC = 39
LED_HELD_S = 1e-3
"""What is held this long counts as continuous to an LED: ten times the pulse that a catalogue rates. Shorter
is the time in which the loop of a sink catches up as the string begins to conduct."""
CONDUCTING_SHARE = 0.9
"""The headroom of a sink is read while the string carries at least this share of its set current."""


def steady_readings(lamp: Lamp, state: State, run: Settled) -> dict[str, float | str]:
    """All steady readings of a settled run, by id."""
    cycle = Window(lamp, run.waves, run.start_s, run.stop_s)
    readings = {
        **_input(cycle),
        **_bus_and_light(cycle, state),
        **dissipation(cycle),
        "settled_cycles": float(run.cycles),
    }
    return {**readings, **weakest_readings(lamp, readings, state.frequency_hz, "steady_")}


def _input(cycle: Window) -> dict[str, float | str]:
    time_s, mains_v, input_a = cycle.time_s, cycle.mains_v, cycle.input_a
    currents = harmonics.phasors(time_s, input_a)
    voltages = harmonics.phasors(time_s, mains_v)
    ratios = harmonics.harmonic_ratios(currents)
    angles = harmonics.conduction_angles(time_s, mains_v, input_a)
    readings: dict[str, float | str] = {
        "input_power_W": power.active_power_w(time_s, mains_v, input_a),
        "input_current_A": sampling.rms(time_s, input_a),
        "input_voltage_V": sampling.rms(time_s, mains_v),
        "power_factor": power.power_factor(time_s, mains_v, input_a),
        "displacement_factor": power.displacement_factor(complex(voltages[1]), complex(currents[1])),
        "fundamental_current_A": abs(complex(currents[1])) / np.sqrt(2.0),
        "current_thd_pct": 100 * harmonics.thd_ratio(currents),
        "conduction_start_deg": angles.start_deg,
        "conduction_peak_deg": angles.last_peak_deg,
        "conduction_stop_deg": angles.stop_deg,
    }
    for order in range(2, HIGHEST_HARMONIC + 1):
        readings[f"harmonic_{order}_pct"] = 100 * float(ratios[order])
    return readings


def _bus_and_light(cycle: Window, state: State) -> dict[str, float | str]:
    lamp, time_s = cycle.lamp, cycle.time_s
    bus_v, string_a = cycle.v("bus"), cycle.string_a
    seen = light.relative_light(string_a, state.string_c, lamp.string.light_tempco_per_k)
    drain_v, sense_v = cycle.v("drain"), cycle.v("sense1")
    set_a = lamp.sinks.set_current_a * lamp.sinks.foldback_ratio(state.die_c)
    allowed_a = set_a / np.maximum(1.0, drain_v / lamp.sinks.foldback_drain_v(state.die_c))
    conducting = string_a >= CONDUCTING_SHARE * allowed_a
    headroom_v = (drain_v - sense_v)[conducting]
    return {
        "bus_mean_V": cycle.mean(bus_v),
        "bus_ripple_V": sampling.peak_to_peak(bus_v),
        "bus_highest_V": float(bus_v.max()),
        "drain_highest_V": float(drain_v.max()),
        "bridge_mean_A": cycle.mean(cycle.bridge_out_a),
        "led_current_A": cycle.mean(string_a),
        "led_peak_A": float(string_a.max()),
        "led_held_A": sampling.held_for(time_s, string_a, LED_HELD_S),
        "led_ripple_pct": 100 * sampling.peak_to_peak(string_a) / (2 * cycle.mean(string_a)),
        "light_A": cycle.mean(seen),
        "flicker_pct": flicker.flicker_pct(seen),
        "flicker_index": flicker.flicker_index(time_s, seen),
        "svm": flicker.svm(time_s, seen),
        "pst_lm": pst.pst_lm_periodic(time_s, seen),
        "sink_headroom_V": float(headroom_v.min()) if headroom_v.size else 0.0,
        "reservoir_highest_V": float(cycle.reservoir_v.max()),
        "reservoir_ripple_A": cycle.rms(cycle.reservoir_a),
    }


def dissipation(cycle: Window) -> dict[str, float | str]:
    """Where the watts go over a whole cycle [W], and how well they add up to the input [%]."""
    lamp = cycle.lamp
    drain_v, bus_v, string_a = cycle.v("drain"), cycle.v("bus"), cycle.string_a
    each_w = [cycle.watts(drain_v, row) for row in cycle.sinks_a]
    parts = {
        "string_W": cycle.watts(bus_v - drain_v, string_a),
        "sinks_W": float(sum(each_w)),
        "line_fusing_W": cycle.watts(cycle.v("line", "line_f"), cycle.line_fusing_a)
        if lamp.line_fusing
        else 0.0,
        "neutral_fusing_W": (
            cycle.watts(cycle.v("neutral_f", "neutral"), cycle.neutral_fusing_a)
            if lamp.neutral_fusing
            else 0.0
        ),
        "bridge_W": cycle.watts(cycle.bridge_in_v, cycle.bridge_in_a)
        - cycle.watts(bus_v, cycle.bridge_out_a),
        "bleed_W": cycle.watts(bus_v, bus_v) / lamp.bleed.resistance_ohm if lamp.bleed else 0.0,
        "reservoir_W": cycle.watts(bus_v - cycle.reservoir_v, cycle.reservoir_a),
        "varistor_W": cycle.watts(cycle.varistor_v, cycle.varistor_a),
    }
    input_w = cycle.watts(cycle.mains_v, cycle.input_a)
    return {
        **parts,
        "fusing_W": parts["line_fusing_W"] + parts["neutral_fusing_W"],
        "sink_worst_W": max(each_w),
        "power_balance_pct": 100 * (input_w - sum(parts.values())) / input_w,
    }
