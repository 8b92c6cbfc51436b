"""Readings of one settled mains cycle."""

from __future__ import annotations

import math

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.benches.settling import Settled
from coldiron.benches.stress import weakest_readings
from coldiron.deck.circuit import OperatingPoint
from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import EARTHED, MINUS
from coldiron.parts.roles import Opens, Rectifies, Stores
from coldiron.readings import flicker, harmonics, light, power, pst, sampling

HIGHEST_HARMONIC = 39
LED_HELD_S = 1e-3
"""What is held this long counts as continuous to an LED: ten times the pulse that a catalogue rates. Shorter
is the time in which the loop of a sink catches up as the string begins to conduct."""
CONDUCTING_SHARE = 0.9
"""The headroom of a sink is read while the string carries at least this share of its set current."""


def steady_readings(lamp: Lamp, state: OperatingPoint, run: Settled) -> dict[str, float | str]:
    """All steady readings of a settled run, by id."""
    cycle = Window(lamp, run.waves, run.start_s, run.stop_s, state.part_conditions())
    readings = {
        **_input(cycle),
        **_bus_and_light(cycle, state),
        **lamp.zeros(lamp.settled_absent),
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


def _bus_and_light(cycle: Window, state: OperatingPoint) -> dict[str, float | str]:
    time_s, bus_v, string_a = cycle.time_s, cycle.v("bus"), cycle.string_a
    seen = _light_a(cycle, state)
    return {
        "bus_mean_V": cycle.mean(bus_v),
        **_other_points(cycle),
        "bus_ripple_V": sampling.peak_to_peak(bus_v),
        "bus_highest_V": float(bus_v.max()),
        **_sinks(cycle, state),
        **{
            f"{part.name}_mean_A": cycle.mean(part.out_a(cycle))
            for part in cycle.lamp.circuit.having(Rectifies)
        },
        "led_current_A": cycle.mean(string_a),
        "led_peak_A": float(cycle.strings_a.max()),
        "led_held_A": max(sampling.held_for(time_s, row, LED_HELD_S) for row in cycle.strings_a),
        "led_ripple_pct": _ripple_pct(cycle, string_a),
        "light_A": cycle.mean(seen),
        "flicker_pct": flicker.flicker_pct(seen),
        "flicker_index": flicker.flicker_index(time_s, seen),
        "flicker_mains_pct": flicker.mains_flicker_pct(time_s, seen),
        "svm": flicker.svm(time_s, seen),
        "pst_lm": pst.pst_lm_periodic(time_s, seen),
        **_capacitors(cycle),
        **{
            f"{part.name}_{name}": value
            for part in cycle.lamp.circuit
            if part.works
            for name, value in part.settled_readings(cycle).items()
        },
    }


def _other_points(cycle: Window) -> dict[str, float | str]:
    """Mean voltage of every other point behind the rectifier, as a meter on its d.c. range shows it [V]."""
    outside = {*cycle.lamp.circuit.mains_rails, *EARTHED, MINUS, "bus"}
    inside = (point for point in cycle.lamp.circuit.points if point not in outside)
    return {f"{point}_mean_V": cycle.mean(cycle.v(point)) for point in inside}


def _ripple_pct(cycle: Window, string_a: np.ndarray) -> float:
    """Half of what the current swings, of its mean [%]; nan where no current flows."""
    mean_a = cycle.mean(string_a)
    return 100 * sampling.peak_to_peak(string_a) / (2 * mean_a) if mean_a else math.nan


def _light_a(cycle: Window, state: OperatingPoint) -> np.ndarray:
    """Light of all LEDs as the current that would give it cold [A], those in series weighed alike."""
    if not cycle.strings:
        return cycle.nothing
    weights = np.array([string.leds for string in cycle.strings], dtype=float)
    rows = [
        light.relative_light(row, state.string_c, string.light_tempco_per_k)
        for string, row in zip(cycle.strings, cycle.strings_a, strict=True)
    ]
    return np.asarray(weights @ np.stack(rows) / weights.sum())


def _sinks(cycle: Window, state: OperatingPoint) -> dict[str, float | str]:
    """What the regulators see; nothing where nothing regulates."""
    if not cycle.regulators:
        return {}
    headrooms_v = []
    for sink in cycle.regulators:
        conducting = sink.current_a(cycle) >= CONDUCTING_SHARE * sink.allowed_a(cycle, state.die_c)
        headrooms_v += [float(sink.headroom_v(cycle)[conducting].min())] if conducting.any() else []
    return {
        "drain_highest_V": float(cycle.drains_v.max()),
        "sink_headroom_V": min(headrooms_v, default=0.0),
    }


def _capacitors(cycle: Window) -> dict[str, float | str]:
    """Voltage across the dielectric, and ripple, of each capacitor with losses."""
    readings: dict[str, float | str] = {}
    for part in cycle.lamp.circuit.having(Stores):
        if part.hidden or (part.lossless and part.lies_across_the_bus):
            continue
        readings[f"{part.name}_highest_V"] = float(np.abs(part.dielectric_v(cycle)).max())
        if not part.lossless:
            readings[f"{part.name}_ripple_A"] = cycle.rms(part.current_a(cycle))
    return readings


def dissipation(cycle: Window) -> dict[str, float | str]:
    """Where the watts go over a whole cycle [W], and how well they add up to the input [%].

    What is stored at the end and was not at the beginning counts as power too: a capacitor that has not quite
    settled takes it.
    """
    circuit = cycle.lamp.circuit
    taken_w: dict[str, float] = {}
    stored_w = 0.0
    for part in circuit:
        if not part.works:
            taken_w[f"{part.name}_W"] = part.broken_w(cycle)
        elif not part.lossless:
            taken_w[f"{part.name}_W"] = part.dissipated_w(cycle)
        if part.works:
            energy_j = part.energy_j(cycle)
            stored_w += float(energy_j[-1] - energy_j[0]) / float(np.ptp(cycle.time_s))
    each_w = [watts for sink in cycle.regulators for watts in sink.each_w(cycle)]
    input_w = cycle.watts(cycle.mains_v, cycle.input_a)
    readings: dict[str, float | str] = {
        **taken_w,
        "fusing_W": sum(taken_w[f"{part.name}_W"] for part in circuit.having(Opens)),
        "power_balance_pct": 100 * (input_w - sum(taken_w.values()) - stored_w) / input_w,
    }
    return readings | ({"sink_worst_W": max(each_w)} if each_w else {})
