"""Readings of a disturbance: what a surge, a burst, an inrush or a returning mains does to each part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Array
from coldiron.readings import surges


def pulse_readings(window: Window, prefix: str) -> dict[str, float | str]:
    """Peaks, energies and I²t of every part over a window, each reading's id beginning with a prefix.

    The excess of a sink is the energy of the current above its set current: what avalanche or a loop that
    lags behind leaves in the chip, without the watts of normal work.

    Parameters
    ----------
    window : Window
        The disturbance and what follows from it.
    prefix : str
        First word of the ids, such as "surge".

    Returns
    -------
    dict
        Readings by id; the sinks' are those of the worst single sink unless they say "sinks".
    """
    lamp, time_s = window.lamp, window.time_s
    sinks_a, drain_v, bridge_a = window.sinks_a, window.v("drain"), np.abs(window.bridge_out_a)
    normal_a = (1 + lamp.sinks.spread_ratio) * lamp.sinks.each_a + (lamp.sinks.supply_current_a or 0.0)
    excess_a = np.maximum(sinks_a - normal_a, 0.0)
    line_i2t = surges.i2t_a2s(time_s, window.line_fusing_a)
    neutral_i2t = surges.i2t_a2s(time_s, window.neutral_fusing_a)
    readings: dict[str, float | str] = {
        "sink_peak_A": float(sinks_a.max()),
        "sinks_peak_A": float(sinks_a.sum(axis=0).max()),
        "sink_energy_mJ": 1e3 * max(surges.energy_j(time_s, drain_v, row) for row in sinks_a),
        "sink_excess_mJ": 1e3 * max(surges.energy_j(time_s, drain_v, row) for row in excess_a),
        "drain_peak_V": float(drain_v.max()),
        "bus_peak_V": float(window.v("bus").max()),
        "reservoir_peak_V": float(window.reservoir_v.max()),
        "string_peak_A": float(window.string_a.max()),
        "string_pulse_us": 1e6 * pulse_width_s(time_s, window.string_a - lamp.sinks.set_current_a),
        "lamp_peak_V": float(np.abs(window.mains_v).max()),
        "input_peak_A": float(np.abs(window.input_a).max()),
        "bridge_peak_A": float(bridge_a.max()),
        "bridge_pulse_us": 1e6 * pulse_width_s(time_s, bridge_a - lamp.sinks.set_current_a),
        "bridge_i2t_A2s": surges.i2t_a2s(time_s, bridge_a),
        "varistor_peak_A": float(np.abs(window.varistor_a).max()),
        "varistor_energy_J": surges.energy_j(time_s, window.varistor_v, window.varistor_a),
        "fusing_i2t_A2s": max(line_i2t, neutral_i2t),
    }
    if lamp.line_fusing:
        readings["line_fusing_J"] = line_i2t * lamp.line_fusing.resistance_ohm
    if lamp.neutral_fusing:
        readings["neutral_fusing_J"] = neutral_i2t * lamp.neutral_fusing.resistance_ohm
    return {f"{prefix}_{name}": value for name, value in readings.items()}


def worst_of(each: Sequence[Mapping[str, float | str]], prefix: str) -> tuple[dict[str, float | str], int]:
    """Largest value of each reading over several disturbances, and which of them was worst for a single sink.

    Where the sinks' currents are alike the drain voltage decides.
    """

    def sink_saw(number: int) -> tuple[float, float]:
        one = each[number]
        return round(float(one[f"{prefix}_sink_peak_A"]), 4), float(one[f"{prefix}_drain_peak_V"])

    worst = max(range(len(each)), key=sink_saw)
    return {name: max(float(one[name]) for one in each) for name in each[0]}, worst


def pulse_width_s(time_s: Array, current_a: Array) -> float:
    """Width of the rectangle with a pulse's charge and peak [s], 0 where the current is never above zero.

    Parameters
    ----------
    time_s, current_a : (n,) array
        Instants [s] and current [A]; what is below zero does not count.

    Examples
    --------
    >>> pulse_width_s(np.array([0.0, 1.0, 2.0]), np.array([0.0, 3.0, 0.0]))
    1.0
    """
    above_a = np.maximum(current_a, 0.0)
    peak_a = float(above_a.max())
    return float(np.trapezoid(above_a, time_s)) / peak_a if peak_a > 0.0 else 0.0
