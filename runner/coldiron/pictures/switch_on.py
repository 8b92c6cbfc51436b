"""Switch-on: the current into the lamp, closed at its worst angle, and the bus it charges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coldiron.pictures.ink import Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, draw, short_name, words

AFTER_MS = 4.0


def switch_on(lays: Sequence[Lay], *, legend: bool = True) -> Picture:
    """Draw current and bus voltage over the first quarter of a mains cycle."""
    with drawing(6.4, 4.2) as figure:
        current, bus = grid_axes(figure, ["current into the lamp [A]", "bus [V]"], "time after closing [ms]")
        for lay in lays:
            waves = lay.waves["switch-on"]
            time_ms = 1e3 * waves["time"]
            early = time_ms <= AFTER_MS
            angle = f"{short_name(lay.name)}, closed at {lay.reading('inrush_phase_deg'):.0f}°"
            draw(current, lay, time_ms[early], waves["i(vinput)"][early], label=angle)
            draw(bus, lay, time_ms[early], waves["v(bus)"][early])
        current.axhline(0.0, color="black", linewidth=0.4)
        bus.set_ylim(bottom=0.0)
        if legend:
            current.legend(loc="upper right")
        svg = svg_text(figure, "switch-on")
    peaks = words((lay.name, lay.reading("inrush_peak_A"), "A") for lay in lays)
    highest = max(lays, key=lambda lay: np.nan_to_num(lay.reading("inrush_peak_A")))
    return Picture(
        "switch-on",
        "Switch-on current at the worst angle",
        f"Current into the lamp and bus voltage in the first {AFTER_MS:g} ms after the switch closes at the "
        f"angle that is worst for each variant. Highest peak: {highest.name}. Peaks: {peaks}.",
        svg,
        figure=figure,
    )
