"""Pictures of advice: the trade-off of its set, each member over parts and aims, what each part does."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coldiron.advice.advice import Advice
from coldiron.advice.runs import Aim
from coldiron.advice.words import grouped
from coldiron.pictures.ink import ALONE, FAINT, GRID, INK, PAPER, Form, Picture, drawing, pen, svg_text
from coldiron.study.advise import COST
from coldiron.tables.files import write_whole

Points = NDArray[np.float64]

_HEIGHT_IN: Final = 3.4
_MOST_LABELS: Final = 14
"""More options than this on one axis of a part are named now and then."""
_PAD: Final = 0.07
_BROKEN: Final = "#d9b8c2"
"""The red of limits, paled: most of a catalogue breaks one."""


def draw_advice(folder: Path, advice: Advice) -> list[Path]:
    """Write every picture there is of advice under a folder; return the files."""
    files = []
    for picture in advice_pictures(advice, ALONE):
        path = folder / f"{picture.name}.svg"
        write_whole(path, picture.labelled)
        files.append(path)
    return files


def advice_pictures(advice: Advice, form: Form) -> list[Picture]:
    """Trade-off, parallel axes and effect of each part, as far as there is something to show."""
    if not _shown(advice):
        return []
    pictures = [parallel_axes(advice, form), effects(advice, form)]
    return [advice_tradeoff(advice, form), *pictures] if len(advice.aims) > 1 else pictures


def _shown(advice: Advice) -> list[int]:
    """Candidates that pictures draw: the set, or the nearest that miss."""
    return advice.found.best or [one.number for one in advice.chosen]


def _values(advice: Advice, numbers: Sequence[int]) -> Points:
    return np.array([[advice.found.value(n, aim) for aim in advice.aims] for n in numbers], dtype=float)


def _about(advice: Advice) -> str:
    return f"{advice.study.lamp.name} · {advice.study.name} · real runs only"


def _what(advice: Advice) -> str:
    count = len(_shown(advice))
    return f"{count} nearest that miss a limit" if advice.is_empty else f"{grouped(count)} that nothing beats"


def advice_tradeoff(advice: Advice, form: Form = ALONE) -> Picture:
    """The last aim over the first, the middle one as the size of the point; those shown have their number."""
    numbers = _shown(advice)
    points = _values(advice, numbers)
    kept = [n for n in advice.found.kept if n not in set(numbers)]
    others = _values(advice, kept).reshape(-1, len(advice.aims))
    across, up = advice.aims[0], advice.aims[-1]
    middle = advice.aims[1] if len(advice.aims) == 3 else None
    title = f"{_label(up)} against {_label(across)}: {_what(advice)}"
    with drawing(form, _HEIGHT_IN, title, _about(advice)) as figure:
        axes = figure.subplots()
        if len(others):
            axes.plot(
                others[:, 0], others[:, -1], linestyle="", marker=".", markersize=3, color=GRID, zorder=1
            )
        sizes = np.full(len(points), 30.0)
        if middle is not None:
            sizes = 12.0 + 70.0 * _good(points[:, 1], middle)
        axes.scatter(
            points[:, 0], points[:, -1], s=sizes, facecolor=PAPER, edgecolor=INK, linewidth=0.9, zorder=2
        )
        place = {n: row for row, n in enumerate(numbers)}
        for order, one in enumerate(advice.chosen):
            x, y = points[place[one.number], 0], points[place[one.number], -1]
            axes.scatter([x], [y], s=60.0, facecolor=pen(order + 1).colour, edgecolor=PAPER, zorder=3)
            axes.annotate(
                str(one.number),
                (x, y),
                (5, 5 if order % 2 else -11),
                textcoords="offset points",
                fontsize=8.0,
                color=INK,
                zorder=4,
            )
        axes.margins(x=0.1, y=0.12)
        axes.set_xlabel(_label(across))
        axes.set_ylabel(_label(up))
        svg = svg_text(figure, f"advice {form.width_in}")
    size = f" A larger point has a better {_label(middle)}." if middle else ""
    pale = " Pale: keep every limit, but are beaten." if len(others) else ""
    return Picture(
        "advice-trade-off",
        title,
        f"{len(points)} candidates as points, {title}.",
        svg,
        f"Numbered: shown in the table.{size}{pale}",
        _about(advice),
        figure=figure,
    )


def parallel_axes(advice: Advice, form: Form = ALONE) -> Picture:
    """Each member of the set as a line over its parts and aims, the better end of every aim on top."""
    numbers = _shown(advice)
    found = advice.found
    axes_of_parts = [
        axis for axis in found.space.axes if len({_step(advice, n, axis.name) for n in numbers}) > 0
    ]
    points = _values(advice, numbers)
    columns: list[NDArray[np.float64]] = []
    names: list[str] = []
    ticks: list[list[tuple[float, str]]] = []
    for axis in axes_of_parts:
        used = sorted({_step(advice, n, axis.name) for n in numbers})
        height = {step: (row / (len(used) - 1) if len(used) > 1 else 0.5) for row, step in enumerate(used)}
        columns.append(np.array([height[_step(advice, n, axis.name)] for n in numbers]))
        names.append(axis.heading)
        every = max(1, len(used) // _MOST_LABELS + (len(used) > _MOST_LABELS))
        ticks.append([(height[step], axis.options[step].label) for step in used[::every]])
    for place, aim in enumerate(advice.aims):
        good = _good(points[:, place], aim)
        columns.append(good)
        names.append(_label(aim))
        low, high = float(np.nanmin(points[:, place])), float(np.nanmax(points[:, place]))
        ends = (low, high) if aim.sign < 0 else (high, low)
        ticks.append([(0.0, f"{ends[0]:.3g}"), (1.0, f"{ends[1]:.3g}")])
    title = f"Parts and what they give: {_what(advice)}"
    with drawing(form, _HEIGHT_IN + 0.4, title, _about(advice)) as figure:
        axes = figure.subplots()
        axes.grid(visible=False)
        table = np.stack(columns, axis=1)
        chosen = {one.number: order for order, one in enumerate(advice.chosen)}
        at = np.arange(table.shape[1])
        for row, number in enumerate(numbers):
            if number not in chosen:
                axes.plot(at, table[row], color=GRID, linewidth=0.8, zorder=1)
        for row, number in enumerate(numbers):
            if number in chosen:
                own = pen(chosen[number] + 1)
                axes.plot(
                    at,
                    table[row],
                    color=own.colour,
                    linewidth=1.4,
                    dashes=own.dashes or (None, None),
                    zorder=2,
                )
                axes.annotate(
                    str(number), (at[-1], table[row, -1]), (5, -3), textcoords="offset points", fontsize=7.5,
                    color=own.colour,
                )  # fmt: skip
        for place, labels in enumerate(ticks):
            axes.axvline(place, color=FAINT, linewidth=0.7, zorder=0)
            for up, text in labels:
                axes.annotate(
                    text,
                    (place, up),
                    (3, 2),
                    textcoords="offset points",
                    fontsize=7.0,
                    color=INK,
                    zorder=3,
                )
        axes.set_xticks(at, names)
        axes.set_yticks([])
        axes.set_ylim(-_PAD, 1.0 + _PAD)
        axes.set_xlim(-0.1, table.shape[1] - 1 + 0.55)
        for side in ("left", "bottom"):
            axes.spines[side].set_visible(False)
        svg = svg_text(figure, f"parallel {form.width_in}")
    return Picture(
        "advice-parts",
        title,
        f"{len(numbers)} candidates as lines over {', '.join(names)}.",
        svg,
        "Each line is a candidate; of an aim the better end is on top. Drawn strongly: shown in the table.",
        _about(advice),
        figure=figure,
    )


def effects(advice: Advice, form: Form = ALONE) -> Picture:
    """What became of the candidates that have each option: a bar an option, parts below each other."""
    fates = _fates(advice)
    parts = [axis for axis in advice.found.space.axes if len(axis.options) > 1]
    title = f"What each part does to {grouped(len(advice.found.space))} candidates"
    with drawing(form, 0.5 + 1.15 * len(parts), title, _about(advice)) as figure:
        rows = figure.subplots(len(parts), 1, squeeze=False)[:, 0]
        for axes, axis in zip(rows, parts, strict=True):
            shares = fates[axis.name]
            at = np.arange(len(axis.options))
            low = np.zeros(len(at))
            for share, colour in zip(shares.T, (INK, FAINT, GRID, _BROKEN), strict=True):
                axes.bar(at, 100.0 * share, bottom=100.0 * low, width=0.8, color=colour, linewidth=0)
                low = low + share
            every = max(1, -(-len(at) // _MOST_LABELS))
            axes.set_xticks(at[::every], [_narrow(axis.options[n].label) for n in at[::every]], fontsize=6.5)
            axes.set_ylim(0, 100)
            axes.set_yticks([0, 100])
            axes.set_ylabel(axis.heading, fontsize=8.0)
            axes.grid(visible=False)
        svg = svg_text(figure, f"effects {form.width_in}")
    return Picture(
        "advice-effects",
        title,
        f"For every option of {', '.join(axis.heading for axis in parts)}: the share of candidates in the "
        "set, beaten, and thrown out by a limit.",
        svg,
        "Of the candidates with each option, in per cent from below: dark, in the set; grey, keep every "
        "limit but are beaten; pale, beaten whatever they keep; reddish, break a limit.",
        _about(advice),
        figure=figure,
    )


def _fates(advice: Advice) -> dict[str, Points]:
    """For each part shares of each option's candidates: in the set, kept but beaten, beaten, broken."""
    from coldiron.advice.search import BEATEN, KEPT

    found = advice.found
    fate = found.fate.reshape(found.space.shape)
    best = np.zeros(len(found.space), dtype=bool)
    best[found.best] = True
    best = best.reshape(found.space.shape)
    kinds = [best, (fate == KEPT) & ~best, fate == BEATEN]
    kinds.append(~np.any(kinds, axis=0))
    shares = {}
    for place, axis in enumerate(found.space.axes):
        others = tuple(n for n in range(len(found.space.shape)) if n != place)
        shares[axis.name] = np.stack([kind.mean(axis=others) for kind in kinds], axis=1)
    return shares


def _good(values: Points, aim: Aim) -> Points:
    """Values from 0, the worst there, to 1, the best."""
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if high <= low:
        return np.full(len(values), 0.5)
    share = (values - low) / (high - low)
    return np.asarray(1.0 - share if aim.sign > 0 else share)


def _step(advice: Advice, number: int, name: str) -> int:
    place = [axis.name for axis in advice.found.space.axes].index(name)
    return advice.found.space.steps(number)[place]


def _label(aim: Aim) -> str:
    return "cost" if aim.reading == COST else aim.heading


def _narrow(label: str) -> str:
    """A label on two lines."""
    words = label.split(" ")
    return " ".join(words[:2]) + ("\n" + " ".join(words[2:]) if len(words) > 2 else "")
