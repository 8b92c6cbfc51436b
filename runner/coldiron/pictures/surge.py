"""Surge: how it arrives, what the varistor leaves of it, and what reaches the bus and a sink."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Waves
from coldiron.parts.circuit import Circuit
from coldiron.parts.roles import Clamps, Rectifies
from coldiron.pictures.ink import LIMIT, PAPER, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, draw, short_name, words
from coldiron.study.model import AS_FOUND

SHOWN_S = 60e-6


def with_and_without_varistor(lays: Sequence[Lay]) -> list[Lay]:
    """As found, and the variant that differs from it in its varistor alone; as found only where none does."""
    found = [lay for lay in lays if lay.name == AS_FOUND][:1]
    for base in found or lays[:1]:
        for other in lays:
            one, two = base.case.lamp.circuit, other.case.lamp.circuit
            if _unclamped(one) == _unclamped(two) and bool(one.having(Clamps)) != bool(two.having(Clamps)):
                return [base, other]
    return found


def _unclamped(circuit: Circuit) -> list[tuple[str, tuple[str, ...], object]]:
    """Every part but those that clamp: name, points and values."""
    return [(part.name, part.at, part.values) for part in circuit if not isinstance(part, Clamps)]


def surge(lays: Sequence[Lay], *, legend: bool = True) -> Picture:
    """Draw one surge stage by stage on one time axis, from the generator to the worst sink."""
    labels = ["generator [V]", "at the bridge [V]", "bus [V]", "at the sinks [V]", "worst sink [A]"]
    with drawing(6.4, 7.2) as figure:
        rows = grid_axes(figure, labels, "time after the surge fires [µs]")
        for lay in lays:
            _draw_stages(rows, lay)
        for sink in lays[0].case.lamp.circuit.regulators[:1]:
            rows[3].axhline(sink.drain_rating_v, color=LIMIT, linewidth=0.9, dashes=(1, 2))
            rows[3].annotate(
                f"drain rated {sink.drain_rating_v:g} V as found",
                (0.99, sink.drain_rating_v),
                xycoords=("axes fraction", "data"),
                va="bottom",
                ha="right",
                color=LIMIT,
                fontsize=8,
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.5, "alpha": 0.8},
            )
        if legend:
            figure.legend(*rows[0].get_legend_handles_labels(), loc="outside upper left", ncols=2)
        svg = svg_text(figure, "surge")
    level_v = lays[0].case.exposure.surge_level_v
    sinks = words((lay.name, lay.reading("surge_sink_peak_A"), "A") for lay in lays)
    drains = words((lay.name, lay.reading("surge_drain_peak_V"), "V") for lay in lays)
    return Picture(
        "surge",
        f"A surge of {level_v:g} V, stage by stage",
        "Five curves on one time axis: the generator, behind the varistor at the bridge, the bus, the drain "
        f"of the sinks, and the current in the worst single sink. Peak in one sink: {sinks}. "
        f"Peak at the drain: {drains}.",
        svg,
        "Each variant at the angle and polarity that is worst for it; either polarity is drawn upwards.",
        figure=figure,
    )


def _draw_stages(rows: list[Axes], lay: Lay) -> None:
    vectors = lay.waves["surge"]
    waves = Waves(vectors["time"], {name: row for name, row in vectors.items() if name != "time"})
    window = Window(lay.case.lamp, waves, 0.0, SHOWN_S)
    time_us = 1e6 * window.time_s
    sign = 1.0 if lay.reading("surge_worst_polarity") > 0 else -1.0
    said = f"{short_name(lay.name)} ({'+' if sign > 0 else '−'} at {lay.reading('surge_worst_deg'):g}°)"
    rectifiers = [part for part in lay.case.lamp.circuit.having(Rectifies) if part.is_on_the_mains]
    # A surge of either polarity is drawn upwards, so that two of them can be compared.
    draw(rows[0], lay, time_us, sign * window.v("surge", "neutral"), label=said)
    draw(rows[1], lay, time_us, sign * rectifiers[0].across_v(window))
    draw(rows[2], lay, time_us, window.v("bus"))
    if window.regulators:
        worst = window.sinks_a.max(axis=1).argmax()
        draw(rows[3], lay, time_us, window.drains_v[worst])
        draw(rows[4], lay, time_us, window.sinks_a[worst])
