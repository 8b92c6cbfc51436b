"""Warm-up: from cold to settled, temperatures, power and light over time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coldiron.pictures.ink import ALONE, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, draw, words
from coldiron.pictures.names import name_curves

_TITLE = "Warm-up"
_ROW_IN = 1.3


def warm_up(lays: Sequence[Lay], *, form: Form = ALONE) -> Picture:
    """Draw die and housing temperature, power and light from switching on until the lamp stands still."""
    has_sinks = any(lay.case.lamp.circuit.regulators for lay in lays)
    rows = [("mean die [°C]", "die_C")] if has_sinks else []
    rows += [("housing [°C]", "housing_C"), ("input [W]", "input_W"), ("light [% of cold]", "light_A")]
    of = about(lays, "from cold to warm")
    with drawing(form, 0.7 + _ROW_IN * len(rows), _TITLE, of) as figure:
        grid = grid_axes(figure, [label for label, _ in rows], "time after switching on [min]")
        longest_min = max(float(lay.waves["warm-up"]["time"][-1]) for lay in lays) / 60.0
        for lay in lays:
            waves = lay.waves["warm-up"]
            time_min = waves["time"] / 60.0
            cold_a = float(waves["light_A"][0]) or np.nan
            for axes, (_, name) in zip(grid, rows, strict=True):
                values = 100 * waves[name] / cold_a if name == "light_A" else waves[name]
                # Settled is settled: a curve that ends early goes on as it stands, to where it is named.
                draw(axes, lay, np.append(time_min, longest_min), np.append(values, values[-1]))
        for axes in grid[-2:]:
            axes.set_ylim(bottom=0.0)
        for axes in grid:
            name_curves(axes, lays, (), form, _ROW_IN - 0.15, named=axes is grid[0])
        svg = svg_text(figure, f"warm-up {form.width_in}")
    dies = words((lay.name, lay.reading("sink_die_C" if has_sinks else "housing_C"), "°C") for lay in lays)
    return Picture(
        "warm-up",
        _TITLE,
        "Temperatures, power and light against time from switching on. "
        f"{'Dies' if has_sinks else 'Housings'} settle at: {dies}.",
        svg,
        "Integrated over the electrical averages, with the foldback of the sinks.",
        of,
        figure=figure,
    )
