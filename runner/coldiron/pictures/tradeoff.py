"""The trade-off: flicker against what the sinks must carry, the variants that nothing beats joined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coldiron.answer.front import non_dominated
from coldiron.engine.waves import Array
from coldiron.pictures.ink import FAINT, Picture, drawing, svg_text
from coldiron.pictures.lay import Lay, short_name

_NEAR_RATIO = np.array([0.06, 0.03])


def tradeoff(lays: Sequence[Lay]) -> Picture:
    """Draw every variant by its sink dissipation and its flicker."""
    lays = [lay for lay in lays if np.isfinite([lay.reading("sinks_W"), lay.reading("flicker_pct")]).all()]
    points = np.array([[lay.reading("sinks_W"), lay.reading("flicker_pct")] for lay in lays]).reshape(-1, 2)
    # What the eye cannot tell apart in the picture beats nothing.
    best = non_dominated(np.round(points / points.max(axis=0, initial=1e-9), 2))
    with drawing(6.4, 3.4 + 0.1 * len(lays)) as figure:
        axes = figure.subplots()
        axes.plot(points[best, 0], points[best, 1], color=FAINT, linewidth=0.9, dashes=(5, 3), zorder=2)
        for lay, (x, y) in zip(lays, points, strict=True):
            axes.plot(
                x,
                y,
                linestyle="",
                marker=lay.pen.marker or "o",
                color=lay.pen.colour,
                markersize=7,
                markerfacecolor=lay.pen.colour if lay in [lays[row] for row in best] else "none",
                label=f"{lay.number}  {short_name(lay.name)}",
            )
        axes.margins(x=0.06, y=0.08)
        axes.set_xlim(left=0.0)
        axes.set_ylim(bottom=-0.03 * points[:, 1].max(initial=1.0))
        for (x, y), numbers in _clusters(points, [lay.number for lay in lays]):
            axes.annotate(" ".join(map(str, numbers)), (x, y), (6, 6), textcoords="offset points", fontsize=8)
        axes.set_xlabel("all sinks [W]")
        axes.set_ylabel("flicker [%]")
        figure.legend(*axes.get_legend_handles_labels(), loc="outside lower left", ncols=2)
        svg = svg_text(figure, "trade-off")
    names = ", ".join(lays[row].name for row in best)
    return Picture(
        "trade-off",
        "Flicker against sink dissipation",
        f"Each variant as a point. No other variant has both less flicker and cooler sinks than: {names}.",
        svg,
        "Filled and joined: no other variant has both less flicker and less in the sinks.",
    )


def _clusters(points: Array, numbers: Sequence[int]) -> list[tuple[tuple[float, float], list[int]]]:
    """Numbers that stand at nearly the same place, together, so that their labels do not overlap."""
    scale = points.max(axis=0, initial=1e-9)
    clusters: list[tuple[tuple[float, float], list[int]]] = []
    for number, point in zip(numbers, points, strict=True):
        for place, together in clusters:
            if (np.abs(point - place) / scale < _NEAR_RATIO).all():
                together.append(number)
                break
        else:
            clusters.append(((float(point[0]), float(point[1])), [number]))
    return clusters
