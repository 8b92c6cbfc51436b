"""Unplug: how long the bus stays dangerous after the lamp is pulled off the mains."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.benches.unplug import SAFE_V
from coldiron.pictures.ink import LIMIT, PAPER, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, draw, words

EARLIEST_S = 0.01


def unplug(lays: Sequence[Lay], *, legend: bool = True) -> Picture:
    """Draw the bus voltage after unplugging, with the levels that count as safe."""
    with drawing(6.4, 3.2) as figure:
        (axes,) = grid_axes(figure, ["bus [V]"], "time after unplugging [s]")
        for lay in lays:
            waves = lay.waves["unplug"]
            late = waves["time"] >= EARLIEST_S
            draw(axes, lay, waves["time"][late], waves["v(bus)"][late])
        axes.set_xscale("log")
        axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
        axes.set_ylim(bottom=0.0)
        axes.axvline(1.0, color=LIMIT, linewidth=0.7, dashes=(4, 3))
        for place, level_v in enumerate(SAFE_V):
            axes.axhline(level_v, color=LIMIT, linewidth=0.9, dashes=(1, 2))
            axes.annotate(
                f"{level_v:g} V",
                (0.995 - 0.06 * place, level_v),
                xycoords=("axes fraction", "data"),
                va="bottom",
                ha="right",
                color=LIMIT,
                fontsize=8,
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.3, "alpha": 0.8},
            )
        if legend:
            figure.legend(*axes.get_legend_handles_labels(), loc="outside upper left", ncols=3)
        svg = svg_text(figure, "unplug")
    times = words((lay.name, lay.reading("discharge_60V_s"), "s") for lay in lays)
    return Picture(
        "unplug",
        "Discharge after unplugging",
        "Bus voltage against time, on a logarithmic axis, after unplugging at its highest. "
        f"Below 60 V after: {times}.",
        svg,
        "Pulled when the bus stands highest. Dotted: the levels counted as safe; dashed: one second.",
        figure=figure,
    )
