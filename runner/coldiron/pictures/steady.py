"""Steady: one mains cycle of a settled lamp, from the mains to what the sinks dissipate."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Array
from coldiron.pictures.ink import ALONE, FAINT, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, draw, words
from coldiron.pictures.names import name_curves

_TITLE = "One mains cycle of the settled lamp"
_ROW_IN = 1.25


class Cycle(NamedTuple):
    """Vectors over whole mains cycles, from a rising zero of the mains."""

    time_s: Array
    rows: dict[str, Array]


def repeated_cycle(
    lay: Lay, label: str, vectors: Mapping[str, Callable[[Window], Array]], cycles: int = 1
) -> Cycle:
    """Last whole mains cycle of a settled run, set side by side to as many as are shown."""
    cycle_s = 1.0 / lay.case.conditions.frequency_hz
    stop_s = float(lay.waves[label]["time"][-1])
    window = lay.window(label, stop_s - cycle_s, stop_s)
    one_s = window.time_s - window.time_s[0]
    return Cycle(
        np.concatenate([one_s + turn * cycle_s for turn in range(cycles)]),
        {name: np.tile(vector(window), cycles) for name, vector in vectors.items()},
    )


def sinks_w(window: Window) -> Array:
    """Power into all sinks and their sense resistors at each moment [W]."""
    return np.asarray((window.sinks_a * window.drains_v).sum(axis=0))


_ROWS: tuple[tuple[str, Callable[[Window], Array], float], ...] = (
    ("mains [V]", lambda window: window.mains_v, 1.0),
    ("input current [A]", lambda window: window.input_a, 1.0),
    ("bus [V]", lambda window: window.v("bus"), 1.0),
    ("LED current [mA]", lambda window: window.string_a, 1e3),
    ("all sinks [W]", sinks_w, 1.0),
)


def steady(lays: Sequence[Lay], bench: str, *, form: Form = ALONE) -> Picture:
    """Draw mains, input current, bus, LED current and sink dissipation over one settled mains cycle.

    Parameters
    ----------
    lays : sequence of Lay
    bench : str
        Whose run is drawn: "heat" warm, "steady" cold.
    form : Form
    """
    has_sinks = any(lay.case.lamp.circuit.regulators for lay in lays)
    shown = _ROWS if has_sinks else _ROWS[:-1]
    of = about(lays)
    with drawing(form, 0.7 + _ROW_IN * len(shown), _TITLE, of) as figure:
        grid = grid_axes(
            figure, [label for label, _, _ in shown], "time from a rising zero of the mains [ms]"
        )
        for lay in lays:
            cycle = repeated_cycle(lay, bench, {label: vector for label, vector, _ in shown})
            for axes, (label, _, scale) in zip(grid, shown, strict=True):
                draw(axes, lay, 1e3 * cycle.time_s, scale * cycle.rows[label])
        for axes in grid[:2]:
            axes.axhline(0.0, color=FAINT, linewidth=0.5)
        for axes in grid[2:]:
            axes.set_ylim(bottom=0.0)
        for row, axes in enumerate(grid[1:]):
            name_curves(axes, lays, (), form, _ROW_IN - 0.15, named=row == 1)
        svg = svg_text(figure, f"steady {form.width_in}")
    ripples = words((lay.name, lay.reading("bus_ripple_V"), "V") for lay in lays)
    return Picture(
        "steady",
        _TITLE,
        f"For each variant over one mains cycle: {', '.join(label for label, _, _ in shown)}. "
        f"Ripple of the bus, peak to peak: {ripples}.",
        svg,
        about=of,
        figure=figure,
    )
