"""Warm-up: from cold to settled, temperatures, power and light over time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coldiron.pictures.ink import Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, draw, words


def warm_up(lays: Sequence[Lay], *, legend: bool = True) -> Picture:
    """Draw die and housing temperature, power and light from switching on until the lamp stands still."""
    labels = ["mean die [°C]", "housing [°C]", "input [W]", "light [% of cold]"]
    with drawing(6.4, 6.2) as figure:
        rows = grid_axes(figure, labels, "time after switching on [min]")
        for lay in lays:
            waves = lay.waves["warm-up"]
            time_min = waves["time"] / 60.0
            cold_a = float(waves["light_A"][0]) or np.nan
            shown = (waves["die_C"], waves["housing_C"], waves["input_W"], 100 * waves["light_A"] / cold_a)
            for axes, values in zip(rows, shown, strict=True):
                draw(axes, lay, time_min, values)
        for axes in rows[2:]:
            axes.set_ylim(bottom=0.0)
        if legend:
            figure.legend(*rows[0].get_legend_handles_labels(), loc="outside upper left", ncols=3)
        svg = svg_text(figure, "warm-up")
    dies = words((lay.name, lay.reading("sink_die_C"), "°C") for lay in lays)
    return Picture(
        "warm-up",
        "Warm-up",
        "Die and housing temperature, power and light against time from switching on. "
        f"Dies settle at: {dies}.",
        svg,
        "Integrated over the electrical averages, with the foldback of the sinks.",
        figure=figure,
    )
