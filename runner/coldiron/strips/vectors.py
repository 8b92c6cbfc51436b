"""Vectors of a run by the names a person uses: "bus voltage", "varistor current", "line fusing power".

One table for the live page and the lessons. A name is either one of `COMMON`, or a part of the lamp and what
is asked of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Array
from coldiron.errors import NotApplicable
from coldiron.lamp.lamp import Lamp
from coldiron.parts.part import Part

UNITS: Mapping[str, str] = {"voltage": "V", "current": "A", "power": "W"}
"""What can be asked of a part, and its unit."""


def _worst(rows: Array, what: str) -> int:
    if not len(rows):
        raise NotApplicable(f"no {what}: nothing regulates in this lamp")
    return int(rows.max(axis=1).argmax())


def _generator_v(w: Window) -> Array:
    if "v(surge)" not in w.waves.vectors:
        raise NotApplicable("no generator in this run")
    return w.v("surge", "neutral")


def _string_v(w: Window) -> Array:
    return np.asarray(sum((string.across_v(w) for string in w.strings), w.nothing))


def _string_w(w: Window) -> Array:
    return np.asarray(sum((string.watts(w) for string in w.strings), w.nothing))


def _sinks_w(w: Window) -> Array:
    return np.asarray((w.sinks_a * w.drains_v).sum(axis=0)) if len(w.sinks_a) else w.nothing


COMMON: Mapping[str, tuple[str, Callable[[Window], Array]]] = {
    "generator voltage": ("V", _generator_v),
    "lamp voltage": ("V", lambda w: w.mains_v),
    "mains voltage": ("V", lambda w: w.mains_v),
    "input current": ("A", lambda w: w.input_a),
    "bus voltage": ("V", lambda w: w.v("bus")),
    "string voltage": ("V", _string_v),
    "string current": ("A", lambda w: w.string_a),
    "string power": ("W", _string_w),
    "drain voltage": ("V", lambda w: w.drains_v[_worst(w.sinks_a, "drain")]),
    "sink current": ("A", lambda w: w.sinks_a[_worst(w.sinks_a, "sink")]),
    "sinks power": ("W", _sinks_w),
}
"""Vectors that every lamp has, or that are told of all its strings or its worst sink: unit, and how."""


def vector(window: Window, name: str) -> Array:
    """Vector of a window by its name.

    Parameters
    ----------
    window : Window
    name : str
        One of `COMMON`, or a part's name and "voltage", "current" or "power"; underscores as spaces.

    Returns
    -------
    ndarray
        In V, A or W, at the instants of the window.

    Raises
    ------
    NotApplicable
        If the lamp has no such part, or the run has no such vector.
    """
    if name in COMMON:
        return COMMON[name][1](window)
    part, what = part_and_quantity(window.lamp, name)
    if not part.works:
        raise NotApplicable(f"no {name}: the part is {part.state}")
    if what == "voltage":
        return part.across_v(window)
    return part.current_a(window) if what == "current" else part.watts(window)


def part_and_quantity(lamp: Lamp, name: str) -> tuple[Part, str]:
    """Part that a vector's name is about, and what is asked of it.

    Raises
    ------
    NotApplicable
        If it names neither a common vector nor a part of the lamp.
    """
    words, _, what = name.rpartition(" ")
    key = words.replace(" ", "_")
    if what not in UNITS or key not in lamp.circuit:
        raise NotApplicable(f"no {name} in this lamp")
    return lamp.circuit[key], what


def unit_of(name: str) -> str:
    """Unit of a vector.

    Examples
    --------
    >>> unit_of("bus voltage"), unit_of("line fusing power")
    ('V', 'W')
    """
    return COMMON[name][0] if name in COMMON else UNITS[name.rpartition(" ")[2]]


def part_rows(window: Window) -> dict[str, tuple[Array, Array]]:
    """Voltage and current of every part that works and is drawn, by name; of a sink, those of one."""
    found = {}
    for part in window.lamp.circuit:
        if not (part.works and part.shown):
            continue
        try:
            found[part.name] = (part.across_v(window), _one_a(part, window))
        except (NotImplementedError, KeyError):  # what no run keeps, nobody can be told
            continue
    return found


def _one_a(part: Part, window: Window) -> Array:
    each = getattr(part, "each_a", None)
    return max(each(window), key=lambda row: float(row.max())) if each else part.current_a(window)
