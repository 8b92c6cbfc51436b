"""Rooms from cold to hot: where the lamp settles in each, and what light is left."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.pictures.ink import Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, draw

LABEL = "ambient sweep"


def rooms(lays: Sequence[Lay], *, legend: bool = True) -> Picture:
    """Draw die and housing temperature and light over the temperature of the room."""
    reference_a = next((a for a in lays[0].waves[LABEL]["light_A"] if a > 0), float("nan"))
    first = f"light [% of {lays[0].name}, coldest room]"
    with drawing(6.4, 4.8) as figure:
        rows = grid_axes(figure, ["mean die [°C]", "housing [°C]", "light [%]"], "room [°C]")
        for lay in lays:
            waves = lay.waves[LABEL]
            # The bench keeps the temperature of the rooms in the place of time.
            shown = (waves["die_C"], waves["housing_C"], 100 * waves["light_A"] / reference_a)
            for axes, values in zip(rows, shown, strict=True):
                draw(axes, lay, waves["time"], values)
        rows[2].set_ylim(bottom=0.0)
        if legend:
            figure.legend(*rows[0].get_legend_handles_labels(), loc="outside upper left", ncols=3)
        svg = svg_text(figure, "rooms")
    return Picture(
        "rooms",
        "In rooms from cold to hot",
        f"Settled die and housing temperature and {first} against the temperature of the room.",
        svg,
        "Light is in per cent of the first variant in the coldest room. A gap: no balance in that room.",
        figure=figure,
    )
