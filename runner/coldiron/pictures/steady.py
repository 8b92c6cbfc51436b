"""Steady: bus voltage, LED current and what the sinks dissipate, over two mains cycles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Array, Waves
from coldiron.pictures.ink import Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, draw, words
from coldiron.readings import sampling

CYCLES = 2


def repeated_cycle(lay: Lay, vectors: Mapping[str, Array]) -> tuple[Array, dict[str, Array]]:
    """Last whole mains cycle of a settled run, set side by side to the cycles shown.

    Returns
    -------
    time_s : array
        From 0 [s].
    vectors : dict
        The same vectors over that time.
    """
    time_s = lay.waves["steady"]["time"]
    cycle_s = 1.0 / lay.case.exposure.frequency_hz
    stop_s = float(time_s[-1])
    one_s, rows = sampling.cut(time_s, np.stack(list(vectors.values())), stop_s - cycle_s, stop_s)
    one_s = one_s - one_s[0]
    whole_s = np.concatenate([one_s + turn * cycle_s for turn in range(CYCLES)])
    return whole_s, {name: np.tile(row, CYCLES) for name, row in zip(vectors, rows, strict=True)}


def sinks_w(lay: Lay) -> Array:
    """Power into all sinks and their sense resistors at each moment [W]."""
    vectors = lay.waves["steady"]
    waves = Waves(vectors["time"], {name: row for name, row in vectors.items() if name != "time"})
    window = Window(lay.case.lamp, waves, float(waves.time_s[0]), float(waves.time_s[-1]))
    return np.asarray((window.sinks_a * window.drains_v).sum(axis=0))


def steady(lays: Sequence[Lay], *, legend: bool = True) -> Picture:
    """Draw bus voltage, LED current and sink dissipation over two settled mains cycles."""
    labels = ["bus [V]", "LED current [mA]", "all sinks [W]"]
    with drawing(6.4, 5.4) as figure:
        bus, current, power = grid_axes(figure, labels, "time from a rising zero crossing of the mains [ms]")
        for lay in lays:
            waves = lay.waves["steady"]
            time_s, drawn = repeated_cycle(
                lay, {"bus": waves["v(bus)"], "led": waves["i(vstring)"], "sinks": sinks_w(lay)}
            )
            draw(bus, lay, 1e3 * time_s, drawn["bus"])
            draw(current, lay, 1e3 * time_s, 1e3 * drawn["led"])
            draw(power, lay, 1e3 * time_s, drawn["sinks"])
        for axes in (bus, current, power):
            axes.set_ylim(bottom=0.0)
        if legend:
            figure.legend(*bus.get_legend_handles_labels(), loc="outside upper left", ncols=3)
        svg = svg_text(figure, "steady")
    ripples = words((lay.name, lay.reading("bus_ripple_V"), "V") for lay in lays)
    return Picture(
        "steady",
        "Bus, LED current and sink dissipation over two mains cycles",
        f"Three curves over two mains cycles for each variant. Ripple of the bus, peak to peak: {ripples}.",
        svg,
        "Settled on the mains, cold; one computed cycle is shown twice.",
        figure=figure,
    )
