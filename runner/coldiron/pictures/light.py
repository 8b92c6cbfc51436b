"""Light: how it moves over two mains cycles, with the flicker figures of each variant."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.pictures.ink import Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import MOST_ON_A_FILE, Lay, draw
from coldiron.pictures.steady import repeated_cycle
from coldiron.readings.figures import figure as digits
from coldiron.readings.sampling import mean


def light(lays: Sequence[Lay], *, legend: bool = True) -> Picture:
    """Draw light against time, 100 % being the mean of the first variant given."""
    reference_a = lays[0].reading("light_A")
    with drawing(6.4, 3.0) as figure:
        (axes,) = grid_axes(
            figure,
            [f"light [% of the mean, {lays[0].name}]"],
            "time from a rising zero crossing of the mains [ms]",
        )
        for lay in lays:
            time_s, drawn = repeated_cycle(lay, {"led": lay.waves["steady"]["i(vstring)"]})
            # Light follows current at one temperature; the reading of its mean carries the heat's share.
            per_ampere = lay.reading("light_A") / mean(time_s, drawn["led"])
            draw(axes, lay, 1e3 * time_s, 100 * drawn["led"] * per_ampere / reference_a)
        axes.set_ylim(bottom=0.0)
        if legend:
            figure.legend(*axes.get_legend_handles_labels(), loc="outside upper left", ncols=3)
        svg = svg_text(figure, "light")
    said = "; ".join(
        f"{row[0]}: flicker {row[1]} %, SVM {row[3]}" for row in map(_figures, lays[:MOST_ON_A_FILE])
    )
    return Picture(
        "light",
        "Light over two mains cycles",
        f"Light of each variant against time. {said}.",
        svg,
        table=(("variant", "flicker %", "flicker index", "SVM", "PstLM"), *map(_figures, lays)),
        figure=figure,
    )


def _figures(lay: Lay) -> tuple[str, ...]:
    """A variant's name and its flicker figures."""
    return lay.name, *(
        digits(lay.reading(name)) for name in ("flicker_pct", "flicker_index", "svm", "pst_lm")
    )
