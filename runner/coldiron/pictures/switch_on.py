"""Switch-on: the current into the lamp, closed at its worst angle, and the bus it charges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coldiron.pictures.ink import ALONE, FAINT, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, draw, words
from coldiron.pictures.names import name_curves
from coldiron.readings.figures import figure as digits

AFTER_S = 4e-3
_TITLE = "Switch-on current, closed at the worst angle"
_ROW_IN = 1.8


def switch_on(lays: Sequence[Lay], *, form: Form = ALONE) -> Picture:
    """Draw current and bus voltage from the closing of the switch on."""
    of = about(lays, "cold and empty")
    with drawing(form, 0.6 + 2 * _ROW_IN, _TITLE, of) as figure:
        grid = grid_axes(figure, ["input current [A]", "bus [V]"], "time after closing [ms]")
        for lay in lays:
            early = lay.window("switch-on", 0.0, AFTER_S)
            for axes, values in zip(grid, (early.input_a, early.v("bus")), strict=True):
                draw(axes, lay, 1e3 * early.time_s, values)
        grid[0].axhline(0.0, color=FAINT, linewidth=0.5)
        grid[1].set_ylim(bottom=0.0)
        for axes in grid:
            name_curves(axes, lays, (), form, _ROW_IN - 0.2, named=axes is grid[0])
        svg = svg_text(figure, f"switch-on {form.width_in}")
    peaks = words((lay.name, lay.reading("inrush_peak_A"), "A") for lay in lays)
    highest = max(lays, key=lambda lay: np.nan_to_num(lay.reading("inrush_peak_A")))
    rows = ((lay.name, _angle(lay), digits(lay.reading("inrush_peak_A"))) for lay in lays)
    return Picture(
        "switch-on",
        _TITLE,
        f"Current into the lamp and bus voltage in the first {1e3 * AFTER_S:g} ms after the switch closes at "
        f"the angle that is worst for each variant. Highest peak: {highest.name}. Peaks: {peaks}.",
        svg,
        about=of,
        table=(("variant", "closed at °", "peak A"), *rows),
        figure=figure,
    )


def _angle(lay: Lay) -> str:
    return f"{lay.reading('inrush_phase_deg'):.0f}"
