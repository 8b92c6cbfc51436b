"""Where the watts go: one bar a variant, stacked by part."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coldiron.pictures.ink import INK, PAPER, Picture, drawing, svg_text
from coldiron.pictures.lay import Lay, short_name, words

PARTS = (
    ("string_W", "LED string", "#d9c48a", ""),
    ("sinks_W", "sinks", "#b4491c", ""),
    ("fusing_W", "fusing resistors", "#5b4a9c", "////"),
    ("bridge_W", "bridge", "#7d858e", ""),
    ("bleed_W", "bleed resistor", "#0b6e75", "----"),
    ("reservoir_W", "reservoir", "#96295a", "\\\\\\\\"),
    ("varistor_W", "varistor", "#26303a", ""),
)
"""Reading, name, colour and hatching of each part; neighbours differ in lightness."""


def watts(lays: Sequence[Lay]) -> Picture:
    """Draw the dissipation of each part, one bar a variant."""
    with drawing(6.4, 1.1 + 0.25 * len(lays)) as figure:
        axes = figure.subplots()
        rows = np.arange(len(lays))
        left = np.zeros(len(lays))
        for reading, name, colour, hatch in PARTS:
            share = np.nan_to_num([lay.reading(reading) for lay in lays])
            if share.max(initial=0.0) < 1e-3:
                continue
            axes.barh(
                rows, share, left=left, height=0.72, color=colour, edgecolor=PAPER, hatch=hatch,
                linewidth=0.6, label=name,
            )  # fmt: skip
            left += share
        for row, total in zip(rows, left, strict=True):
            axes.annotate(
                f" {total:.1f}", (total, row), va="center", fontsize=8, color=INK, annotation_clip=False
            )
        axes.set_yticks(rows, [short_name(lay.name) for lay in lays])
        axes.invert_yaxis()
        axes.set_axisbelow(True)
        axes.grid(visible=False, axis="y")
        axes.margins(x=0.08)
        axes.set_xlabel("watts over a whole mains cycle [W]")
        figure.legend(*axes.get_legend_handles_labels(), loc="outside upper left", ncols=4)
        svg = svg_text(figure, "watts")
    sinks = words((lay.name, lay.reading("sinks_W"), "W") for lay in lays)
    return Picture(
        "watts",
        "Where the watts go",
        f"One bar for each variant, stacked by part. In the sinks: {sinks}.",
        svg,
    )
