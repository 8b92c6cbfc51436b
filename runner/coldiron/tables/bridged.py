"""Bridged LEDs as lines: how many before a bound is passed, with the closed form beside it."""

from __future__ import annotations

from coldiron.sweep.bridged import LEAST_LIGHT_RATIO, BridgedLamp
from coldiron.tables.columns import Column, beside


def bridged_lines(found: BridgedLamp) -> list[str]:
    """Lines of the screen."""
    steps = found.steps
    columns = [
        Column("one sink", "lab", "W", tuple(f"{s.sink_w:.3g}" for s in steps)),
        Column("one sink", "closed", "W", tuple(f"{s.sink_closed_w:.3g}" for s in steps)),
        Column("light", "lab", "%", tuple(f"{100 * s.light_ratio:.0f}" for s in steps)),
        Column("light", "closed", "%", tuple(f"{100 * s.light_closed_ratio:.0f}" for s in steps)),
        Column("surge", "margin", "%", tuple(_margin(s.surge_margin_pct) for s in steps)),
        Column("surge", "of", "", tuple(s.surge_part for s in steps), left=True, narrow=30),
    ]
    lines = [
        "LEDs bridged, so many of every row:",
        *(line.rstrip() for line in beside([str(s.bridged) for s in steps], columns, "bridged")),
        f"one sink keeps its {found.sink_most_w:g} W {_up_to(found.for_sinks, found)} "
        f"(closed form: {_up_to(found.for_sinks_closed, found)})",
        f"the light keeps {100 * LEAST_LIGHT_RATIO:.0f} % {_up_to(found.for_light, found)}",
    ]
    if any(step.surge_margin_pct is not None for step in steps):
        lines.append(f"the surge keeps every rating {_up_to(found.for_surge, found)}")
    return lines


def _margin(margin_pct: float | None) -> str:
    return "-" if margin_pct is None else f"{margin_pct:.0f}"


def _up_to(most: int | None, found: BridgedLamp) -> str:
    if most is None or most > found.steps[-1].bridged:
        return f"beyond {found.steps[-1].bridged}"
    if most < 0:
        return "not even with none bridged"
    return "with none bridged, and not with one" if most == 0 else f"up to {most} bridged"
