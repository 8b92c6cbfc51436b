"""Readings of a disturbance: what a surge, a burst, an inrush or a returning mains does to each part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Array
from coldiron.parts.roles import Clamps, Opens, Rectifies, Resists, Stores
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
    circuit, time_s = window.lamp.circuit, window.time_s
    readings: dict[str, float | str] = {
        **_sinks(window),
        "bus_peak_V": float(window.v("bus").max()),
        "lamp_peak_V": float(np.abs(window.mains_v).max()),
        "input_peak_A": float(np.abs(window.input_a).max()),
        **window.lamp.zeros(window.lamp.pulse_absent),
    }
    for capacitor in circuit.having(Stores):
        if not capacitor.hidden and not (capacitor.lossless and capacitor.lies_across_the_bus):
            readings[f"{capacitor.name}_peak_V"] = float(np.abs(capacitor.dielectric_v(window)).max())
    for string in (light for light in circuit.lights if not light.hidden):
        current_a = string.current_a(window)
        readings[f"{string.name}_peak_A"] = float(current_a.max())
        readings[f"{string.name}_pulse_us"] = 1e6 * pulse_width_s(time_s, current_a - window.lamp.lit_a)
    for rectifier in circuit.having(Rectifies):
        current_a = np.abs(rectifier.out_a(window))
        readings[f"{rectifier.name}_peak_A"] = float(current_a.max())
        readings[f"{rectifier.name}_pulse_us"] = 1e6 * pulse_width_s(time_s, current_a - window.lamp.lit_a)
        readings[f"{rectifier.name}_i2t_A2s"] = surges.i2t_a2s(time_s, current_a)
    for clamp in circuit.having(Clamps):
        current_a = clamp.current_a(window)
        readings[f"{clamp.name}_peak_A"] = float(np.abs(current_a).max())
        readings[f"{clamp.name}_energy_J"] = surges.energy_j(time_s, clamp.across_v(window), current_a)
    integrals = {
        part.name: surges.i2t_a2s(time_s, part.current_a(window)) for part in circuit.carrying_mains()
    }
    readings["fusing_i2t_A2s"] = max(
        (integrals[part.name] for part in circuit.having(Opens) if part.name in integrals), default=0.0
    )
    for leg in circuit.having(Resists):
        if leg.name in integrals:
            readings[f"{leg.name}_J"] = surges.energy_j(time_s, leg.across_v(window), leg.current_a(window))
    for part in circuit:
        if part.works:
            own = part.pulse_readings(window)
            readings |= {f"{part.name}_{name}": value for name, value in own.items()}
    return {f"{prefix}_{name}": value for name, value in readings.items()}


def _sinks(window: Window) -> dict[str, float | str]:
    """Readings of the regulators; nothing where nothing regulates."""
    if not window.regulators:
        return {}
    time_s, sinks_a, drains_v = window.time_s, window.sinks_a, window.drains_v
    held_a = np.repeat([sink.held_a for sink in window.regulators], [s.count for s in window.regulators])
    excess_a = np.maximum(sinks_a - held_a[:, None], 0.0)

    def most_mj(currents_a: Array) -> float:
        pairs = zip(drains_v, currents_a, strict=True)
        return 1e3 * max(surges.energy_j(time_s, volt, row) for volt, row in pairs)

    return {
        "sink_peak_A": float(sinks_a.max()),
        "sinks_peak_A": float(sinks_a.sum(axis=0).max()),
        "sink_energy_mJ": most_mj(sinks_a),
        "sink_excess_mJ": most_mj(excess_a),
        "drain_peak_V": float(drains_v.max()),
    }


def worst_of(each: Sequence[Mapping[str, float | str]], prefix: str) -> tuple[dict[str, float | str], int]:
    """Largest value of each reading over several disturbances, and which of them was worst for a single sink.

    Where the sinks' currents are alike the drain voltage decides; without a sink, the input current.
    """

    def sink_saw(number: int) -> tuple[float, float]:
        one = each[number]
        if f"{prefix}_sink_peak_A" not in one:
            return float(one[f"{prefix}_input_peak_A"]), float(one[f"{prefix}_bus_peak_V"])
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
