"""Rooms from cold to hot: where the lamp settles in each, and what light is left."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.pictures.ink import ALONE, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, draw
from coldiron.pictures.names import name_curves

LABEL = "ambient sweep"
_TITLE = "In rooms from cold to hot"
_ROW_IN = 1.4


def rooms(lays: Sequence[Lay], *, form: Form = ALONE) -> Picture:
    """Draw die and housing temperature and light over the temperature of the room."""
    has_sinks = any(lay.case.lamp.circuit.regulators for lay in lays)
    reference_a = next((a for a in lays[0].waves[LABEL]["light_A"] if a > 0), float("nan"))
    first = f"light [% of {lays[0].title}, coldest room]"
    rows = [("mean die [°C]", "die_C", 1.0)] if has_sinks else []
    rows += [("housing [°C]", "housing_C", 1.0), ("light [%]", "light_A", 100 / reference_a)]
    of = about(lays)
    with drawing(form, 0.6 + _ROW_IN * len(rows), _TITLE, of) as figure:
        grid = grid_axes(figure, [label for label, _, _ in rows], "room [°C]")
        for lay in lays:
            waves = lay.waves[LABEL]
            for axes, (_, name, scale) in zip(grid, rows, strict=True):
                # The bench keeps the temperature of the rooms in the place of time.
                draw(axes, lay, waves["time"], scale * waves[name])
        grid[-1].set_ylim(bottom=0.0)
        for axes in grid:
            name_curves(axes, lays, (), form, _ROW_IN - 0.15, named=axes is grid[0])
        svg = svg_text(figure, f"rooms {form.width_in}")
    return Picture(
        "rooms",
        _TITLE,
        f"Settled temperatures and {first} against the temperature of the room.",
        svg,
        "Light is in per cent of the first variant in the coldest room. A gap: no balance in that room.",
        of,
        figure=figure,
    )
