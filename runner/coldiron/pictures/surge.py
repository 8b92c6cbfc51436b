"""Surge: how it arrives, what the varistor takes of it, and what reaches the bus and a sink."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Array
from coldiron.parts.roles import Clamps, Rectifies, Regulates
from coldiron.pictures.ink import ALONE, FAINT, LIMIT, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.lay import Lay, about, draw, words
from coldiron.pictures.names import End, level, name_curves
from coldiron.readings import surge_limit

SHOWN_S = 60e-6
EARLY_US, LATE_US = 5.0, 1e6 * SHOWN_S
"""The front and what it sets off take a few microseconds: they get half of the width."""
_ROW_IN = 1.2


def stretched(time_us: Array) -> Array:
    """Place of a moment on the axis of time: half of it for the first microseconds, half for the rest."""
    late = 0.5 + 0.5 * (time_us - EARLY_US) / (LATE_US - EARLY_US)
    return np.where(time_us < EARLY_US, 0.5 * time_us / EARLY_US, late)


def _moment(place: Array) -> Array:
    late = EARLY_US + (place - 0.5) / 0.5 * (LATE_US - EARLY_US)
    return np.where(place < 0.5, EARLY_US * place / 0.5, late)


def surge(lays: Sequence[Lay], *, form: Form = ALONE) -> Picture:
    """Draw one surge stage by stage on one time axis, from the generator to the worst sink."""
    level_v = lays[0].case.conditions.surge_level_v
    title = f"A surge of {level_v:g} V, stage by stage"
    clamps = [part for lay in lays for part in lay.case.lamp.circuit.having(Clamps)]
    sinks = [part for lay in lays for part in lay.case.lamp.circuit.regulators]
    labels = ["generator [V]", "at the bridge [V]"]
    labels += ["varistor [A]"] if clamps else []
    labels += ["bus [V]"] + (["at the sinks [V]", "worst sink [A]"] if sinks else ["string [A]"])
    of = about(lays, "each at its worst angle and polarity")
    with drawing(form, 0.8 + _ROW_IN * len(labels), title, of) as figure:
        grid = dict(zip(labels, grid_axes(figure, labels, "time after the surge fires [µs]"), strict=True))
        for lay in lays:
            _draw_stages(grid, lay)
        for label, axes in grid.items():
            axes.axvline(EARLY_US, color=FAINT, linewidth=0.6, dashes=(2, 2))
            levels = _levels(label, clamps[:1], sinks[:1], axes)
            for end in levels:
                axes.axhline(end.y, color=LIMIT, linewidth=0.8, dashes=(1, 2))
            name_curves(axes, lays, levels, form, _ROW_IN - 0.15, named=label == "bus [V]")
        last = list(grid.values())[-1]
        last.set_xscale("function", functions=(stretched, _moment))
        last.set_xlim(0.0, LATE_US)
        last.xaxis.set_major_locator(FixedLocator([0, 1, 2, 3, 4, 5, 20, 40, 60]))
        svg = svg_text(figure, f"surge {form.width_in}")
    return Picture(
        "surge",
        title,
        f"{len(labels)} curves on one time axis: {', '.join(label.split(' [')[0] for label in labels)}. "
        + _peaks(lays, has_sinks=bool(sinks)),
        svg,
        " ".join(_explained(lays)),
        of,
        figure=figure,
    )


def _levels(label: str, clamps: Sequence[Clamps], sinks: Sequence[Regulates], axes: Axes) -> list[End]:
    """Voltages that make a flat top, or that a part is rated for, where the curves come near them."""
    if label == "at the bridge [V]":
        found = [level(part.clamps_from_v, f"clamps from {part.clamps_from_v:.0f}") for part in clamps]
    elif label == "at the sinks [V]":
        found = [level(part.drain_rating_v, f"rated {part.drain_rating_v:g}") for part in sinks]
        found += [level(part.breakdown_v, f"breakdown {part.breakdown_v:.0f}") for part in sinks]
    else:
        return []
    top = axes.get_ylim()[1]
    return [end for end in found if end.y <= 1.15 * top]


def _peaks(lays: Sequence[Lay], *, has_sinks: bool) -> str:
    if not has_sinks:
        return ""
    currents = words((lay.name, lay.reading("surge_sink_peak_A"), "A") for lay in lays)
    drains = words((lay.name, lay.reading("surge_drain_peak_V"), "V") for lay in lays)
    return f"Peak in one sink: {currents}. Peak at the drain: {drains}."


def _explained(lays: Sequence[Lay]) -> Iterator[str]:
    """What makes each flat top, for those of the variants that have it."""
    yield "Either polarity is drawn upwards; the first 5 µs take half of the width."
    clamped = [lay for lay in lays if lay.case.lamp.circuit.having(Clamps)]
    if clamped:
        yield f"Flat at the bridge: the varistor clamps ({_numbers(clamped, lays)})."
    limited: dict[str, list[Lay]] = {}
    for lay in lays:
        said = str(lay.readings.get(surge_limit.LIMITED, ""))
        if said:
            limited.setdefault(said, []).append(lay)
    for said, those in limited.items():
        if said.startswith(surge_limit.AVALANCHE):
            yield f"Flat at the sinks: their transistors break down and avalanche ({_numbers(those, lays)})."
        else:
            yield f"What a sink carries is limited by {said} ({_numbers(those, lays)})."
    for lay in lays:
        for part in lay.case.lamp.circuit.having(Rectifies):
            if part.is_on_the_mains and lay.reading("surge_bus_peak_V") >= part.breakdown_v:
                yield f"The bridge breaks down at {part.breakdown_v:.0f} V (№ {lay.number})."


def _numbers(those: Sequence[Lay], lays: Sequence[Lay]) -> str:
    return "all" if len(those) == len(lays) else "№ " + ", ".join(str(lay.number) for lay in those)


def _draw_stages(grid: dict[str, Axes], lay: Lay) -> None:
    window = lay.window("surge", 0.0, SHOWN_S)
    time_us = 1e6 * window.time_s
    sign = 1.0 if lay.reading("surge_worst_polarity") > 0 else -1.0
    rectifiers = [part for part in lay.case.lamp.circuit.having(Rectifies) if part.is_on_the_mains]

    def clamped_a(window: Window) -> Array:
        rows = [part.current_a(window) for part in lay.case.lamp.circuit.having(Clamps)]
        return np.asarray(sum(rows, window.nothing))

    # A surge of either polarity is drawn upwards, so that two of them can be compared.
    values = {
        "generator [V]": sign * window.v("surge", "neutral"),
        "at the bridge [V]": sign * (rectifiers[0].across_v(window) if rectifiers else window.mains_v),
        "bus [V]": window.v("bus"),
        "string [A]": window.string_a,
        "varistor [A]": sign * clamped_a(window),
    }
    if window.regulators:
        worst = window.sinks_a.max(axis=1).argmax()
        values |= {"at the sinks [V]": window.drains_v[worst], "worst sink [A]": window.sinks_a[worst]}
    for label, axes in grid.items():
        if label in values:
            draw(axes, lay, time_us, values[label])
