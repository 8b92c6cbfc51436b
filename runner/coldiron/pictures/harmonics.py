"""Harmonics of the mains current as bars, against the limit where one applies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes

from coldiron.pictures.ink import LIMIT, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, short_name, words

ORDERS = range(3, 40, 2)
_SLOTS, _SLOT_WIDTH = 5, 0.3
_LIMIT_DASHES = ("solid", "dotted", "dashed")


def harmonics(
    lays: Sequence[Lay], limits_pct: Mapping[str, Mapping[int, float]], why: str, *, legend: bool = True
) -> Picture:
    """Draw odd harmonics in per cent of the fundamental.

    Parameters
    ----------
    lays : sequence of Lay
    limits_pct : mapping
        By the name of the limit, then by order [% of the fundamental]; empty where none applies.
    why : str
        Source of the limit, or why there is none.
    """
    with drawing(6.4, 3.2) as figure:
        (axes,) = grid_axes(figure, ["% of the fundamental"], "order of the harmonic")
        for lay in lays:
            _draw_bars(axes, lay)
        variants = axes.get_legend_handles_labels()
        for number, limit_pct in enumerate(limits_pct.values()):
            _draw_limit(axes, limit_pct, _LIMIT_DASHES[number % len(_LIMIT_DASHES)])
        axes.set_xticks(list(ORDERS))
        axes.set_xlim(1.8, 40.2)
        axes.set_ylim(bottom=0.0)
        axes.grid(visible=False, axis="x")
        if limits_pct:
            names = list(limits_pct)
            axes.legend(axes.collections[-len(names) :], names, loc="upper right")
        if legend:
            figure.legend(*variants, loc="outside upper left", ncols=3)
        svg = svg_text(figure, "harmonics")
    thirds = words((lay.name, lay.reading("harmonic_3_pct"), "%") for lay in lays)
    fifths = words((lay.name, lay.reading("harmonic_5_pct"), "%") for lay in lays)
    return Picture(
        "harmonics",
        "Harmonics of the mains current",
        f"Bars of the odd harmonics 3 to 39 for each variant. Third: {thirds}. Fifth: {fifths}. {why}",
        svg,
        why,
    )


def _draw_limit(axes: Axes, limit_pct: Mapping[int, float], dashes: str) -> None:
    orders = [order for order in ORDERS if order in limit_pct]
    heights = [limit_pct[order] for order in orders]
    starts, stops = [order - 0.85 for order in orders], [order + 0.85 for order in orders]
    axes.hlines(heights, starts, stops, color=LIMIT, linewidth=2.0, linestyle=dashes, zorder=4)


def _draw_bars(axes: Axes, lay: Lay) -> None:
    """Bars of one variant: broad and pale as found, narrow with their marker on top for the others."""
    heights = np.array([lay.reading(f"harmonic_{order}_pct") for order in ORDERS])
    places = np.array(ORDERS, dtype=float)
    if lay.number:
        places += _SLOT_WIDTH * (lay.number % _SLOTS - _SLOTS // 2)
    bars = axes.vlines(
        places,
        0.0,
        heights,
        color=lay.pen.colour,
        linewidth=3.0 if lay.number else 11.0,
        alpha=1.0 if lay.number else 0.45,
        label=short_name(lay.name),
        zorder=3 if lay.number else 2,
    )
    bars.set_gid(f"lay-{lay.number}-bars")
    if lay.number:
        (tops,) = axes.plot(
            places, heights, linestyle="", marker=lay.pen.marker, markersize=4.0, color=lay.pen.colour
        )
        tops.set_gid(f"lay-{lay.number}-tops")
