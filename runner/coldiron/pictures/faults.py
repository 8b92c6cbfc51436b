"""Pictures of followed faults: the moment in which a part opens, and the lamp that is left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from coldiron.answer.fault_words import band_text, fault_text, live_text, time_text
from coldiron.answer.final_state import FinalState, end_lamp, final_states
from coldiron.engine.waves import Array
from coldiron.pictures.ink import ALONE, FAINT, INK, LIMIT, Form, Picture, drawing, grid_axes, svg_text
from coldiron.pictures.schematic import schematic
from coldiron.sweep.faults import Followed
from coldiron.tables.files import write_whole

MOST_SCHEMATICS = 3
LIVE_KEY = "more than 0.7 mA through 2 kΩ to earth, with the plug in the worse position"


def fault_pictures(found: Sequence[Followed], *, form: Form = ALONE) -> Iterator[Picture]:
    """Pictures of the lamp as found on its first supply: the worst openings, and what is live in the end."""
    if not found:
        return
    first = [f for f in found if (f.variant, f.supply) == (found[0].variant, found[0].supply)]
    states = final_states(first)
    opening = [state for state in states if state.followed.done.result.waves]
    for number, state in enumerate(opening, start=1):
        yield moment(state, name=f"fault-moment-{number}", form=form)
    live = [state for state in states if any(points != "none" for _, points in state.live)]
    shown: dict[tuple[str, ...], FinalState] = {}
    for state in live:
        shown.setdefault((state.word, *worse_plug(state)), state)
    for number, state in enumerate(list(shown.values())[:MOST_SCHEMATICS], start=1):
        yield live_schematic(state, name=f"fault-live-{number}")


def worse_plug(state: FinalState) -> tuple[str, ...]:
    """Points that are live with the plug in the worse position."""
    points = max((points for _, points in state.live), key=lambda text: (text != "none", text.count(",")))
    return () if points == "none" else tuple(points.split(", "))


def moment(state: FinalState, *, name: str, form: Form = ALONE) -> Picture:
    """Current and voltages from the moment of a fault on, and past that in which a part opens."""
    f = state.followed
    waves = f.done.result.waves
    assert waves is not None
    opens_s = f.number("moment_opens_s")
    time_ms, rows = _joined(waves["moment"], waves["after"], opens_s)
    opened = f.word("end_opened").partition(";")[0].replace("_", " ")
    title = f"{fault_text(state)}: {opened} opens"
    about = (
        f"{f.done.case.lamp.name}, {f.supply}; the fault at {f.number('moment_deg'):.0f}° of the mains; "
        f"opens here {time_text(opens_s)} after it, parts of its kind {band_text(*state.opens_s)}"
    )
    with drawing(form, 4.0, title, about) as figure:
        grid = grid_axes(figure, ["input [A]", "lamp [V]", "bus [V]"], "time after the fault [ms]")
        for axes, values in zip(grid, rows, strict=True):
            axes.plot(time_ms, values, color=INK)
            axes.axvline(1e3 * opens_s, color=LIMIT, linestyle=":", linewidth=1.4)
            axes.axhline(0.0, color=FAINT, linewidth=0.5)
        grid[-1].annotate(
            f"{opened} opens, {time_text(opens_s)}", (1e3 * opens_s, 1.0), xycoords=("data", "axes fraction"),
            xytext=(4, -4), textcoords="offset points", va="top", color=LIMIT,
        )  # fmt: skip
        svg = svg_text(figure, f"{name} {form.width_in}")
    peak_a = f.number("fault_peak_A")
    alt = (
        f"Input current, voltage of the lamp and of its bus after {state.followed.fault.words}: the current "
        f"peaks near {peak_a:.2g} A until {opened} opens at a zero of its current, {time_text(opens_s)} "
        "after the fault; then hardly any flows."
    )
    return Picture(name, title, alt, svg, about=about, figure=figure)


def _joined(
    before: dict[str, Array] | object, after: dict[str, Array] | object, opens_s: float
) -> tuple[Array, list[Array]]:
    """Time [ms] and the three rows of the run up to the opening and of the one that goes on."""
    assert isinstance(before, dict)
    assert isinstance(after, dict)
    early = before["time"] <= opens_s
    time_s = np.concatenate((before["time"][early], opens_s + after["time"]))

    def row(run: dict[str, Array], which: int) -> Array:
        if which == 0:
            return run["i(vinput)"]
        return run["v(line)"] - run["v(neutral)"] if which == 1 else run["v(bus)"]

    rows = [np.concatenate((row(before, n)[early], row(after, n))) for n in range(3)]
    return 1e3 * time_s, rows


def live_schematic(state: FinalState, *, name: str) -> Picture:
    """The lamp that a fault leaves, its broken parts framed, its live points named as such."""
    f = state.followed
    lamp = end_lamp(f)
    title = f"{fault_text(state)}: {state.words}; {live_text(state)}"
    live = dict.fromkeys(worse_plug(state), "LIVE")
    return schematic(lamp, f.healthy.case.lamp, name=name, title=title, live=live, live_key=LIVE_KEY)


def draw_faults(folder: Path, found: Sequence[Followed]) -> list[Path]:
    """Write the pictures of followed faults under a folder, as SVG files."""
    files = []
    for picture in fault_pictures(found):
        files.append(folder / f"{picture.name}.svg")
        write_whole(files[-1], picture.labelled)
    return files
