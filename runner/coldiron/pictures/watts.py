"""Where the watts go: one bar a variant, stacked by part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from coldiron.lamp.describe import part_label
from coldiron.pictures.ink import ALONE, INK, PAPER, Form, Picture, drawing, svg_text
from coldiron.pictures.lay import Lay, about, words

FILLS = (
    ("#d9c48a", ""), ("#b4491c", ""), ("#8fb3b5", "////"), ("#5b4a9c", ""), ("#c9cdd2", "----"),
    ("#0b6e75", ""), ("#d8a3b5", "\\\\\\\\"), ("#26303a", ""),
)  # fmt: skip
"""Colour and hatching of parts, the one with the most watts first; neighbours differ in lightness."""
LEAST_SHARE = 0.004
"""Parts that take less than this of the input in every variant are not drawn."""
_TITLE = "Where the watts go"


class Share(NamedTuple):
    """What one part takes in each variant [W]."""

    name: str
    watts: np.ndarray


def shares(lays: Sequence[Lay]) -> list[Share]:
    """Parts that dissipate, those with the most watts first; all fusing parts are one."""
    names: dict[str, None] = {}
    for lay in lays:
        for part in lay.case.lamp.circuit:
            if f"{part.name}_W" in lay.readings:
                names.setdefault("fusing" if part.name.endswith("_fusing") else part.name)
    found = [Share(name, np.nan_to_num([lay.reading(f"{name}_W") for lay in lays])) for name in names]
    most = max((lay.reading("input_power_W") for lay in lays), default=0.0)
    kept = [share for share in found if share.watts.max(initial=0.0) >= LEAST_SHARE * most]
    return sorted(kept, key=lambda share: -share.watts.max(initial=0.0))


def watts(lays: Sequence[Lay], *, form: Form = ALONE) -> Picture:
    """Draw the dissipation of each part, one bar a variant; on a page all of them, whoever is picked."""
    of = about(lays)
    with drawing(form, 1.2 + 0.25 * len(lays), _TITLE, of) as figure:
        axes = figure.subplots()
        rows = np.arange(len(lays))
        left = np.zeros(len(lays))
        for turn, share in enumerate(shares(lays)):
            colour, hatch = FILLS[turn % len(FILLS)]
            axes.barh(
                rows, share.watts, left=left, height=0.72, color=colour, edgecolor=PAPER, hatch=hatch,
                linewidth=0.6, label="fusing" if share.name == "fusing" else part_label(share.name),
            )  # fmt: skip
            left += share.watts
        for row, total in zip(rows, left, strict=True):
            axes.annotate(
                f" {total:.1f}", (total, row), va="center", fontsize=8, color=INK, annotation_clip=False
            )
        axes.set_yticks(rows, [str(lay.number) if form.is_narrow else lay.title for lay in lays])
        axes.invert_yaxis()
        axes.set_axisbelow(True)
        axes.grid(visible=False, axis="y")
        axes.margins(x=0.08)
        axes.set_xlabel("over a whole mains cycle [W]")
        axes.legend(
            loc="lower left", bbox_to_anchor=(0.0, 1.0), borderaxespad=0.2, ncols=3 if form.is_narrow else 5,
            handlelength=1.2, columnspacing=1.2,
        )  # fmt: skip
        svg = svg_text(figure, f"watts {form.width_in}")
    inputs = words((lay.name, lay.reading("input_power_W"), "W") for lay in lays)
    return Picture(
        "watts",
        _TITLE,
        f"One bar for each variant, stacked by part. Input: {inputs}.",
        svg,
        about=of,
        figure=figure,
    )
