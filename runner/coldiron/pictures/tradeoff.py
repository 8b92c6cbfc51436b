"""The trade-off: the two readings that a study is most about, every variant a point with its name."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes

from coldiron.answer.front import Front, Points
from coldiron.answer.rank import Ranked
from coldiron.pictures.ink import ALONE, FAINT, INK, LIMIT, PAPER, Form, Picture, drawing, svg_text
from coldiron.pictures.lay import short_name
from coldiron.readings.catalogue import kind_of
from coldiron.readings.figures import amount

ACCENT = "#0b5c62"
MOST_NAMES = 12
"""More names than this would lie on each other; tables and files have them all."""
FEW = 40
"""A study of at most so many variants names all its points, a larger one those that nothing beats."""
_FONT_PT, _GLYPH_PT, _LINE_PT, _DOT_PT = 8.0, 4.7, 10.0, 7.0
_HEIGHT_IN = 3.5


def tradeoff(trade: Front, about: str, named: int | None = None, *, form: Form = ALONE) -> Picture:
    """Draw a trade-off.

    Parameters
    ----------
    trade : Front
    about : str
        Lamp and study.
    named : int, optional
        Number of the variant that the answer names.
    form : Form
    """
    title = f"{_heading(trade.up.reading)} against {_words(trade.across.reading)}"
    best = list(trade.best)
    said = "of each the worst of all conditions, warm where it was run warm"
    with drawing(form, _HEIGHT_IN, title, f"{about} · {said}") as figure:
        axes = figure.subplots()
        axes.grid(visible=True)
        _dots(axes, trade, named)
        axes.plot(
            trade.points[best, 0], trade.points[best, 1], color=FAINT, linewidth=0.9, dashes=(5, 3), zorder=2
        )
        axes.margins(x=0.12, y=0.12)
        low = axes.get_ylim()[0]
        if trade.points[:, 1].min(initial=0.0) >= 0.0:
            axes.set_ylim(bottom=max(low, -0.06 * axes.get_ylim()[1]))
        size_in = (form.width_in - 0.8, _HEIGHT_IN - 0.6)
        taken = [*_limits(axes, trade, size_in), *_joined(axes, trade, size_in)]
        for group in _groups(trade, named, size_in, axes):
            _name(axes, trade, group, named, size_in, taken)
        axes.set_xlabel(_label(trade.across.reading))
        axes.set_ylabel(_label(trade.up.reading))
        svg = svg_text(figure, f"trade-off {form.width_in}")
    names = ", ".join(one.candidate.title for one in trade.variants[:MOST_NAMES])
    return Picture(
        "trade-off",
        title,
        f"{len(trade.ranked)} variants as points, {title}. Nothing beats in both: {names}.",
        svg,
        "Joined: nothing beats these in both. Crossed: a part is over its rating.",
        f"{about} · {said}",
        figure=figure,
    )


def _dots(axes: Axes, trade: Front, named: int | None) -> None:
    size = 3.0 if len(trade.ranked) > FEW else 6.0
    over = np.array([bool(one.tiers[0]) for one in trade.ranked], dtype=bool)
    chosen = np.array([one.candidate.number == named for one in trade.ranked], dtype=bool)
    for rows, colour in ((~over & ~chosen, INK), (over & ~chosen, LIMIT), (chosen, ACCENT)):
        is_named = colour == ACCENT
        x, y = trade.points[rows].T
        axes.plot(
            x, y, linestyle="", marker="o", markersize=9.0 if is_named else size, color=colour,
            markerfacecolor=ACCENT if is_named else PAPER, markeredgewidth=size / 5,
            zorder=4 if is_named else 3,
        )  # fmt: skip
        x, y = trade.points[rows & over].T
        axes.plot(
            x, y, linestyle="", marker="x", markersize=0.8 * size, color=PAPER if is_named else colour,
            markeredgewidth=size / 6, zorder=5,
        )  # fmt: skip


class Box(NamedTuple):
    """A place on the paper that is taken [pt], from the lower left corner of the axes."""

    left: float
    low: float
    right: float
    high: float

    def touches(self, other: Box) -> bool:
        """Whether two of them overlap."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.low < other.high
            and other.low < self.high
        )


def _paper(axes: Axes, points: Points, size_in: tuple[float, float]) -> Points:
    """Points on the paper [pt], from the lower left corner of the axes."""
    shares = (axes.transData + axes.transAxes.inverted()).transform(points)
    return np.asarray(shares * 72.0 * np.array(size_in))


def _limits(axes: Axes, trade: Front, size_in: tuple[float, float]) -> Iterator[Box]:
    """Draw the limits of both readings that lie in the picture, and take the place of their names."""
    width_pt, height_pt = 72.0 * size_in[0], 72.0 * size_in[1]
    verdicts = [use.verdict for one in trade.ranked for use in one.candidate.uses.values()]
    for reading, is_across in ((trade.across.reading, True), (trade.up.reading, False)):
        allowed = [v.limit for v in verdicts if v.reading == reading and math.isfinite(v.limit)]
        low, high = axes.get_xlim() if is_across else axes.get_ylim()
        limit = min((each for each in allowed if low < each < high), default=None)
        if limit is None:
            continue
        text = f"limit {amount(limit, reading)}"
        wide = _GLYPH_PT * len(text)
        share = (limit - low) / (high - low)
        if is_across:
            axes.axvline(limit, color=LIMIT, linewidth=0.9, dashes=(1, 2), zorder=1)
            place = Box(share * width_pt - wide - 3, height_pt - 11, share * width_pt - 3, height_pt)
        else:
            axes.axhline(limit, color=LIMIT, linewidth=0.9, dashes=(1, 2), zorder=1)
            place = Box(width_pt - wide, share * height_pt + 1, width_pt, share * height_pt + 12)
        axes.annotate(
            text, (place.left / width_pt, (place.low + 2) / height_pt), xycoords="axes fraction",
            fontsize=_FONT_PT, color=LIMIT,
        )  # fmt: skip
        yield place


