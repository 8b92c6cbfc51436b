"""The picture of one case, or of some laid over each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from coldiron.pictures import rooms
from coldiron.pictures.ink import ALONE, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, draw, shortly
from coldiron.pictures.names import name_curves
from coldiron.pictures.steady import steady
from coldiron.pictures.surge import surge
from coldiron.pictures.switch_on import switch_on
from coldiron.pictures.unplug import unplug
from coldiron.pictures.warm_up import warm_up

_OWN: dict[str, Callable[[Sequence[Lay]], Picture]] = {
    "switch-on": switch_on,
    "steady": partial(steady, bench="steady"),
    "heat": partial(steady, bench="heat"),
    "surge": surge,
    "unplug": unplug,
    "warm-up": warm_up,
    rooms.LABEL: rooms.rooms,
}
"""Runs that have a picture of their own, by their label."""

_ROWS = (
    ("i(vinput)", "input current [A]"),
    ("v(bus)", "bus [V]"),
    ("i(vstring)", "LED string [A]"),
    ("v(drain)", "at the sinks [V]"),
)
_TIME_UNITS = ((1e-4, 1e6, "µs"), (2.0, 1e3, "ms"), (float("inf"), 1.0, "s"))
_ROW_IN = 1.35


def case_picture(lays: Sequence[Lay], label: str) -> Picture:
    """Draw one run of one case, or of some laid over each other.

    Parameters
    ----------
    lays : sequence of Lay
        One variant each, of one bench.
    label : str
        Which run of the bench: "surge", or "before" it.
    """
    own = _OWN.get(label)
    return own(lays) if own else plain(lays, label)


def plain(lays: Sequence[Lay], label: str, title: str = "", *, form: Form = ALONE) -> Picture:
    """Draw what every powered run has: current into the lamp, bus, string and sinks."""
    kept = [(name, words) for name, words in _ROWS if all(name in lay.waves[label] for lay in lays)]
    stop_s = max(float(lay.waves[label]["time"][-1]) for lay in lays)
    scale, unit = next((scale, unit) for most_s, scale, unit in _TIME_UNITS if stop_s <= most_s)
    title = title or label.capitalize()
    of = about(lays)
    with drawing(form, 0.7 + _ROW_IN * len(kept), title, of) as figure:
        rows = grid_axes(figure, [words for _, words in kept], f"time [{unit}]")
        for lay in lays:
            vectors = lay.waves[label]
            for axes, (name, _) in zip(rows, kept, strict=True):
                draw(axes, lay, scale * vectors["time"], vectors[name])
        for axes in rows:
            name_curves(axes, lays, (), form, _ROW_IN - 0.15, named=axes is rows[0])
        svg = svg_text(figure, f"{label} {form.width_in}")
    alt = f"{title}, of {shortly(lays)}, against time."
    return Picture(label, title, alt, svg, about=of, figure=figure)
