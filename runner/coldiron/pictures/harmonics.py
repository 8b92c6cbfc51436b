"""Harmonics of the mains current as dots, one variant beside the other, against the limit if one applies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes

from coldiron.pictures.ink import ALONE, LIMIT, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, words
from coldiron.pictures.names import End, end_of, level, name_ends

ORDERS = range(3, 40, 2)
LOWEST_PCT = 0.1
"""What is below this is drawn here: no limit is anywhere near."""
_LIMIT_DASHES = ("solid", "dotted", "dashed")
_ROOM = 1.5
"""Share of the two orders between odd harmonics that dots of one order take."""
_TITLE = "Harmonics of the mains current"
_HEIGHT_IN = 3.4


def harmonics(
    lays: Sequence[Lay], limits_pct: Mapping[str, Mapping[int, float]], why: str, *, form: Form = ALONE
) -> Picture:
    """Draw odd harmonics in per cent of the fundamental.

    Every variant has a place of its own beside each order, so that equal ones do not hide each other; the
    scale is logarithmic, so that 3 % allowed of the high orders reads as well as 30 % of the third.

    Parameters
    ----------
    lays : sequence of Lay
    limits_pct : mapping
        By the name of the limit, then by order [% of the fundamental]; empty where none applies.
    why : str
        Source of the limit, or why there is none.
    form : Form
    """
    of = about(lays)
    with drawing(form, _HEIGHT_IN, _TITLE, of) as figure:
        (axes,) = grid_axes(figure, ["% of the fundamental"], "order of the harmonic")
        axes.set_yscale("log")
        ends = [_draw_dots(axes, lay, place, len(lays), form) for place, lay in enumerate(lays)]
        for number, (name, limit_pct) in enumerate(limits_pct.items()):
            ends.append(_draw_limit(axes, name, limit_pct, _LIMIT_DASHES[number % len(_LIMIT_DASHES)]))
        axes.set_xticks([order for order in ORDERS if not form.is_narrow or order % 4 == 3])
        axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
        axes.set_xlim(1.9, 40.1)
        axes.set_ylim(bottom=0.8 * LOWEST_PCT)
        axes.grid(visible=False, axis="x")
        for order in ORDERS[1::2]:
            axes.axvspan(order - 1, order + 1, color="#f3efe2", zorder=0)
        name_ends(axes, ends if len(lays) > 1 else ends[1:], _HEIGHT_IN - 0.6)
        svg = svg_text(figure, f"harmonics {form.width_in}")
    thirds = words((lay.name, lay.reading("harmonic_3_pct"), "%") for lay in lays)
    fifths = words((lay.name, lay.reading("harmonic_5_pct"), "%") for lay in lays)
    return Picture(
        "harmonics",
        _TITLE,
        f"Dots of the odd harmonics 3 to 39 for each variant. Third: {thirds}. Fifth: {fifths}. {why}",
        svg,
        why,
        of,
        figure=figure,
    )


def places(order: int, place: int, count: int) -> float:
    """Where the dot of a variant stands across, the variants of an order side by side about it.

    Examples
    --------
    >>> [places(5, place, 2) for place in range(2)]
    [4.625, 5.375]
    """
    return order + _ROOM * ((place + 0.5) / count - 0.5)


def _draw_limit(axes: Axes, name: str, limit_pct: Mapping[int, float], dashes: str) -> End:
    orders = [order for order in ORDERS if order in limit_pct]
    heights = [limit_pct[order] for order in orders]
    starts, stops = [order - 0.95 for order in orders], [order + 0.95 for order in orders]
    axes.hlines(heights, starts, stops, color=LIMIT, linewidth=1.6, linestyle=dashes, zorder=4)
    return level(heights[-1] if heights else np.nan, name)


def _draw_dots(axes: Axes, lay: Lay, place: int, count: int, form: Form) -> End:
    heights = np.maximum([lay.reading(f"harmonic_{order}_pct") for order in ORDERS], LOWEST_PCT)
    (dots,) = axes.plot(
        [places(order, place, count) for order in ORDERS],
        heights,
        linestyle="",
        marker=lay.pen.marker or "o",
        markersize=2.6 if form.is_narrow or count > 6 else 4.2,
        markeredgewidth=0.6,
        color=lay.pen.colour,
        zorder=3,
    )
    dots.set_gid(f"lay-{lay.number}-dots")
    return end_of(lay, float(heights[-1]), lay.title if form.alone else str(lay.number))