def _joined(axes: Axes, trade: Front, size_in: tuple[float, float]) -> Iterator[Box]:
    """Places along the line that joins the best, on which no name may lie."""
    places = _paper(axes, trade.points, size_in)[list(trade.best)]
    for start, stop in pairwise(places):
        steps = max(2, int(np.hypot(*(stop - start)) / 4.0))
        for x, y in start + np.linspace(0.0, 1.0, steps)[:, None] * (stop - start):
            yield Box(x - 1, y - 1, x + 1, y + 1)


def _groups(trade: Front, named: int | None, size_in: tuple[float, float], axes: Axes) -> list[list[int]]:
    """Rows to be named, those whose points touch together, the most telling first."""
    weight = {row: _weight(one, row, trade, named) for row, one in enumerate(trade.ranked)}
    rows = sorted(weight, key=lambda row: weight[row])
    if len(rows) > FEW:
        rows = [row for row in rows if weight[row][0] < 3]
    places = _paper(axes, trade.points, size_in)
    groups: list[list[int]] = []
    for row in rows:
        near = next((g for g in groups if np.abs(places[row] - places[g[0]]).max() < _DOT_PT), None)
        if near:
            near.append(row)
        elif len(groups) < (MOST_NAMES if len(rows) > FEW else FEW):
            groups.append([row])
    return groups


def _weight(one: Ranked, row: int, trade: Front, named: int | None) -> tuple[int, int]:
    """Place in the order in which names are written: the one that always is takes what room is left."""
    number = one.candidate.number
    kind = 0 if number == 0 else 2 if number == named else 1 if row in trade.best else 3
    return kind, number


def _name(
    axes: Axes, trade: Front, group: Sequence[int], named: int | None, size_in: tuple[float, float],
    taken: list[Box],
) -> None:  # fmt: skip
    """Write the name of a point, or of some that touch, where it touches no other point and no name."""
    first = trade.ranked[group[0]].candidate
    others = sorted(trade.ranked[row].candidate.number for row in group[1:])
    is_narrow = size_in[0] < 4.0
    own = (
        f"{first.number}"
        if is_narrow and first.number != named
        else f"{first.number} · {short_name(first.name)}"
    )
    text = (
        own + (f", {', '.join(map(str, others[:6]))}" if others else "") + (" …" if len(others) > 6 else "")
    )
    places = _paper(axes, trade.points, size_in)
    dots = [Box(x - 4, y - 4, x + 4, y + 4) for x, y in places]
    x, y = places[group[0]]
    wide, edge = _GLYPH_PT * len(text), 72.0 * size_in[0]
    names = [other for other in taken if other.right - other.left > 2.5]
    for dx, dy in _OFFSETS:
        left = x + dx if dx > 0 else x + dx - wide if dx < 0 else x - wide / 2
        box = Box(left, y + dy - _LINE_PT / 2, left + wide, y + dy + _LINE_PT / 2)
        inside = box.left >= 0.0 and box.right <= edge and box.low >= 0.0 and box.high <= 72.0 * size_in[1]
        hair = _hair(x, y, box)
        crossed = any(piece.touches(other) for piece in hair for other in names)
        if inside and not crossed and not any(box.touches(other) for other in (*taken, *dots)):
            break
    else:
        if first.number not in (0, named):
            return
        box = Box(x + 7, y - _LINE_PT / 2, x + 7 + wide, y + _LINE_PT / 2)
    hair = _hair(x, y, box)
    # Pieces of a hairline are small: a name may not lie on them, another hairline may cross them.
    taken += [box, *hair]
    is_named = first.number == named
    axes.annotate(
        text,
        tuple(trade.points[group[0]]),
        (box.left - x, box.low + _LINE_PT / 2 - y),
        textcoords="offset points",
        va="center",
        fontsize=_FONT_PT,
        fontweight="bold" if is_named else "normal",
        color=ACCENT if is_named else INK,
        arrowprops={"arrowstyle": "-", "color": FAINT, "linewidth": 0.5, "shrinkB": 4.0} if hair else None,
        zorder=6,
    )


def _hair(x: float, y: float, box: Box) -> list[Box]:
    """Places along the hairline from a point to its name; none where the name stands beside the point."""
    middle = box.low + _LINE_PT / 2
    if abs(middle - y) <= 14.0:
        return []
    # matplotlib ends it at the middle of the text.
    end = np.array([(box.left + box.right) / 2, box.low if middle > y else box.high])
    start = np.array([x, y])
    steps = max(2, int(np.hypot(*(end - start)) / 3.0))
    return [
        Box(px - 1, py - 1, px + 1, py + 1)
        for px, py in start + np.linspace(0.15, 0.95, steps)[:, None] * (end - start)
    ]


_OFFSETS = tuple(
    (dx, dy)
    for dy in (0.0, 9.0, -9.0, 18.0, -18.0, 27.0, -27.0, 38.0, -38.0, 50.0, -50.0)
    for dx in ((8.0, -8.0) if dy == 0.0 else (5.0, -5.0, 0.0))
)
"""Where a name is tried about its point [pt], the nearest first."""


def _words(reading: str) -> str:
    return kind_of(reading).what


def _heading(reading: str) -> str:
    what = _words(reading)
    return what[:1].upper() + what[1:]


def _label(reading: str) -> str:
    kind = kind_of(reading)
    return f"{kind.what} [{kind.unit}]" if kind.unit else kind.what
