"""Unplug: how long the bus stays dangerous after the lamp is pulled off the mains."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.benches.unplug import SAFE_V
from coldiron.pictures.ink import ALONE, LIMIT, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, draw, words
from coldiron.pictures.names import level, name_curves

EARLIEST_S = 0.01
_TITLE = "Discharge after unplugging"
_HEIGHT_IN = 3.2


def unplug(lays: Sequence[Lay], *, form: Form = ALONE) -> Picture:
    """Draw the bus voltage after unplugging, with the levels to which it must fall."""
    of = about(lays, "pulled when the bus stands highest")
    with drawing(form, _HEIGHT_IN, _TITLE, of) as figure:
        (axes,) = grid_axes(figure, ["bus [V]"], "time after unplugging [s]")
        for lay in lays:
            window = lay.window("unplug", EARLIEST_S)
            draw(axes, lay, window.time_s, window.v("bus"))
        axes.set_xscale("log")
        axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
        axes.set_ylim(bottom=0.0)
        axes.axvline(1.0, color=LIMIT, linewidth=0.7, dashes=(4, 3))
        for volts in SAFE_V:
            axes.axhline(volts, color=LIMIT, linewidth=0.9, dashes=(1, 2))
        levels = [level(volts, f"{volts:g} V") for volts in SAFE_V]
        name_curves(axes, lays, levels, form, _HEIGHT_IN - 0.6, named=True)
        svg = svg_text(figure, f"unplug {form.width_in}")
    times = words((lay.name, lay.reading("discharge_60V_s"), "s") for lay in lays)
    return Picture(
        "unplug",
        _TITLE,
        "Bus voltage against time, on a logarithmic axis, after unplugging at its highest. "
        f"Below 60 V after: {times}.",
        svg,
        "Dotted: levels to which standards want it to fall; dashed: one second.",
        of,
        figure=figure,
    )
