"""Pictures of a lesson: strips of a step, its bars, and the lamp with the parts it speaks of."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from xml.etree import ElementTree

import numpy as np

from coldiron.lessons.claims import Unsayable, found, said
from coldiron.lessons.model import Step
from coldiron.lessons.record import Recorded
from coldiron.pictures.ink import AS_FOUND_PEN, FAINT, INK, Form, drawing, grid_axes, svg_text
from coldiron.pictures.schematic import schematic
from coldiron.quantities import SECOND
from coldiron.readings.catalogue import kind_of
from coldiron.strips.vectors import unit_of

_FORM = Form(7.0)
_ROW_IN, _BAR_IN = 1.1, 0.36
_MARKED = "#0b5c62"
_SVG = "{http://www.w3.org/2000/svg}"


def strips_svg(step: Step, runs: Mapping[str, Recorded]) -> str:
    """Strips of a step: the run's line solid over that of the run beside, broad and grey."""
    now = runs[step.run]
    axis = now.axis
    first_s, last_s = _window(step, now)
    labels = [f"{name}\n[{unit_of(name)}]" for name in step.strips]
    with drawing(_FORM, 0.5 + _ROW_IN * len(labels)) as figure:
        rows = grid_axes(figure, labels, f"{axis.title} [{axis.unit}]")
        for name, axes in zip(step.strips, rows, strict=True):
            axes.yaxis.label.set_rotation(0)
            axes.yaxis.label.set_horizontalalignment("right")
            for run, pen in ((step.beside, AS_FOUND_PEN), (step.run, None)):
                if not run:
                    continue
                recorded = runs[run]
                time_s = recorded.window.time_s
                # One instant more at either end: a line that is cut goes on to the edge.
                first, last = np.searchsorted(time_s, (first_s, last_s))
                inside = slice(max(first - 1, 0), last + 1)
                axes.plot(
                    time_s[inside] / axis.size_s,
                    recorded.vector(name)[inside],
                    color=pen.colour if pen else INK,
                    linewidth=pen.width if pen else 1.5,
                )
            low, high = axes.get_ylim()
            axes.set_ylim(min(low, 0.0) if low > 0 else low, high)
        if axis.decades:
            rows[-1].set_xscale("log")
            rows[-1].xaxis.set_major_formatter(lambda value, _: f"{value:g}")
        rows[-1].set_xlim(first_s / axis.size_s, last_s / axis.size_s)
        return svg_text(figure, f"lesson {step.name}")


def strips_said(step: Step, runs: Mapping[str, Recorded]) -> str:
    """The same for those who do not see it: lowest and highest of each strip within the window."""
    now = runs[step.run]
    first_s, last_s = _window(step, now)
    inside = (now.window.time_s >= first_s) & (now.window.time_s <= last_s)
    words = []
    for name in step.strips:
        row = now.vector(name)[inside]
        unit = unit_of(name)
        words.append(
            f"{name} between {row.min():.3g} {unit} and {row.max():.3g} {unit}" if len(row) else name
        )
    return f"Strips over time: {'; '.join(words)}."


def bars_svg(step: Step, runs: Mapping[str, Recorded]) -> str:
    """Bars of a step, in the words of claims, each beside that of the run beside."""
    names = list(step.bars)
    values = [found(words, runs, step.run) for words in names]
    beside = [_beside(words, runs, step.beside) for words in names]
    with drawing(_FORM, 0.3 + _BAR_IN * len(names)) as figure:
        axes = figure.subplots()
        places = np.arange(len(names))[::-1]
        most = {
            unit: max(abs(v.value) for v in values if v.unit == unit) or 1.0
            for unit in {v.unit for v in values}
        }
        for place, words, value, was in zip(places, names, values, beside, strict=True):
            longest = max(most[value.unit], abs(was or 0.0))
            axes.barh(place, value.value / longest, height=0.55, color="#8a949e")
            if was is not None:
                axes.plot([was / longest] * 2, [place - 0.36, place + 0.36], color=FAINT, linewidth=3)
            axes.text(value.value / longest + 0.01, place, said(value), va="center", fontsize=9)
            axes.text(-0.01, place, _bar_words(words), va="center", ha="right", fontsize=9)
        axes.set_xlim(0.0, 1.25)
        axes.axis("off")
        return svg_text(figure, f"bars {step.name}")


def bars_said(step: Step, runs: Mapping[str, Recorded]) -> str:
    """The bars in words."""
    return "; ".join(f"{_bar_words(words)} {said(found(words, runs, step.run))}" for words in step.bars)


def _beside(words: str, runs: Mapping[str, Recorded], run: str) -> float | None:
    try:
        return found(words, runs, run).value if run else None
    except Unsayable:
        return None


def _bar_words(words: str) -> str:
    return kind_of(words.removeprefix("reading ")).what if words.startswith("reading ") else words


def _window(step: Step, recorded: Recorded) -> tuple[float, float]:
    """From when to when a step is shown [s]."""
    if step.window is None:
        return recorded.axis.first_s
    first, last = step.window
    return SECOND.parse(first), SECOND.parse(last)


def circuit_svg(step: Step, runs: Mapping[str, Recorded], found_lamp: Recorded) -> str:
    """Schematic of a step's lamp, with the parts it speaks of in heavier lines and bold words."""
    picture = schematic(runs[step.run].lamp, found_lamp.lamp, in_one_row=True)
    ElementTree.register_namespace("", "http://www.w3.org/2000/svg")
    drawn = ElementTree.fromstring(picture.svg)
    for group in drawn.iter(f"{_SVG}g"):
        if group.get("data-part") in step.highlight:
            for piece in group.iter():
                if piece.tag == f"{_SVG}text":
                    piece.set("font-weight", "bold")
                    piece.set("fill", _MARKED)
                elif piece.get("stroke") not in (None, "none"):
                    piece.set("stroke", _MARKED)
                    piece.set("stroke-width", "3")
    return ElementTree.tostring(drawn, encoding="unicode")


def as_data(svg: str) -> str:
    """An SVG as the source of an image."""
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()
