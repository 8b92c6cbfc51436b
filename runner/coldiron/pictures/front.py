"""The trade-off of a large study: every variant as a dot, those that nothing beats joined and named."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from coldiron.answer.front import Front, Points
from coldiron.answer.rank import Ranked
from coldiron.pictures.ink import FAINT, INK, LIMIT, Picture, drawing, svg_text
from coldiron.readings.catalogue import kind_of

MOST_NAMES = 12
"""More names than this would lie on each other; the file has them all."""
APART = 0.06
"""Share of an axis that a number needs beside the next."""


def front_picture(trade: Front, title: str) -> Picture:
    """Draw a trade-off.

    Parameters
    ----------
    trade : Front
    title : str
        Lamp and study.
    """
    over = np.array([bool(one.tiers[0]) for one in trade.ranked], dtype=bool)
    best = list(trade.best)
    with drawing(7.2, 4.6) as figure:
        axes = figure.subplots()
        for broken, words, colour in (
            (False, "parts within their ratings", INK),
            (True, "a part over its rating", LIMIT),
        ):
            rows = np.flatnonzero(over == broken)
            axes.plot(
                trade.points[rows, 0], trade.points[rows, 1], linestyle="", marker="x" if broken else "o",
                markersize=3.0, markerfacecolor="none", color=colour, markeredgewidth=0.6, label=words,
            )  # fmt: skip
        axes.plot(
            trade.points[best, 0], trade.points[best, 1], color=FAINT, linewidth=1.1, dashes=(5, 3), zorder=2,
            label="nothing beats these in both",
        )  # fmt: skip
        for row in _named(trade):
            _name(axes, trade.ranked[row], trade.points[row])
        axes.margins(x=0.1, y=0.1)
        axes.set_xlabel(_label(trade.across.reading))
        axes.set_ylabel(_label(trade.up.reading))
        axes.set_title(title, loc="left", fontsize=9)
        figure.legend(*axes.get_legend_handles_labels(), loc="outside lower left", ncols=3)
        svg = svg_text(figure, "front")
    names = ", ".join(one.candidate.title for one in trade.variants[:MOST_NAMES])
    return Picture(
        "front",
        title,
        f"{len(trade.ranked)} variants as points. Nothing beats in both: {names}.",
        svg,
        "Joined: no other variant that may be recommended is better in both readings.",
    )


def _named(trade: Front) -> list[int]:
    """Rows whose numbers are written: as found, and of the best those whose numbers would not touch."""
    span = np.ptp(trade.points, axis=0)
    scaled = trade.points / np.where(span > 0.0, span, 1.0)
    rows = [row for row, one in enumerate(trade.ranked) if one.candidate.number == 0]
    for row in trade.best:
        if len(rows) < MOST_NAMES and all(
            np.abs(scaled[row] - scaled[other]).max() > APART for other in rows
        ):
            rows.append(row)
    return rows


def _name(axes: Axes, one: Ranked, point: Points) -> None:
    x, y = (float(each) for each in point)
    text = one.candidate.name if one.candidate.number == 0 else str(one.candidate.number)
    axes.annotate(text, (x, y), (5, 5), textcoords="offset points", fontsize=8)


def _label(reading: str) -> str:
    kind = kind_of(reading)
    return f"{kind.what} [{kind.unit}]" if kind.unit else kind.what
