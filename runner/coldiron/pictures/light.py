"""Light: how it moves over two mains cycles, with the flicker figures of each variant."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.pictures.ink import ALONE, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import MOST_ON_A_FILE, Lay, about, draw
from coldiron.pictures.names import name_curves
from coldiron.pictures.steady import repeated_cycle
from coldiron.readings.figures import figure as digits
from coldiron.readings.sampling import mean

CYCLES = 2
_TITLE = "Light over two mains cycles"
_HEIGHT_IN = 3.0


def light(lays: Sequence[Lay], bench: str, *, form: Form = ALONE) -> Picture:
    """Draw light against time, 100 % being the mean of the first variant given.

    Parameters
    ----------
    lays : sequence of Lay
    bench : str
        Whose run is drawn: "heat" warm, "steady" cold.
    form : Form
    """
    reference_a = lays[0].reading("light_A")
    of = about(lays)
    with drawing(form, _HEIGHT_IN, _TITLE, of) as figure:
        (axes,) = grid_axes(
            figure, [f"light [% of {lays[0].title}]"], "time from a rising zero of the mains [ms]"
        )
        for lay in lays:
            cycle = repeated_cycle(lay, bench, {"led": lambda window: window.string_a}, CYCLES)
            # Light follows current at one temperature; the reading of its mean carries the heat's share.
            per_ampere = lay.reading("light_A") / mean(cycle.time_s, cycle.rows["led"])
            draw(axes, lay, 1e3 * cycle.time_s, 100 * cycle.rows["led"] * per_ampere / reference_a)
        axes.set_ylim(bottom=0.0)
        name_curves(axes, lays, (), form, _HEIGHT_IN - 0.6, named=True)
        svg = svg_text(figure, f"light {form.width_in}")
    said = "; ".join(
        f"{row[0]}: flicker {row[1]} %, SVM {row[3]}" for row in map(_figures, lays[:MOST_ON_A_FILE])
    )
    return Picture(
        "light",
        _TITLE,
        f"Light of each variant against time. {said}.",
        svg,
        about=of,
        table=(("variant", "flicker %", "flicker index", "SVM", "PstLM"), *map(_figures, lays)),
        figure=figure,
    )


def _figures(lay: Lay) -> tuple[str, ...]:
    """A variant's name and its flicker figures."""
    return lay.name, *(
        digits(lay.reading(name)) for name in ("flicker_pct", "flicker_index", "svm", "pst_lm")
    )
