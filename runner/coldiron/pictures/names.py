"""Names at the right end of curves, in the margin, so that none lies on a curve or on another name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes

from coldiron.pictures.ink import LIMIT, Form
from coldiron.pictures.lay import Lay

FONT_PT = 8.0
_LINE_PT, _COLUMN_PT, _GAP_PT = 9.5, 15.0, 9.0


class End(NamedTuple):
    """Something to name at the right edge of axes: where it ends there, its text, colour and group."""

    y: float
    text: str
    colour: str
    group: str = ""


def end_of(lay: Lay, y: float, text: str) -> End:
    """End of a variant's curve."""
    return End(y, text, lay.pen.colour, f"lay-{lay.number}")


def level(y: float, text: str) -> End:
    """End of a line that stands for a limit, or another level."""
    return End(y, text, LIMIT)


def name_curves(
    axes: Axes, shown: Sequence[Lay], levels: Sequence[End], form: Form, height_in: float, *, named: bool
) -> None:
    """Name each variant's curve where it ends, and levels with them.

    Parameters
    ----------
    axes : Axes
        With its curves drawn, and its limits set.
    shown : sequence of Lay
        Whose curves were drawn; one that is alone needs no name.
    levels : sequence of End
    form : Form
    height_in : float
        Of the axes, about [inch].
    named : bool
        Whether a picture that stands alone has names here, and not only numbers.
    """
    ends = list(levels)
    for lay in shown:
        last = [line for line in axes.lines if str(line.get_gid()).startswith(f"lay-{lay.number}-")]
        if last and not lay.is_lone:
            text = lay.title if named and form.alone else str(lay.number)
            ends.append(end_of(lay, float(np.asarray(last[-1].get_ydata())[-1]), text))
    name_ends(axes, ends, height_in)


def name_ends(axes: Axes, ends: Sequence[End], height_in: float) -> None:
    """Write names in the margin at the right, pushed apart where they would touch, each with a hairline."""
    if not ends:
        return
    to_share = axes.transData + axes.transAxes.inverted()
    low, _ = sorted(axes.get_ylim())
    places = np.array([to_share.transform((1.0, end.y if np.isfinite(end.y) else low))[1] for end in ends])
    places = np.clip(places, 0.0, 1.0)
    line = _LINE_PT / (72.0 * height_in)
    columns = 1 if max(len(end.text) for end in ends) > 2 else int(np.ceil(len(ends) * line / 0.95))
    apart = spread(places, line / columns)
    for rank, row in enumerate(np.argsort(apart, kind="stable")):
        end = ends[row]
        words = axes.annotate(
            end.text,
            (1.0, places[row]),
            (_GAP_PT + _COLUMN_PT * (rank % columns), (apart[row] - places[row]) * 72.0 * height_in),
            xycoords="axes fraction",
            textcoords="offset points",
            va="center",
            fontsize=FONT_PT,
            color=end.colour,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-", "color": end.colour, "linewidth": 0.5, "shrinkA": 1.0, "shrinkB": 0.0,
                "relpos": (0.0, 0.5),
            },
        )  # fmt: skip
        if end.group:
            words.set_gid(f"{end.group}-name")
            assert words.arrow_patch is not None
            words.arrow_patch.set_gid(f"{end.group}-hair")


def spread(places: np.ndarray, least: float) -> np.ndarray:
    """Places nearest to some given ones that are at least so far apart, between 0 and 1 if they have room.

    Examples
    --------
    >>> spread(np.array([0.5, 0.5, 0.9]), 0.1).round(2).tolist()
    [0.45, 0.55, 0.9]
    >>> spread(np.array([1.0, 1.0]), 0.2).round(2).tolist()
    [0.8, 1.0]
    """
    order = np.argsort(places, kind="stable")
    # Blocks of names that touch: each stands in the middle of where its names would stand by themselves.
    blocks: list[list[int]] = []
    for row in order:
        blocks.append([row])
        while (
            len(blocks) > 1 and _start(blocks[-1], places, least) < _stop(blocks[-2], places, least) + least
        ):
            last = blocks.pop()
            blocks[-1] += last
    apart = np.empty(len(places))
    for block in blocks:
        apart[block] = _start(block, places, least) + least * np.arange(len(block))
    return apart


def _start(block: Sequence[int], places: np.ndarray, least: float) -> float:
    long = least * (len(block) - 1)
    return float(min(max(places[list(block)].mean() - long / 2, 0.0), max(1.0 - long, 0.0)))


def _stop(block: Sequence[int], places: np.ndarray, least: float) -> float:
    return _start(block, places, least) + least * (len(block) - 1)
