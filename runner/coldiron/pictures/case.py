"""The picture of one case, or of two laid over each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from coldiron.pictures import rooms
from coldiron.pictures.ink import Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, draw, shortly
from coldiron.pictures.steady import steady
from coldiron.pictures.surge import surge
from coldiron.pictures.switch_on import switch_on
from coldiron.pictures.unplug import unplug
from coldiron.pictures.warm_up import warm_up

_OWN: dict[str, Callable[[Sequence[Lay]], Picture]] = {
    "switch-on": switch_on,
    "steady": steady,
    "surge": surge,
    "unplug": unplug,
    "warm-up": warm_up,
    rooms.LABEL: rooms.rooms,
}
"""Runs that have a picture of their own, by their label."""

_ROWS = (
    ("i(vinput)", "into the lamp [A]"),
    ("v(bus)", "bus [V]"),
    ("i(vstring)", "LED string [A]"),
    ("v(drain)", "at the sinks [V]"),
)
_TIME_UNITS = ((1e-4, 1e6, "µs"), (2.0, 1e3, "ms"), (float("inf"), 1.0, "s"))


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


def plain(lays: Sequence[Lay], label: str, title: str = "", *, legend: bool = True) -> Picture:
    """Draw what every powered run has: current into the lamp, bus, string and sinks."""
    kept = [(name, words) for name, words in _ROWS if all(name in lay.waves[label] for lay in lays)]
    stop_s = max(float(lay.waves[label]["time"][-1]) for lay in lays)
    scale, unit = next((scale, unit) for most_s, scale, unit in _TIME_UNITS if stop_s <= most_s)
    with drawing(6.4, 1.0 + 1.4 * len(kept)) as figure:
        rows = grid_axes(figure, [words for _, words in kept], f"time [{unit}]")
        for lay in lays:
            vectors = lay.waves[label]
            for axes, (name, _) in zip(rows, kept, strict=True):
                draw(axes, lay, scale * vectors["time"], vectors[name])
        if legend:
            figure.legend(*rows[0].get_legend_handles_labels(), loc="outside upper left", ncols=2)
        svg = svg_text(figure, label)
    title = title or label.capitalize()
    return Picture(label, title, f"{title}, of {shortly(lays)}, against time.", svg, figure=figure)
