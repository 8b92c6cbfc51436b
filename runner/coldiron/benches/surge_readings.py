"""Readings of a set of surges: the worst over angles and polarities, and the part nearest to its rating."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.deck.deck import Deck
from coldiron.engine.waves import Waves
from coldiron.lamp.lamp import Lamp
from coldiron.readings import surges


@dataclass(frozen=True)
class SurgeRun:
    """One surge: where on the sine, which polarity, the deck and what it gave."""

    angle_deg: float
    polarity: int
    deck: Deck
    waves: Waves


def surge_readings(
    lamp: Lamp, runs: list[SurgeRun], window_s: float
) -> tuple[dict[str, float | str], SurgeRun]:
    """Worst readings over all surges, and the surge that the worst single sink saw most of.

    Returns
    -------
    dict
        Readings by id; `surge_worst_deg` and `surge_worst_polarity` belong to `surge_sink_peak_A`.
    SurgeRun
        The run of the largest sink current (of the largest drain voltage where currents are alike).
    """
    each = [_one(lamp, Window(lamp, run.waves, 0.0, window_s)) for run in runs]
    worst = max(
        range(len(runs)),
        key=lambda n: (round(each[n]["surge_sink_peak_A"], 4), each[n]["surge_drain_peak_V"]),
    )
    readings: dict[str, float | str] = {name: max(one[name] for one in each) for name in each[0]}
    readings["surge_worst_deg"] = runs[worst].angle_deg
    readings["surge_worst_polarity"] = float(runs[worst].polarity)
    part, margin_pct = weakest(surge_stress(lamp, readings))
    readings["weakest_part"] = part
    readings["weakest_margin_pct"] = margin_pct
    return readings, runs[worst]


def _one(lamp: Lamp, window: Window) -> dict[str, float]:
    time_s, sinks_a, drain_v = window.time_s, window.sinks_a, window.v("drain")
    highest = int(np.argmax(sinks_a.max(axis=1)))
    readings = {
        "surge_sink_peak_A": float(sinks_a.max()),
        "surge_sinks_peak_A": float(sinks_a.sum(axis=0).max()),
        "surge_sink_energy_mJ": 1e3 * surges.energy_j(time_s, drain_v, sinks_a[highest]),
        "surge_drain_peak_V": float(drain_v.max()),
        "surge_bus_peak_V": float(window.v("bus").max()),
        "surge_string_peak_A": float(window.string_a.max()),
        "surge_lamp_peak_V": float(np.abs(window.mains_v).max()),
        "surge_input_peak_A": float(np.abs(window.input_a).max()),
        "surge_bridge_i2t_A2s": surges.i2t_a2s(time_s, window.bridge_out_a),
        "surge_bridge_peak_A": float(np.abs(window.bridge_out_a).max()),
        "surge_varistor_peak_A": float(np.abs(window.varistor_a).max()),
        "surge_varistor_energy_J": surges.energy_j(time_s, window.varistor_v, window.varistor_a),
        "surge_fusing_i2t_A2s": max(
            surges.i2t_a2s(time_s, window.line_fusing_a), surges.i2t_a2s(time_s, window.neutral_fusing_a)
        ),
    }
    if lamp.line_fusing:
        line_j = surges.i2t_a2s(time_s, window.line_fusing_a) * lamp.line_fusing.resistance_ohm
        readings["surge_line_fusing_J"] = line_j
    if lamp.neutral_fusing:
        neutral_j = surges.i2t_a2s(time_s, window.neutral_fusing_a) * lamp.neutral_fusing.resistance_ohm
        readings["surge_neutral_fusing_J"] = neutral_j
    return readings


def surge_stress(lamp: Lamp, readings: dict[str, float | str]) -> dict[str, tuple[float, float]]:
    """What each rated part saw and what it is rated for, by part and kind of stress."""

    def seen(name: str) -> float:
        return float(readings[name])

    stress = {
        "sinks, drain voltage": (seen("surge_drain_peak_V"), lamp.sinks.breakdown_v),
        "sinks, energy": (seen("surge_sink_energy_mJ") / 1e3, lamp.sinks.avalanche_energy_j),
        "sinks, peak current": (seen("surge_sink_peak_A"), lamp.sinks.peak_current_a),
        "string, pulse current": (seen("surge_string_peak_A"), lamp.string.pulse_limit_a),
        "bridge, surge current": (seen("surge_bridge_peak_A"), lamp.bridge.surge_current_a),
        "bridge, I²t": (seen("surge_bridge_i2t_A2s"), lamp.bridge.i2t_limit_a2s),
        "bridge, reverse voltage": (seen("surge_bus_peak_V"), lamp.bridge.reverse_voltage_v),
    }
    if lamp.varistor:
        stress["varistor, energy"] = (seen("surge_varistor_energy_J"), lamp.varistor.energy_j)
        stress["varistor, peak current"] = (seen("surge_varistor_peak_A"), lamp.varistor.peak_current_a)
    if lamp.line_fusing:
        stress["line fusing, pulse energy"] = (seen("surge_line_fusing_J"), lamp.line_fusing.pulse_limit_j)
    if lamp.neutral_fusing:
        stress["neutral fusing, pulse energy"] = (
            seen("surge_neutral_fusing_J"),
            lamp.neutral_fusing.pulse_limit_j,
        )
    if lamp.reservoir:
        stress["reservoir, voltage"] = (seen("surge_bus_peak_V"), lamp.reservoir.voltage_v)
    if lamp.film:
        stress["film, voltage"] = (seen("surge_bus_peak_V"), 1.5 * lamp.film.voltage_v)
    return stress


def weakest(stress: dict[str, tuple[float, float]]) -> tuple[str, float]:
    """Part with the least margin and that margin, 100 · (rated − seen) / rated [%].

    Examples
    --------
    >>> weakest({"bridge": (10.0, 30.0), "sinks": (540.0, 500.0)})
    ('sinks', -8.0)
    """
    margins = {part: 100.0 * (rated - seen) / rated for part, (seen, rated) in stress.items()}
    part = min(margins, key=lambda name: margins[name])
    return part, margins[part]
